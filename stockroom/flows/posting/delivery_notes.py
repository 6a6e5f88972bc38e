"""A supplier's delivery note is entered once, whichever way it comes: against an order, without one, or by a file."""

from stockroom.errors import DoubtError, RefusedError
from stockroom.flows.posting.price_corrections import in_force
from stockroom.phrases import phrase
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.postings import Stamp
from stockroom.store import ledger
from stockroom.store.book import Session


class DeliveryNotes:
    """The delivery notes in force, by supplier and reference; capitals and spaces play no part."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._by: dict[tuple[str, str], list[Document]] = {}
        for document in ledger.read_documents(session, kinds=[DocumentKind.DELIVERY], with_moves=False):
            self._by.setdefault(_note(document), []).append(document)

    def entered(self, supplier: str, reference: str) -> Document | None:
        """Give the document by which a delivery note was entered, if one in force was."""
        alike = self._by.get((supplier, _plain(reference)), ()) if reference.strip() else ()
        return next((document for document in alike if in_force(self._session, document.id or 0)), None)


def refuse_known_note(session: Session, supplier: str, reference: str, stamp: Stamp) -> None:
    """Refuse a delivery note that is in the book, unless it is said a second time: goods may come in two parts.

    Raises
    ------
    DoubtError
        If it is there.
    """
    there = None if stamp.sure else DeliveryNotes(session).entered(supplier, reference)
    if there is not None:
        raise DoubtError(
            phrase(
                "Delivery note %(reference)s of %(supplier)s is in the book already: document %(document)s, %(day)s.",
                reference=reference,
                supplier=supplier,
                document=there.id,
                day=there.happened.date(),
            ),
            fix="If it is another delivery, say so: --anyway, or 'Enter it all the same' on a page.",
        )


def refuse_note_again(session: Session, delivery: Document) -> None:
    """Refuse to put a delivery in force again whose note was entered anew meanwhile.

    Raises
    ------
    RefusedError
        If it was.
    """
    there = DeliveryNotes(session).entered(*_note(delivery))
    if there is not None:
        raise RefusedError(
            phrase("Its delivery note was entered again by document %(document)s.", document=there.id),
            fix="Undo that one first.",
        )


def _note(document: Document) -> tuple[str, str]:
    said = document.content
    return str(said.get("supplier", "")), _plain(str(said.get("reference", "")))


def _plain(reference: str) -> str:
    return "".join(reference.split()).casefold()
