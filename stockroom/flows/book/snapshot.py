"""What the book knows as of a day: everything the outlook and the orders are worked out from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from stockroom.stock.calendar import Closure, Event, OpenDays, closures_of
from stockroom.stock.materials import Material
from stockroom.stock.moves import Document, DocumentKind, MoveKind
from stockroom.stock.orders import Order, OrderLine, OrderState
from stockroom.stock.recipe_box import by_job
from stockroom.stock.recipes import Catalogue, Job, Recipe, recipe_catalogue
from stockroom.stock.shop import Shop, weekdays
from stockroom.stock.suppliers import Offer, Supplier, current
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store import catalogue as kept
from stockroom.store import counts, ledger, orders, suppliers, tickets
from stockroom.store.book import Session


@dataclass(frozen=True, slots=True, kw_only=True)
class BookSnapshot:
    """The book as it stood at a moment; what was entered or happened later is left out."""

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

    @property
    def day(self) -> date:
        """The day of the moment."""
        return self.moment.date()

    @property
    def open_days(self) -> OpenDays:
        """When the shop works."""
        return OpenDays(weekdays=weekdays(self.shop.open_weekdays), closures=closures_of("", self.closures))


WASTE = (MoveKind.WASTE, MoveKind.EXPIRY, MoveKind.OWN_USE)


def book_snapshot(session: Session, moment: datetime, *, site: str | None = None) -> BookSnapshot:
    """Read the book as of a moment."""
    materials = tuple(kept.read_materials(session))
    dimensions = {m.code: m.dimension for m in materials}
    day = moment.date().isoformat()
    placed = orders.read_orders(session, dimensions)
    deliveries = read_deliveries(session)
    later = [d for d in deliveries if d.happened > moment]
    return BookSnapshot(
        moment=moment,
        shop=kept.read_shop(session),
        materials=materials,
        shelf=recipe_catalogue(materials),
        suppliers=tuple(suppliers.read_suppliers(session)),
        offers=tuple(current(suppliers.read_offers(session, dimensions), moment.date())),
        jobs=tuple(kept.read_jobs(session)),
        recipes=by_job(kept.read_recipes(session)),
        closures=tuple(kept.read_closures(session)),
        events=tuple(kept.read_events(session)),
        tickets=tuple(_as_of(t, moment) for t in tickets.read_tickets(session, site=site) if t.taken_in <= moment),
        orders=tuple(_order_as_of(o, later, moment) for o in placed if o.placed <= moment and site in (None, o.site)),
        deliveries=tuple(d for d in deliveries if d.happened <= moment),  # lead times are a supplier's, not a site's
        on_hand=ledger.balances(session, at=moment, site=site),
        last_counted=counts.last_counted(session, at=moment),
        sales=[s for s in ledger.daily_sums(session, [MoveKind.SALE], site=site) if s[1] <= day],
        waste=[s for s in ledger.daily_sums(session, WASTE, site=site) if s[1] <= day],
    )


def _as_of(ticket: Ticket, moment: datetime) -> Ticket:
    if ticket.finished is not None and ticket.finished > moment:
        return replace(ticket, state=TicketState.BOOKED, finished=None, finish_document=None)
    return ticket


def _order_as_of(order: Order, later: Sequence[Document], moment: datetime) -> Order:
    """Take back from an order what came after the moment."""
    if not any(d.subject == order.number for d in later) and not (order.closed and order.closed > moment.date()):
        return order
    lines = tuple(replace(line, received=line.received - _came_later(order, line, later)) for line in order.lines)
    state = OrderState.PART_RECEIVED if any(line.received for line in lines) else OrderState.PLACED
    return replace(order, lines=lines, state=state, closed=None)


def _came_later(order: Order, line: OrderLine, later: Sequence[Document]) -> int:
    said = [s for d in later if d.subject == order.number for s in delivered_lines(d)]
    mine = [s for s in said if (s["material"], s.get("code", "")) == (line.material, line.supplier_code)]
    return sum(int(s["packs"]) * line.pack.nano if "packs" in s else int(s["nano"]) for s in mine)


def delivered_lines(document: Document) -> list[Mapping[str, Any]]:
    """Give the lines a delivery's document names."""
    lines = document.content.get("lines", [])
    return list(lines) if isinstance(lines, list) else []


def read_deliveries(session: Session) -> list[Document]:
    """Read the deliveries that were not undone."""
    gone = ledger.reversals(session)
    return [d for d in ledger.read_documents(session, kinds=[DocumentKind.DELIVERY]) if d.id not in gone]
