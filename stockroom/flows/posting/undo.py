"""Take a document back, or put it in force again: nothing is ever deleted."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, cast

from stockroom.errors import RefusedError, UnknownError
from stockroom.flows.posting.delivery_notes import refuse_note_again
from stockroom.flows.posting.post import NO_BINS, Bins, entered_before, post_one
from stockroom.flows.posting.price_corrections import corrections_of, in_force
from stockroom.phrases import phrase
from stockroom.stock.moves import WRITE_OFFS, Document, DocumentKind
from stockroom.stock.orders import Order, OrderLine, OrderState
from stockroom.stock.postings import Fixed, Stamp, reversed_, ticket_facts, was_drawn_before, with_facts
from stockroom.stock.recipes import Need
from stockroom.stock.tickets import Ticket, TicketState, added_up
from stockroom.store import catalogue, counts, ledger, list_changes, orders, tickets
from stockroom.store.book import Book, Session


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone:
    """What was undone."""

    document: Document  # the one undone
    number: int  # of the document that does so
    fresh: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A document undone, the first document behind it, and whether that will be in force afterwards."""

    root: Document
    taken: Document
    in_force: bool


def undo(book: Book, number: int, stamp: Stamp) -> Undone:
    """Take back a whole document; doing it to a reversal puts the first one in force again.

    Raises
    ------
    RefusedError
        If it was undone already.
    """
    stamp = stamp.asking("undo", document=number)
    with book.writing() as session:
        document = _the_document(session, number)
        done = entered_before(session, stamp, DocumentKind.REVERSAL, subject=document.subject)
        if done is not None:
            return Undone(document=document, number=done, fresh=False)
        taken_by = ledger.reversal_of(session, number)
        if taken_by is not None:
            raise RefusedError(
                phrase("Document %(number)s was undone already, by document %(by)s.", number=number, by=taken_by),
                fix=phrase("To have it back, undo %(by)s.", by=taken_by),
            )
        root, in_force = _root(session, document)
        turn = Turn(root=root, taken=document, in_force=in_force)
        _CHECK.get(root.kind, _nothing)(session, turn)
        bins = _bins(session, turn) if root.kind is DocumentKind.COUNT else NO_BINS
        made = reversed_(document, stamp)
        if root.kind is DocumentKind.CHANGE:
            made = replace(made, content={**made.content, "lists": list_changes.turned(document.content)})
        posted = post_one(session, made, bins=bins, new=True)
        if root.kind is DocumentKind.COUNT and in_force:
            counts.mark_document(session, root.id or 0, state="settled", settled_by=posted.number)
        _RENEW.get(root.kind, _nothing)(session, turn)
        return Undone(document=document, number=posted.number, fresh=posted.fresh)


def newest(book: Book, count: int = 10) -> list[tuple[Document, int | None]]:
    """List the last documents, newest first, each with the number of the one that takes it back."""
    with book.reading() as session:
        return [(d, ledger.reversal_of(session, d.id or 0)) for d in ledger.newest_documents(session, count)]


def last_document(book: Book) -> Document | None:
    """Give the last document entered, if there is one.

    Documents that only keep counts true go with their own; changes of lists are none of the day's work.
    """
    with book.reading() as session:
        number = ledger.head(session)[0]
        while number:
            document = _the_document(session, number)
            if document.kind not in (DocumentKind.COUNT_KEPT, DocumentKind.CHANGE):
                return document
            number = int(str(document.content.get("because", number - 1)))
    return None


def taken_back_under(book: Book, key: str) -> int | None:
    """Give the number of the document that was taken back under a key, if one was."""
    with book.reading() as session:
        found = ledger.entered(session, [key]).get(key)
        return _the_document(session, found.number).reverses if found else None


def _the_document(session: Session, number: int) -> Document:
    found = ledger.read_documents(session, numbers=[number])
    if not found:
        missing = phrase("There is no document %(number)s.", number=number)
        raise UnknownError(missing, fix="See the last ones: stockroom documents")
    return found[0]


