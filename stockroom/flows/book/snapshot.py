"""What the book knows as of a moment: everything the outlook and the orders are worked out from.

As of a moment means everything that was known then, and nothing of what happened later: a ticket finished or cancelled
since is booked still, an order is as open as it was, and a parcel that came later is on its way, whether its order is
in the book or only its delivery says when it was ordered. A correction counts from the moment of what it corrects, so
what was entered late, or taken back since, is seen as it really was.
"""

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any, TypeVar, cast

from stockroom.flows.book.terms import terms_of
from stockroom.intake.known import BookFacts
from stockroom.stock.agreements import StandingOrder, Substitute
from stockroom.stock.calendar import NOON, Closure, Event, OpenDays, closures_of
from stockroom.stock.landing import LandingTerms
from stockroom.stock.lots import Lot, lots_left
from stockroom.stock.materials import Material
from stockroom.stock.moves import SITE, WRITTEN_OFF, Document, DocumentKind, MoveKind, delivered_lines, is_in_force
from stockroom.stock.orders import Order, OrderLine, OrderState
from stockroom.stock.postings import with_facts
from stockroom.stock.quantities import Dimension, Quantity
from stockroom.stock.recipes import OTHER, Catalogue, Job, Need, Recipe, recipe_catalogue, taken_whole
from stockroom.stock.shop import Shop, weekdays
from stockroom.stock.suppliers import Offer, Supplier, announced, current
from stockroom.stock.tickets import Ticket, TicketState, added_up, by_job
from stockroom.store import agreements, catalogue, counts, ledger, list_changes, orders, tickets, usage
from stockroom.store.book import Session

A_YEAR = timedelta(days=365)


@dataclass(frozen=True, slots=True, kw_only=True)
class BookSnapshot:
    """The book as it stood at a moment; what happened later is left out."""

    moment: datetime
    shop: Shop
    materials: tuple[Material, ...]
    shelf: Catalogue
    suppliers: tuple[Supplier, ...]
    offers: tuple[Offer, ...]  # in force
    jobs: tuple[Job, ...]
    recipes: Mapping[str, tuple[Recipe, ...]]
    closures: tuple[Closure, ...]
    events: tuple[Event, ...]
    tickets: tuple[Ticket, ...]  # taken in by then, in their state at the time
    orders: tuple[Order, ...]
    deliveries: tuple[Document, ...]
    on_hand: Mapping[str, int]
    last_counted: Mapping[str, datetime]
    sales: Sequence[tuple[str, str, int]]  # material, day, nano (negative)
    waste: Sequence[tuple[str, str, int]]
    stocked: Mapping[str, date] = field(default_factory=dict)  # since when each material was in the book
    lots: Mapping[str, tuple[Lot, ...]] = field(default_factory=dict)  # of what expires, the first to expire first
    added: Mapping[str, date] = field(default_factory=dict)  # jobs and materials that came in the last year, and when
    announced: tuple[Offer, ...] = ()  # prices of offers in force that will hold from a later day, the first of each
    substitutes: tuple[Substitute, ...] = ()
    standing: tuple[StandingOrder, ...] = ()
    terms: LandingTerms | None = None  # what deliveries are costed by; None: tax is no cost

    @property
    def day(self) -> date:
        """The day of the moment."""
        return self.moment.date()

    def without_agreements(self) -> "BookSnapshot":
        """Give the book without agreements: past weeks don't tell which of two did the work."""
        return replace(self, announced=(), substitutes=(), standing=())

    @property
    def whole_pieces(self) -> frozenset[str]:
        """Codes of the materials that lie and leave in whole pieces."""
        return taken_whole(self.materials, (each for versions in self.recipes.values() for each in versions))

    @property
    def open_days(self) -> OpenDays:
        """When the shop works."""
        return OpenDays(weekdays=weekdays(self.shop.open_weekdays), closures=closures_of("", self.closures, self.day))


