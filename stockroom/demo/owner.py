"""How the invented owner orders: a look at each supplier once a week, a rule of thumb, whole packs."""

from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import cache

from stockroom.demo.catalogue import OFFERS, SHELF
from stockroom.demo.dice import Dice
from stockroom.demo.seasons import OPEN, closures
from stockroom.demo.shelves import Shelves
from stockroom.demo.trade import SUPPLIERS
from stockroom.stock.calendar import OpenDays, closures_of, monday
from stockroom.stock.orders import Order, OrderLine
from stockroom.stock.suppliers import Offer, current

LOOK_DAY = {"TOCK": 1, "BRIN": 2, "QUIL": 3, "ODDM": 4}  # weekday; Tuesday is 1
TRAIL, MEMORY = 10, 40  # weeks whose use, and whose largest use, the owner has in mind
CAUTION = 1.35
LATE_CHANCE = {"BRIN": 0.12, "TOCK": 0.05, "QUIL": 0.04, "ODDM": 0.08}
PUT_OFF = dict.fromkeys(("TOCK", "QUIL", "ODDM"), date(2026, 11, 15))  # the last week's orders wait for stockroom
_TERMS = {supplier.code: supplier for supplier in SUPPLIERS}
_LIST_DAYS = {offer.valid_from for offer in OFFERS}
_WORKS = {code: OpenDays(weekdays=frozenset(range(5)), closures=closures_of(code, closures())) for code in LOOK_DAY}


@dataclass(frozen=True, slots=True, kw_only=True)
class DueGoods:
    """An order line's goods on their way."""

    order: Order
    lines: tuple[OrderLine, ...]
    arrives: date
    written: bool = True  # False: it comes, but its document isn't entered


def order_from(supplier: str, day: date, shelves: Shelves, coming: dict[str, int]) -> list[OrderLine]:
    """Decide what to ask of a supplier today; nothing when it isn't worth the supplier's while."""
    asked = [line for offer in _favourites(supplier, day) if (line := _line(offer, day, shelves, coming))]
    worth = sum(line.cost for line in asked)
    return asked if asked and worth >= _TERMS[supplier].minimum_order else []


def place(number: str, supplier: str, lines: list[OrderLine], day: date) -> Order:
    """Put an order on paper, with the day the supplier promises."""
    terms = _TERMS[supplier]
    return Order(
        number=number,
        supplier=supplier,
        placed=datetime.combine(day, time(11, 0)),
        lines=tuple(lines),
        expected=_WORKS[supplier].next_open(day + timedelta(days=terms.lead_days)),
        carriage=terms.carriage_of(sum(line.cost for line in lines)),
    )


def arrival(order: Order, dice: Dice) -> date:
    """Draw the day an order really arrives: often near the promise, sometimes well after it."""
    terms = _TERMS[order.supplier]
    days = round(terms.lead_days * dice.around_one(0.18))
    before_christmas = order.supplier == "ODDM" and order.placed.month in (11, 12)
    if dice.happens(0.55 if before_christmas else LATE_CHANCE[order.supplier]):
        days += dice.whole(3, 11)
    sent = _WORKS[order.supplier].next_open(order.placed.date() + timedelta(days=max(days, 1)))
    return OPEN.next_open(sent)


def split_up(order: Order, dice: Dice) -> list[DueGoods]:
    """Say how an order's lines come: together, or some of them later."""
    together = arrival(order, dice)
    if len(order.lines) < 3 or not dice.happens(0.08):  # noqa: PLR2004 -- a small order comes whole
        return [DueGoods(order=order, lines=order.lines, arrives=together)]
    later = dice.whole(1, len(order.lines) - 1)
    rest = OPEN.next_open(together + timedelta(days=dice.whole(4, 12)))
    return [
        DueGoods(order=order, lines=order.lines[:later], arrives=together),
        DueGoods(order=order, lines=order.lines[later:], arrives=rest),
    ]


def _favourites(supplier: str, day: date) -> list[Offer]:
    """Pick the supplier's offers the owner buys: the cheapest by the unit of each material."""
    newest = max(first for first in _LIST_DAYS if first <= day)
    return [offer for offer in _cheapest(newest).values() if offer.supplier == supplier]


@cache
def _cheapest(day: date) -> dict[str, Offer]:
    best: dict[str, Offer] = {}
    for offer in current(OFFERS, day):
        held = best.get(offer.material)
        if held is None or offer.cost(1) * held.pack.nano < held.cost(1) * offer.pack.nano:
            best[offer.material] = offer
    return best


def _line(offer: Offer, day: date, shelves: Shelves, coming: dict[str, int]) -> OrderLine | None:
    weekly = usual_use(offer.material, day, shelves)
    weeks = _TERMS[offer.supplier].lead_days / 7 + 1
    lowest = weekly * weeks * CAUTION + _largest(offer.material, day, shelves) / 3
    position = shelves.book[offer.material] + coming.get(offer.material, 0)
    if position > lowest:
        return None
    wanted = lowest + 3 * weekly - position
    packs = max(-int(-wanted // offer.pack.nano), offer.minimum_packs)
    return OrderLine(
        material=offer.material,
        supplier_code=offer.supplier_code,
        packs=packs,
        pack=offer.pack,
        cost=offer.cost(packs),
        pack_name=offer.pack_name,
    )


def usual_use(material: str, day: date, shelves: Shelves) -> float:
    """Give the mean weekly use the owner remembers, in nano."""
    return sum(_recent(material, day, TRAIL, shelves)) / TRAIL


def _largest(material: str, day: date, shelves: Shelves) -> int:
    return max(_recent(material, day, MEMORY, shelves), default=0)


def _recent(material: str, day: date, weeks: int, shelves: Shelves) -> list[int]:
    """Give what was used in each of the last weeks in which anything was."""
    start = monday(day)
    first = start - timedelta(days=7 * weeks)
    return [used for week, used in shelves.weekly_use[material].items() if first <= week < start]


def with_lines(order: Order, lines: tuple[OrderLine, ...]) -> Order:
    """Leave only some lines on an order."""
    return replace(order, lines=lines)


def measured(line: OrderLine, dice: Dice) -> tuple[int, int]:
    """Give what a line really brings and costs: hides and bends are measured on arrival and priced by what they are."""
    offer = next(o for o in OFFERS if (o.material, o.supplier_code) == (line.material, line.supplier_code))
    if not offer.measured:
        return line.expected, line.cost
    times = 1 + 0.05 * max(min(dice.normal(), 2.0), -2.0)
    step = SHELF.materials[line.material].unit.nano // 4
    amount = round(line.expected * times / step) * step
    return amount, round(line.cost * amount / line.expected)
