"""A book's own mark, made when it is begun: by it a backup knows its book, wherever it lies and whatever its name."""

from secrets import token_hex

import sqlalchemy as sa

from stockroom.store import tables
from stockroom.store.book import Book, Session
from stockroom.store.tables import upsert

NOTE = "book mark"
SHOWN = 8  # letters of it in a backup's name


def read_mark(session: Session) -> str:
    """Read the book's mark; empty in one begun before books had them."""
    asked = sa.select(tables.setting.c.value).where(tables.setting.c.name == NOTE)
    return session.execute(asked).scalar() or ""


def mark(session: Session) -> str:
    """Give the book's mark; made where it has none."""
    there = read_mark(session)
    if there:
        return there
    made = token_hex(16)
    upsert(session, tables.setting, [{"name": NOTE, "value": made}])
    return made


def mark_of(book: Book) -> str:
    """Give a book's mark, reading only where it has one."""
    with book.reading() as session:
        there = read_mark(session)
    if there:
        return there
    with book.writing() as session:
        return mark(session)
