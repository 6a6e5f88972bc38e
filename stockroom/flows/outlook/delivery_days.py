"""When an order starts with a supplier, and when it is expected: one rule for lists, orders and futures."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta

import numpy as np

from stockroom.buying.lead_times import LeadTime, PastOrder, Terms, arrivals, learn
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


def terms(supplier: Supplier, closures: Iterable[Closure]) -> Terms:
    """Say what a supplier says of himself."""
    shut = tuple((c.first, c.last) for c in closures_of(supplier.code, closures))
    stated = float(max(supplier.lead_days, 1))
    return Terms(stated_days=stated, order_weekdays=supplier.order_weekdays, closures=shut)


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


def expected_day(
    posterior: LeadTime, supplier: Supplier, moment: datetime, closures: Sequence[Closure], open_days: OpenDays
) -> date:
    """Give the day on which an order placed at a moment is likely to be here: the middle one, on an open day."""
    today = moment.date()
    days = arrivals(posterior, ordered_on(supplier, moment), today, terms(supplier, closures), MIDDLE)
    return open_days.next_open(today + timedelta(days=round(float(days[0]))))


def expected(session: Session, supplier: Supplier, moment: datetime) -> date:
    """Give the day on which an order placed at a moment is likely to be here, by what is in the book."""
    closures = catalogue.read_closures(session)
    dimensions = {m.code: m.dimension for m in catalogue.read_materials(session)}
    before = [o for o in orders.read_orders(session, dimensions) if o.placed <= moment]
    past = past_orders(supplier, before, [d for d in read_deliveries(session) if d.happened <= moment])
    posterior = learn(past, terms(supplier, closures), moment.date())
    open_days = OpenDays(
        weekdays=weekdays(catalogue.read_shop(session).open_weekdays), closures=closures_of("", closures)
    )
    return expected_day(posterior, supplier, moment, closures, open_days)
