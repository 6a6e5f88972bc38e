"""What files say, as documents: each with the key that enters it once, in the order in which things happened."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time

from stockroom.errors import BadFileError, Problem, StockroomError
from stockroom.flows.bench.counter import priced_on, tag_price
from stockroom.flows.bench.tickets import taken_in
from stockroom.flows.book.terms import terms_of
from stockroom.flows.ordering.place import ordered, with_received
from stockroom.flows.posting.delivery_notes import DeliveryNotes
from stockroom.flows.posting.post import brought_before
from stockroom.intake.loaded import Loaded, SaleLine, UseLine, WasteLine
from stockroom.phrases import phrase
from stockroom.stock import postings
from stockroom.stock.counts import Count
from stockroom.stock.landing import taken_in as goods_taken_in
from stockroom.stock.moves import WRITE_OFFS, Document, DocumentKind
from stockroom.stock.orders import Delivery, Order
from stockroom.stock.postings import Stamp, figure, untold_facts
from stockroom.stock.recipes import OTHER, Need, recipe_catalogue
from stockroom.stock.sales import SalePart, SaleTerms, sale
from stockroom.stock.shop import Shop
from stockroom.stock.tickets import RecipeBox, Ticket, TicketState, added_up, by_job, extra_line
from stockroom.store import catalogue, ledger, list_changes, orders, tickets
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
        self.jobs = {job.code: job for job in catalogue.read_jobs(session)}
        self.known = {t.number: t for t in tickets.read_tickets(session)}
        self.terms = terms_of(session)
        self.news: list[Ticket] = []
        self.passed_over = 0  # tickets whose documents are in the book as the files have them
        self.taken_back: dict[str, int] = {}  # tickets whose document was entered before and undone since
        self.used: dict[str, list[Need]] = {}  # what the files say tickets had used, by ticket
        self.uses: list[Document] = []
        self.noted: list[tuple[Delivery, Document]] = []  # deliveries whose note another way had brought before

    def documents(self, loaded: Loaded) -> list[LoadedDocument]:
        """Make every document, in the order in which things happened."""
        self._note_uses(loaded)
        self._sort_out(loaded.tickets)
        plain = [*self._opening(loaded), *self._goods(loaded)]
        plain += [self._sale(line) for line in loaded.sales]
        plain += [self._loss(line) for line in loaded.waste]
        plain += self.uses
        made = [LoadedDocument(document=d) for d in (*plain, *self._tickets())]
        made += [LoadedDocument(document=self._count_document(count), count=count) for count in loaded.counts]
        return sorted((p for p in made if self._within(p.document)), key=lambda p: p.document.happened)

    def after(self, loaded: Loaded, fresh: Mapping[str, int]) -> None:
        """Bring tickets and orders to where the documents leave them."""
        if any(ticket.job == OTHER.code for ticket in self.news) and OTHER.code not in self.jobs:
            catalogue.save_jobs(self.session, [OTHER])
        new = {ticket.number for ticket in self.news}
        worked = [self._with_uses(self.known[n]) for n in self.used if n not in new and n in self.known]
        settled = [self._settled(t, fresh) for t in self.news]
        tickets.save_tickets(self.session, [*worked, *settled])
        older = [t for t in settled if not self._drawn(t)]  # no document tells of them
        if older:
            list_changes.say_older(self.session, "ticket", {t.number: figure(untold_facts(t)) for t in older})
        self._renew_orders(loaded, fresh)

    def _note_uses(self, loaded: Loaded) -> None:
        """Make documents of what tickets had used, and remember it: their finish draws the rest."""
        coming = {ticket.number: ticket for ticket in loaded.tickets}
        entered = ledger.known_keys(self.session, {line.key for line in loaded.uses})
        problems = []
        for line in sorted(loaded.uses, key=lambda use: use.when):
            ticket = self.known.get(line.ticket) or coming.get(line.ticket)
            if line.key in entered or ticket is None:
                continue
            if line.ticket in self.known and ticket.state is not TicketState.BOOKED:
                what = phrase("Ticket %(number)s is %(state)s already.", number=line.ticket, state=ticket.state)
                fix = "Undo that first if it is a mistake."
                problems.append(Problem(file="used-so-far", column="ticket", value=line.ticket, what=what, fix=fix))
                continue
            need = self._use_of(line, ticket)
            self.used.setdefault(line.ticket, []).append(need)
            stamp = self._stamp(line.key, line.when, site=ticket.site)
            self.uses.append(postings.used_so_far(ticket, [need], stamp))
        if problems:
            raise BadFileError(problems)

    def _use_of(self, line: UseLine, ticket: Ticket) -> Need:
        """Say which line of the recipe a use is for; what is for none is beyond it."""
        asked = self.box.by_recipe(ticket, line.when.date())
        mine = [
            need.line for need in asked if line.line == need.line or (not line.line and need.material == line.material)
        ]
        name = mine[0] if len(mine) == 1 else extra_line(line.material)
        return Need(line=name, material=line.material, nano=line.amount.nano)

    def _with_uses(self, ticket: Ticket) -> Ticket:
        """Give a ticket with what the files say it has used."""
        return replace(ticket, drawn=added_up((*ticket.drawn, *self.used.get(ticket.number, []))))

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
        """Put the price list's price where none is stated; a ticket that was booked before keeps what is its own."""
        before = self.known.get(ticket.number)
        if before is not None:  # what the book knows and the file is silent about stays
            ticket = replace(
                ticket,
                drawn=before.drawn,
                added=ticket.added or before.added,
                left_out=ticket.left_out or before.left_out,
                post_cost=before.post_cost if ticket.post_cost is None else ticket.post_cost,
                by_post=ticket.by_post or before.by_post,
            )
        ticket = self._with_uses(ticket)
        if ticket.price is not None or ticket.redo_of:
            return ticket
        job = self.jobs.get(ticket.job)
        listed = job.price_of(ticket.shoes) if job else None
        return replace(ticket, price=before.price if before else listed)

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
        price = line.price
        if price is None:
            price = tag_price(priced_on(self.session, material, line.when.date()), line.amount)
        if line.returned or line.post_cost is not None:
            return self._sale_otherwise(line, stamp, price)
        document = postings.sold(material, line.amount, stamp, price=price)
        return replace(document, content={**document.content, "receipt": line.receipt}) if line.receipt else document

    def _sale_otherwise(self, line: SaleLine, stamp: Stamp, price: int | None) -> Document:
        """Make a sale by post, or what a customer brought back."""
        sign = -1 if line.returned else 1
        paid = None if price is None else sign * price
        part = SalePart(material=line.material, nano=sign * line.amount.nano, price=paid, wasted=line.wasted)
        terms = SaleTerms(by_post=line.post_cost is not None, post_cost=line.post_cost)
        document = sale([part], stamp, terms)
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
            return postings.cancelled(ticket, stamp, back=())
        used = self.box.to_come(ticket, done.date()) if self._drawn(ticket) else ()
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
