"""The last documents entered, and what kind of work stands behind one."""

from stockroom.errors import UnknownError
from stockroom.flows.posting.undo import newest
from stockroom.phrases import phrase
from stockroom.stock.moves import WRITE_OFFS, Document, DocumentKind
from stockroom.store import ledger
from stockroom.store.book import Book

# What is done at the bench and the counter: whoever did it may take it back.
DAILY = frozenset({
    DocumentKind.TAKE_IN, DocumentKind.CHANGE, DocumentKind.USE, DocumentKind.FINISH, DocumentKind.REDO,
    DocumentKind.CANCEL, DocumentKind.SALE, DocumentKind.SENT, DocumentKind.OFFCUT, DocumentKind.DELIVERY, *WRITE_OFFS,
})  # fmt: skip

__all__ = ["DAILY", "newest", "the_document", "work_behind"]


def the_document(book: Book, number: int) -> Document:
    """Give one document with its moves.

    Raises
    ------
    UnknownError
        If there is none of that number.
    """
    with book.reading() as session:
        return _document(ledger.read_documents(session, numbers=[number]), number)


def work_behind(book: Book, number: int) -> DocumentKind:
    """Give the kind of the first document behind one, through however many reversals."""
    with book.reading() as session:
        while True:
            document = _document(ledger.read_documents(session, numbers=[number], with_moves=False), number)
            if document.reverses is None:
                return document.kind
            number = document.reverses


def _document(found: list[Document], number: int) -> Document:
    if not found:
        raise UnknownError(
            phrase("There is no document %(number)s.", number=number), fix="Choose one from the documents."
        )
    return found[0]
