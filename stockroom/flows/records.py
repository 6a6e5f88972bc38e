"""The book's records at length, as of a moment: for whoever works them up elsewhere. Nothing here writes.

`until` is the last moment that counts; without it, all that is in the book.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from stockroom.flows.accounts.period import gather
from stockroom.flows.bench.shelf import late_days
from stockroom.flows.book.snapshot import orders_then, read_standing, tickets_then
from stockroom.flows.posting.goods_back import goods_back
from stockroom.flows.posting.loans import Loan, loans_open
from stockroom.flows.posting.offcut_pieces import offcuts_there
from stockroom.margins.accounts import costs_of
from stockroom.margins.period import Period
from stockroom.stock.counts import CountLine
from stockroom.stock.going_back import MayGoBack
from stockroom.stock.layers import Standing, closing
from stockroom.stock.moves import Document, DocumentKind, Move, delivered_lines
from stockroom.stock.offcuts import Offcut
from stockroom.stock.orders import Order, OrderLine
from stockroom.stock.quantities import Unit
from stockroom.stock.sales import SalePart, parts_of
from stockroom.stock.tickets import Ticket
from stockroom.store import catalogue, counts, ledger
from stockroom.store.book import Book, Session
from stockroom.store.ledger import Columns

ALL = datetime.max


@dataclass(frozen=True, slots=True, kw_only=True)
class SoldLine:
    """What one line of a counter sale took off the shelf, or brought back."""

    document: Document
    position: int
    part: SalePart
    unit: Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveredLine:
    """What one line of a delivery brought."""

    document: Document
    position: int
    move: Move
    unit: Unit
    said: Mapping[str, object]  # what the delivery's document says of the line: packs, cost, supplier's code


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderedLine:
    """One line of an order, with the order it stands in."""

    order: Order
    position: int
    line: OrderLine
    unit: Unit
    late_days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CountRecord:
    """A counted bin and, once it is settled, by how much the book was corrected."""

    id: int
    sheet: str
    line: CountLine
    unit: Unit
    state: str
    difference: int | None  # nano, found less booked


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerRecord:
    """A cost layer and the unit its material is shown in."""

    standing: Standing
    unit: Unit


def moves(book: Book, *, until: datetime | None = None, site: str | None = None) -> Columns:
    """Read the ledger's lines as columns, with the unit of each material."""
    with book.reading() as session:
        units = _units(session)
        found = ledger.move_columns(session, until=until, site=site)
    return {**found, "unit": [units[code] for code in found["material"]]}


def documents(book: Book, *, until: datetime | None = None, site: str | None = None) -> Columns:
    """Read the documents as columns, each with the number of the one that takes it back."""
    with book.reading() as session:
        taken_by = ledger.reversals(session)
        found = ledger.document_columns(session, until=until, site=site)
    return {**found, "taken_back_by": [taken_by.get(number) for number in found["id"]]}


def tickets(book: Book, *, until: datetime | None = None, site: str | None = None) -> list[Ticket]:
    """Read the tickets taken in by then, in their state at the time."""
    with book.reading() as session:
        return tickets_then(session, until or ALL, site=site)


def sales(book: Book, *, until: datetime | None = None, site: str | None = None) -> list[SoldLine]:
    """Read the counter sales that stand."""
    with book.reading() as session:
        units, found = _units(session), _standing(session, DocumentKind.SALE, until, site)
    return [
        SoldLine(document=document, position=position, part=part, unit=units[part.material])
        for document in found
        for position, part in enumerate(parts_of(document), start=1)
    ]


def deliveries(book: Book, *, until: datetime | None = None, site: str | None = None) -> list[DeliveredLine]:
    """Read what came of the deliveries that stand; costs as they were entered, before any price correction."""
    with book.reading() as session:
        units, found = _units(session), _standing(session, DocumentKind.DELIVERY, until, site)
    return [
        DeliveredLine(document=document, position=position, move=move, unit=units[move.material], said=said)
        for document in found
        for position, (move, said) in enumerate(zip(document.moves, delivered_lines(document), strict=True), start=1)
    ]


def orders(book: Book, today: date, *, until: datetime | None = None, site: str | None = None) -> list[OrderedLine]:
    """Read the lines of the orders placed by then, with what had come of them at the time."""
    with book.reading() as session:
        units, found = _units(session), orders_then(session, until or ALL, catalogue.dimensions(session), site=site)
    return [
        OrderedLine(
            order=order, position=position, line=line, unit=units[line.material], late_days=late_days(order, today)
        )
        for order in found
        for position, line in enumerate(order.lines, start=1)
    ]


def counted(book: Book, *, until: datetime | None = None, site: str | None = None) -> list[CountRecord]:
    """Read the counted bins, settled or not, in the order they were counted."""
    with book.reading() as session:
        units, kinds = _units(session), catalogue.dimensions(session)
        gaps = {settled.id: settled.nano for settled in counts.settled_bins(session, kinds)}
        found = counts.read_lines(session, kinds)
    return [
        CountRecord(
            id=kept.id,
            sheet=kept.sheet,
            line=kept.line,
            unit=units[kept.line.material],
            state=kept.state,
            difference=gaps.get(kept.id),
        )
        for kept in found
        if kept.line.counted <= (until or ALL) and site in (None, kept.line.site)
    ]


def cost_layers(book: Book, day: date) -> list[LayerRecord]:
    """Read what each cost layer holds at the end of an accounting day, as the accounts value the shelf."""
    with book.reading() as session:
        sources, _ = gather(session, Period(first=day, last=day))
        units = _units(session)
    return [
        LayerRecord(standing=standing, unit=units[standing.material]) for standing in closing(costs_of(sources), day)
    ]


def _units(session: Session) -> dict[str, Unit]:
    return {material.code: material.unit for material in catalogue.read_materials(session)}


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPiece:
    """An offcut kept as a piece, and the unit it is shown in."""

    piece: Offcut
    unit: Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class LentOut:
    """Something lent out, and the unit it is shown in."""

    loan: Loan
    unit: Unit


def offcuts(book: Book, *, until: datetime | None = None, site: str | None = None) -> list[KeptPiece]:
    """Read the offcuts kept as pieces."""
    with book.reading() as session:
        units = _units(session)
        return [KeptPiece(piece=each, unit=units[each.material]) for each in offcuts_there(session, site, at=until)]


def lent(book: Book, *, until: datetime | None = None, site: str | None = None) -> list[LentOut]:
    """Read what is lent out."""
    with book.reading() as session:
        units = _units(session)
        return [LentOut(loan=each, unit=units[each.material]) for each in loans_open(session, at=until, site=site)]


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodsBack:
    """What may go back to its supplier, and the unit it is shown in."""

    goods: MayGoBack
    unit: Unit


def may_go_back(book: Book, day: date, *, until: datetime | None = None) -> list[GoodsBack]:
    """Read what may go back to suppliers on a day."""
    with book.reading() as session:
        units = _units(session)
        return [GoodsBack(goods=each, unit=units[each.material]) for each in goods_back(session, day, at=until)]


def _standing(session: Session, kind: DocumentKind, until: datetime | None, site: str | None) -> list[Document]:
    return [
        document
        for document in read_standing(session, kind)
        if document.happened <= (until or ALL) and site in (None, document.site)
    ]
