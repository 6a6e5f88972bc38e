"""When an order starts with a supplier, and when it is expected: one rule for lists, orders and futures."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from stockroom.buying.lead_times import LeadTime, PastOrder, Terms, arrivals, as_shown, learn, starts, worked_days
from stockroom.flows.book.snapshot import read_deliveries
from stockroom.stock.calendar import Closure, OpenDays, closures_of
from stockroom.stock.moves import Document
from stockroom.stock.orders import Order
from stockroom.stock.shop import weekdays
from stockroom.stock.suppliers import Supplier
from stockroom.store import catalogue, orders
from stockroom.store.book import Session
from stockroom.store.orders import OPEN

MIDDLE = np.array([0.5])  # half of the futures are later
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryDays:
    """What is believed of a supplier's deliveries, and the terms that he keeps to as they show."""

    lead: LeadTime
    terms: Terms

    def starts(self, ordered: date) -> date:
        """Say on which day he starts on an order."""
        return starts(ordered, self.terms)

    def overdue(self, ordered: date, today: date) -> bool:
        """Say whether an order not yet here has taken longer than they usually do."""
        return worked_days(ordered, today, self.terms) > self.lead.usual_days

    def arrivals(self, ordered: date, today: date, lead_time_quantile: Floats) -> Floats:
        """Give the days from today in which an order not yet here arrives in each future."""
        return arrivals(self.lead, ordered, today, self.terms, lead_time_quantile)


def delivery_days(
    supplier: Supplier,
    orders: Iterable[Order],
    deliveries: Iterable[Document],
    closures: Iterable[Closure],
    today: date,
) -> DeliveryDays:
    """Learn a supplier's days from his orders and deliveries."""
    past, said = past_orders(supplier, orders, deliveries), terms(supplier, closures, today)
    return DeliveryDays(lead=learn(past, said, today), terms=as_shown(said, past, today))


def terms(supplier: Supplier, closures: Iterable[Closure], today: date) -> Terms:
    """Say what a supplier says of himself."""
    shut, away = (tuple((c.first, c.last) for c in closures_of(who, closures, today)) for who in (supplier.code, ""))
    stated = float(max(supplier.lead_days, 1))
    return Terms(stated_days=stated, order_weekdays=supplier.order_weekdays, closures=shut, away=away)


def ordered_on(supplier: Supplier, moment: datetime) -> date:
    """Say for which day an order placed at a moment counts: after the cut-off, for the next."""
    missed = supplier.cut_off is not None and moment.time() > supplier.cut_off
    return moment.date() + timedelta(days=1) if missed else moment.date()


def past_orders(supplier: Supplier, orders: Iterable[Order], deliveries: Iterable[Document]) -> list[PastOrder]:
    """Give a supplier's orders and their parts: each delivery with its share of the order, and what is still open."""
    own = [o for o in orders if o.supplier == supplier.code]
    placed = {o.number: ordered_on(supplier, o.placed) for o in own}
    still = {o.number for o in own if o.state in OPEN}
    came: dict[str, list[date]] = {}
    for delivery in deliveries:
        if delivery.content.get("supplier") != supplier.code:
            continue
        number = delivery.subject or f"delivery {delivery.id}"
        if number not in placed and delivery.content.get("ordered"):
            placed[number] = date.fromisoformat(str(delivery.content["ordered"]))
        came.setdefault(number, []).append(delivery.happened.date())
    found = []
    for number, day in placed.items():
        parts: list[date | None] = [*came.get(number, []), *([None] if number in still else [])]
        found += [PastOrder(ordered=day, received=part, share=1 / len(parts)) for part in parts]
    return found


def expected_day(belief: DeliveryDays, ordered: date, today: date, open_days: OpenDays) -> date:
    """Give the day on which an order is likely to be here: the middle one, on an open day."""
    days = belief.arrivals(ordered, today, MIDDLE)
    return open_days.next_open(today + timedelta(days=round(float(days[0]))))


def expected(session: Session, supplier: Supplier, moment: datetime) -> date:
    """Give the day on which an order placed at a moment is likely to be here, by what is in the book."""
    closures, today = catalogue.read_closures(session), moment.date()
    dimensions = {m.code: m.dimension for m in catalogue.read_materials(session)}
    before = [o for o in orders.read_orders(session, dimensions) if o.placed <= moment]
    came = [d for d in read_deliveries(session) if d.happened <= moment]
    belief = delivery_days(supplier, before, came, closures, today)
    open_days = OpenDays(
        weekdays=weekdays(catalogue.read_shop(session).open_weekdays), closures=closures_of("", closures, today)
    )
    return expected_day(belief, ordered_on(supplier, moment), today, open_days)
