"""Loading files: looked through first beside the pages, entered when the owner says so."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp

from flask import Blueprint, render_template, request, url_for
from flask import redirect as go
from werkzeug.utils import secure_filename
from werkzeug.wrappers import Response

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.book.opening import Book
from stockroom.flows.loading.first_steps import never_moved
from stockroom.flows.loading.load import LoadReport, load_files
from stockroom.intake.columns import KINDS
from stockroom.phrases import phrase
from stockroom.web import access
from stockroom.web.access import may, takes_files
from stockroom.web.background import Told
from stockroom.web.site import progress, site, stamp

pages = Blueprint("loading", __name__)
NAME = "load"


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """What a load found, and whether it was entered."""

    paths: tuple[Path, ...]
    report: LoadReport
    entered: bool


_SUFFIXES = {".csv", ".xlsx", ".txt", ".tsv"}
_MOST = 30  # files at once


@pages.get("/load")
@may(access.OWNER)
def loading() -> str:
    """Ask for files, or show how far the last ones have come."""
    titles = {stem: kind.title for stem, kind in KINDS.items()}
    return render_template("loading.html", task=site().beside.task(NAME), titles=titles, new=never_moved(site().book))


@pages.get("/load/state")
@may(access.OWNER)
def state() -> Response:
    """Say how far a load has come."""
    return progress(NAME)


@pages.post("/load")
@may(access.OWNER)
@takes_files
def look_through() -> Response:
    """Take files and look through them; nothing is entered yet."""
    sent = [each for each in request.files.getlist("files") if each.filename]
    if not 0 < len(sent) <= _MOST:
        raise UsageError("No files were chosen, or too many.", fix=phrase("Choose 1 to %(most)s files.", most=_MOST))
    names = [secure_filename(each.filename or "") for each in sent]
    if len(set(names)) < len(names) or not all(Path(name).suffix.casefold() in _SUFFIXES for name in names):
        raise UsageError("Only spreadsheets (.xlsx) and text tables (.csv), each once.", fix="Choose others.")
    folder = Path(mkdtemp(prefix="stockroom-load-"))
    paths = [folder / name for name in names]
    for each, path in zip(sent, paths, strict=True):
        each.save(path)
    book, now = site().book, site().now()
    if not site().beside.start(NAME, lambda told: _load(book, paths, told, now=now, enter=False)):
        rmtree(folder, ignore_errors=True)
        raise RefusedError("Files are being loaded already.", fix="Wait until they are done.")
    return go(url_for("loading.loading"), 303)


@pages.post("/load/enter")
@may(access.OWNER)
def enter() -> Response:
    """Enter what was looked through."""
    task, document = site().beside.task(NAME), stamp()
    result = task.result if task is not None else None
    if not isinstance(result, Looked) or result.entered:
        raise RefusedError("Nothing waits to be entered.", fix="Choose files first.")
    book = site().book
    site().beside.start(NAME, lambda told: _load(book, result.paths, told, now=document.happened, enter=True))
    return go(url_for("loading.loading"), 303)


def _load(book: Book, paths: Sequence[Path], told: Told, *, now: datetime, enter: bool) -> Looked:
    try:
        report = load_files(book, list(paths), now, dry_run=not enter, progress=told)
    except BaseException:
        _forget(paths)
        raise
    if enter:
        _forget(paths)
    return Looked(paths=tuple(paths), report=report, entered=enter)


def _forget(paths: Sequence[Path]) -> None:
    rmtree(paths[0].parent, ignore_errors=True)
