"""Keep the book safe from the pages: check it, take a copy away, take everything out, forget a person."""

from collections.abc import Callable, Iterator
from pathlib import Path
from shutil import make_archive, rmtree
from tempfile import mkdtemp
from typing import TYPE_CHECKING

from flask import Blueprint, Response, jsonify, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response as AnyResponse

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.book import privacy, put_back, safekeeping
from stockroom.flows.book.opening import open_book
from stockroom.web import access, typed
from stockroom.web.access import may, takes_files
from stockroom.web.background import Told
from stockroom.web.pages.door import ask_passcode
from stockroom.web.site import progress, say, site, stamp
from stockroom.web.words import counted, words

if TYPE_CHECKING:
    from stockroom.flows.book.opening import Book

pages = Blueprint("safekeeping", __name__)
_CHECK, _BACKUP = "check", "backup"
_SLICE = 1 << 16  # bytes sent at a time


@pages.get("/safekeeping")
@may(access.OWNER)
def overview() -> str:
    """Show when the book was checked last, and offer what keeps it safe."""
    kept = request.args.get("kept", "")
    return render_template("safekeeping.html", seen=site().keeper.seen(_CHECK, site().now()), kept=kept)


@pages.post("/safekeeping/check")
@may(access.OWNER)
def check() -> AnyResponse:
    """Add the whole book up again, beside the pages."""
    book = site().book
    stamp()  # the form must be ours
    site().keeper.look(_CHECK, site().now(), lambda told: _checked(book, told))
    return go(url_for("safekeeping.overview"), 303)


@pages.get("/safekeeping/state")
@may(access.OWNER)
def state() -> AnyResponse:
    """Say how far the check has come, for a page that waits for it."""
    return progress(_CHECK)


@pages.post("/safekeeping/backup")
@may(access.OWNER)
def backup() -> Response:
    """Give a backup to keep elsewhere: a copy made while the book is in use, opened and checked."""
    book, now = site().book, stamp().entered
    return _given(lambda folder: safekeeping.back_up(book, folder, now).path, "application/vnd.sqlite3")


@pages.post("/safekeeping/restore/part")
@may(access.OWNER)
@takes_files
def send_part() -> Response:
    """Take a part of a backup, sent one after the other by the page's script: however large it is in all."""
    put_back.refuse_on_server(site().book)
    size = safekeeping.add_part(site().book.place, request.args.get("at", ""), request.stream.read())
    return jsonify(size=size)


@pages.post("/safekeeping/restore/look")
@may(access.OWNER)
@takes_files
def look_into() -> AnyResponse:
    """Check the backup that was sent, beside the pages, to be set beside the book that is open."""
    book, sent = site().book, request.files.get("backup")
    stamp()  # the form must be ours
    put_back.refuse_on_server(book)
    if sent is not None and sent.filename:
        safekeeping.take_whole(book.place, sent.stream)
    safekeeping.sent_backup(book.place)
    site().beside.start(_BACKUP, lambda told: _looked(book, told))
    return go(url_for("safekeeping.looked"), 303)


@pages.get("/safekeeping/restore")
@may(access.OWNER)
def looked() -> str:
    """Show what the backup that was sent holds, beside what is open; or how far the check has come."""
    book = site().book
    ready = not book.on_server and safekeeping.beside_book(book.place).exists()
    return render_template("put_back.html", task=site().beside.task(_BACKUP) if ready else None)


@pages.get("/safekeeping/restore/state")
@may(access.OWNER)
def look_state() -> AnyResponse:
    """Say how far the check of the backup has come, for a page that waits for it."""
    return progress(_BACKUP)


@pages.post("/safekeeping/restore")
@may(access.OWNER)
def restore() -> AnyResponse:
    """Put the backup that was looked into in the book's place, in one step; everybody is signed out.

    Raises
    ------
    RefusedError
        If the passcode is wrong, no backup was looked into, or the book is still being worked with.
    """
    at, now, task = site(), stamp().entered, site().beside.task(_BACKUP)
    if task is None or task.state != "done" or at.open_pages is None:
        raise RefusedError("No backup was looked into.", fix="Choose its file again.")
    ask_passcode("owner", typed.field("passcode"))
    with at.pages.alone(at.beside):
        kept = put_back.put_back(at.book, now, over=typed.field("over"))
        at.beside.forget(_BACKUP)
        at.pages.show(at.open_pages(open_book(at.book.place)))
    return go(url_for("safekeeping.overview", kept=kept.name if kept else ""), 303)


def _looked(book: "Book", told: Told) -> object:
    told("check", 0, 1)
    return put_back.look_into(book)


@pages.post("/safekeeping/export")
@may(access.OWNER)
def export() -> Response:
    """Give the whole book as plain tables, every column described, in one archive."""
    book, now = site().book, stamp().entered

    def made(folder: Path) -> Path:
        safekeeping.export_book(book, folder / "book")
        return Path(make_archive(str(folder / f"book-{now:%Y-%m-%d}"), "zip", folder / "book"))

    return _given(made, "application/zip")


@pages.post("/safekeeping/forget")
@may(access.OWNER)
def forget() -> AnyResponse:
    """Remove a customer's name from every ticket, and say where else it stands."""
    name = typed.field("name")
    stamp()
    if not name:
        raise UsageError("No name was typed.", fix="Type it as it stands on the tickets.")
    empty = bool(typed.field("notes"))
    found = privacy.forget(site().book, name, notes=empty)
    said = counted("Removed from %(num)s ticket.", "Removed from %(num)s tickets.", len(found.tickets))
    say(said)
    notes, perhaps = ", ".join(found.notes), ", ".join(found.perhaps)
    if notes:
        say(
            words("Notes emptied: %(tickets)s.", tickets=notes)
            if empty
            else words("Notes of tickets %(tickets)s name the person; tick to empty them.", tickets=notes),
            bad=not empty,
        )
    if perhaps:
        say(words("A part of the name stands in the notes of %(tickets)s: look at them.", tickets=perhaps), bad=True)
    if found.documents:
        numbers = ", ".join(map(str, found.documents))
        say(words("Documents %(numbers)s name the person; they are chained and stay.", numbers=numbers), bad=True)
    return go(url_for("safekeeping.overview"), 303)


def _checked(book: "Book", told: Told) -> object:
    from stockroom.flows.book.check import check as look_through  # noqa: PLC0415 -- only when asked for

    told("check", 0, 1)
    return look_through(book)


def _given(make: Callable[[Path], Path], kind: str) -> Response:
    """Make a file in a folder of its own, send it piece by piece, and remove the folder, come what may."""
    folder = Path(mkdtemp(prefix="stockroom-given-"))
    try:
        path = make(folder)
        size = path.stat().st_size
    except BaseException:
        rmtree(folder, ignore_errors=True)
        raise

    def pieces() -> Iterator[bytes]:
        with path.open("rb") as file:
            while piece := file.read(_SLICE):
                yield piece

    head = {"Content-Disposition": f'attachment; filename="{path.name}"', "Content-Length": str(size)}
    answer = Response(pieces(), content_type=kind, headers=head)
    answer.call_on_close(lambda: rmtree(folder, ignore_errors=True))
    return answer