def _root(session: Session, document: Document) -> tuple[Document, bool]:
    """Follow reversals back to the first document; say whether it will be in force once `document` is undone."""
    in_force = False
    while document.reverses is not None:
        document = _the_document(session, document.reverses)
        in_force = not in_force
    return document, in_force


def _documents_in_force(session: Session, subject: str, kinds: Sequence[DocumentKind]) -> list[Document]:
    """Give the documents about a ticket or order that are not undone."""
    documents = ledger.read_documents(session, subject=subject, kinds=kinds, with_moves=False)
    return [document for document in documents if in_force(session, document.id or 0)]


_WORK = (DocumentKind.FINISH, DocumentKind.REDO)


def _check_work(session: Session, turn: Turn) -> None:
    """Refuse to put finished work in force again when the ticket went another way meanwhile."""
    if not turn.in_force:
        _refuse_sent(session, turn.root.subject)
        return
    ticket = tickets.the_ticket(session, turn.root.subject)
    taken_in = ledger.read_documents(session, subject=ticket.number, kinds=[DocumentKind.TAKE_IN], with_moves=False)
    _refuse_used_since(turn, ticket)
    other = _documents_in_force(session, ticket.number, (*_WORK, DocumentKind.CANCEL))
    if other or not all(in_force(session, document.id or 0) for document in taken_in):
        raise RefusedError(
            phrase("Ticket %(number)s is %(state)s by another document.", number=ticket.number, state=ticket.state),
            fix="Undo that one first.",
        )


def _refuse_sent(session: Session, parcel: str) -> None:
    gone = _documents_in_force(session, parcel, [DocumentKind.SENT])
    if gone:
        raise RefusedError(
            phrase("The parcel '%(name)s' was sent.", name=parcel),
            fix=phrase("Undo document %(document)s first.", document=gone[-1].id),
        )


def _check_use(session: Session, turn: Turn) -> None:
    """Let what was used so far go only while the ticket is open: its finish drew no more than the rest."""
    ticket = tickets.the_ticket(session, turn.root.subject)
    if ticket.state is not TicketState.BOOKED:
        raise RefusedError(
            phrase("Ticket %(number)s is %(state)s by another document.", number=ticket.number, state=ticket.state),
            fix="Undo that one first.",
        )


def _renew_drawn(session: Session, turn: Turn) -> None:
    """Let a ticket have used what the documents in force drew."""
    ticket = tickets.the_ticket(session, turn.root.subject)
    documents = ledger.read_documents(session, subject=ticket.number, kinds=[DocumentKind.USE])
    moves = [move for document in documents if in_force(session, document.id or 0) for move in document.moves]
    drawn = [Need(line=m.recipe_line, material=m.material, nano=-m.nano) for m in moves if m.ticket]
    tickets.save_tickets(session, [replace(ticket, drawn=added_up(drawn))])


def _check_ticket_change(session: Session, turn: Turn) -> None:
    """Let a change go, or hold again, only while the ticket is open and no later one changed the same."""
    _check_use(session, turn)
    facts = ticket_facts(tickets.the_ticket(session, turn.root.subject))
    _, stands = _sides(turn)
    other = [name for name, value in stands.items() if facts[name] != value]
    if other:
        raise RefusedError(
            phrase("Ticket %(number)s was changed again later.", number=turn.root.subject), fix="Undo that one first."
        )


def _renew_changed(session: Session, turn: Turn) -> None:
    ticket = tickets.the_ticket(session, turn.root.subject)
    to, _ = _sides(turn)
    tickets.save_tickets(session, [with_facts(ticket, to)])


def _sides(turn: Turn) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
    """Give the facts of a ticket as they will be, and as the document leaves them now."""
    was, now = (cast("Mapping[str, Any]", turn.root.content.get(side, {})) for side in ("was", "now"))
    return (now, was) if turn.in_force else (was, now)


def _check_lent(session: Session, turn: Turn) -> None:
    """Keep a loan of which something was given back."""
    number = turn.root.id or 0
    documents = ledger.read_documents(session, kinds=[DocumentKind.LENT_BACK], with_moves=False)
    back = [d.id for d in documents if d.content.get("loan") == number and in_force(session, d.id or 0)]
    if back and not turn.in_force:
        raise RefusedError(
            phrase("Something lent by document %(number)s was given back.", number=number),
            fix=phrase("Undo document %(document)s first.", document=back[-1]),
        )


