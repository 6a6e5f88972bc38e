"""Load what was read from files: one transaction, whole or not at all, and twice the same as once."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from pathlib import Path

from stockroom.errors import BadFileError, Problem, StockroomError
from stockroom.flows.bench import taken_in
from stockroom.flows.orders import ordered, with_received
from stockroom.flows.post import Bins, post, post_one
from stockroom.intake.known import Known
from stockroom.intake.loaded import Loaded
from stockroom.stock import postings
from stockroom.stock.counts import Count
from stockroom.stock.materials import Material
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.orders import Delivery, Order
from stockroom.stock.postings import Fixed, Stamp
from stockroom.stock.recipe_box import RecipeBox, by_job
from stockroom.stock.recipes import catalogue
from stockroom.stock.shop import Shop, with_setting
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store import catalogue as kept
from stockroom.store import counts, ledger, orders, suppliers, tickets
from stockroom.store.book import Book, Session

Progress = Callable[[str, int, int | None], None]  # what is being done, how far, of how much
OPENS = time(0, 0)
_TOGETHER = 2000  # documents written at once


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadReport:
    """What a load read, and what of it was new to the book."""

    rows: Mapping[str, int]
    documents: int
    already: int
    notes: tuple[str, ...]
    dry_run: bool


class _NotKept(Exception):  # noqa: N818 -- not a fault: it takes a dry run back
    pass


def load_files(
    book: Book,
    paths: Sequence[str | Path],
    now: datetime,
    *,
    dry_run: bool = False,
    progress: Progress | None = None,
) -> LoadReport:
    """Read files and folders, check them whole, and enter them.

    Raises
    ------
    BadFileError
        With every problem found; then nothing was loaded.
    """
    from stockroom.intake.load import read_files  # noqa: PLC0415 -- only a load reads files

    report: list[LoadReport] = []
    try:
        with book.writing() as session:
            shop = kept.read_shop(session)
            known = what_is_known(session)
            digits = shop.currency_digits
            loaded = read_files(paths, known, locale=shop.locale, digits=digits, progress=progress)
            report.append(enter(session, loaded, now, progress=progress, dry_run=dry_run))
            _keep(dry_run=dry_run)
    except _NotKept:
        pass
    return report[0]


def _keep(*, dry_run: bool) -> None:
    if dry_run:
        raise _NotKept


def what_is_known(session: Session) -> Known:
    """Gather what files may refer to."""
    materials = {m.code: m for m in kept.read_materials(session)}
    return Known(
        materials=materials,
        suppliers={s.code: s for s in suppliers.read_suppliers(session)},
        jobs={j.code: j for j in kept.read_jobs(session)},
        recipes=by_job(kept.read_recipes(session)),
        offers=suppliers.read_offers(session, {code: m.dimension for code, m in materials.items()}),
        tickets=tickets.known_numbers(session),
    )


def enter(
    session: Session, loaded: Loaded, now: datetime, *, progress: Progress | None = None, dry_run: bool = False
) -> LoadReport:
    """Enter checked facts: lists first, then papers in the order in which they happened."""
    shop = _lists(session, loaded)
    entering = _Entering(session, shop, now)
    papers = entering.papers(loaded)
    fresh = _post_in_order(session, papers, now, progress)
    entering.after(loaded, fresh)
    new = len(fresh)
    return LoadReport(
        rows=dict(loaded.rows), documents=new, already=len(papers) - new, notes=loaded.notes, dry_run=dry_run
    )


def _lists(session: Session, loaded: Loaded) -> Shop:
    shop = kept.read_shop(session)
    for name, text in loaded.settings.items():
        shop = with_setting(shop, name, text)
    kept.save_shop(session, shop)
    _same_dimension(session, loaded.materials)
    kept.save_materials(session, loaded.materials)
    suppliers.save_suppliers(session, loaded.suppliers)
    suppliers.save_offers(session, loaded.offers)
    kept.save_jobs(session, loaded.jobs)
    kept.add_recipes(session, loaded.recipes)
    kept.save_closures(session, loaded.closures)
    kept.save_events(session, loaded.events)
    return shop


def _same_dimension(session: Session, materials: Sequence[Material]) -> None:
    """Refuse to turn a material that has moved from grams into metres."""
    before = {m.code: m for m in kept.read_materials(session)}
    moved = ledger.used_materials(session)
    wrong = [m for m in materials if m.code in moved and before[m.code].dimension is not m.dimension]
    if wrong:
        raise BadFileError([
            Problem(
                what=f"{m.code} is kept by {before[m.code].dimension} and has moved; it can't become {m.dimension}",
                fix="Give the changed material a new code",
                column="unit",
                value=m.unit.name,
            )
            for m in wrong
        ])  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A document to enter, and the counted bins it settles."""

    document: Document
    count: Count | None = None


