"""The invented shop as a whole: from a seed to three years of documents."""

from collections import defaultdict
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta

import numpy as np

from stockroom.demo import owner
from stockroom.demo.catalogue import MATERIALS, OFFERS, SHELF, Row
from stockroom.demo.catalogue import rows as catalogue_rows
from stockroom.demo.counting import LOST_DOCUMENTS, Mishap, measure, on_day, sheet, write_offs
from stockroom.demo.dice import Dice
from stockroom.demo.files import opening
from stockroom.demo.files import rows as history_rows
from stockroom.demo.seasons import FIRST_DAY, LAST_DAY, OPEN, open_days
from stockroom.demo.shelves import Left, Opened, Shelves, ShopDiary, numbered
from stockroom.demo.tickets import REDONE, CounterWish, Intake, again, by_time, take_in, wishes
from stockroom.demo.truth import DAILY_LOSS, Use, booked, real
from stockroom.stock.calendar import monday
from stockroom.stock.counts import CountReason
from stockroom.stock.materials import Material
from stockroom.stock.money import half_up
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.stock.quantities import NANO, Quantity
from stockroom.stock.suppliers import current
from stockroom.stock.tickets import Ticket, TicketState

SEED = 19  # of several tried, one whose last day has a bit of everything
_WEEKS_OPEN = 6  # of usual use on the shelf at the start
_TRAIL = 12  # weeks before the start that the owner remembers
_NEVER_WAITED_FOR = ("packaging", "abrasives")
_FIRST_TICKET, _FIRST_ORDER = 20001, 301


@dataclass(slots=True, kw_only=True)
class Waiting:
    """A ticket on the bench's shelf, with what it will really need."""

    ticket: Ticket
    ready: datetime
    uses: list[Use]


@dataclass(slots=True, kw_only=True)
class World:
    """The state of the shop between two days."""

    dice: Dice
    brought: dict[date, list[Intake]]
    wished: dict[date, list[CounterWish]]
    shelves: Shelves
    diary: ShopDiary = field(default_factory=ShopDiary)
    waiting: list[Waiting] = field(default_factory=list)
    coming: list[owner.DueGoods] = field(default_factory=list)
    causes: dict[str, CountReason] = field(default_factory=dict)
    missed: set[str] = field(default_factory=set)  # bins found empty today
    tickets: int = _FIRST_TICKET
    orders: int = _FIRST_ORDER


def run(world: World) -> None:
    """Work every day, then write up what is still open."""
    for day in open_days():
        _receive(world, day)
        _take_in(world, day)
        _work(world, day)
        _sell(world, day)
        _mishaps(world, day)
        _count(world, day)
        _order(world, day)
    world.diary.tickets += [each.ticket for each in world.waiting]
    world.diary.tickets.sort(key=lambda ticket: int(ticket.number))
    world.diary.open_orders += [
        owner.with_lines(parcel.order, parcel.lines)
        for parcel in world.coming
        if parcel.arrives > LAST_DAY or not parcel.written
    ]


def _receive(world: World, day: date) -> None:
    for parcel in [each for each in world.coming if each.arrives == day]:
        if parcel.written:
            world.diary.deliveries.append(_unpacked(world, parcel, day))
            continue
        for line in parcel.lines:
            world.shelves.bring(line.material, line.expected, written=False)
    world.coming = [each for each in world.coming if each.arrives > day or not each.written]


def _unpacked(world: World, parcel: owner.DueGoods, day: date) -> Delivery:
    lines = []
    for line in parcel.lines:
        nano, cost = owner.measured(line, world.dice)
        world.shelves.bring(line.material, nano)
        lines.append(_delivery_line(line.material, nano, cost, day))
    packed = [
        replace(made, packs=o.packs, supplier_code=o.supplier_code) for made, o in zip(lines, parcel.lines, strict=True)
    ]
    first = parcel.lines == parcel.order.lines[: len(parcel.lines)]
    return Delivery(
        reference=f"{parcel.order.supplier[0]}{parcel.order.number[3:]}{'A' if first else 'B'}",
        supplier=parcel.order.supplier,
        received=datetime.combine(day, time(9, world.dice.whole(5, 25))),
        lines=tuple(packed),
        order=parcel.order.number,
        ordered=parcel.order.placed.date(),
        carriage=parcel.order.carriage if first else 0,
    )