def _check_sale(session: Session, turn: Turn) -> None:
    """Keep a sale of which something was brought back: that refers to it."""
    number = turn.root.id or 0
    if not turn.in_force:
        _refuse_sent(session, f"sale {number}")
    documents = ledger.read_documents(session, kinds=[DocumentKind.SALE], with_moves=False)
    back = [d.id for d in documents if d.content.get("of") == number and in_force(session, d.id or 0)]
    if back and not turn.in_force:
        raise RefusedError(
            phrase("Goods of sale %(number)s were brought back.", number=number),
            fix=phrase("Undo document %(document)s first.", document=back[-1]),
        )


def _refuse_used_since(turn: Turn, ticket: Ticket) -> None:
    """Keep work from being put in force again that drew the rest of what is now another rest."""
    if not was_drawn_before(turn.root, ticket):
        raise RefusedError(
            phrase("Something else was used on ticket %(number)s since.", number=ticket.number),
            fix="Finish or cancel it anew.",
        )


def _check_booking(session: Session, turn: Turn) -> None:
    ticket = tickets.the_ticket(session, turn.root.subject)
    if turn.root.kind is DocumentKind.CANCEL and turn.in_force:
        _check_use(session, turn)
        _refuse_used_since(turn, ticket)
    since = _documents_in_force(session, ticket.number, (DocumentKind.USE, DocumentKind.TICKET_CHANGE))
    if turn.root.kind is DocumentKind.TAKE_IN and not turn.in_force and since:
        raise RefusedError(
            phrase("Ticket %(number)s was changed or worked on since.", number=ticket.number),
            fix=phrase("Undo document %(document)s first.", document=since[-1].id),
        )
    if ticket.state is TicketState.FINISHED:
        raise RefusedError(
            phrase("Ticket %(number)s is finished.", number=ticket.number),
            fix=phrase("Undo document %(document)s first.", document=ticket.finish_document),
        )


def _renew_ticket(session: Session, turn: Turn) -> None:
    """Let a ticket stand where the documents in force put it."""
    ticket = tickets.the_ticket(session, turn.root.subject)
    kinds = (DocumentKind.TAKE_IN, *_WORK, DocumentKind.CANCEL)
    documents = _documents_in_force(session, ticket.number, kinds)
    work = next((document for document in documents if document.kind in _WORK), None)
    if work is not None:
        state = TicketState.FINISHED
    elif any(p.kind is DocumentKind.CANCEL for p in documents) or not _booked_before(session, ticket.number, turn):
        state = TicketState.CANCELLED
    else:
        state = TicketState.BOOKED
    finished, number = (work.happened, work.id) if work else (None, None)
    tickets.save_tickets(session, [replace(ticket, state=state, finished=finished, finish_document=number)])


def _booked_before(session: Session, number: str, turn: Turn) -> bool:
    """Say whether a ticket stays booked once its work is undone; one finished without take-in never was."""
    documents = ledger.read_documents(session, subject=number, kinds=[DocumentKind.TAKE_IN], with_moves=False)
    if documents:
        return any(in_force(session, document.id or 0) for document in documents)
    return tickets.the_ticket(session, number).taken_in != turn.root.happened


def _check_delivery(session: Session, turn: Turn) -> None:
    number = turn.root.subject
    if number and turn.in_force and not _is_placed(session, number):
        raise RefusedError(
            phrase("Order %(number)s was undone.", number=number), fix="Undo the undo of the order first."
        )
    if turn.in_force:
        refuse_note_again(session, turn.root)
    priced = corrections_of(session, turn.root.id or 0)
    if priced:
        raise RefusedError(
            phrase("The prices of delivery %(number)s were corrected.", number=turn.root.id),
            fix=phrase("Undo %(number)s first.", number=priced[-1].id),
        )