class _Entering:
    """Turns loaded facts into papers, with the catalogue as it stands after the lists were loaded."""

    def __init__(self, session: Session, shop: Shop, now: datetime) -> None:
        self.session = session
        self.shop = shop
        self.now = now
        self.shelf = catalogue(kept.read_materials(session))
        self.box = RecipeBox(by_job(kept.read_recipes(session)), self.shelf)
        self.known = {t.number: t for t in tickets.read_tickets(session)}

    def papers(self, loaded: Loaded) -> list[Paper]:
        """Make every paper, in the order in which things happened."""
        plain = [*self._opening(loaded), *self._goods(loaded), *self._sales(loaded), *self._waste(loaded)]
        made = [Paper(document=d) for d in (*plain, *self._tickets(loaded.tickets))]
        made += [Paper(document=self._count_paper(count), count=count) for count in loaded.counts]
        return sorted((p for p in made if self._within(p.document)), key=lambda p: p.document.happened)

    def after(self, loaded: Loaded, fresh: Mapping[str, int]) -> None:
        """Bring tickets and orders to where the papers leave them."""
        changed = [self._settled(t, fresh) for t in loaded.tickets if self._is_news(t)]
        tickets.save_tickets(self.session, changed)
        self._renew_orders(loaded, fresh)

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
        made += [self._delivered(d, known=d.order in open_numbers) for d in loaded.deliveries]
        return made

    def _delivered(self, delivery: Delivery, *, known: bool) -> Document:
        key = f"delivery:{delivery.supplier}:{delivery.reference}"
        stamp = self._stamp(key, delivery.received, site=delivery.site)
        note = "" if known or not delivery.order else "order known from its delivery"
        return replace(postings.delivered(delivery, self.shelf.materials, stamp), note=delivery.note or note)

    def _sales(self, loaded: Loaded) -> list[Document]:
        return [
            postings.sold(self.shelf.materials[s.material], s.amount, self._stamp(s.key, s.when), price=s.price)
            for s in loaded.sales
        ]

    def _waste(self, loaded: Loaded) -> list[Document]:
        kinds = {move: document for document, move in postings.LEAVING.items()}
        return [
            postings.lost(
                kinds.get(w.kind, DocumentKind.WASTE),
                self.shelf.materials[w.material],
                w.amount,
                self._stamp(w.key, w.when),
                reason=w.reason,
            )
            for w in loaded.waste
        ]

    def _is_news(self, ticket: Ticket) -> bool:
        """Say whether a ticket is new, or has gone on since it was entered."""
        before = self.known.get(ticket.number)
        return before is None or (before.state is TicketState.BOOKED and ticket.state is not TicketState.BOOKED)

    def _tickets(self, loaded: Sequence[Ticket]) -> list[Document]:
        problems: list[Problem] = []
        made = []
        for ticket in loaded:
            if self._is_news(ticket):
                try:
                    made.append(self._ticket_paper(ticket))
                except StockroomError as wrong:
                    problems.append(
                        Problem(file="past-jobs", column="ticket", value=ticket.number, what=wrong.what, fix=wrong.fix)
                    )
        if problems:
            raise BadFileError(problems)
        return made

    def _ticket_paper(self, ticket: Ticket) -> Document:
        if ticket.state is TicketState.BOOKED:
            return taken_in(ticket, self._stamp(f"take-in:{ticket.number}", ticket.taken_in, site=ticket.site))
        if ticket.state is TicketState.CANCELLED:
            stamp = self._stamp(f"cancel:{ticket.number}", ticket.finished or ticket.taken_in, site=ticket.site)
            return stamp.document(DocumentKind.CANCEL, ticket.number)
        done = ticket.finished or ticket.taken_in
        stamp = self._stamp(f"finish:{ticket.number}", done, site=ticket.site)
        used = self.box.needs(ticket, done.date()) if self._drawn(done.date()) else ()
        return postings.finish(ticket, used, stamp)

    def _drawn(self, day: date) -> bool:
        return self.shop.start is None or day >= self.shop.start

    def _settled(self, ticket: Ticket, fresh: Mapping[str, int]) -> Ticket:
        before = self.known.get(ticket.number)
        customer = ticket.customer or (before.customer if before else "")
        return replace(ticket, customer=customer, finish_document=fresh.get(f"finish:{ticket.number}"))

    def _count_paper(self, count: Count) -> Document:
        last = max(line.counted for line in count.lines)
        reasons = {line.material: str(line.reason) for line in count.lines}
        return self._stamp(f"count:{count.key}", last).document(DocumentKind.COUNT, count.key, reasons=reasons)

    def _renew_orders(self, loaded: Loaded, fresh: Mapping[str, int]) -> None:
        dimensions = {code: m.dimension for code, m in self.shelf.materials.items()}
        new = {o.number: o for o in loaded.orders if f"order:{o.number}" in fresh}
        numbers = [d.order for d in loaded.deliveries if d.order]
        there = {o.number: o for o in orders.read_orders(self.session, dimensions) if o.number in set(numbers)}
        state: dict[str, Order] = there | new
        for delivery in loaded.deliveries:
            key = f"delivery:{delivery.supplier}:{delivery.reference}"
            if key in fresh and delivery.order in state:
                state[delivery.order] = with_received(state[delivery.order], delivery.lines, delivery.received.date())
        orders.save_orders(self.session, list(state.values()))


