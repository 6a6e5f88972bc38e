"""What delivered goods really cost, once the supplier's invoice says otherwise; and deliveries that documents name."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import cast

from stockroom.errors import RefusedError, UnknownError, UsageError
from stockroom.flows.posting.post import post_one
from stockroom.phrases import phrase
from stockroom.stock.finding import find
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.postings import Stamp
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book, Session


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """What a price correction changed: cost before and after by material, minor units without tax or carriage."""

    number: int
    fresh: bool
    delivery: int
    changes: Mapping[str, tuple[int, int]]


def correct_price(book: Book, delivery: int, costs: Mapping[str, int], stamp: Stamp) -> Corrected:
    """Say what goods of a delivery really cost.

    Parameters
    ----------
    delivery : int
        The delivery's document.
    costs : mapping of str to int
        By material (code or enough of its name), what all of it in the delivery cost, in minor units without tax and
        carriage.

    Notes
    -----
    What is still on the shelf is re-valued; what was used or sold since costs more or less in the open period. The
    carriage that was spread stays as it was.
    """
    with book.writing() as session:
        document = the_delivery(session, delivery)
        names = {m.code: m.name for m in catalogue.read_materials(session)}
        here = {code: names[code] for code in _goods(document)}
        wanted = {find("material of the delivery", typed, here): cost for typed, cost in costs.items()}
        if any(cost < 0 for cost in wanted.values()):
            raise UsageError("The cost of goods can't be negative.", fix="For goods sent back: stockroom send-back.")
        known = ledger.known_keys(session, [stamp.key])
        now = _goods(document) | _corrected(session, delivery)
        changes = {code: (now[code], cost) for code, cost in wanted.items() if known or now[code] != cost}
        if not changes:
            raise RefusedError(
                phrase("Document %(delivery)s says so already.", delivery=delivery),
                fix="Give the cost as the invoice has it.",
            )
        lines = [{"material": code, "new_cost": cost} for code, (_, cost) in changes.items()]
        posted = post_one(
            session, stamp.document(DocumentKind.PRICE_CORRECTION, _subject(delivery), delivery=delivery, lines=lines)
        )
    return Corrected(number=posted.number, fresh=posted.fresh, delivery=delivery, changes=changes)


def the_delivery(session: Session, number: int) -> Document:
    """Find a delivery in force by its document."""
    found = ledger.read_documents(session, numbers=[number])
    if not found:
        raise UnknownError(
            phrase("There is no document %(number)s.", number=number), fix="See the last ones: stockroom documents"
        )
    if found[0].kind is not DocumentKind.DELIVERY or not _goods(found[0]):
        raise RefusedError(
            phrase("Document %(number)s is no delivery: %(kind)s.", number=number, kind=found[0].kind),
            fix="Name the delivery's document.",
        )
    if not in_force(session, number):
        raise RefusedError(
            phrase("Delivery %(number)s was undone.", number=number), fix="Name the delivery that stands."
        )
    return found[0]


def in_force(session: Session, number: int) -> bool:
    """Say whether a document is in force: undone an even number of times."""
    holds, taken_by = True, ledger.reversal_of(session, number)
    while taken_by is not None:
        holds, taken_by = not holds, ledger.reversal_of(session, taken_by)
    return holds


def corrections_of(session: Session, delivery: int) -> list[Document]:
    """Give the price corrections of a delivery that are in force, oldest first."""
    kinds = [DocumentKind.PRICE_CORRECTION]
    documents = ledger.read_documents(session, subject=_subject(delivery), kinds=kinds, with_moves=False)
    return [document for document in documents if in_force(session, document.id or 0)]


def _subject(delivery: int) -> str:
    return f"delivery {delivery}"


def _goods(document: Document) -> dict[str, int]:
    """Add up what a delivery's document asks for each material."""
    sums: dict[str, int] = {}
    for line in cast("list[Mapping[str, object]]", document.content.get("lines", [])):
        code = cast("str", line["material"])
        sums[code] = sums.get(code, 0) + cast("int", line["cost"])
    return sums


def _corrected(session: Session, delivery: int) -> dict[str, int]:
    lines = [line for document in corrections_of(session, delivery) for line in _lines(document)]
    return {cast("str", line["material"]): cast("int", line["new_cost"]) for line in lines}


def _lines(document: Document) -> list[Mapping[str, object]]:
    return cast("list[Mapping[str, object]]", document.content["lines"])
