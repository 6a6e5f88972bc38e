"""The guided start of a new shop: what is still missing, the first count, the first orders, passcodes.

What it keeps and does is typed in the tables of its lists.
"""

from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

from flask import Blueprint, render_template, request, send_file, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.counts import sheets
from stockroom.flows.counts.settle import enter_opening
from stockroom.flows.loading import first_steps as flows
from stockroom.flows.loading.list_tables import TABLES
from stockroom.web import access, guard, typed
from stockroom.web.access import may, set_passcode
from stockroom.web.shortcuts import write_shortcuts
from stockroom.web.site import look_ahead, say, site, stamp
from stockroom.web.words import counted, said, words

pages = Blueprint("start", __name__)

_ALONE = frozenset({"127.0.0.1", "::1"})


@pages.get("/start")
@may(access.OWNER)
def overview() -> str:
    """Show the steps, and how far each has come."""
    return render_template(
        "start.html",
        found=flows.standing(site().book, site().now().date()),
        tables=TABLES,
        way=request.args.get("way", ""),
    )


@pages.get("/start/templates")
@may(access.OWNER)
def templates() -> Response:
    """Give the workbook to fill in."""
    from stockroom.intake.templates import write_workbook_template  # noqa: PLC0415 -- slow import

    with TemporaryDirectory(prefix="stockroom-templates-") as folder:
        path = write_workbook_template(Path(folder))
        content = BytesIO(path.read_bytes())
    return send_file(content, as_attachment=True, download_name=path.name)


@pages.get("/start/count")
@may(access.OWNER)
def count() -> str:
    """Show the locations, and how much of each is counted."""
    book = site().book
    return render_template("start_count.html", places=sheets.places(book), done=flows.counted_by_place(book))


@pages.post("/start/opening")
@may(access.OWNER)
def opening() -> Response:
    """Enter what was counted as the opening stock."""
    done = enter_opening(site().book, stamp())
    text = counted(
        "%(num)s material is entered as opening stock.",
        "%(num)s materials are entered as opening stock.",
        done.materials,
    )
    say(text, undo=done.document or None)
    if done.waiting:
        say(words("Counted after it moved, to be posted as a count: %(sheets)s.", sheets=", ".join(done.waiting)))
    return go(url_for("start.orders"), 303)


@pages.get("/start/orders")
@may(access.OWNER)
def orders() -> str:
    """Show the first order list."""
    found = flows.standing(site().book, site().now().date())
    return render_template("start_orders.html", seen=look_ahead(), found=found)


@pages.get("/start/passcodes")
@may(access.OWNER)
def passcodes() -> str:
    """Offer passcodes, and a shortcut that opens the pages."""
    return render_template(
        "start_passcodes.html",
        kept=site().passcodes.read(),
        least=access.LEAST,
        here=_alone(),
        desktop=_desktop(),
    )


@pages.post("/start/passcodes")
@may(access.OWNER)
def save_passcodes() -> Response:
    """Set the passcodes that were typed: the owner's first, without which there is none."""
    chosen = {who: request.form.get(f"passcode:{who}", "") for who in ("owner", "bench")}
    if not chosen["owner"] and "owner" not in site().passcodes.read():
        raise UsageError("The owner needs a passcode first.", fix="Set the owner's, then the others.")
    for who, text in chosen.items():
        if text:
            set_passcode(site().book, who, text)
            guard.note(said(words("passcode of %(role)s set", role=who)))
    if chosen["owner"]:
        access.sign_in("owner", site().passcodes)
    say(words("The passcodes are set."))
    return go(url_for("start.passcodes"), 303)


@pages.post("/start/shortcut")
@may(access.OWNER)
def shortcut() -> Response:
    """Put a shortcut on the desktop of this machine."""
    folder = _desktop()
    if not _alone() or folder is None:
        raise RefusedError("A shortcut can be put on the shop's own machine only.", fix="Open this page there.")
    network = bool(typed.field("network")) and "owner" in site().passcodes.read()
    written = write_shortcuts(site().book.place, folder, at_login=bool(typed.field("login")), network=network)
    say(words("Written: %(paths)s.", paths=", ".join(map(str, written))))
    return go(url_for("start.passcodes"), 303)


def _alone() -> bool:
    """Say whether whoever asks sits at this machine."""
    return request.remote_addr in _ALONE


def _desktop() -> Path | None:
    """Find the desktop's folder, if this machine has one."""
    folder = Path.home() / "Desktop"
    return folder if folder.is_dir() else None
