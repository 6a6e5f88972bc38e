"""What files say, as documents: each with the key that enters it once, in the order in which things happened."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time

from stockroom.errors import BadFileError, Problem, StockroomError
from stockroom.flows.bench.counter import tag_price
from stockroom.flows.bench.tickets import taken_in
from stockroom.flows.book.terms import terms_of
from stockroom.flows.ordering.place import ordered, with_received
from stockroom.flows.posting.delivery_notes import DeliveryNotes
from stockroom.flows.posting.post import brought_before
from stockroom.intake.loaded import Loaded, SaleLine, WasteLine
from stockroom.stock import postings
from stockroom.stock.counts import Count
from stockroom.stock.landing import taken_in as goods_taken_in
from stockroom.stock.moves import WRITE_OFFS, Document, DocumentKind
from stockroom.stock.orders import Delivery, Order
from stockroom.stock.postings import Stamp, figure, untold_facts
from stockroom.stock.recipes import recipe_catalogue
from stockroom.stock.shop import Shop
from stockroom.stock.tickets import RecipeBox, Ticket, TicketState, by_job
from stockroom.store import catalogue, list_changes, orders, tickets
from stockroom.store.book import Session

OPENS = time(0, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedDocument:
    """A document to enter, and the counted bins it settles."""

    document: Document
    count: Count | None = None


class LoadedDocuments:
    """Turns loaded facts into documents, with the catalogue as it stands after the lists were loaded."""

    def __init__(self, session: Session, shop: Shop, now: datetime) -> None:
        self.session = session
        self.shop = shop
        self.now = now
        self.shelf = recipe_catalogue(catalogue.read_materials(session))
        self.box = RecipeBox(by_job(catalogue.read_recipes(session)), self.shelf)
        self.prices = {job.code: job.price for job in catalogue.read_jobs(session)}
        self.known = {t.number: t for t in tickets.read_tickets(session)}
        self.terms = terms_of(session)
        self.news: list[Ticket] = []
        self.passed_over = 0  # tickets whose documents are in the book as the files have them
        self.taken_back: dict[str, int] = {}  # tickets whose document was entered before and undone since
        self.noted: list[tuple[Delivery, Document]] = []  # deliveries whose note another way had brought before

    def documents(self, loaded: Loaded) -> list[LoadedDocument]:
        """Make every document, in the order in which things happened."""
        self._sort_out(loaded.tickets)
        plain = [*self._opening(loaded), *self._goods(loaded)]
        plain += [self._sale(line) for line in loaded.sales]
        plain += [self._loss(line) for line in loaded.waste]
        made = [LoadedDocument(document=d) for d in (*plain, *self._tickets())]
        made += [LoadedDocument(document=self._count_document(count), count=count) for count in loaded.counts]
        return sorted((p for p in made if self._within(p.document)), key=lambda p: p.document.happened)

    def after(self, loaded: Loaded, fresh: Mapping[str, int]) -> None:
        """Bring tickets and orders to where the documents leave them."""
        settled = [self._settled(t, fresh) for t in self.news]
        tickets.save_tickets(self.session, settled)
        older = [t for t in settled if not self._drawn(t)]  # no document tells of them
        if older:
            list_changes.say_older(self.session, "ticket", {t.number: figure(untold_facts(t)) for t in older})
        self._renew_orders(loaded, fresh)

    def _sort_out(self, loaded: Sequence[Ticket]) -> None:
        """Find the tickets that are new or have gone on; one whose document was undone since stays as it is."""
        gone_on = [ticket for ticket in loaded if self._has_gone_on(ticket)]
        meant = [self._stamp(_key(t), t.taken_in).document(_kind(t), t.number) for t in gone_on]
        spent = brought_before(self.session, meant)
        self.news = [self._priced(ticket) for ticket in gone_on if _key(ticket) not in spent]
        self.taken_back = {t.number: spent[_key(t)] for t in gone_on if _key(t) in spent}
        self.passed_over = sum(map(self._drawn, loaded)) - sum(map(self._drawn, self.news))

    def _has_gone_on(self, ticket: Ticket) -> bool:
        before = self.known.get(ticket.number)
        return before is None or (before.state is TicketState.BOOKED and ticket.state is not TicketState.BOOKED)

    def _priced(self, ticket: Ticket) -> Ticket:
        """Put the price list's price where none is stated; a ticket that was booked before keeps its own."""
        if ticket.price is not None or ticket.redo_of:
            return ticket
        before = self.known.get(ticket.number)
        return replace(ticket, price=before.price if before else self.prices.get(ticket.job))

    def _within(self, document: Document) -> bool:
        """Work older than the book is history for the forecast, not moves."""
        return self.shop.start is None or document.happened.date() >= self.shop.start

    def _stamp(self, key: str, happened: datetime, *, site: str = "main") -> Stamp:
        return Stamp(key=key, happened=happened, entered=self.now, site=site)

    def _opening(self, loaded: Loaded) -> list[Document]:
        made = []
        for line in loaded.opening:
            facts = (self.shelf.materials[line.material], line.amount, line.value, line.lot, line.expiry)
            made.append(postings.opened([facts], self._stamp(line.key, datetime.combine(line.day, OPENS))))
        return made

    def _goods(self, loaded: Loaded) -> list[Document]:
        open_numbers = {o.number for o in loaded.orders}
        made = [ordered(o, self._stamp(f"order:{o.number}", o.placed, site=o.site)) for o in loaded.orders]
        made += [self._delivered(d, known=d.order in open_numbers) for d in self._not_noted(loaded.deliveries)]
        return made

    def _not_noted(self, deliveries: Sequence[Delivery]) -> list[Delivery]:
        """Leave out deliveries whose note was entered another way, under a key of its own."""
        if not deliveries:
            return []
        notes, mine = DeliveryNotes(self.session), set(map(delivery_key, deliveries))
        there = [notes.entered(delivery.supplier, delivery.reference) for delivery in deliveries]
        self.noted = [
            (delivery, document)
            for delivery, document in zip(deliveries, there, strict=True)
            if document is not None and document.key not in mine
        ]
        left_out = {id(delivery) for delivery, _ in self.noted}
        return [delivery for delivery in deliveries if id(delivery) not in left_out]

    def _delivered(self, delivery: Delivery, *, known: bool) -> Document:
        stamp = self._stamp(delivery_key(delivery), delivery.received, site=delivery.site)
        note = "" if known or not delivery.order else "order known from its delivery"
        document = goods_taken_in(delivery, stamp, self.terms)
        return replace(document, note=delivery.note or note)

    def _sale(self, line: SaleLine) -> Document:
        stamp, material = self._stamp(line.key, line.when), self.shelf.materials[line.material]
        price = tag_price(material, line.amount) if line.price is None else line.price
        document = postings.sold(material, line.amount, stamp, price=price)
        return replace(document, content={**document.content, "receipt": line.receipt}) if line.receipt else document

    def _loss(self, line: WasteLine) -> Document:
        kind = _WHY[line.kind]
        stamp = self._stamp(line.key, line.when)
        document = postings.lost(kind, self.shelf.materials[line.material], line.amount, stamp, reason=line.reason)
        return replace(document, moves=tuple(move._replace(lot=line.lot) for move in document.moves))

    def _tickets(self) -> list[Document]:
        problems: list[Problem] = []
        made = []
        for ticket in self.news:
            try:
                made.append(self._ticket_document(ticket))
            except StockroomError as wrong:
                problems.append(
                    Problem(file="tickets", column="ticket", value=ticket.number, what=wrong.what, fix=wrong.fix)
                )
        if problems:
            raise BadFileError(problems)
        return made

    def _ticket_document(self, ticket: Ticket) -> Document:
        if ticket.state is TicketState.BOOKED:
            return taken_in(ticket, self._stamp(_key(ticket), ticket.taken_in, site=ticket.site))
        done = ticket.finished or ticket.taken_in
        stamp = self._stamp(_key(ticket), done, site=ticket.site)
        if ticket.state is TicketState.CANCELLED:
            return stamp.document(DocumentKind.CANCEL, ticket.number, **postings.ticket_facts(ticket))
        used = self.box.needs(ticket, done.date()) if self._drawn(ticket) else ()
        return postings.finish(ticket, used, stamp)

    def _drawn(self, ticket: Ticket) -> bool:
        return self.shop.start is None or (ticket.finished or ticket.taken_in).date() >= self.shop.start

    def _settled(self, ticket: Ticket, fresh: Mapping[str, int]) -> Ticket:
        before = self.known.get(ticket.number)
        customer = ticket.customer or (before.customer if before else "")
        return replace(ticket, customer=customer, finish_document=fresh.get(f"finish:{ticket.number}"))

    def _count_document(self, count: Count) -> Document:
        last = max(line.counted for line in count.lines)
        reasons = {line.material: str(line.reason) for line in count.lines}
        lines = [postings.count_facts(line) for line in count.lines]
        stamp = self._stamp(f"count:{count.key}", last)
        return stamp.document(DocumentKind.COUNT, count.key, reasons=reasons, lines=lines)

    def _renew_orders(self, loaded: Loaded, fresh: Mapping[str, int]) -> None:
        dimensions = {code: m.dimension for code, m in self.shelf.materials.items()}
        new = {o.number: o for o in loaded.orders if f"order:{o.number}" in fresh}
        numbers = {d.order for d in loaded.deliveries if d.order}
        there = {o.number: o for o in orders.read_orders(self.session, dimensions) if o.number in numbers}
        state: dict[str, Order] = there | new
        for delivery in loaded.deliveries:
            if delivery_key(delivery) in fresh and delivery.order in state:
                order = state[delivery.order]
                state[delivery.order] = with_received(order, delivery.lines, delivery.received.date())
        orders.save_orders(self.session, list(state.values()))


_WHY = {move: document for document, move in WRITE_OFFS.items()}
_VERB = {TicketState.BOOKED: "take-in", TicketState.FINISHED: "finish", TicketState.CANCELLED: "cancel"}


def _key(ticket: Ticket) -> str:
    return f"{_VERB[ticket.state]}:{ticket.number}"


def _kind(ticket: Ticket) -> DocumentKind:
    if ticket.state is TicketState.FINISHED:
        return DocumentKind.REDO if ticket.redo_of else DocumentKind.FINISH
    return DocumentKind.TAKE_IN if ticket.state is TicketState.BOOKED else DocumentKind.CANCEL


def delivery_key(delivery: Delivery) -> str:
    """Give the key a delivery from a file is entered under."""
    return f"delivery:{delivery.supplier}:{delivery.reference}"
