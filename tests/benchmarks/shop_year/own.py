"""Stockroom's way of ordering in the simulated shop, and the same way told the hidden truth."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date, timedelta
from enum import Enum
from functools import cache
from typing import Any

import numpy as np

from stockroom.buying import lead_times
from stockroom.buying.basket import basket
from stockroom.buying.lead_times import LeadTime, PastOrder, Terms
from stockroom.buying.problem import FloatArray, Jobs, Limits, OnTheWay, OrderItem, OrderProblem, SupplierTerms
from stockroom.buying.scenario import KnownThen, PlacedLine, Purchase
from stockroom.demand.history import History
from stockroom.demand.paths import sample_paths
from stockroom.flows.ordering.plan import at_next_order_day
from tests.benchmarks.shop_year import counts
from tests.benchmarks.shop_year.counts import Shelves
from tests.benchmarks.shop_year.ideal import ideal_rates
from tests.benchmarks.shop_year.rules import weekly_jobs, weekly_sales
from tests.benchmarks.shop_year.world import FIRST_DAY, PAST_WEEKS, World

N_PATHS, HORIZON = 300, 26  # as many futures as an order list looks at
REACH_DAYS = 7 * 20
TIME_LIMIT = 60.0  # seconds for one order's search: never reached, or a busy machine would play another year
ORDER_WEEKDAY = frozenset({0})  # the shop looks at its orders on Mondays


class Demand(Enum):
    """What is known of the demand to come."""

    LEARNT = "learnt"  # forecast from the weeks so far
    LAW = "law"  # as the best of all forecasters would have it, who knows how worlds are drawn
    TRUE = "true"  # the weekly rates themselves


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a way of ordering is told of the truth: demand, how suppliers deliver, shelves and recipes."""

    demand: Demand = Demand.LEARNT
    deliveries: bool = False
    shelves: bool = False
    futures: int = N_PATHS


EVERYTHING = Told(demand=Demand.TRUE, deliveries=True, shelves=True)


def stockroom(world: World, seed: int, told: Told = Told()) -> Callable[[KnownThen], Sequence[Purchase]]:
    """Buy by the basket, knowing what the shop can know and what it is told."""
    known = knowing(world, seed, told)
    return lambda known_then: bought(known(known_then))


def knowing(world: World, seed: int, told: Told) -> Callable[[KnownThen], OrderProblem]:
    """Forecast, belief about the shelf, learnt lead times; in place of some of them, what it is told."""
    shelves = _true_shelves if told.shelves else counts.shelves

    def problem(known_then: KnownThen) -> OrderProblem:
        rng = np.random.default_rng([seed, known_then.day])
        jobs, sales = demand(world, known_then.day, rng, told)
        draw = _true_deliveries if told.deliveries else _learnt_deliveries
        leads, late = draw(world, known_then, rng, told.futures)
        return asked(world, known_then, (jobs, sales), shelves(world, known_then, rng, told.futures), (leads, late))

    return problem


def informed(world: World, seed: int) -> Callable[[KnownThen], Sequence[Purchase]]:
    """The same basket, told the true rates, recipes, shelves and how each supplier's days are distributed."""
    return stockroom(world, seed, EVERYTHING)


