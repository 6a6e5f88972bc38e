"""Check the book: add everything up again, and hold what tables say against what documents said."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import replace
from datetime import date, timedelta

from stockroom.errors import BookError, StockroomError
from stockroom.flows.book import repeated
from stockroom.stock import layers
from stockroom.stock.materials import Material
from stockroom.stock.moves import Document, DocumentKind, delivered_lines, is_in_force
from stockroom.stock.orders import Order, OrderLine, OrderState
from stockroom.stock.recipes import recipe_catalogue as arranged
from stockroom.stock.shop import Shop
from stockroom.stock.tickets import Ticket, TicketState, by_job
from stockroom.store import audit_log, catalogue, counts, ledger, list_changes, orders, tickets
from stockroom.store.book import Book, Session, open_book
from stockroom.store.counts import Anchor
from stockroom.store.integrity import Audit, audit, no_such_figures, unsound

_WORK = (DocumentKind.FINISH, DocumentKind.REDO)
_OF_TICKETS = (DocumentKind.TAKE_IN, *_WORK, DocumentKind.CANCEL)
_OF_ORDERS = (DocumentKind.ORDER, DocumentKind.ORDER_END, DocumentKind.DELIVERY)


class DocumentsInForce:
    """The documents by what they are about, and which of them are in force."""

    def __init__(self, documents: Sequence[Document]) -> None:
        self.documents = documents
        self._taken = {d.reverses: d.id or 0 for d in documents if d.reverses is not None}
        self._by_subject: dict[tuple[DocumentKind, str], list[Document]] = defaultdict(list)
        for document in documents:
            self._by_subject[document.kind, document.subject].append(document)

    def about(self, subject: str, *kinds: DocumentKind) -> list[Document]:
        """Give the documents of some kinds about a ticket or an order."""
        return [document for kind in kinds for document in self._by_subject.get((kind, subject), ())]

    def in_force(self, subject: str, *kinds: DocumentKind) -> list[Document]:
        """Give those that are not undone."""
        return [document for document in self.about(subject, *kinds) if self.stands(document.id or 0)]

    def stands(self, number: int) -> bool:
        """Say whether a document is in force."""
        return is_in_force(number, self._taken)


def tickets_agree(tickets: Sequence[Ticket], documents: DocumentsInForce, start: date | None) -> Iterator[str]:
    """Say which tickets' states don't follow from their documents in force; older than the book, they need none."""
    known = {ticket.number for ticket in tickets}
    for document in documents.documents:
        if document.kind in _OF_TICKETS and document.subject not in known:
            yield f"Document {document.id} is about ticket {document.subject}, which is not there."
    for ticket in tickets:
        wrong = _ticket_fault(ticket, documents, start)
        if wrong:
            yield f"Ticket {ticket.number} is {ticket.state.label}, but {wrong}."


def _ticket_fault(ticket: Ticket, documents: DocumentsInForce, start: date | None) -> str:
    work = documents.in_force(ticket.number, *_WORK)
    if len(work) > 1:
        return f"documents {', '.join(str(document.id) for document in work)} all finish it"
    if work:
        return _finish_fault(ticket, work[0])
    if ticket.state is TicketState.FINISHED or ticket.finish_document is not None:
        old = start is not None and (ticket.finished or ticket.taken_in).date() < start
        if ticket.finish_document is None and old and not documents.about(ticket.number, *_WORK):
            return ""
        return "no document in force finishes it"
    cancelled = bool(documents.in_force(ticket.number, DocumentKind.CANCEL))
    if cancelled and ticket.state is TicketState.BOOKED:
        return f"document {documents.in_force(ticket.number, DocumentKind.CANCEL)[0].id} cancels it"
    return _cancel_fault(ticket, documents, start) if ticket.state is TicketState.CANCELLED and not cancelled else ""


def _finish_fault(ticket: Ticket, document: Document) -> str:
    if ticket.state is not TicketState.FINISHED:
        return f"document {document.id} finishes it"
    if ticket.finish_document != document.id:
        return f"by document {ticket.finish_document} instead of {document.id}"
    return f"at another time than its document {document.id} says" if ticket.finished != document.happened else ""


def _cancel_fault(ticket: Ticket, documents: DocumentsInForce, start: date | None) -> str:
    """Look for the document that cancels: one that says so, or the loss of the one it was taken in or finished by."""
    lost = documents.about(ticket.number, DocumentKind.TAKE_IN, *_WORK)
    old = start is not None and (ticket.finished or ticket.taken_in).date() < start
    whole = lost and all(documents.stands(document.id or 0) for document in lost)
    return "no document in force cancels it" if whole or not (lost or old) else ""


def orders_agree(orders: Sequence[Order], documents: DocumentsInForce) -> Iterator[str]:
    """Say which orders' goods received or states don't come out of their documents."""
    known = {order.number for order in orders}
    for document in documents.documents:
        if document.kind in _OF_ORDERS[:2] and document.subject not in known:
            yield f"Document {document.id} is about order {document.subject}, which is not there."
    for order in orders:
        deliveries = documents.in_force(order.number, DocumentKind.DELIVERY)
        came = _came(order, deliveries)
        said = _received(order.lines)
        for material, code in sorted(k for k in said if came[k] != said[k]):
            named = ", ".join(str(d.id) for d in deliveries) or "none"
            which = f"{material} {code}".strip()
            yield f"Order {order.number} has other amounts of {which} received than its deliveries brought ({named})."
        state = _order_state(order, documents)
        if state is not order.state:
            yield f"Order {order.number} is {order.state.label}, but its documents make it {state.label}."


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


def _order_state(order: Order, documents: DocumentsInForce) -> OrderState:
    if not all(documents.stands(document.id or 0) for document in documents.about(order.number, DocumentKind.ORDER)):
        return OrderState.CANCELLED
    if all(line.outstanding == 0 for line in order.lines):
        return OrderState.CLOSED
    part = any(line.received for line in order.lines)
    if documents.in_force(order.number, DocumentKind.ORDER_END):
        return OrderState.CLOSED if part else OrderState.CANCELLED
    return OrderState.PART_RECEIVED if part else OrderState.PLACED


def counts_hold(anchors: Iterable[Anchor], documents: DocumentsInForce) -> Iterator[str]:
    """Say at which settled counts the book does not say what was counted, or which no document settles."""
    moves: dict[tuple[str, str], list[tuple[str, int]]] = defaultdict(list)
    for document in documents.documents:
        for move in document.moves:
            moves[move.material, move.site].append((move.happened.isoformat(), move.nano))
    last = len(documents.documents)
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
            if not 0 < (point.document or 0) <= last or not documents.stands(point.document or 0):
                yield f"The count of {where} is posted by document {point.document}, which is not in force."


def _by_bin(anchors: Iterable[Anchor]) -> Mapping[tuple[str, str], list[Anchor]]:
    found: dict[tuple[str, str], list[Anchor]] = defaultdict(list)
    for anchor in sorted(anchors, key=lambda a: a.counted):
        found[anchor.material, anchor.site].append(anchor)
    return found


def periods_hold(documents: DocumentsInForce, closed_through: date | None) -> Iterator[str]:
    """Say where closings leave a gap or overlap, and which documents were booked into days closed before them."""
    through: date | None = None
    by: int | None = None
    for document in documents.documents:
        if document.kind is DocumentKind.PERIOD:
            first, last = (date.fromisoformat(str(document.content[name])) for name in ("first", "through"))
            if last < first or (through is not None and first != through + timedelta(days=1)):
                yield f"The period closed by document {document.id} does not follow the one before it."
            through, by = last, document.id
        else:
            booked = document.booked_on or document.happened.date()
            if through is not None and booked <= through:
                yield f"Document {document.id} is posted on {booked}, in days that document {by} had closed."
    if through != closed_through:
        yield f"The book is closed through {closed_through or 'no day'}, but its documents close it through {through}."


_UNREADABLE = (
    ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError, StockroomError,
)  # fmt: skip


def check(book: Book, *, figures: Sequence[str] = ()) -> Audit:
    """Follow the chain of documents, add everything up again, and hold it against everything beside it.

    Parameters
    ----------
    book : Book
        The book.
    figures : sequence of str
        Check figures printed earlier (or their beginnings) that must be in the chain.
    """
    with book.reading() as session:
        return check_session(session, figures=figures)


def check_session(session: Session, *, figures: Sequence[str] = ()) -> Audit:
    """Check a book within a transaction under way, such as one that is being filled."""
    found = audit(session)
    faults = [*unsound(session), *found.faults, *no_such_figures(session, figures)]
    faults += [fault for name, look in _LOOKS for fault in _tried(name, look, session)]
    return replace(found, faults=tuple(dict.fromkeys(faults)))


def damage(place: str) -> str:
    """Say what is wrong with a book in which something could not be read; nothing if the book is not to blame."""
    try:
        with closing(open_book(place)) as book:
            return next(iter(check(book).faults), "")
    except BookError as wrong:
        return wrong.what


def _tried(name: str, look: Callable[[Session], Iterable[str]], session: Session) -> list[str]:
    """Look at one part of the book; what can't even be read is a fault, not the end of the check."""
    try:
        return list(look(session))
    except _UNREADABLE as wrong:
        return [f"The {name} can't be read: {str(wrong).rstrip('.') or type(wrong).__name__}."]


