"""What a command did, as a line of the book's journal: its name and the numbers it answered with, nothing typed."""

import os
import socket
from getpass import getuser
from typing import TYPE_CHECKING

import click

from stockroom.cli.desk import LOOKED, TOLD, now
from stockroom.errors import BookError, StockroomError
from stockroom.stock.audit_log import LogLine

if TYPE_CHECKING:
    from stockroom.flows.book.opening import Book

LOOKING = frozenset({  # what changes nothing is not in the journal
    "demo", "serve", "check", "log", "export-book", "templates", "tickets", "shelf", "documents", "run-outs",
    "run-outs-by-site", "jobs-possible", "reorder", "back-test", "reports", "orders", "order-form", "count-next",
    "count-sheet", "differences", "count-report", "margins", "margin-changes", "margin-alerts", "cut-or-buy",
    "workbook", "periods", "stock-list",
})  # fmt: skip
_DOOR, _REFUSED = "command line", "refused"
_LOOKED_BACK = 50  # lines: others may have been at the pages meanwhile
_NUMBERS = ("document", "ticket", "order", "documents")


def note_command(ctx: click.Context, code: int) -> None:
    """Note a command that could change the book, done or refused; where none could be opened, there is none."""
    command = str(ctx.invoked_subcommand or "")
    if not command or command in LOOKING or LOOKED in ctx.meta or code == BookError.exit_code:
        return
    told = ctx.meta.get(TOLD, {})
    done = " ".join(f"{name} {told[name]}" for name in _NUMBERS if isinstance(told.get(name), int | str))
    outcome = _REFUSED if code else done or "done"
    try:
        when = now()
    except StockroomError:  # a clock that can't be read was the very thing refused
        return
    from stockroom.flows.book.audit_log import note

    machine = socket.gethostname() or "unnamed machine"
    line = LogLine(when=when, door="command line", who=_account(), device=machine, what=command, outcome=outcome)
    note(str(ctx.params["place"]), line)


def last_typed_refused(book: "Book") -> bool:
    """Say whether the last command noted from this machine was refused."""
    from stockroom.flows.book.audit_log import newest

    mine = [deed for deed in newest(book, _LOOKED_BACK) if (deed.door, deed.device) == (_DOOR, _machine())]
    return bool(mine) and mine[-1].outcome == _REFUSED


def _machine() -> str:
    return socket.gethostname() or "unnamed machine"


def _account() -> str:
    try:
        return getuser()
    except (KeyError, OSError):  # an account without a name
        return f"account {os.getuid()}" if hasattr(os, "getuid") else "unnamed account"
