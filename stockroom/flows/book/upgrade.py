"""Bring an older book to this version, and keep it as it was."""

import os
from datetime import datetime
from itertools import count
from pathlib import Path
from urllib.parse import urlsplit

from stockroom.errors import BookError
from stockroom.flows.book.repeated import join_in
from stockroom.phrases import phrase
from stockroom.store import upgrading
from stockroom.store.book import Book


def upgrade_book(place: str, now: datetime, folder: Path | None = None) -> Path | None:
    """Bring an older book to this version; gives the copy of it as it was, or nothing where none was needed.

    Parameters
    ----------
    place : str
        The book.
    now : datetime
        The moment, which names the copy.
    folder : Path, optional
        Where the copy is kept: otherwise beside the book, and for a server's book in the current folder.

    Raises
    ------
    BookError
        If the folder for the copy can't be made or written.
    """
    copy = _copy(place, folder, now)
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
    if not os.access(copy.parent, os.W_OK):
        raise BookError(
            phrase("The older book can't be kept in %(folder)s.", folder=copy.parent),
            fix="Name another folder with --keep.",
        )
    bring_up(place, copy).close()
    return copy if copy.exists() else None


def bring_up(place: str, keep: Path | None = None) -> Book:
    """Bring an older book to this version's schema, and let it say by a document what its lists hold."""
    return upgrading.upgrade_book(place, keep, then=join_in)


def _copy(place: str, folder: Path | None, now: datetime) -> Path:
    """Name a file that isn't there yet."""
    if "://" in place:
        beside, name = Path(), urlsplit(place).path.rpartition("/")[2] or "book"
    else:
        beside, name = Path(place).expanduser().parent, Path(place).name
    stem = (folder or beside) / f"{name}.before-upgrade.{now:%Y-%m-%dT%H%M%S}"
    names = (stem if n == 1 else stem.with_name(f"{stem.name}-{n}") for n in count(1))
    return next(path for path in names if not path.exists())
