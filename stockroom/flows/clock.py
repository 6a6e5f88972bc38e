"""Whether the clock can be right: papers are never entered before those that were entered earlier."""

from datetime import datetime, timedelta

from stockroom.store import ledger
from stockroom.store.book import Book

_SLACK = timedelta(minutes=5)  # between the clocks of two machines


def set_back(book: Book, now: datetime) -> datetime | None:
    """Give when the last paper was entered, if that is still to come by this clock."""
    with book.reading() as session:
        newest = ledger.newest_documents(session, 1)
    return newest[0].entered if newest and newest[0].entered > now + _SLACK else None