def demand(world: World, day: int, rng: np.random.Generator, told: Told) -> tuple[FloatArray, FloatArray]:
    """Draw jobs and counter sales to come, shapes (n_paths, n_jobs or n_items, HORIZON), by what is known of them."""
    if told.demand is Demand.LEARNT:
        return forecast(world, day, rng, told.futures)
    if told.demand is Demand.LAW:
        job_rates, sale_rates = ideal_rates(world, day, told.futures, HORIZON, rng)
    else:
        weeks = np.minimum(PAST_WEEKS + day // 7 + np.arange(HORIZON), len(world.job_rates) - 1)
        job_rates, sale_rates = (np.broadcast_to(r[weeks], (told.futures, *r[weeks].shape)) for r in _rates(world))
    chance = rng.gamma(world.job_size, 1 / world.job_size, job_rates.shape)
    jobs = np.moveaxis(rng.poisson(job_rates * chance), 1, 2).astype(float)
    return jobs, np.moveaxis(rng.poisson(sale_rates), 1, 2).astype(float)


def _rates(world: World) -> tuple[FloatArray, FloatArray]:
    return world.job_rates, world.sale_rates


Arrivals = tuple[list[FloatArray], list[FloatArray | None]]  # of orders placed now, and of those placed so far


def _learnt_deliveries(world: World, known_then: KnownThen, rng: np.random.Generator, n_paths: int) -> Arrivals:
    today = FIRST_DAY + timedelta(days=known_then.day)
    said = [terms(world, number) for number in range(len(world.scenario.suppliers))]
    posteriors = [learnt(world, known_then, number) for number in range(len(said))]
    drawn = [lead_times.lead_time_quantiles(n_paths, rng) for _ in posteriors]
    by = [world.scenario.offers[each.offer].supplier for each in known_then.placed]
    late = [
        _remaining((posteriors[n], said[n]), each, known_then.day, drawn[n])
        for n, each in zip(by, known_then.placed, strict=True)
    ]
    return [lead_times.arrivals(posteriors[n], today, today, said[n], drawn[n]) for n in range(len(said))], late


def _true_deliveries(world: World, known_then: KnownThen, rng: np.random.Generator, n_paths: int) -> Arrivals:
    late = [_true_remaining(world, each, known_then.day, (rng, n_paths)) for each in known_then.placed]
    return [each.arrives(known_then.day, each.draw(n_paths, rng)) for each in world.deliveries], late


def _true_shelves(world: World, known_then: KnownThen, _rng: np.random.Generator, n_paths: int) -> Shelves:
    needs, n_items = world.scenario.needs, len(known_then.on_hand)
    return Shelves(
        on_hand=np.repeat((known_then.true_on_hand - known_then.waiting @ needs)[:, None], n_paths, axis=1),
        needs=needs,
        beyond=np.ones((n_paths, n_items)),
        lost=np.zeros((n_paths, n_items)),
    )


def bought(problem: OrderProblem) -> list[Purchase]:
    """Buy what the basket says, for the next day on which each supplier takes orders."""
    found = basket(at_next_order_day(problem), time_limit=TIME_LIMIT)
    return [Purchase(offer=line.offer, packs=line.packs) for line in found.lines]


def terms(world: World, supplier: int) -> Terms:
    """What a supplier says of himself."""
    its = world.deliveries[supplier]
    return Terms(stated_days=its.stated, order_weekdays=ORDER_WEEKDAY, closures=its.closures)


def forecast(world: World, day: int, rng: np.random.Generator, n_paths: int) -> tuple[FloatArray, FloatArray]:
    """Sample paths of jobs and of counter sales, shapes (n_paths, n_jobs or n_items, HORIZON)."""
    jobs, sales = weekly_jobs(world, day), weekly_sales(world, day)
    sold = np.flatnonzero(sales.any(axis=0))
    use = np.concatenate([jobs, sales[:, sold]], axis=1).T
    past = use.shape[1]
    history = History(
        use=use,
        weeks=np.datetime64(FIRST_DAY) + 7 * (np.arange(past) - PAST_WEEKS),
        groups=("jobs",) * jobs.shape[1] + ("sales",) * len(sold),
        open_share=world.open_weeks[:past],
        future_open=_open_weeks(world, day),
    )
    counts = sample_paths(history, HORIZON, rng, n_paths).counts.astype(float)
    spread = np.zeros((n_paths, sales.shape[1], HORIZON))
    spread[:, sold] = counts[:, jobs.shape[1] :]
    return counts[:, : jobs.shape[1]], spread


def _open_weeks(world: World, day: int) -> FloatArray:
    """Whether the shop is open in each week ahead, shape (HORIZON,)."""
    first = PAST_WEEKS + day // 7
    known = world.open_weeks[first : first + HORIZON]
    return np.append(known, np.ones(HORIZON - len(known)))


def learnt(world: World, known_then: KnownThen, supplier: int) -> LeadTime:
    """What past and open orders teach about a supplier."""
    today = FIRST_DAY + timedelta(days=known_then.day)
    begun = FIRST_DAY - timedelta(weeks=58)
    past = [
        PastOrder(ordered=begun, received=begun + timedelta(days=round(float(days))))
        for days in world.past_leads[supplier]
    ]
    own = {
        (each.day, each.received)
        for each in known_then.placed
        if world.scenario.offers[each.offer].supplier == supplier and each.day < known_then.day
    }
    for ordered, received in sorted(own, key=lambda each: each[0]):
        came = None if received is None else FIRST_DAY + timedelta(days=received)
        past.append(PastOrder(ordered=FIRST_DAY + timedelta(days=ordered), received=came))
    return lead_times.learn(past, terms(world, supplier), today)


def _remaining(belief: tuple[LeadTime, Terms], placed: PlacedLine, day: int, drawn: FloatArray) -> FloatArray | None:
    if placed.received is not None:
        return None
    (posterior, said), start, today = belief, *(FIRST_DAY + timedelta(days=each) for each in (placed.day, day))
    if lead_times.worked_days(start, today, said) > posterior.usual_days:
        # late: a new order's fate says nothing of it any more, and one is drawn for all its lines
        drawn = lead_times.lead_time_quantiles(len(drawn), np.random.default_rng([placed.day, day, 0]))
    return lead_times.arrivals(posterior, start, today, said, drawn)


def _true_remaining(
    world: World, placed: PlacedLine, day: int, draws: tuple[np.random.Generator, int]
) -> FloatArray | None:
    if placed.received is not None:
        return None
    (rng, n_paths), supplier = draws, world.scenario.offers[placed.offer].supplier
    age = day - placed.day
    luck = np.random.default_rng([placed.day, supplier, age, int(rng.integers(1))])  # one order, one fate
    took = world.deliveries[supplier].arrives(placed.day, _true_draws(world, supplier))
    left = took[np.searchsorted(took, age, side="right") :]
    if len(left) < n_paths // 4:
        left = age + luck.exponential(world.deliveries[supplier].late_mean, n_paths)
    return luck.choice(left, n_paths) - age


@cache
def _true_draws(world: World, supplier: int) -> FloatArray:
    return np.sort(world.deliveries[supplier].draw(50_000, np.random.default_rng(supplier)))


def asked(
    world: World,
    known_then: KnownThen,
    demand: tuple[FloatArray, FloatArray],
    shelves: Shelves,
    supply: Arrivals,
) -> OrderProblem:
    """Put a review day's knowledge into the question for the basket."""
    (jobs, sales), (leads, late), needs = demand, supply, shelves.needs
    scenario, today = world.scenario, FIRST_DAY + timedelta(days=known_then.day)
    coming: dict[int, list[OnTheWay]] = {}
    for placed, days in zip(known_then.placed, late, strict=True):
        if days is not None:
            offer = scenario.offers[placed.offer]
            coming.setdefault(offer.item, []).append(OnTheWay(quantity=placed.packs * offer.pack, arrives=days))
    direct = sales.mean(axis=(0, 2))
    through = jobs.mean(axis=(0, 2)) @ needs
    items = tuple(
        OrderItem(
            name=f"material {index}",
            on_hand=shelves.on_hand[index],
            unit_cost=float(scenario.unit_cost[index]),
            coming=tuple(coming.get(index, ())),
            sales_share=float(direct[index] / max(direct[index] + through[index], 1e-9)),
            lost_margin=float(scenario.lost_margin[index]),
            shelf_days=None if np.isinf(scenario.shelf_days[index]) else float(scenario.shelf_days[index]),
            **_lots(known_then, index),
        )
        for index in range(len(direct))
    )
    use = np.einsum("pjw,jm->pmw", jobs, needs, optimize=True) * shelves.beyond[:, :, None] + sales
    use += shelves.lost[:, :, None] * _open_weeks(world, known_then.day)
    suppliers: tuple[SupplierTerms, ...] = tuple(
        replace(each, leads=days, **_order_days(world, number, today))
        for number, (each, days) in enumerate(zip(scenario.suppliers, leads, strict=True))
    )
    book = Jobs(
        names=tuple(f"job {index}" for index in range(len(needs))),
        needs=needs,
        paths=jobs,
        held_cost=scenario.held_cost,
        held_day_cost=scenario.held_day_cost,
    )
    limits = Limits(cash=world.cash)
    return OrderProblem(items=items, use=use, offers=scenario.offers, suppliers=suppliers, jobs=book, limits=limits)


def _order_days(world: World, supplier: int, today: date) -> dict[str, Any]:
    """When he takes orders, and how much longer each of them takes for his closures; an older version can't be told."""
    days = lead_times.order_days(terms(world, supplier), today, REACH_DAYS)
    if "delays" not in {each.name for each in fields(SupplierTerms)}:
        return {"order_days": days}
    its, here = world.deliveries[supplier], (today - FIRST_DAY).days
    took = [float(its.arrives(here + int(day), np.array([its.usual]))[0]) for day in days]
    return {"order_days": days, "delays": tuple(each - took[0] for each in took)}


def _lots(known_then: KnownThen, item: int) -> dict[str, Any]:
    """What is known to expire; an older version, run beside this one, can't be told."""
    if "lots" not in {each.name for each in fields(OrderItem)}:
        return {}
    return {"lots": lots_of(known_then.lots.get(item, ()))}


def lots_of(lots: Sequence[tuple[float, float]]) -> tuple[Any, ...]:
    """Write lots as the buying room has them."""
    from stockroom.buying.problem import ShelfLot

    return tuple(ShelfLot(until=until, quantity=amount) for until, amount in lots)
