"""A book's file and what lies beside it: is it there, who has it open, taking it away, making one that is whole.

Nothing here loads what opens a book.
"""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from stockroom.errors import BookError

_TAILS = ("", "-journal", "-wal", "-shm")  # what the database keeps beside a file


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
        raise BookError(f"There is no book at {place}.", fix="Start one with: stockroom new-book")
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
        unfinished.rename(path)
    finally:
        remove(unfinished)
