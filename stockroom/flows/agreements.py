"""Whether what stands beside the ledger agrees with its papers: tickets, orders, counted bins, closed periods."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta

from stockroom.flows.known import delivered_lines
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.orders import Order, OrderLine, OrderState
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store.counts import Anchor

_WORK = (DocumentKind.FINISH, DocumentKind.REDO)
_OF_TICKETS = (DocumentKind.TAKE_IN, *_WORK, DocumentKind.CANCEL)
_OF_ORDERS = (DocumentKind.ORDER, DocumentKind.ORDER_END, DocumentKind.DELIVERY)


class Papers:
    """The papers by what they are about, and which of them are in force."""

    def __init__(self, documents: Sequence[Document]) -> None:
        self.documents = documents
        self._taken = {d.reverses: d.id or 0 for d in documents if d.reverses is not None}
        self._by_subject: dict[tuple[DocumentKind, str], list[Document]] = defaultdict(list)
        for document in documents:
            self._by_subject[document.kind, document.subject].append(document)

    def about(self, subject: str, *kinds: DocumentKind) -> list[Document]:
        """Give the papers of some kinds about a ticket or an order."""
        return [document for kind in kinds for document in self._by_subject.get((kind, subject), ())]

    def in_force(self, subject: str, *kinds: DocumentKind) -> list[Document]:
        """Give those that are not taken back."""
        return [document for document in self.about(subject, *kinds) if self.stands(document.id or 0)]

    def stands(self, number: int) -> bool:
        """Say whether a document is in force: not taken back, or the taking back is itself taken back."""
        standing = True
        while (taken := self._taken.get(number)) is not None:
            number, standing = taken, not standing
        return standing


def tickets_agree(tickets: Sequence[Ticket], papers: Papers, start: date | None) -> Iterator[str]:
    """Say which tickets stand otherwise than their papers in force; older than the book, they need none."""
    known = {ticket.number for ticket in tickets}
    for document in papers.documents:
        if document.kind in _OF_TICKETS and document.subject not in known:
            yield f"Document {document.id} is about ticket {document.subject}, which is not there."
    for ticket in tickets:
        wrong = _ticket_fault(ticket, papers, start)
        if wrong:
            yield f"Ticket {ticket.number} is {ticket.state}, but {wrong}."


def _ticket_fault(ticket: Ticket, papers: Papers, start: date | None) -> str:
    work = papers.in_force(ticket.number, *_WORK)
    if len(work) > 1:
        return f"documents {', '.join(str(paper.id) for paper in work)} all finish it"
    if work:
        return _finish_fault(ticket, work[0])
    if ticket.state is TicketState.FINISHED or ticket.finish_document is not None:
        old = start is not None and (ticket.finished or ticket.taken_in).date() < start
        if ticket.finish_document is None and old and not papers.about(ticket.number, *_WORK):
            return ""
        return "no paper in force finishes it"
    cancelled = bool(papers.in_force(ticket.number, DocumentKind.CANCEL))
    if cancelled and ticket.state is TicketState.BOOKED:
        return f"document {papers.in_force(ticket.number, DocumentKind.CANCEL)[0].id} cancels it"
    return _cancel_fault(ticket, papers, start) if ticket.state is TicketState.CANCELLED and not cancelled else ""


def _finish_fault(ticket: Ticket, paper: Document) -> str:
    if ticket.state is not TicketState.FINISHED:
        return f"document {paper.id} finishes it"
    if ticket.finish_document != paper.id:
        return f"by document {ticket.finish_document} instead of {paper.id}"
    return f"at another time than its document {paper.id} says" if ticket.finished != paper.happened else ""


def _cancel_fault(ticket: Ticket, papers: Papers, start: date | None) -> str:
    """Look for the paper that cancels: one that says so, or the loss of the one it was taken in or finished by."""
    lost = papers.about(ticket.number, DocumentKind.TAKE_IN, *_WORK)
    old = start is not None and (ticket.finished or ticket.taken_in).date() < start
    whole = lost and all(papers.stands(paper.id or 0) for paper in lost)
    return "no paper in force cancels it" if whole or not (lost or old) else ""


def orders_agree(orders: Sequence[Order], papers: Papers) -> Iterator[str]:
    """Say which orders' goods received or states don't come out of their papers."""
    known = {order.number for order in orders}
    for document in papers.documents:
        if document.kind in _OF_ORDERS[:2] and document.subject not in known:
            yield f"Document {document.id} is about order {document.subject}, which is not there."
    for order in orders:
        deliveries = papers.in_force(order.number, DocumentKind.DELIVERY)
        came = _came(order, deliveries)
        said = _received(order.lines)
        for material, code in sorted(k for k in said if came[k] != said[k]):
            named = ", ".join(str(d.id) for d in deliveries) or "none"
            which = f"{material} {code}".strip()
            yield f"Order {order.number} has other amounts of {which} received than its deliveries brought ({named})."
        state = _order_state(order, papers)
        if state is not order.state:
            yield f"Order {order.number} is {order.state}, but its papers make it {state}."


def _received(lines: Iterable[OrderLine]) -> Counter[tuple[str, str]]:
    total: Counter[tuple[str, str]] = Counter()
    for line in lines:
        total[line.material, line.supplier_code] += line.received
    return total


def _came(order: Order, deliveries: Iterable[Document]) -> Counter[tuple[str, str]]:
    packs = {(line.material, line.supplier_code): line.pack.nano for line in order.lines}
    total: Counter[tuple[str, str]] = Counter()
    for said in (line for document in deliveries for line in delivered_lines(document)):
        key = (str(said["material"]), str(said.get("code", "")))
        total[key] += int(said["packs"]) * packs.get(key, 0) if "packs" in said else int(said["nano"])
    return total


def _order_state(order: Order, papers: Papers) -> OrderState:
    if not all(papers.stands(paper.id or 0) for paper in papers.about(order.number, DocumentKind.ORDER)):
        return OrderState.CANCELLED
    if all(line.outstanding == 0 for line in order.lines):
        return OrderState.CLOSED
    part = any(line.received for line in order.lines)
    if papers.in_force(order.number, DocumentKind.ORDER_END):
        return OrderState.CLOSED if part else OrderState.CANCELLED
    return OrderState.PART_RECEIVED if part else OrderState.PLACED


def counts_hold(anchors: Iterable[Anchor], papers: Papers) -> Iterator[str]:
    """Say at which settled counts the book does not say what was counted, or which no paper settles."""
    moves: dict[tuple[str, str], list[tuple[str, int]]] = defaultdict(list)
    for document in papers.documents:
        for move in document.moves:
            moves[move.material, move.site].append((move.happened.isoformat(), move.nano))
    last = len(papers.documents)
    for (material, site), points in _by_bin(anchors).items():
        due = sorted(moves[material, site])
        taken, book = 0, 0
        for point in points:
            while taken < len(due) and due[taken][0] <= point.counted.isoformat():
                book += due[taken][1]
                taken += 1
            where = f"{material} at {site}, {point.counted:%Y-%m-%d %H:%M}"
            if book != point.nano:
                yield f"The book does not say what was counted of {where} (document {point.document})."
            if not 0 < (point.document or 0) <= last or not papers.stands(point.document or 0):
                yield f"The count of {where} is settled by document {point.document}, which is not in force."


def _by_bin(anchors: Iterable[Anchor]) -> Mapping[tuple[str, str], list[Anchor]]:
    found: dict[tuple[str, str], list[Anchor]] = defaultdict(list)
    for anchor in sorted(anchors, key=lambda a: a.counted):
        found[anchor.material, anchor.site].append(anchor)
    return found


def periods_hold(papers: Papers, closed_through: date | None) -> Iterator[str]:
    """Say where closings leave a gap or overlap, and which papers were booked into days closed before them."""
    through: date | None = None
    by: int | None = None
    for document in papers.documents:
        if document.kind is DocumentKind.PERIOD:
            first, last = (date.fromisoformat(str(document.content[name])) for name in ("first", "through"))
            if last < first or (through is not None and first != through + timedelta(days=1)):
                yield f"The period closed by document {document.id} does not follow the one before it."
            through, by = last, document.id
        else:
            booked = document.booked_on or document.happened.date()
            if through is not None and booked <= through:
                yield f"Document {document.id} is booked on {booked}, in days that document {by} had closed."
    if through != closed_through:
        yield f"The book is closed through {closed_through or 'no day'}, but its papers close it through {through}."