def settings_or_usual(book: Book) -> Shop:
    """Give the settings, for writing numbers as the shop does; those of a new shop where they can't be read."""
    try:
        with book.reading() as session:
            return catalogue.read_shop(session)
    except _UNREADABLE:
        return Shop()


def _settings(session: Session) -> Iterator[str]:
    catalogue.read_shop(session)
    closed = catalogue.read_note(session, list_changes.CLOSED_THROUGH)
    if closed:
        date.fromisoformat(closed)
    yield from ()


def _lists(session: Session) -> Iterator[str]:
    materials = catalogue.read_materials(session)
    catalogue.read_suppliers(session)
    catalogue.read_offers(session, {m.code: m.dimension for m in materials})
    catalogue.read_jobs(session)
    shelf = arranged(materials)
    for job, versions in by_job(catalogue.read_recipes(session)).items():
        for line in (line for recipe in versions for line in recipe.lines if line.material):
            variants = [shelf.materials[line.material]] if line.material in shelf.materials else []
            variants = variants or list(shelf.groups.get(line.material, ()))
            if not variants:
                yield f"The recipe of {job} names the material {line.material}, which is not there."
            if any(m.dimension is not line.amount.dimension and m.bridge is None for m in variants):
                yield f"The recipe of {job} uses {line.material} in a unit it is not kept in."


