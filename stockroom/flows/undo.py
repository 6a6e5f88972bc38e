"""Take a document back, or put it in force again: nothing is ever deleted."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from stockroom.errors import RefusedError, UnknownError
from stockroom.flows.orders import dimensions
from stockroom.flows.post import post_one
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.orders import Order, OrderLine, OrderState
from stockroom.stock.postings import Fixed, Stamp, reversed_
from stockroom.stock.tickets import TicketState
from stockroom.store import counts, ledger, orders, tickets
from stockroom.store.book import Book, Session


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone:
    """What was taken back."""

    document: Document  # the one taken back
    number: int  # of the paper that does so
    fresh: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A paper taken back, the first paper behind it, and whether that will be in force afterwards."""

    root: Document
    taken: Document
    in_force: bool


def undo(book: Book, number: int, stamp: Stamp) -> Undone:
    """Take back a whole document; doing it to a reversal puts the first one in force again."""
    with book.writing() as session:
        document = _the_document(session, number)
        done = ledger.known_keys(session, [stamp.key])
        if done:
            return Undone(document=document, number=done[stamp.key], fresh=False)
        taken_by = ledger.reversal_of(session, number)
        if taken_by is not None:
            raise RefusedError(
                f"Document {number} was taken back already, by document {taken_by}.",
                fix=f"To put it in force again, undo {taken_by}.",
            )
        root, in_force = _root(session, document)
        after = _AFTER.get(root.kind, _nothing)
        counted = after(session, Turn(root=root, taken=document, in_force=in_force))
        posted = post_one(session, reversed_(document, stamp), counting=counted)
        if root.kind is DocumentKind.COUNT and in_force and root.id is not None:
            _anchor_again(session, root, posted.number)
        return Undone(document=document, number=posted.number, fresh=posted.fresh)


def newest(book: Book, count: int = 10) -> list[tuple[Document, int | None]]:
    """List the last documents, newest first, each with the number of the one that takes it back."""
    with book.reading() as session:
        return [(d, ledger.reversal_of(session, d.id or 0)) for d in ledger.newest_documents(session, count)]


def _the_document(session: Session, number: int) -> Document:
    found = ledger.read_documents(session, numbers=[number])
    if not found:
        raise UnknownError(f"There is no document {number}.", fix="See the last ones: stockroom papers")
    return found[0]


def _root(session: Session, document: Document) -> tuple[Document, bool]:
    """Follow reversals back to the first paper; say whether it will be in force once `document` is taken back."""
    in_force = False
    while document.reverses is not None:
        document = _the_document(session, document.reverses)
        in_force = not in_force
    return document, in_force


def _ticket(session: Session, turn: Turn) -> list[Fixed]:
    ticket = tickets.the_ticket(session, turn.root.subject)
    if turn.in_force:
        if ticket.state is not TicketState.BOOKED:
            raise RefusedError(
                f"Ticket {ticket.number} is {ticket.state} by another paper.", fix="Undo that one first."
            )
        renewed = replace(ticket, state=TicketState.FINISHED, finished=turn.root.happened, finish_document=turn.root.id)
    else:
        renewed = replace(ticket, state=TicketState.BOOKED, finished=None, finish_document=None)
    tickets.save_tickets(session, [renewed])
    return []


def _booking(session: Session, turn: Turn) -> list[Fixed]:
    """Serve take-ins and cancellations, which are each other's opposite."""
    ticket = tickets.the_ticket(session, turn.root.subject)
    if ticket.state is TicketState.FINISHED:
        raise RefusedError(f"Ticket {ticket.number} is finished.", fix=f"Undo document {ticket.finish_document} first.")
    booked = turn.in_force == (turn.root.kind is DocumentKind.TAKE_IN)
    tickets.save_tickets(session, [replace(ticket, state=TicketState.BOOKED if booked else TicketState.CANCELLED)])
    return []


def _delivery(session: Session, turn: Turn) -> list[Fixed]:
    if turn.root.subject:
        order = orders.the_order(session, dimensions(session), turn.root.subject)
        sign = 1 if turn.in_force else -1
        packs = {line.supplier_code: line.pack.nano for line in order.lines}
        lines = list(order.lines)
        for said in _lines_of(turn.root):
            for n, line in enumerate(lines):
                if (line.material, line.supplier_code) == (said["material"], said.get("code", "")):
                    bulk = int(said["packs"]) * packs[line.supplier_code] if "packs" in said else int(said["nano"])
                    lines[n] = replace(line, received=line.received + sign * bulk)
        orders.save_orders(session, [_with_lines(order, lines, turn.root.happened.date())])
    return []


def _with_lines(order: Order, lines: list[OrderLine], day: date) -> Order:
    if all(line.outstanding == 0 for line in lines):
        return replace(order, lines=tuple(lines), state=OrderState.CLOSED, closed=day)
    state = OrderState.PART_RECEIVED if any(line.received for line in lines) else OrderState.PLACED
    return replace(order, lines=tuple(lines), state=state, closed=None)


def _lines_of(root: Document) -> list[Mapping[str, str | int]]:
    lines = root.content.get("lines", [])
    return list(lines) if isinstance(lines, list) else []


def _order(session: Session, turn: Turn) -> list[Fixed]:
    order = orders.the_order(session, dimensions(session), turn.root.subject)
    if any(line.received for line in order.lines) and turn.root.kind is DocumentKind.ORDER and not turn.in_force:
        raise RefusedError(
            f"Goods of order {order.number} have arrived.", fix="Undo the delivery first, or end the order."
        )
    open_again = turn.in_force == (turn.root.kind is DocumentKind.ORDER)
    part = any(line.received for line in order.lines)
    ended = OrderState.CLOSED if part else OrderState.CANCELLED
    again = OrderState.PART_RECEIVED if part else OrderState.PLACED
    day = None if open_again else turn.root.happened.date()
    orders.save_orders(session, [replace(order, state=again if open_again else ended, closed=day)])
    return []


def _count(session: Session, turn: Turn) -> list[Fixed]:
    """Let a count taken back go of the book, or hold it again."""
    if not turn.in_force:
        counts.mark_document(session, turn.taken.id or 0, state="open", settled_by=turn.root.id)
        return []
    return [
        Fixed(material=line.line.material, site=line.line.site, counted=line.line.counted, nano=line.line.amount.nano)
        for line in counts.read_lines(session, dimensions(session), state="open")
        if line.settled_by == turn.root.id
    ]


def _anchor_again(session: Session, root: Document, number: int) -> None:
    counts.mark_document(session, root.id or 0, state="settled", settled_by=number)


def _nothing(_session: Session, _turn: Turn) -> list[Fixed]:
    return []


_AFTER: dict[DocumentKind, Callable[[Session, Turn], list[Fixed]]] = {
    DocumentKind.FINISH: _ticket,
    DocumentKind.REDO: _ticket,
    DocumentKind.TAKE_IN: _booking,
    DocumentKind.CANCEL: _booking,
    DocumentKind.DELIVERY: _delivery,
    DocumentKind.ORDER: _order,
    DocumentKind.ORDER_END: _order,
    DocumentKind.COUNT: _count,
}
