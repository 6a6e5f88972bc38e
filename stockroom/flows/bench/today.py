"""What needs a hand today: tickets to do, stock below zero, late goods, bins to count."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from stockroom.flows.bench.shelf import COUNT_DUE_DAYS, rows
from stockroom.flows.bench.waiting import OpenOrder, open_orders
from stockroom.flows.book.snapshot import lots_then
from stockroom.stock.lists import ShelfRow
from stockroom.stock.lots import Lot
from stockroom.stock.materials import Material
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store import catalogue, tickets
from stockroom.store.book import Book

SOON = timedelta(days=14)  # ahead, so that a lot can still be used up or replaced


@dataclass(frozen=True, slots=True, kw_only=True)
class Expiring:
    """A lot that has expired, or soon will."""

    material: Material
    lot: Lot
    day: date
    gone: bool  # expired already


@dataclass(frozen=True, slots=True, kw_only=True)
class Today:
    """The day's hand of work."""

    booked: tuple[Ticket, ...]  # promised soonest first
    below_zero: tuple[ShelfRow, ...]
    late: tuple[OpenOrder, ...]
    to_count: tuple[ShelfRow, ...]  # longest uncounted first
    expiring: tuple[Expiring, ...]  # soonest first
    waiting: dict[str, str]  # ticket number -> the order it waits for


def today(book: Book, now: datetime) -> Today:
    """Gather what needs a hand."""
    with book.reading() as session:
        shelf = rows(session)
        booked = tickets.read_tickets(session, state=TicketState.BOOKED)
        materials = {m.code: m for m in catalogue.read_materials(session)}
        lots = lots_then(session, materials.values(), now)
    orders = open_orders(book, now)
    due = now - timedelta(days=COUNT_DUE_DAYS)
    old = [row for row in shelf if row.on_hand and (row.last_counted is None or row.last_counted < due)]
    return Today(
        booked=tuple(sorted(booked, key=lambda t: (t.promised or datetime.max.date(), t.taken_in))),
        below_zero=tuple(row for row in shelf if row.below_zero),
        late=tuple(each for each in orders if each.late_days),
        to_count=tuple(sorted(old, key=lambda row: row.last_counted or datetime.min)),
        expiring=tuple(sorted(_expiring(materials, lots, now.date()), key=lambda each: (each.day, each.material.code))),
        waiting={ticket.number: each.order.number for each in orders for ticket in each.waiting},
    )


def _expiring(materials: Mapping[str, Material], lots: Mapping[str, Sequence[Lot]], today: date) -> Iterator[Expiring]:
    for code, mine in lots.items():
        for lot in mine:
            if lot.expiry is not None and lot.expiry <= today + SOON:
                yield Expiring(material=materials[code], lot=lot, day=lot.expiry, gone=lot.expired(today))
