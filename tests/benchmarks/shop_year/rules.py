"""Plain rules of ordering: a fortnight's cover, minimum and maximum, order-up-to rule; the most urgent first."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from stockroom.buying.order_cycle import carriage_on
from stockroom.buying.problem import FloatArray
from stockroom.buying.scenario import KnownThen, Purchase
from tests.benchmarks.shop_year.world import World

AVERAGE_WEEKS = 26
Policy = Callable[[KnownThen], Sequence[Purchase]]
Packs = dict[int, int]  # by offer


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """Weekly use of each item over the last half year, from finished tickets and sales through the recipes."""

    mean: FloatArray
    spread: FloatArray


def weekly_jobs(world: World, day: int) -> FloatArray:
    """Jobs per week up to a day, shape (n_weeks, n_jobs)."""
    days = world.scenario.tickets[:day]
    return np.concatenate([world.past_jobs, days.reshape(-1, 7, days.shape[1]).sum(axis=1)]).astype(float)


def weekly_sales(world: World, day: int) -> FloatArray:
    """Sales per week up to a day, shape (n_weeks, n_items)."""
    days = world.scenario.sales[:day]
    return np.concatenate([world.past_sales, days.reshape(-1, 7, days.shape[1]).sum(axis=1)])


def seen(world: World, day: int) -> Seen:
    """Average use as the shop's book has it, over weeks in which it was open."""
    use = weekly_jobs(world, day) @ world.scenario.recipe + weekly_sales(world, day)
    last = use[world.open_weeks[: len(use)] > 0][-AVERAGE_WEEKS:]
    return Seen(mean=last.mean(axis=0), spread=last.std(axis=0, ddof=1))


def positions(world: World, known_then: KnownThen) -> FloatArray:
    """Book stock plus what is on order, less what waiting tickets will take."""
    position = known_then.on_hand - known_then.waiting @ world.scenario.recipe
    for each in known_then.placed:
        if each.received is None:
            position[world.scenario.offers[each.offer].item] += each.packs * world.scenario.offers[each.offer].pack
    return position


def cheapest(world: World) -> list[int]:
    """The cheapest offer of each item."""
    offers = world.scenario.offers
    best: dict[int, int] = {}
    for index, each in enumerate(offers):
        kept = best.get(each.item)
        if kept is None or each.price / each.pack < offers[kept].price / offers[kept].pack:
            best[each.item] = index
    return [best[item] for item in range(len(world.scenario.unit_cost))]


def raise_to(world: World, position: FloatArray, low: FloatArray, high: FloatArray) -> Packs:
    """Where the position is below `low`, whole packs up to `high`."""
    bought = {}
    for item, offer in enumerate(cheapest(world)):
        if position[item] < low[item]:
            packs = int(np.ceil((high[item] - position[item]) / world.scenario.offers[offer].pack - 1e-9))
            bought[offer] = max(packs, 1)
    return bought


def worths(world: World, packs: Packs) -> FloatArray:
    """Value of the goods ordered from each supplier."""
    worth = np.zeros(len(world.scenario.suppliers))
    for offer, count in packs.items():
        worth[world.scenario.offers[offer].supplier] += count * world.scenario.offers[offer].price_at(count)
    return worth


def spent(world: World, packs: Packs) -> float:
    """What an order day costs, carriage included."""
    pairs = zip(world.scenario.suppliers, worths(world, packs), strict=True)
    return sum(float(worth) + carriage_on(supplier, float(worth)) for supplier, worth in pairs)


def topped_up(world: World, position: FloatArray, mean: FloatArray, bought: Packs, *, free: bool) -> Packs:
    """Add the packs with the least weeks of cover up to his smallest order, and where asked until carriage is free."""
    packs = dict(bought)
    for number, supplier in enumerate(world.scenario.suppliers):
        own = [each for each in cheapest(world) if world.scenario.offers[each].supplier == number]
        wanted = max(supplier.least_order, (supplier.free_over or 0.0) if free else 0.0)
        while 0 < worths(world, packs)[number] < wanted:
            add = own[int(np.argmin(covers(world, position, mean, packs, own)))]
            packs[add] = packs.get(add, 0) + 1
    return packs


def covers(world: World, position: FloatArray, mean: FloatArray, packs: Packs, offers: Sequence[int]) -> list[float]:
    """Weeks for which each offer's item would last with the packs that are bought."""
    of = [world.scenario.offers[each] for each in offers]
    there = [position[o.item] + packs.get(n, 0) * o.pack for n, o in zip(offers, of, strict=True)]
    return [float(much / max(mean[o.item], 1e-9)) for much, o in zip(there, of, strict=True)]


def affordable(world: World, position: FloatArray, mean: FloatArray, wanted: Packs) -> Packs:
    """What fits the cash of the day, pack by pack, the item with the least cover first; no order below a minimum."""
    cash, out = world.cash, set[int]()
    if cash is None or spent(world, wanted) <= cash:
        return wanted
    while True:
        packs: Packs = {}
        left = {o: n for o, n in wanted.items() if world.scenario.offers[o].supplier not in out}
        while left:
            add = min(left, key=lambda o: covers(world, position, mean, packs, [o])[0])
            tried = packs | {add: packs.get(add, 0) + 1}
            fits = spent(world, tried) <= cash
            packs = tried if fits else packs
            left[add] -= 1
            if not fits or not left[add]:
                del left[add]
        low = [
            number
            for number, (supplier, worth) in enumerate(zip(world.scenario.suppliers, worths(world, packs), strict=True))
            if 0 < worth < supplier.least_order
        ]
        if not low:
            return packs
        out.add(low[0])


def stated_weeks(world: World) -> FloatArray:
    """Each item's stated lead time in weeks."""
    offers = [world.scenario.offers[each] for each in cheapest(world)]
    return np.array([world.deliveries[each.supplier].stated / 7 for each in offers])


Levels = Callable[[Seen, FloatArray], tuple[FloatArray, FloatArray]]  # of use and stated weeks: low and high


def plain(world: World, levels: Levels, *, free: bool = False) -> Policy:
    """Where the position is below a low level, whole packs up to a high one."""

    def policy(known_then: KnownThen) -> Sequence[Purchase]:
        use = seen(world, known_then.day)
        low, high = levels(use, stated_weeks(world))
        position = positions(world, known_then)
        wanted = topped_up(world, position, use.mean, raise_to(world, position, low, high), free=free)
        packs = affordable(world, position, use.mean, wanted)
        return [Purchase(offer=offer, packs=count) for offer, count in packs.items()]

    return policy


def fortnight(world: World) -> Policy:
    """When less than a fortnight's use is there or coming, order a further fortnight's."""
    return plain(world, lambda use, _: (2 * use.mean, 4 * use.mean))


def min_max(world: World) -> Policy:
    """Below the stated lead time and a fortnight, up to four weeks more."""
    return plain(world, lambda use, stated: ((stated + 2) * use.mean, (stated + 6) * use.mean))


def order_up_to(world: World, service: float, *, top_up: bool) -> Policy:
    """Weekly review to the level that covers a week and the lead time with a normal safety stock."""

    def levels(use: Seen, stated: FloatArray) -> tuple[FloatArray, FloatArray]:
        span = stated + 1
        level = span * use.mean + stats.norm.ppf(service) * np.sqrt(span) * use.spread
        return level, level

    return plain(world, levels, free=top_up)