def _renew_received(session: Session, turn: Turn) -> None:
    if turn.root.subject and orders.read_orders(session, catalogue.dimensions(session), numbers=[turn.root.subject]):
        order = orders.the_order(session, catalogue.dimensions(session), turn.root.subject)
        sign = 1 if turn.in_force else -1
        brought = _brought(order, turn.root)
        lines = [
            replace(line, received=line.received + sign * brought.pop((line.material, line.supplier_code), 0))
            for line in order.lines
        ]
        orders.save_orders(session, [replace(order, lines=tuple(lines))])
        _renew_order(session, turn)


def _brought(order: Order, root: Document) -> dict[tuple[str, str], int]:
    """Add up what a delivery brought to each line of its order, in packs as ordered where packs were counted."""
    packs = {(line.material, line.supplier_code): line.pack.nano for line in order.lines}
    summed: dict[tuple[str, str], int] = {}
    for said in _lines_of(root):
        key = (str(said["material"]), str(said.get("code", "")))
        bulk = int(said["packs"]) * packs.get(key, 0) if "packs" in said else int(said["nano"])
        summed[key] = summed.get(key, 0) + bulk
    return summed


def _lines_of(root: Document) -> list[Mapping[str, str | int]]:
    lines = root.content.get("lines", [])
    return list(lines) if isinstance(lines, list) else []


def _check_order(session: Session, turn: Turn) -> None:
    order = orders.the_order(session, catalogue.dimensions(session), turn.root.subject)
    if any(line.received for line in order.lines) and turn.root.kind is DocumentKind.ORDER and not turn.in_force:
        raise RefusedError(
            phrase("Goods of order %(order)s have arrived.", order=order.number),
            fix="Undo the delivery first, or close the order.",
        )


def _renew_order(session: Session, turn: Turn) -> None:
    """Let an order stand where the documents in force and the goods received put it."""
    order = orders.the_order(session, catalogue.dimensions(session), turn.root.subject)
    ended = bool(_documents_in_force(session, order.number, (DocumentKind.ORDER_END,)))
    state = _order_state(order.lines, placed=_is_placed(session, order.number), ended=ended)
    closed: date | None = None if state in orders.OPEN else order.closed or turn.root.happened.date()
    orders.save_orders(session, [replace(order, state=state, closed=closed)])


def _order_state(lines: Sequence[OrderLine], *, placed: bool, ended: bool) -> OrderState:
    part = any(line.received for line in lines)
    if not placed:
        return OrderState.CANCELLED
    if all(line.outstanding == 0 for line in lines):
        return OrderState.CLOSED
    if ended:
        return OrderState.CLOSED if part else OrderState.CANCELLED
    return OrderState.PART_RECEIVED if part else OrderState.PLACED


def _is_placed(session: Session, number: str) -> bool:
    """Say whether an order stands; one loaded without a document of its own does."""
    documents = ledger.read_documents(session, subject=number, kinds=[DocumentKind.ORDER], with_moves=False)
    return all(in_force(session, document.id or 0) for document in documents)


def _bins(session: Session, turn: Turn) -> Bins:
    """Give the counted items of an undone count, which no longer fix the book, or those that fix it again."""
    state, by = ("open", turn.root.id) if turn.in_force else ("settled", turn.taken.id)
    lines = [k for k in counts.read_lines(session, catalogue.dimensions(session), state=state) if k.settled_by == by]
    points = tuple(
        Fixed(material=k.line.material, site=k.line.site, counted=k.line.counted, nano=k.line.amount.nano)
        for k in lines
    )
    if turn.in_force and not points:
        raise RefusedError(
            phrase("Count sheet %(sheet)s was posted again by another document.", sheet=turn.root.subject),
            fix="Undo that one first.",
        )
    if turn.in_force:
        return Bins(held=points)
    counts.mark_document(session, turn.taken.id or 0, state="open", settled_by=turn.root.id)
    return Bins(freed=points)


def _check_kept(_session: Session, turn: Turn) -> None:
    raise RefusedError(
        phrase("Document %(number)s is an automatic count adjustment.", number=turn.taken.id),
        fix=phrase("Undo document %(document)s, or the count.", document=turn.root.content.get("because")),
    )