def _audit_log(session: Session) -> Iterator[str]:
    gone = audit_log.missing(session)
    if gone:
        yield f"Of the lines that say what was done, {gone} are missing."


def _documents(session: Session) -> DocumentsInForce:
    return DocumentsInForce(ledger.read_documents(session))


def _changes(session: Session) -> Iterator[str]:
    """Replay the changes of lists and settings, and hold the tables against what they make."""
    yield from list_changes.disagreeing(session, list_changes.expected(list_changes.changes(session)))


def _beside(session: Session) -> Iterator[str]:
    """Hold tickets, orders, counts, periods and layers against the documents, which are read once."""
    documents = _documents(session)
    shop = catalogue.read_shop(session)
    materials = {m.code: m for m in catalogue.read_materials(session)}
    dimensions = {code: m.dimension for code, m in materials.items()}
    closed = catalogue.read_note(session, list_changes.CLOSED_THROUGH)
    older = list_changes.expected(d for d in documents.documents if d.kind is DocumentKind.CHANGE).older
    every = documents.documents
    looks: tuple[tuple[str, Callable[[], Iterable[str]]], ...] = (
        ("tickets", lambda: repeated.tickets_repeat(tickets.read_tickets(session), every, older)),
        ("orders", lambda: repeated.orders_repeat(orders.read_orders(session, dimensions), every, older)),
        ("counts", lambda: repeated.counts_repeat(counts.read_lines(session, dimensions), every, older)),
        ("tickets", lambda: tickets_agree(tickets.read_tickets(session), documents, shop.start)),
        ("orders", lambda: orders_agree(orders.read_orders(session, dimensions), documents)),
        ("counts", lambda: counts_hold(counts.anchors(session), documents)),
        ("periods", lambda: periods_hold(documents, date.fromisoformat(closed) if closed else None)),
        ("layers", lambda: _layers(documents.documents, materials, shop.costing)),
    )
    for name, look in looks:
        yield from _tried(name, lambda _session, look=look: look(), session)  # type: ignore[misc]


def _layers(documents: Sequence[Document], materials: dict[str, Material], method: str) -> Iterator[str]:
    """Say where the cost layers hold another amount than the moves add up to."""
    held: Counter[tuple[str, str]] = Counter()
    for standing in layers.closing(layers.replay(documents, materials, method=method)):
        held[standing.material, standing.site] += standing.nano
        if standing.layer != layers.SHORT and standing.nano < 0:
            yield f"Layer {standing.layer} of {standing.material} at {standing.site} holds less than nothing."
    moved: Counter[tuple[str, str]] = Counter()
    for move in (move for document in documents for move in document.moves):
        moved[move.material, move.site] += move.nano
    for material, site in sorted(key for key in held.keys() | moved.keys() if held[key] != moved[key]):
        yield f"The cost layers of {material} at {site} hold another amount than its moves."


_LOOKS: tuple[tuple[str, Callable[[Session], Iterable[str]]], ...] = (
    ("settings", _settings),
    ("lists", _lists),
    ("changes of lists", _changes),
    ("documents", _beside),
    ("activity log", _audit_log),
)
