"""Check the whole book."""

from stockroom.store.audit import Audit, audit
from stockroom.store.book import Book


def check(book: Book) -> Audit:
    """Follow the chain of documents and add every balance up again."""
    with book.reading() as session:
        return audit(session)
