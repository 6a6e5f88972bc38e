"""Bring an older book to this version's schema: wholly or not at all, and once it is kept as it was."""

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from hashlib import sha256
from pathlib import Path

import sqlalchemy as sa

from stockroom.errors import BookError
from stockroom.store import tables
from stockroom.store.book import (
    JOURNAL,
    LEDGER,
    STEPS,
    Book,
    Session,
    new_book,
    open_any,
    open_book,
    plainly,
    run_steps,
    schema_in,
)
from stockroom.store.book_files import whole_or_not_there
from stockroom.store.transfer import KEPT_BY_TRIGGER, number_on

_SLICE = 5000
_MADE_BY_STEPS = {"alembic_version"}


Then = Callable[[Session], None]


def upgrade_book(place: str, keep: Path | None = None, *, steps: Path = STEPS, then: Then | None = None) -> Book:
    """Bring an older book to this version's schema; anything but an older book is left untouched.

    Parameters
    ----------
    place : str
        The book.
    keep : Path, optional
        A file that isn't there yet: before a step is run, the older book is copied into it and compared. While it is
        not finished, it ends in '.part'.
    steps : Path
        The folder of the schema's steps.
    then : callable, optional
        What else an older book needs once its tables are the newest, in the same transaction.
    """
    book, found = open_any(place)
    if not found or found >= tables.SCHEMA:
        book.close()
        return open_book(place)
    try:
        with book.writing(LEDGER, JOURNAL) as session:
            if schema_in(session) == found:  # else another was first, while this one waited
                if keep is not None:
                    _keep(book, session, keep)
                run_steps(session, steps=steps)
                if then is not None:
                    then(session)
    except BaseException:
        book.close()
        raise
    return book


def refuse_unknown(place: str) -> None:
    """Refuse what is no book, or a newer version's; an older one's is known. What waits beside it is taken in."""
    book, found = open_any(place)
    book.close()
    if not found or found > tables.SCHEMA:
        open_book(place).close()


def copy_as_it_is(source: Session, target: Session) -> None:
    """Fill an empty book from another of the same schema, whichever that is."""
    there = _tables(target)
    for name, table in _tables(source, list(there)).items():
        if name not in KEPT_BY_TRIGGER | _MADE_BY_STEPS:
            for rows in _rows(source, table):
                target.execute(sa.insert(there[name]), [dict(row) for row in rows])
    number_on(target, there.values())


def _keep(book: Book, session: Session, path: Path) -> None:
    """Keep the book as it is in a file of its own, under its name only once both say the same."""
    unfinished = path.with_suffix(".part")
    with whole_or_not_there(path, unfinished):
        if book.on_server:
            _from_server(session, unfinished)
        else:
            _from_file(book, unfinished)
        copy, _ = open_any(str(unfinished))
        with closing(copy), copy.reading() as there:
            if not _same(session, there):
                fix = "Nothing was changed. Look at it with the version that wrote it: stockroom check"
                raise BookError("The copy kept before the upgrade does not agree with the book.", fix=fix)


def _from_file(book: Book, path: Path) -> None:
    """Copy page by page: not even a fault is lost."""
    reading = book.engine.raw_connection()  # not the writer's own, which can't be copied from
    try:
        with plainly(book.place), closing(sqlite3.connect(path)) as target:
            source = reading.driver_connection
            assert isinstance(source, sqlite3.Connection)  # noqa: S101 -- says to the type checker what the driver gives
            source.backup(target)
    finally:
        reading.close()


def _from_server(session: Session, path: Path) -> None:
    with closing(new_book(str(path), schema=schema_in(session))) as copy, copy.writing() as target:
        copy_as_it_is(session, target)


def _same(book: Session, copy: Session) -> bool:
    """Say whether a copy's pages are whole, and every row of every table is as in the book."""
    whole = copy.exec_driver_sql("PRAGMA integrity_check(1)").scalar() == "ok"
    mine = _tables(copy)
    theirs = _tables(book, list(mine))
    return whole and all(_summed(copy, table) == _summed(book, theirs[name]) for name, table in mine.items())


def _summed(session: Session, table: sa.Table) -> tuple[int, int]:
    """Count and sum up a table's rows, in whatever order a database sorts them."""
    count = total = 0
    for rows in _rows(session, table):
        for row in rows:
            count += 1
            total += int.from_bytes(sha256(repr(sorted(row.items())).encode()).digest()[:16])
    return count, total


def _tables(session: Session, names: list[str] | None = None) -> dict[str, sa.Table]:
    """Give the tables as they lie there, each after those it refers to: an older book's are not those declared."""
    there = sa.MetaData()
    there.reflect(bind=session, only=names)
    return {table.name: table for table in there.sorted_tables}


def _rows(session: Session, table: sa.Table) -> Iterator[Sequence[sa.RowMapping]]:
    asked = sa.select(table).order_by(*table.primary_key.columns)
    return session.execute(asked, execution_options={"yield_per": _SLICE}).mappings().partitions()