def book_snapshot(session: Session, moment: datetime, *, site: str | None = None) -> BookSnapshot:
    """Read the book as of a moment."""
    materials = tuple(catalogue.read_materials(session))
    dimensions = {m.code: m.dimension for m in materials}
    deliveries = read_deliveries(session)
    lots = lots_then(session, materials, moment, site=site)
    offers = catalogue.read_offers(session, dimensions)
    return BookSnapshot(
        moment=moment,
        shop=catalogue.read_shop(session),
        materials=materials,
        shelf=recipe_catalogue(materials),
        suppliers=tuple(catalogue.read_suppliers(session)),
        offers=tuple(current(offers, moment.date())),
        announced=tuple(announced(offers, moment.date())),
        substitutes=tuple(agreements.read_substitutes(session)),
        standing=tuple(agreements.read_standing_orders(session)) if site in (None, SITE) else (),
        jobs=tuple(catalogue.read_jobs(session)),
        recipes=by_job(catalogue.read_recipes(session)),
        closures=_known_then(
            catalogue.read_closures(session),
            map(catalogue.closure_of, list_changes.rows_then(session, "closure", moment)),
            lambda closure: closure.first,
            moment.date(),
        ),
        events=_known_then(
            catalogue.read_events(session),
            map(catalogue.event_of, list_changes.rows_then(session, "event", moment)),
            lambda event: event.day,
            moment.date(),
        ),
        tickets=tuple(tickets_then(session, moment, site=site)),
        orders=tuple(orders_then(session, moment, dimensions, deliveries=deliveries, site=site)),
        deliveries=tuple(d for d in deliveries if d.happened <= moment),  # lead times are a supplier's, not a site's
        on_hand=ledger.balances(session, at=moment, site=site),
        last_counted=counts.last_counted(session, at=moment),
        sales=ledger.daily_sums(session, [MoveKind.SALE], site=site, until=moment),
        terms=terms_of(session),
        waste=_waste(session, lots, moment, site),
        stocked=usage.first_days(session, moment, site=site),
        lots=lots,
        added={
            code: day
            for name in ("job", "material")
            for code, day in list_changes.added(session, name, moment - A_YEAR).items()
            if day <= moment.date()
        },
    )


_Dated = TypeVar("_Dated", Closure, Event)


def _known_then(
    now: Iterable[_Dated], then: Iterable[_Dated], begins: Callable[[_Dated], date], today: date
) -> tuple[_Dated, ...]:
    """Give what had begun by a day as it really was, and what was still to come as it was known to come."""
    came: list[_Dated] = [each for each in now if begins(each) <= today]
    ahead: list[_Dated] = [each for each in then if begins(each) > today]
    return tuple(sorted(came + ahead, key=begins))


def _waste(session: Session, lots: Collection[str], moment: datetime, site: str | None) -> list[tuple[str, str, int]]:
    """Add up what was thrown away or taken; where lots are known, what will expire is known of them."""
    sums = partial(ledger.daily_sums, session, site=site, until=moment)
    thrown = [kind for kind in WRITTEN_OFF if kind is not MoveKind.EXPIRY]
    return [*sums(thrown), *(each for each in sums([MoveKind.EXPIRY]) if each[0] not in lots)]


def lots_then(
    session: Session, materials: Iterable[Material], moment: datetime, *, site: str | None = None
) -> dict[str, tuple[Lot, ...]]:
    """Give the lots on the shelf at a moment of every material that has dated ones, or a shelf life."""
    keeps = {m.code: m.shelf_life_days for m in materials}
    moves = ledger.lot_moves(session, moment, site=site)
    return {code: lots_left(mine, shelf_life_days=keeps.get(code)) for code, mine in moves.items()}