def _post_in_order(
    session: Session, papers: Sequence[Paper], now: datetime, progress: Progress | None
) -> dict[str, int]:
    """Enter papers as they happened; each count is settled once everything before it is in."""
    fresh: dict[str, int] = {}
    waiting: list[Document] = []
    for done, paper in enumerate(papers, start=1):
        if paper.count is None:
            waiting.append(paper.document)
        if waiting and (paper.count is not None or len(waiting) >= _TOGETHER or done == len(papers)):
            fresh |= _post(session, waiting)
            waiting = []
        if paper.count is not None:
            fresh |= _settle(session, paper.document, paper.count, now)
        if progress and (done % 500 == 0 or done == len(papers)):
            progress("entering", done, len(papers))
    return fresh


def _post(session: Session, documents: Sequence[Document]) -> dict[str, int]:
    posted = zip(documents, post(session, documents), strict=True)
    return {document.key: done.number for document, done in posted if done.fresh}


def _settle(session: Session, document: Document, count: Count, now: datetime) -> dict[str, int]:
    if ledger.known_keys(session, [document.key]):
        return {}
    numbers = counts.add_lines(session, count.key, count.lines, now)
    fixed = [
        Fixed(material=line.material, site=line.site, counted=line.counted, nano=line.amount.nano)
        for line in count.lines
    ]
    posted = post_one(session, document, bins=Bins(settled=tuple(fixed)))
    counts.mark(session, numbers, state="settled", settled_by=posted.number)
    return {document.key: posted.number}
