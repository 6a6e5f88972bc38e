"""Plain rules of ordering: a fortnight's cover, minimum and maximum, order-up-to rule."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from stockroom.buying.problem import FloatArray
from stockroom.buying.scenario import KnownThen, Purchase
from tests.benchmarks.shop_year.world import World

AVERAGE_WEEKS = 26


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
    """Average use as the shop's book has it."""
    use = weekly_jobs(world, day) @ world.scenario.recipe + weekly_sales(world, day)
    last = use[-AVERAGE_WEEKS:]
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


def raise_to(world: World, position: FloatArray, low: FloatArray, high: FloatArray) -> list[Purchase]:
    """Where the position is below `low`, whole packs up to `high`."""
    bought = []
    for item, offer in enumerate(cheapest(world)):
        if position[item] < low[item]:
            packs = int(np.ceil((high[item] - position[item]) / world.scenario.offers[offer].pack - 1e-9))
            bought.append(Purchase(offer=offer, packs=max(packs, 1)))
    return bought


def topped_up(world: World, position: FloatArray, mean: FloatArray, bought: list[Purchase]) -> list[Purchase]:
    """Add the packs with the least weeks of cover until carriage is free."""
    packs = {each.offer: each.packs for each in bought}
    for number, supplier in enumerate(world.scenario.suppliers):
        own = [each for each in cheapest(world) if world.scenario.offers[each].supplier == number]
        worth = sum(packs.get(each, 0) * world.scenario.offers[each].price for each in own)
        while 0 < worth < (supplier.free_over or 0.0):
            cover = [
                (position[world.scenario.offers[e].item] + packs.get(e, 0) * world.scenario.offers[e].pack)
                / max(mean[world.scenario.offers[e].item], 1e-9)
                for e in own
            ]
            add = own[int(np.argmin(cover))]
            packs[add] = packs.get(add, 0) + 1
            worth += world.scenario.offers[add].price
    return [Purchase(offer=offer, packs=count) for offer, count in packs.items()]


def stated_weeks(world: World) -> FloatArray:
    """Each item's stated lead time in weeks."""
    offers = [world.scenario.offers[each] for each in cheapest(world)]
    return np.array([world.deliveries[each.supplier].stated / 7 for each in offers])


def fortnight(world: World) -> Callable[[KnownThen], Sequence[Purchase]]:
    """When less than a fortnight's use is there or coming, order a further fortnight's."""

    def policy(known_then: KnownThen) -> Sequence[Purchase]:
        mean = seen(world, known_then.day).mean
        return raise_to(world, positions(world, known_then), 2 * mean, 4 * mean)

    return policy


def min_max(world: World) -> Callable[[KnownThen], Sequence[Purchase]]:
    """Below the stated lead time and a fortnight, up to four weeks more."""

    def policy(known_then: KnownThen) -> Sequence[Purchase]:
        mean = seen(world, known_then.day).mean
        low = (stated_weeks(world) + 2) * mean
        return raise_to(world, positions(world, known_then), low, low + 4 * mean)

    return policy


def order_up_to(world: World, service: float, *, top_up: bool) -> Callable[[KnownThen], Sequence[Purchase]]:
    """Weekly review to the level that covers a week and the lead time with a normal safety stock."""

    def policy(known_then: KnownThen) -> Sequence[Purchase]:
        use, span = seen(world, known_then.day), stated_weeks(world) + 1
        level = span * use.mean + stats.norm.ppf(service) * np.sqrt(span) * use.spread
        position = positions(world, known_then)
        bought = raise_to(world, position, level, level)
        return topped_up(world, position, use.mean, bought) if top_up else bought

    return policy