def tickets_then(
    session: Session,
    moment: datetime,
    *,
    site: str | None = None,
    since: datetime | None = None,
    also: Collection[str] = (),
) -> list[Ticket]:
    """Give the tickets taken in until a moment, in their state at the time.

    With `since`, only those that were not finished by then: of years of work a page needs the last days. `also` are
    numbers that are wanted besides.
    """
    cancelled = _ended_later(session, moment, DocumentKind.CANCEL)
    later = _changed_later(session, moment)
    return [
        _as_of(_unchanged(t, later.get(t.number, ())), moment, cancelled)
        for t in tickets.read_tickets(session, site=site, since=since, also=[*cancelled, *also])
        if t.taken_in <= moment
    ]


def _changed_later(session: Session, moment: datetime) -> dict[str, list[Document]]:
    """Give what changed tickets after a moment, or was used on them, the last first."""
    found: dict[str, list[Document]] = {}
    documents = read_standing(session, DocumentKind.TICKET_CHANGE, DocumentKind.USE, after=moment)
    for document in reversed(documents):
        found.setdefault(document.subject, []).append(document)
    return found


def _unchanged(ticket: Ticket, later: Sequence[Document]) -> Ticket:
    """Give a ticket as it was before some documents, the last first."""
    for document in later:
        if document.kind is DocumentKind.TICKET_CHANGE:
            ticket = with_facts(ticket, cast("Mapping[str, Any]", document.content.get("was", {})))
        back = [Need(line=m.recipe_line, material=m.material, nano=m.nano) for m in document.moves if m.ticket]
        ticket = replace(ticket, drawn=added_up((*ticket.drawn, *back)))
    return ticket


def orders_then(
    session: Session,
    moment: datetime,
    dimensions: Mapping[str, Dimension],
    *,
    deliveries: Sequence[Document] | None = None,
    site: str | None = None,
) -> list[Order]:
    """Give the orders placed until a moment, as they stood; `deliveries` where they were read already."""
    placed = orders.read_orders(session, dimensions)
    came = read_deliveries(session) if deliveries is None else deliveries
    found = orders_as_of(placed, came, moment, _ended_later(session, moment, DocumentKind.ORDER_END), dimensions)
    return [order for order in found if site in (None, order.site)]


def _ended_later(session: Session, moment: datetime, kind: DocumentKind) -> frozenset[str]:
    """Give the tickets that were cancelled, or the orders that were ended, after a moment."""
    documents = ledger.read_documents(session, kinds=[kind], after=moment, with_moves=False)
    gone = ledger.reversals(session) if documents else {}
    return frozenset(each.subject for each in documents if each.id not in gone)


def _as_of(ticket: Ticket, moment: datetime, ended_later: Collection[str]) -> Ticket:
    cancelled = ticket.state is TicketState.CANCELLED and ticket.number in ended_later
    if cancelled or (ticket.finished is not None and ticket.finished > moment):
        return replace(ticket, state=TicketState.BOOKED, finished=None, finish_document=None)
    return ticket


def orders_as_of(
    placed: Sequence[Order],
    deliveries: Sequence[Document],
    moment: datetime,
    ended_later: Collection[str],
    dimensions: Mapping[str, Dimension],
) -> list[Order]:
    """Give the orders as they stood at a moment, oldest first.

    Parameters
    ----------
    placed : sequence of Order
        Orders in the book, as they stand now.
    deliveries : sequence of Document
        All deliveries in force; one may name an order that is not in the book, and the day it was placed.
    moment : datetime
        The moment.
    ended_later : collection of str
        Numbers of orders ended after the moment.
    dimensions : mapping of str to Dimension
        What each material is measured in.
    """
    numbers = {order.number for order in placed}
    later = [d for d in deliveries if d.happened > moment]
    found = [_order_as_of(order, later, ended_later) for order in placed if order.placed <= moment]
    parcels: dict[str, list[Document]] = {}
    for each in deliveries:
        if each.subject not in numbers and _ordered(each) is not None:
            parcels.setdefault(each.subject or f"delivery {each.id}", []).append(each)
    for number, parts in parcels.items():
        if min(filter(None, map(_ordered, parts))) <= moment < max(part.happened for part in parts):
            found.append(_order_of_parcels(number, parts, moment, dimensions))
    return sorted(found, key=lambda order: order.placed)


