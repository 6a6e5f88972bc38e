"""How the book stands: what results that took long are held against."""

from dataclasses import dataclass
from datetime import date, datetime

from stockroom.store.book import Book
from stockroom.store.state import state_mark


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """The book at a moment: equal states give equal results."""

    papers: int  # number of the last paper
    mark: str
    day: date


def state(book: Book, now: datetime) -> State:
    """Read how the book stands."""
    with book.reading() as session:
        papers, mark = state_mark(session)
    return State(papers=papers, mark=mark, day=now.date())
