"""How the book stands: what results that took long are held against."""

from dataclasses import dataclass
from datetime import date, datetime

from stockroom.store.book import Book
from stockroom.store.result_cache import state_mark


@dataclass(frozen=True, slots=True, kw_only=True)
class BookState:
    """The book at a moment: equal states give equal results."""

    documents: int  # number of the last document
    mark: str
    day: date


def state(book: Book, now: datetime) -> BookState:
    """Read how the book stands."""
    with book.reading() as session:
        documents, mark = state_mark(session)
    return BookState(documents=documents, mark=mark, day=now.date())
