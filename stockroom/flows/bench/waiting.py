"""Which open tickets wait for goods, and the open orders that should bring them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from stockroom.flows.bench.shelf import set_aside
from stockroom.stock.orders import Order
from stockroom.stock.recipes import recipe_catalogue
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store import catalogue, ledger, orders, tickets
from stockroom.store.book import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenOrder:
    """An order of which something is outstanding, and the tickets that wait for it."""

    order: Order
    late_days: int  # 0 while it is not late
    waiting: tuple[Ticket, ...]


def open_orders(book: Book, now: datetime) -> list[OpenOrder]:
    """List open orders, the latest first; tickets promised first are served first from the shelf."""
    with book.reading() as session:
        found = orders.read_orders(session, catalogue.dimensions(session), states=orders.OPEN)
        aside = set_aside(session, recipe_catalogue(catalogue.read_materials(session)))
        booked = tickets.read_tickets(session, state=TicketState.BOOKED)
        on_hand = ledger.balances(session)
    lacking = _lacking(booked, aside.by_ticket, on_hand)
    return sorted((_open(o, lacking, booked, now.date()) for o in found), key=lambda o: -o.late_days)


def late_days(order: Order, today: date) -> int:
    """Say by how many days an order of which something is still to come is late; 0 while it is not."""
    return max((today - order.expected).days, 0) if order.expected and order.state in orders.OPEN else 0


def _lacking(
    booked: Sequence[Ticket], needs: Mapping[str, Mapping[str, int]], on_hand: Mapping[str, int]
) -> dict[str, set[str]]:
    """Give the materials each ticket lacks, by ticket number."""
    left = dict(on_hand)
    lacking: dict[str, set[str]] = {}
    for ticket in sorted(booked, key=lambda t: (t.promised or date.max, t.taken_in)):
        for material, nano in needs.get(ticket.number, {}).items():
            left[material] = left.get(material, 0) - nano
            if left[material] < 0:
                lacking.setdefault(ticket.number, set()).add(material)
    return lacking


def _open(order: Order, lacking: Mapping[str, set[str]], booked: Sequence[Ticket], today: date) -> OpenOrder:
    coming = {line.material for line in order.lines if line.outstanding}
    waiting = tuple(t for t in booked if lacking.get(t.number, set()) & coming)
    return OpenOrder(order=order, late_days=late_days(order, today), waiting=waiting)