def _delivery_line(code: str, nano: int, cost: int, day: date) -> DeliveryLine:
    material = SHELF.materials[code]
    keeps = material.shelf_life_days
    return DeliveryLine(
        material=code,
        amount=Quantity(nano=nano, dimension=material.dimension),
        cost=cost,
        lot=f"L{day:%y%j}" if keeps else "",
        expiry=day + timedelta(days=keeps - 30) if keeps else None,
    )


def _take_in(world: World, day: date) -> None:
    for intake in by_time(world.brought.get(day, [])):
        ticket = numbered(intake.ticket, world.tickets)
        world.tickets += 1
        if ticket.state is TicketState.CANCELLED:
            world.diary.tickets.append(ticket)
        else:
            world.waiting.append(Waiting(ticket=ticket, ready=intake.ready, uses=real(ticket, world.dice)))


def _work(world: World, day: date) -> None:
    """Finish what is ready and for which there is stock; the rest is held up."""
    left = []
    for each in sorted(world.waiting, key=lambda w: (w.ready, w.ticket.number)):
        if each.ready.date() > day or _short(world, each.uses):
            left.append(each)
            continue
        when = each.ready if each.ready.date() == day else datetime.combine(day, _spare_minute(world.dice))
        world.diary.tickets.append(_finish(world, each, when))
    world.waiting = left


def _finish(world: World, each: Waiting, when: datetime) -> Ticket:
    for use in each.uses:
        world.shelves.lose(use.material, use.nano)
    for need in booked(each.ticket, when.date()):
        world.shelves.book_use(need.material, need.nano, monday(when.date()))
    if not each.ticket.redo_of and world.dice.happens(REDONE):
        _bring_back(world, each.ticket, when.date())
    return replace(each.ticket, state=TicketState.FINISHED, finished=when)


def _bring_back(world: World, ticket: Ticket, day: date) -> None:
    back = OPEN.next_open(day + timedelta(days=world.dice.whole(4, 30)))
    world.brought.setdefault(back, []).append(again(ticket, back, world.dice))


def _short(world: World, uses: list[Use]) -> bool:
    """Say whether something is missing, and remember what; for want of a bag or a band no job waits."""
    wanted: dict[str, int] = defaultdict(int)
    for use in uses:
        wanted[use.material] += use.nano
    missing = {code for code, nano in wanted.items() if not world.shelves.has(code, nano)}
    missing = {code for code in missing if SHELF.materials[code].family not in _NEVER_WAITED_FOR}
    world.missed |= missing
    return bool(missing)


def _sell(world: World, day: date) -> None:
    for wish in sorted(world.wished.get(day, []), key=lambda w: w.when):
        material = SHELF.materials[wish.material]
        nano = wish.shown_units * material.unit.nano
        if not world.shelves.has(wish.material, nano):
            continue
        world.shelves.lose(wish.material, nano)
        world.shelves.book_use(wish.material, nano, monday(day))
        world.diary.sales.append(
            Left(
                when=wish.when,
                material=wish.material,
                nano=nano,
                price=(material.sell_price or 0) * wish.shown_units,
                receipt=f"R{len(world.diary.sales) + 1001}",
            )
        )


def _mishaps(world: World, day: date) -> None:
    for code, amount in DAILY_LOSS.items():
        world.shelves.lose(code, int(float(amount) * world.dice.around_one(0.3) * NANO))
    for left in write_offs(day, world.dice):
        _write_off(world, left, day)
    for mishap in on_day(day):
        _strike(world, mishap)


def _write_off(world: World, left: Left, day: date) -> None:
    if world.shelves.has(left.material, left.nano):
        world.shelves.lose(left.material, left.nano)
        world.shelves.book_use(left.material, left.nano, monday(day))
        world.diary.waste.append(left)


def _strike(world: World, mishap: Mishap) -> None:
    """Stock is lost without an entry; the next count finds it."""
    kept = int(world.shelves.true[mishap.material] * mishap.kept)
    world.shelves.true[mishap.material] = kept
    world.causes[mishap.material] = mishap.reason


def _count(world: World, day: date) -> None:
    """Count what is due, and any bin found short of what the book says."""
    due = sheet(day, world.dice)
    surprises = sorted(code for code in world.missed if code not in due and world.shelves.book[code] > 0)
    world.missed.clear()
    for code in (*due, *surprises):
        line = measure(code, world.shelves.true[code], day, world.dice)
        why = world.causes.pop(code, CountReason.OTHER)
        world.diary.counts.append((f"{day:%G-W%V}" if due else f"{day}", replace(line, reason=why)))
        world.shelves.book[code] = line.amount.nano


