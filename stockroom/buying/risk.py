"""When shelves run out, when the order must go, which tickets are held up, and how many jobs are left."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stockroom.buying.problem import FloatArray, IntArray, OnTheWay, OrderProblem
from stockroom.buying.shelf_futures import BATCH, StockFutures, futures

TINY = 1e-9
SPREAD = (0.1, 0.5, 0.9)  # an 80% range and its middle


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunOuts:
    """Run-outs of all items if nothing more is ordered.

    `chance` has shape (n_items, n_steps): of having run out by the end of each step; never falls. The
    days, shape (n_items,), are days from now, inf beyond the horizon. `days` holds every future's own
    first day short, shape (n_items, n_paths).
    """

    chance: FloatArray
    early: FloatArray
    median: FloatArray
    late: FloatArray
    days: FloatArray


def runouts(problem: OrderProblem) -> RunOuts:
    """When each shelf first falls short, counting what is already on its way.

    Parameters
    ----------
    ask : Ask
        Items with what they have coming, and their use.

    Returns
    -------
    RunOuts
        Chances in [0, 1] and days >= 0.

    Notes
    -----
    Empirical first passage of the net stock below zero, looked for at the end of each step and just
    before each arrival; within a step use is taken as even.
    """
    starts = range(0, len(problem.items), BATCH)
    parts = [first_short(futures(problem, slice(start, start + BATCH))) for start in starts]
    days = np.concatenate(parts) if parts else np.empty((0, problem.n_paths))
    ends = (np.arange(problem.use.shape[2]) + 1.0) * problem.step_days
    chance = np.stack([(days <= end).mean(axis=1) for end in ends], axis=1)
    early, median, late = (np.quantile(days, part, axis=1, method="higher") for part in SPREAD)
    return RunOuts(chance=chance, early=early, median=median, late=late, days=days)


def first_short(shelves: StockFutures) -> FloatArray:
    """First day short in each future, inf if none, shape (n_items, n_paths)."""
    n_items, n_paths, n_edges = shelves.used.shape
    edges: FloatArray = np.arange(n_edges, dtype=np.float64) * shelves.step_days
    first = np.full((n_items, n_paths), np.inf)
    paths = np.arange(n_paths)
    for row, item in enumerate(shelves.items):
        stocked: FloatArray = np.broadcast_to(item.on_hand, (n_paths,))[:, None] + _arrived(item.coming, edges, n_paths)
        short = shelves.used[row] > stocked + 1e-9
        step = np.maximum(short.argmax(axis=1), 1)
        crossed = stocked[paths, step]
        used, before = shelves.used[row, paths, step], shelves.used[row, paths, step - 1]
        part = np.clip((crossed - before) / np.maximum(used - before, 1e-12), 0.0, 1.0)
        day = (step - 1 + part) * shelves.step_days
        first[row] = np.where(short.any(axis=1), day, np.inf)
        first[row] = np.minimum(first[row], _before_arrivals(shelves, row))
    return first


def _arrived(coming: Sequence[OnTheWay], edges: FloatArray, n_paths: int) -> FloatArray:
    total = np.zeros((n_paths, len(edges)))
    for each in coming:
        total += each.quantity * (each.arrives[:, None] <= edges)
    return total


def _before_arrivals(shelves: StockFutures, row: int) -> FloatArray:
    """First arrival day on which the shelf is already short, inf if none."""
    n_paths = shelves.used.shape[1]
    first = np.full(n_paths, np.inf)
    one = StockFutures(items=(shelves.items[row],), used=shelves.used[row : row + 1], step_days=shelves.step_days)
    for each in one.items[0].coming:
        day = np.broadcast_to(each.arrives, n_paths)
        just_before = np.nextafter(day, -np.inf)
        lack = -one.net_by(just_before)[0]
        behind = lack / max(float(one.rate[0]), 1e-12)
        first = np.minimum(first, np.where((lack > TINY) & (day < shelves.days), np.maximum(day - behind, 0.0), np.inf))
    return first


def latest_orders(problem: OrderProblem, outs: RunOuts, home: IntArray, *, accept: float = 0.1) -> FloatArray:
    """Last order day on which an order still comes in time in most futures, shape (n_items,).

    Parameters
    ----------
    ask : Ask
        Suppliers with order days and leads.
    outs : RunOuts
        Run-out days of the ask's items.
    home : ndarray of int, shape (n_items,)
        Supplier of each item, -1 for none.
    accept : float
        Share of futures allowed to run out first.

    Returns
    -------
    ndarray
        Days from now; 0 when even today is late, inf when no order is needed within the horizon or
        no one supplies the item.
    """
    latest = np.full(len(problem.items), np.inf)
    for number, supplier in enumerate(problem.suppliers):
        own = np.flatnonzero(home == number)
        if not len(own):
            continue
        slack = np.quantile(outs.days[own] - supplier.leads, accept, axis=1, method="lower")
        days = np.array(supplier.order_days)
        place = np.maximum(np.searchsorted(days, np.maximum(slack, 0.0), side="right") - 1, 0)
        latest[own] = np.where(np.isfinite(slack), np.where(slack < days[0], 0.0, days[place]), np.inf)
    return latest


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Booked:
    """A ticket taken in and not finished: what it needs and the day it is planned for."""

    name: str
    needs: FloatArray  # shape (n_items,)
    day: float  # days from now


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldUp:
    """Chance that a ticket is held up on its day, and the item most often to blame (-1: none)."""

    name: str
    chance: float
    item: int


def held_up(problem: OrderProblem, booked: Sequence[Booked]) -> tuple[HeldUp, ...]:
    """Chance that each open ticket lacks a part on its day.

    Earlier days are served first, tickets of one day in the order given; parts are looked at together
    in each future, so a shelf that two tickets share is used once.
    """
    found: dict[int, HeldUp] = {}
    taken = np.zeros(len(problem.items))
    for place in sorted(range(len(booked)), key=lambda each: booked[each].day):
        ticket = booked[place]
        taken = taken + ticket.needs
        short = _stocked(problem, ticket.day) + 1e-9 < taken[:, None]
        short &= (ticket.needs > 0)[:, None]
        blame = short.mean(axis=1)
        item = int(np.argmax(blame)) if blame.any() else -1
        found[place] = HeldUp(name=ticket.name, chance=float(short.any(axis=0).mean()), item=item)
    return tuple(found[place] for place in range(len(booked)))


def _stocked(problem: OrderProblem, day: float) -> FloatArray:
    bare = np.zeros((len(problem.items), problem.n_paths, 2))
    return StockFutures(items=problem.items, used=bare, step_days=1.0).stocked_by(np.full(problem.n_paths, day))


@dataclass(frozen=True, slots=True, kw_only=True)
class CanDo:
    """How many more of a job the shelf allows: in nine futures of ten, usually, and what ends it (-1: nothing)."""

    surely: int
    usually: int
    item: int


def can_do(problem: OrderProblem, needs: FloatArray) -> tuple[CanDo, ...]:
    """For each job (row of `needs`, shape (n_jobs, n_items)) how many more could be done with what is on hand."""
    on_hand = np.stack([np.broadcast_to(each.on_hand, problem.n_paths) for each in problem.items])
    return tuple(_can_do(row, np.maximum(on_hand, 0.0)) for row in needs)


def _can_do(needs: FloatArray, on_hand: FloatArray) -> CanDo:
    parts = np.flatnonzero(needs > 0)
    if not len(parts):
        return CanDo(surely=0, usually=0, item=-1)
    times = np.floor(on_hand[parts] / needs[parts, None] + 1e-9)
    most = times.min(axis=0)
    blame = parts[int(np.argmin(times.mean(axis=1)))]
    low, middle = np.quantile(most, [0.1, 0.5], method="lower")
    return CanDo(surely=int(low), usually=int(middle), item=int(blame))
