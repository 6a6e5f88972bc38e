"""The journal of a book, beside its file or in its server's table: what was done, when, by whom, from where."""

import os
from collections import deque
from contextlib import closing, suppress
from heapq import merge
from pathlib import Path

from stockroom.stock.audit_log import LogLine, read_line
from stockroom.store import audit_log
from stockroom.store import book as books
from stockroom.store.book import Book


def journal_of(place: str) -> Path | None:
    """Name the journal of a book in a file; a server's book has its lines in a table."""
    return None if "://" in place else Path(f"{Path(place).expanduser()}.journal.txt")


def note(place: str, line: LogLine) -> None:
    """Add a line; where none can be written, the work goes on without."""
    path = journal_of(place)
    if path is None:
        with (
            suppress(Exception),
            closing(books.open_book(place)) as book,
        ):  # the work is done, whatever befalls its line
            _add(book, line)
    elif Path(place).expanduser().is_file():  # a mistyped path gets none
        # who worked when is the shop's own business: nobody else on the machine is to read it
        flags = os.O_WRONLY | os.O_APPEND | os.O_CREAT
        with suppress(OSError), os.fdopen(os.open(path, flags, 0o600), "a", encoding="utf-8") as file:
            file.write(f"{line}\n")


def note_in(book: Book, line: LogLine) -> None:
    """Add a line to the journal of an open book."""
    if book.on_server:
        with suppress(Exception):  # as above
            _add(book, line)
    else:
        note(book.place, line)


def newest(book: Book, count: int) -> list[LogLine]:
    """Give the last lines, the newest last.

    A file's book may have come from a server: the lines it brought along stand in its table, the later ones beside it.
    """
    with book.reading() as session:
        brought = audit_log.newest(session, count)
    path = journal_of(book.place)
    beside = _read(path, count) if path is not None and path.is_file() else []
    return list(merge(brought, beside, key=lambda line: line.when))[-count:]


def _add(book: Book, line: LogLine) -> None:
    with book.writing(books.JOURNAL) as session:
        audit_log.append(session, [line])


def _read(path: Path, count: int) -> list[LogLine]:
    """Read the last lines; what a person wrote between them is left out."""
    with path.open(encoding="utf-8", errors="replace") as file:
        return list(deque((found for line in file if (found := read_line(line))), maxlen=count))