def _check_change(_session: Session, turn: Turn) -> None:
    """Refuse to take lists back that came with older tickets: those would stay, and say what nothing explains."""
    if "older" in turn.root.content:
        raise RefusedError(
            phrase("Document %(number)s brought work from before the book began, with its lists.", number=turn.root.id),
            fix="Change the lists instead: each change is a document of its own.",
        )


def _renew_change(session: Session, turn: Turn) -> None:
    """Let the lists say what they said before; recipes must still find what they name."""
    costing = catalogue.read_shop(session).costing
    list_changes.put(session, list_changes.turned(turn.taken.content))
    if catalogue.read_shop(session).costing != costing and catalogue.read_note(session, list_changes.CLOSED_THROUGH):
        raise RefusedError("The costing method can't change: a period is closed by it.", fix="Talk to your accountant.")
    catalogue.check_recipes(session)


def _check_price(session: Session, turn: Turn) -> None:
    """Let a correction go only while it is the newest: it is a difference from what stood before it."""
    delivery = int(str(turn.root.content["delivery"]))
    if turn.in_force:
        raise RefusedError("The undo of a price correction can't be undone.", fix="Enter it anew with correct-price.")
    if "charge" in turn.root.content:  # a sum of its own, whatever the prices were
        return
    newest = [document for document in corrections_of(session, delivery) if "charge" not in document.content][-1].id
    if newest != turn.root.id:
        raise RefusedError(
            phrase("Delivery %(delivery)s was corrected again later.", delivery=delivery),
            fix=phrase("Undo document %(document)s first.", document=newest),
        )


def _check_period(_session: Session, turn: Turn) -> None:
    name = turn.root.subject
    raise RefusedError(
        phrase("The period %(name)s stays closed: its figures may be with your accountant already.", name=name),
        fix="Enter what was missing: it is posted in the open period, and listed there as late.",
    )


def _nothing(_session: Session, _turn: Turn) -> None:
    return None


_Step = Callable[[Session, Turn], None]

_CHECK: dict[DocumentKind, _Step] = {
    DocumentKind.FINISH: _check_work,
    DocumentKind.REDO: _check_work,
    DocumentKind.TAKE_IN: _check_booking,
    DocumentKind.CANCEL: _check_booking,
    DocumentKind.USE: _check_use,
    DocumentKind.SALE: _check_sale,
    DocumentKind.TICKET_CHANGE: _check_ticket_change,
    DocumentKind.DELIVERY: _check_delivery,
    DocumentKind.ORDER: _check_order,
    DocumentKind.COUNT_KEPT: _check_kept,
    DocumentKind.PRICE_CORRECTION: _check_price,
    DocumentKind.PERIOD: _check_period,
    DocumentKind.CHANGE: _check_change,
    DocumentKind.LENT: _check_lent,
}
_RENEW: dict[DocumentKind, _Step] = {
    DocumentKind.FINISH: _renew_ticket,
    DocumentKind.REDO: _renew_ticket,
    DocumentKind.TAKE_IN: _renew_ticket,
    DocumentKind.CANCEL: _renew_ticket,
    DocumentKind.USE: _renew_drawn,
    DocumentKind.TICKET_CHANGE: _renew_changed,
    DocumentKind.DELIVERY: _renew_received,
    DocumentKind.ORDER: _renew_order,
    DocumentKind.ORDER_END: _renew_order,
    DocumentKind.CHANGE: _renew_change,
}


# What is done at the bench and the counter: whoever did it may take it back.
DAILY = frozenset({
    DocumentKind.TAKE_IN, DocumentKind.TICKET_CHANGE, DocumentKind.USE, DocumentKind.FINISH, DocumentKind.REDO,
    DocumentKind.CANCEL, DocumentKind.SALE, DocumentKind.SENT, DocumentKind.OFFCUT, DocumentKind.PART_KEPT,
    DocumentKind.DELIVERY, DocumentKind.LENT, DocumentKind.LENT_BACK, DocumentKind.BEGUN, DocumentKind.PAUSED,
    DocumentKind.SERVICED,
    *WRITE_OFFS,
})  # fmt: skip


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
