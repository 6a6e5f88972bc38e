"""When shelves run out, when the order must go, and which tickets are held up."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stockroom.buying.problem import FloatArray, IntArray, OnTheWay, OrderProblem
from stockroom.buying.shelf_futures import BATCH, StockFutures, futures, shares_by

BoolArray = NDArray[np.bool_]
TINY = 1e-9
ROUNDING = 1e-6  # of a day: a shelf that empties at midnight does so on the day that begins
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WorkedDays:
    """On which days ahead the shop works: `works`, shape (n_steps, days in a step), from `begins` days from now."""

    works: BoolArray
    begins: int = 0

    def of(self, days: FloatArray) -> FloatArray:
        """Put moments at which shelves fall short on worked days, in whole days from now; inf where there is none.

        Parameters
        ----------
        days : ndarray
            Days since the first step began, by use that is even over a step; inf for never.

        Notes
        -----
        A step's use falls evenly on the days worked in it, and none on the others: a shelf empties while work is
        done. Where a step has no such day, its use falls on the next one.
        """
        n_steps, long = self.works.shape
        worked = self.works.sum(axis=1)
        in_order = np.argsort(~self.works, axis=1, kind="stable")  # a step's worked days first
        every = np.flatnonzero(self.works)
        ahead = np.append(every, np.inf)[np.searchsorted(every, np.arange(n_steps) * long)]  # the next one
        within = np.where(days < n_steps * long, days, 0.0)
        step = (within // long).astype(np.intp)
        part = within % long / long * worked[step] + ROUNDING
        place = np.minimum(part, np.maximum(worked[step] - 1, 0)).astype(np.intp)
        day = np.where(worked[step] > 0, step * long + in_order[step, place], ahead[step])
        return np.where(days < n_steps * long, self.begins + day, np.inf)


def runouts(problem: OrderProblem, worked: WorkedDays | None = None) -> RunOuts:
    """When each shelf first falls short, counting what is already on its way.

    Parameters
    ----------
    ask : Ask
        Items with what they have coming, and their use.
    worked : WorkedDays, optional
        Where given, days are whole ones on which the shop works; else use is even over all days.

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
    days = days if worked is None else worked.of(days)
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
        if row in shelves.spoils:
            stocked = stocked - shelves.spoilt_by(row, edges[None, :])
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


ACCEPT = 0.1  # share of futures that may run out before goods come


def latest_orders(problem: OrderProblem, outs: RunOuts, home: IntArray) -> FloatArray:
    """Say by when to order: the last order day from which goods still come in time in most futures, shape (n_items,).

    The one rule of every list: nobody can order before his supplier takes orders, so where all days are too late it is
    the first of them, the day the order desk gives.

    Parameters
    ----------
    ask : Ask
        Suppliers with order days and leads.
    outs : RunOuts
        Run-out days of the ask's items.
    home : ndarray of int, shape (n_items,)
        Supplier of each item, -1 for none.

    Returns
    -------
    ndarray
        Days from now; the first order day when even that is late, inf when no order is needed within the horizon
        or no one supplies the item.
    """
    latest = np.full(len(problem.items), np.inf)
    for number, supplier in enumerate(problem.suppliers):
        own = np.flatnonzero(home == number)
        if not len(own):
            continue
        slack = np.quantile(outs.days[own] - supplier.leads, ACCEPT, axis=1, method="lower")
        days = np.array(supplier.order_days)
        place = np.maximum(np.searchsorted(days, np.maximum(slack, 0.0), side="right") - 1, 0)
        latest[own] = np.where(np.isfinite(slack), days[place], np.inf)
    return latest


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Booked:
    """A ticket taken in and not finished: what it needs and the day it is planned for."""

    name: str
    needs: FloatArray  # shape (n_items,)
    day: float  # days from now


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeldUp:
    """Chance that a ticket is held up on its day, and the item most often to blame (-1: none).

    `short`, shape (n_paths,), says in which futures it is.
    """

    name: str
    chance: float
    item: int
    short: BoolArray


def held_up(problem: OrderProblem, booked: Sequence[Booked]) -> tuple[HeldUp, ...]:
    """Chance that each open ticket lacks a part on its day.

    Earlier days are served first, tickets of one day in the order given; parts are looked at together
    in each future, so a shelf that two tickets share is used once.
    """
    found: dict[int, HeldUp] = {}
    taken = np.zeros(len(problem.items))
    spoils = _Spoils(problem)
    for place in sorted(range(len(booked)), key=lambda each: booked[each].day):
        ticket = booked[place]
        spoils.until(ticket.day, taken)
        taken = taken + ticket.needs
        short = _stocked(problem, ticket.day) - spoils.lost + 1e-9 < taken[:, None]
        short &= (ticket.needs > 0)[:, None]
        blame = short.mean(axis=1)
        item = int(np.argmax(blame)) if blame.any() else -1
        lacks: BoolArray = np.any(short, axis=0)
        found[place] = HeldUp(name=ticket.name, chance=float(lacks.mean()), item=item, short=lacks)
    return tuple(found[place] for place in range(len(booked)))


def _stocked(problem: OrderProblem, day: float) -> FloatArray:
    bare = np.zeros((len(problem.items), problem.n_paths, 2))
    items = tuple(replace(each, lots=()) for each in problem.items)
    return StockFutures(items=items, used=bare, step_days=1.0).stocked_by(np.full(problem.n_paths, day))


class _Spoils:
    """What lots lose as the days go by and tickets take what expires first; `lost` has shape (n_items, n_paths)."""

    def __init__(self, problem: OrderProblem) -> None:
        self.lost = np.zeros((len(problem.items), problem.n_paths))
        self._coming = sorted(
            (
                (lot.until, n, np.maximum(item.on_hand, 0.0) * share)
                for n, item in enumerate(problem.items)
                for lot, share in zip(item.lots, shares_by(item.lots), strict=True)
            ),
            key=lambda each: each[:2],
            reverse=True,
        )

    def until(self, day: float, taken: FloatArray) -> None:
        """Let all spoil that does by a day, where so much was taken before."""
        while self._coming and self._coming[-1][0] <= day:
            _, item, there = self._coming.pop()
            self.lost[item] = np.maximum(self.lost[item], there - taken[item])
