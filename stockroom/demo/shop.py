"""The invented shop as a whole: from a seed to three years of documents."""

from collections import defaultdict
from datetime import date, timedelta

import numpy as np

from stockroom.demo.catalogue import MATERIALS, OFFERS, Row
from stockroom.demo.catalogue import rows as catalogue_rows
from stockroom.demo.dice import Dice
from stockroom.demo.files import opening
from stockroom.demo.files import rows as history_rows
from stockroom.demo.seasons import FIRST_DAY, open_days
from stockroom.demo.shelves import Opened, Shelves
from stockroom.demo.tickets import CounterWish, Intake, take_in, wishes
from stockroom.demo.truth import booked
from stockroom.demo.world import World, run
from stockroom.stock.calendar import monday
from stockroom.stock.materials import Material
from stockroom.stock.money import half_up
from stockroom.stock.suppliers import current
from stockroom.stock.tickets import TicketState

SEED = 19  # of several tried, one whose last day has a bit of everything
_WEEKS_OPEN = 6  # of usual use on the shelf at the start
_TRAIL = 12  # weeks before the start that the owner remembers


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