def _ordered(delivery: Document) -> datetime | None:
    """Give the moment a loaded delivery was ordered; files know the day only."""
    day = delivery.content.get("ordered")
    return datetime.combine(date.fromisoformat(str(day)), NOON) if day else None


def _order_of_parcels(
    number: str, parts: Sequence[Document], moment: datetime, dimensions: Mapping[str, Dimension]
) -> Order:
    """Put an order together from what came of it, as it stood before all of it had come."""
    bulk: Counter[tuple[str, str]] = Counter()
    cost: Counter[tuple[str, str]] = Counter()
    came: Counter[tuple[str, str]] = Counter()
    for part in parts:
        for said in delivered_lines(part):
            key = (str(said["material"]), str(said.get("code", "")))
            bulk[key] += int(said["nano"])
            cost[key] += int(said.get("cost", 0))
            came[key] += int(said["nano"]) if part.happened <= moment else 0
    lines = [
        OrderLine(
            material=key[0],
            supplier_code=key[1],
            packs=1,
            pack=Quantity(nano=nano, dimension=dimensions[key[0]]),
            cost=cost[key],
            received=came[key],
        )
        for key, nano in bulk.items()
    ]
    return Order(
        number=number,
        supplier=str(parts[0].content["supplier"]),
        placed=min(filter(None, map(_ordered, parts))),
        lines=tuple(lines),
        state=_open_state(lines),
        site=parts[0].site,
    )


def _order_as_of(order: Order, later: Sequence[Document], ended_later: Collection[str]) -> Order:
    """Take back from an order what came, or was ended, after the moment."""
    if order.number not in ended_later and not any(d.subject == order.number for d in later):
        return order
    lines = tuple(replace(line, received=line.received - _came_later(order, line, later)) for line in order.lines)
    return replace(order, lines=lines, state=_open_state(lines), closed=None)


def _open_state(lines: Sequence[OrderLine]) -> OrderState:
    return OrderState.PART_RECEIVED if any(line.received for line in lines) else OrderState.PLACED


def _came_later(order: Order, line: OrderLine, later: Sequence[Document]) -> int:
    said = [s for d in later if d.subject == order.number for s in delivered_lines(d)]
    mine = [s for s in said if (s["material"], s.get("code", "")) == (line.material, line.supplier_code)]
    return sum(int(s["packs"]) * line.pack.nano if "packs" in s else int(s["nano"]) for s in mine)


def read_deliveries(session: Session) -> list[Document]:
    """Read the deliveries that stand."""
    return read_standing(session, DocumentKind.DELIVERY)


def read_standing(
    session: Session, *kinds: DocumentKind, after: datetime | None = None, subjects: Collection[str] | None = None
) -> list[Document]:
    """Read the documents of some kinds that stand, taken back an even number of times.

    All of them, or those of after a moment, or about some tickets or orders.
    """
    found = ledger.read_documents(session, kinds=kinds, after=after, subjects=subjects)
    taken_by = ledger.reversals(session) if found else {}
    return [d for d in found if is_in_force(d.id or 0, taken_by)]


def facts_for_files(session: Session) -> BookFacts:
    """Gather what files may refer to."""
    materials = {m.code: m for m in catalogue.read_materials(session)}
    return BookFacts(
        materials=materials,
        suppliers={s.code: s for s in catalogue.read_suppliers(session)},
        jobs={OTHER.code: OTHER} | {j.code: j for j in catalogue.read_jobs(session)},
        recipes=by_job(catalogue.read_recipes(session)),
        offers=catalogue.read_offers(session, {code: m.dimension for code, m in materials.items()}),
        tickets=tickets.known_numbers(session),
    )