def _order(world: World, day: date) -> None:
    for supplier, weekday in owner.LOOK_DAY.items():
        if day.weekday() != weekday or day >= owner.PUT_OFF.get(supplier, LAST_DAY):
            continue
        lines = owner.order_from(supplier, day, world.shelves, _free_to_come(world))
        if lines:
            order = owner.place(f"PO-{world.orders}", supplier, lines, day)
            world.orders += 1
            world.coming += [_mislaid(parcel) for parcel in owner.split_up(order, world.dice)]


def _mislaid(parcel: owner.DueGoods) -> owner.DueGoods:
    """Lose the document of a parcel that comes in the last days."""
    material, since = LOST_DOCUMENTS
    lost = parcel.arrives >= since and any(line.material == material for line in parcel.lines)
    return replace(parcel, written=not lost)


def _free_to_come(world: World) -> dict[str, int]:
    """Give what is on order less what waiting tickets will take."""
    total: dict[str, int] = defaultdict(int)
    for parcel in world.coming:
        for line in parcel.lines:
            total[line.material] += line.expected
    for each in world.waiting:
        for use in each.uses:
            total[use.material] -= use.nano
    return total


def _spare_minute(dice: Dice) -> time:
    return time(dice.whole(10, 16), dice.whole(0, 59))


def lived(seed: int = SEED) -> World:
    """Live the shop's three years; the same seed gives the same documents."""
    streams = np.random.SeedSequence(seed).spawn(3)
    customers, counter, days = (Dice(np.random.default_rng(stream)) for stream in streams)
    brought, wished = take_in(customers), wishes(counter)
    weekly = _usual(brought, wished)
    world = World(dice=days, brought=brought, wished=wished, shelves=Shelves())
    for material in MATERIALS:
        _open(world, material, weekly[material.code])
    run(world)
    return world


def _usual(brought: dict[date, list[Intake]], wished: dict[date, list[CounterWish]]) -> dict[str, int]:
    """Work out a week's usual use of each material from a first half year."""
    half_year = [day for day in open_days() if day < FIRST_DAY + timedelta(days=182)]
    total: dict[str, int] = defaultdict(int)
    for day in half_year:
        for intake in brought[day]:
            if intake.ticket.state is not TicketState.CANCELLED:
                for need in booked(intake.ticket, day):
                    total[need.material] += need.nano
        for wish in wished.get(day, ()):
            total[wish.material] += wish.shown_units * _unit(wish.material)
    return defaultdict(int, {code: nano // 26 for code, nano in total.items()})


def _unit(code: str) -> int:
    return next(material.unit.nano for material in MATERIALS if material.code == code)


def _open(world: World, material: Material, weekly: int) -> None:
    """Put the opening stock on the shelf, in quarters of the shown unit, and let the owner remember its use."""
    packs = [offer.pack.nano for offer in current(OFFERS, FIRST_DAY) if offer.material == material.code]
    grain = material.unit.nano if material.unit.name in ("piece", "pair") else material.unit.nano // 4
    nano = (weekly * _WEEKS_OPEN + min(packs, default=46 * material.unit.nano) // 2) // grain * grain
    keeps = material.shelf_life_days
    cost = half_up(material.unit.count(nano) * (material.usual_cost or 0) * 9 / 10)
    world.shelves.bring(material.code, nano)
    world.diary.opening.append(
        Opened(
            material=material.code,
            nano=nano,
            value=cost,
            lot="L2308" if keeps else "",
            expiry=FIRST_DAY + timedelta(days=keeps - 90) if keeps else None,
        )
    )
    for n in range(1, _TRAIL + 1):
        world.shelves.weekly_use[material.code][monday(FIRST_DAY) - timedelta(days=7 * n)] = weekly


def files(seed: int = SEED) -> dict[str, list[Row]]:
    """Give the rows of every file of the shop, catalogue first, in the order in which they load."""
    return written(lived(seed))


def written(world: World) -> dict[str, list[Row]]:
    """Write up a shop that has lived its years."""
    return {
        **catalogue_rows(),
        "opening": opening(world.diary.opening, FIRST_DAY.isoformat()),
        **history_rows(world.diary),
    }
