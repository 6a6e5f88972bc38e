"""What commands share: the open book, the clock, the shop's way of writing, output, and what is noted of a command."""

import json
import os
import socket
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import wraps
from getpass import getuser
from typing import Any
from uuid import uuid4

import click
from click.core import ParameterSource

from stockroom.errors import BookError, StockroomError, UsageError
from stockroom.flows.book.opening import Book, check_site, open_book, set_back, settings
from stockroom.show.formats import Formats, formats_of
from stockroom.stock.audit_log import LogLine
from stockroom.stock.money import major, minor
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import NANO, Quantity, Unit, plain
from stockroom.stock.recipes import Extra
from stockroom.stock.shop import Shop
from stockroom.stock.typed import amount as amount  # noqa: PLC0414 -- offered on
from stockroom.stock.typed import by_clock, day_or_moment, noon_of, past
from stockroom.stock.typed import day_ahead as typed_day_ahead
from stockroom.stock.typed import number as number  # noqa: PLC0414 -- as above

TOLD = "stockroom.told"  # where the activity log finds the numbers a command answered with
LOOKED = "stockroom.looked"  # set by a command that could have changed the book and only showed something
_LOCALE = "stockroom.locale"  # of the open book: how its country writes days


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter:
    """An open book with the shop's settings."""

    book: Book
    shop: Shop
    formats: Formats


@contextmanager
def open_counter(place: str) -> Iterator[Counter]:
    """Open the book for one command."""
    book = open_book(place)
    try:
        shop = settings(book)
        asked = click.get_current_context(silent=True)
        if asked is not None:
            asked.find_root().meta[_LOCALE] = shop.locale
        yield Counter(book=book, shop=shop, formats=formats_of(shop))
    finally:
        book.close()


def now() -> datetime:
    """Read the clock: only doors do."""
    return by_clock(datetime.now)


def moment(text: str) -> datetime:
    """Read a day or a moment behind us, in words too: 'yesterday', '25.11.'; a day alone means its noon."""
    return noon_of(day_or_moment(_past(text)))


def _past(text: str) -> str:
    return past(text, now().date(), _order(text))


def _order(text: str) -> str | None:
    """Say in which order the book's country writes a day with strokes."""
    asked = click.get_current_context(silent=True)
    locale = asked.find_root().meta.get(_LOCALE) if asked is not None and "/" in text else None
    if locale is None:
        return None
    from stockroom.intake.cells import marks_of

    return marks_of(locale).order


def day(text: str) -> date:
    """Read a day, ISO or as the country writes it."""
    return moment(text).date()


def day_ahead(text: str) -> date:
    """Read a day still to come, in words too: 'tomorrow', 'friday'."""
    return typed_day_ahead(text, now().date(), _order(text))


def money(text: str, shop: Shop) -> int:
    """Read money in major units into minor units."""
    return minor(number(text), shop.currency_digits)


def price(minor_units: int, shop: Shop) -> str:
    """Write money for a program: an exact decimal in major units."""
    return str(major(minor_units, shop.currency_digits))


def choices(pairs: tuple[str, ...]) -> dict[str, str]:
    """Read choices such as 'sole=bend'.

    Raises
    ------
    UsageError
        If one has no equals sign between name and choice.
    """
    found = {}
    for pair in pairs:
        name, equals, option = pair.partition("=")
        if not equals:
            raise UsageError(f"'{pair}' is not a choice.", fix="Write it like sole=bend.")
        found[name.strip()] = option.strip()
    return found


def amounts(pairs: Sequence[str]) -> dict[str, Quantity]:
    """Read amounts such as 'cork filler=40 g'; a bare number would leave open which unit is meant.

    Raises
    ------
    UsageError
        If one has no equals sign between name and amount.
    """
    found: dict[str, Quantity] = {}
    for pair in pairs:
        name, equals, text = pair.rpartition("=")
        if not equals:
            raise UsageError(f"'{pair}' is not an amount used.", fix="Write it like 'cork filler=40 g'.")
        found[name.strip()] = amount(text, None)
    return found


def extras(pairs: Sequence[str]) -> tuple[Extra, ...]:
    """Read materials used beyond the recipe."""
    return tuple(Extra(material=name, amount=much) for name, much in amounts(pairs).items())


def tell(facts: object, words: str, *, as_json: bool) -> None:
    """Answer a program with JSON, a person with words."""
    asked = click.get_current_context(silent=True)
    if asked is not None and isinstance(facts, dict):
        asked.find_root().meta[TOLD] = facts
    click.echo(json.dumps(facts, ensure_ascii=False, indent=2, default=str) if as_json else words)


def looked() -> None:
    """Say that the command under way only looks this time: it is not noted in the activity log."""
    asked = click.get_current_context(silent=True)
    if asked is not None:
        asked.find_root().meta[LOOKED] = True


@contextmanager
def progress(*, quiet: bool = False) -> Iterator[Callable[[str, int, int | None], None]]:
    """Show how far long work has come, on a terminal only."""
    shown = sys.stderr.isatty() and not quiet

    def told(what: str, done: int, of: int | None) -> None:
        if shown:
            click.echo(f"\r\033[K{what}: {done:,}" + (f" of {of:,}" if of else ""), err=True, nl=False)

    yield told
    if shown:
        click.echo("\r\033[K", err=True, nl=False)


def width() -> int:
    """Give the width to write in: the terminal's, within reason; 100 when nobody looks."""
    import shutil

    return max(60, min(shutil.get_terminal_size((100, 24)).columns, 160))


