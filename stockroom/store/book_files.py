"""A book's file and what lies beside it: is it there, who has it open, taking it away, making one that is whole.

Nothing here loads what opens a book.
"""

import glob
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from stockroom.errors import BookError, RefusedError

_TAILS = ("", "-journal", "-wal", "-shm")  # what the database keeps beside a file
_KEPT = ".before-"  # what is set aside whole, by restoring or upgrading


def refuse_other_files(place: str) -> None:
    """Look at what lies there, and refuse what is no book's file.

    By its name only: closing a file lets go of every lock this process has on it.
    """
    path = Path(place).expanduser()
    if "://" in place:
        return
    if path.is_dir():
        raise BookError(f"{place} is a folder, not a book.", fix="Check the path given with --book.")
    if not path.exists():
        raise BookError(f"There is no book at {place}.", fix=_where_else(path))
    if not os.access(path, os.R_OK):
        raise BookError(f"{place} can't be read.", fix="Check the file's permissions.")


def in_use(place: str) -> bool:
    """Say whether another program, or another hand in this one, has a book's file open, be it idle."""
    path = Path(place).expanduser()
    if not path.exists():
        return False
    try:
        with closing(sqlite3.connect(path, timeout=0)) as raw:
            for mode in ("DELETE", "WAL"):  # leaving the log ahead is granted only to whoever is alone
                raw.execute(f"PRAGMA journal_mode={mode}")
    except sqlite3.DatabaseError as wrong:  # a file too damaged to be asked is restored all the more
        return "locked" in str(wrong)
    return False


def _where_else(path: Path) -> str:
    """Say what to do where a book is missing: never to start a new one where something of one lies."""
    left = traces(path)
    if not left:
        return "Start one with: stockroom new-book"
    kept = [each for each in left if _KEPT in each.name and not each.name.endswith((*_TAILS[1:], ".part"))]
    if kept:
        return f"One that was kept lies beside. To have it back: stockroom restore '{kept[-1]}'"
    return f"Something of one lies beside ({left[-1].name}): find the book's file first, or restore the newest backup."


def traces(path: Path) -> list[Path]:
    """Name what lies beside a book's place and belongs to one: kept by restoring or upgrading, or left by a kill."""
    marks = (*_TAILS[1:], _KEPT, ".restoring", ".journal")
    beside = sorted(path.parent.glob(f"{glob.escape(path.name)}[.-]*")) if path.parent.is_dir() else []
    return [each for each in beside if each.name.removeprefix(path.name).startswith(marks)]


def put_in_place(fresh: Path, path: Path, kept: str) -> Path | None:
    """Put a finished file in a book's place in one step; what is there now is kept under a name beside it.

    At every moment there is a book at the place: the old one gets a second name, and the new one takes the first.

    Raises
    ------
    RefusedError
        If something is kept under that name already.
    """
    aside = path.with_name(kept)
    if aside.exists():
        raise RefusedError(f"{aside} exists already.", fix="Run it again in a second; nothing is ever written over.")
    _to_disk(fresh)
    if not path.exists():
        fresh.replace(path)
        _to_disk(path.parent)
        return None
    for tail in _TAILS[1:]:  # only a file too damaged to be closed well still has any of these
        if (beside := path.with_name(path.name + tail)).exists():
            shutil.copyfile(beside, aside.with_name(aside.name + tail))
    _second_name(path, aside)
    for tail in _TAILS[1:]:
        path.with_name(path.name + tail).unlink(missing_ok=True)
    fresh.replace(path)
    _to_disk(path.parent)
    return aside


def _second_name(path: Path, aside: Path) -> None:
    """Give a file a second name; where the file system knows no such thing, copy it."""
    try:
        aside.hardlink_to(path)
    except OSError:
        unfinished = aside.with_name(f"{aside.name}.part")
        with whole_or_not_there(aside, unfinished):
            shutil.copyfile(path, unfinished)
            _to_disk(unfinished)


def _to_disk(path: Path) -> None:
    """Have a file, or a folder's names, written before going on."""
    if os.name == "posix" or path.is_file():
        handle = os.open(path, os.O_RDONLY if os.name == "posix" else os.O_RDWR)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def remove(path: Path) -> None:
    """Take a book's file away, if it is there."""
    for tail in _TAILS:
        path.with_name(path.name + tail).unlink(missing_ok=True)


@contextmanager
def whole_or_not_there(path: Path, unfinished: Path) -> Iterator[None]:
    """Let a file be made under one name; only once that has gone well does it get the other."""
    remove(unfinished)  # one that a kill left
    try:
        yield
        _to_disk(unfinished)
        unfinished.rename(path)
        _to_disk(path.parent)
    finally:
        remove(unfinished)