def exactly(nano: int, of: Unit) -> dict[str, str]:
    """Write an amount for a program: exact decimal and unit."""
    return {"amount": plain(Decimal(nano) / NANO * NANO / of.nano), "unit": of.name}


class Renamed(click.Option):
    """An option that older scripts know by other names: those work, and are not listed."""

    def __init__(self, *args: Any, was: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.was = was

    def add_to_parser(self, parser: Any, ctx: click.Context) -> None:
        """Have the older names read as well."""
        shown = self.opts
        self.opts = [*shown, *self.was]
        super().add_to_parser(parser, ctx)
        self.opts = shown


def renamed(*names: str, was: str, **kwargs: Any) -> Callable[..., Any]:
    """Make an option that was called otherwise before."""
    return click.option(*names, cls=Renamed, was=(was,), **kwargs)


_entry_options = (
    click.option("--at", metavar="WHEN", help="When it happened: 2026-03-31 or 2026-03-31T14:30 [now]."),
    renamed("--once", "key", was="--key", metavar="KEY", help="The same KEY twice changes nothing."),
    click.option("--site", default="main", show_default=True, help="Where."),
    click.option("--who", default="", help="Who did it."),
    click.option("--note", default="", help="A note to keep with it."),
)
_SURE = "anyway"
anyway_option = click.option("--anyway", _SURE, is_flag=True, help="Enter it though it looks like a slip.")
json_option = click.option("--json", "as_json", is_flag=True, help="Answer in JSON, for programs.")


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedEntry:
    """What was typed about an entry, whatever it is."""

    at: str | None
    key: str | None
    site: str
    who: str
    note: str
    as_json: bool
    sure: bool = False

    @property
    def stamp(self) -> Stamp:
        """The stamp its document carries.

        Raises
        ------
        UsageError
            If its moment is still to come.
        """
        entered = now()
        typed = day_or_moment(_past(self.at)) if self.at else entered
        happened = entered if typed == entered.date() else noon_of(typed)  # of today, noon may be still to come
        if happened > entered:
            raise UsageError(f"{self.at} is still to come.", fix="Give the day it happened, today at the latest.")
        mark = self.key or uuid4().hex
        at = _past(self.at or "")
        said = {"who": self.who, "note": self.note, "site": self.site, "stated": at}
        return Stamp(key=mark, happened=happened, entered=entered, sure=self.sure, **said)

    def tell(self, facts: object, words: str) -> None:
        """Answer whoever asked."""
        tell(facts, words, as_json=self.as_json)


def entry(command: Callable[..., None]) -> Callable[..., None]:
    """Make a function a command that enters something: it gets the counter, the entry, and its own options."""

    @wraps(command)
    def run(place: str, /, **typed: Any) -> None:
        sure = typed.pop(_SURE, False)
        mine = {name: typed.pop(name) for name in ("at", "key", "site", "who", "note", "as_json")}
        with open_counter(place) as counter:
            _mind_the_clock(counter)
            check_site(counter.book, mine["site"])
            command(counter, TypedEntry(**mine, sure=sure), **typed)

    return _opted(click.pass_obj(run), (*_entry_options, json_option))


def was_typed(option: str) -> bool:
    """Say whether an option was given, rather than left at its default."""
    return click.get_current_context().get_parameter_source(option) is ParameterSource.COMMANDLINE


def _mind_the_clock(counter: Counter) -> None:
    """Say when the clock can't be right; the entry stands all the same, and can be taken back."""
    reads = now()
    last = set_back(counter.book, reads)
    if last is not None:
        write = counter.formats.moment
        click.echo(
            f"Is the clock right? It reads {write(reads)}, but a document was entered on {write(last)}.", err=True
        )


def view(command: Callable[..., None]) -> Callable[..., None]:
    """Make a function a command that only looks: it gets the counter and its own options."""

    @wraps(command)
    def run(place: str, /, **typed: Any) -> None:
        with open_counter(place) as counter:
            command(counter, **typed)

    return _opted(click.pass_obj(run), (json_option,))


def opted(*options: Callable[..., Any]) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command a family of options, in their order."""
    return lambda command: _opted(command, options)


def _opted(command: Callable[..., None], options: Sequence[Callable[..., Any]]) -> Callable[..., None]:
    for option in reversed(options):
        command = option(command)
    return command


LOOKING = frozenset({  # what changes nothing is not in the journal
    "demo", "serve", "check", "log", "export-book", "templates", "tickets", "shelf", "documents", "run-outs",
    "run-outs-by-site", "jobs-possible", "reorder", "back-test", "reports", "orders", "order-form", "count-next",
    "count-sheet", "differences", "count-report", "margins", "margin-changes", "margin-alerts", "cut-or-buy",
    "workbook", "periods", "stock-list", "offcuts", "lent", "services", "bench-load", "job-minutes",
    "may-go-back",
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

    line = LogLine(when=when, door=_DOOR, who=_account(), device=_machine(), what=command, outcome=outcome)
    note(str(ctx.params["place"]), line)


def last_typed_refused(book: Book) -> bool:
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


def postage_of(counter: Counter, typed: str | None) -> tuple[int | None, tuple[Extra, ...]]:
    """Read what the post costs: an amount of money, or a name on the list of postage, which has its packing."""
    if not typed:
        return None, ()
    if not typed[:1].isalpha():
        return money(typed, counter.shop), ()
    from stockroom.flows.bench.parcels import the_postage

    found = the_postage(counter.book, typed)
    return found.cost, tuple(Extra(material=code, amount=much) for code, much in found.packaging.items())
