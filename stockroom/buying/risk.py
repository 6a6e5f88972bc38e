"""When shelves run out, when the order must go, and which tickets are held up."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stockroom.buying.problem import BoolArray, FloatArray, IntArray, OnTheWay, OrderProblem
from stockroom.buying.shelf_futures import BATCH, StockFutures, futures, shares_by

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

    def behind(self, days: FloatArray) -> FloatArray:
        """Put the mornings of days, from now, where as much of a step lies behind as of its use: `of` turned round."""
        n_steps, long = self.works.shape
        ahead = np.maximum(np.floor(days + TINY) - self.begins, 0.0)
        within = np.where(ahead < n_steps * long, ahead, 0.0).astype(np.intp)
        step, gone = within // long, within % long
        worked = np.pad(self.works.cumsum(axis=1), ((0, 0), (1, 0)))
        part = np.where(worked[step, -1] > 0, worked[step, gone] / np.maximum(worked[step, -1], 1), 0.0)
        behind: FloatArray = np.where(ahead < n_steps * long, (step + part) * long, ahead)
        return behind


def runouts(problem: OrderProblem, worked: WorkedDays | None = None) -> RunOuts:
    """When each shelf first falls short, counting what is already on its way.

    Parameters
    ----------
    problem : OrderProblem
        Items with what they have coming, and their use.
    worked : WorkedDays, optional
        Where given, days are whole ones on which the shop works; else use is even over all days.

    Returns
    -------
    RunOuts
        Chances in [0, 1] and days >= 0.

    Notes
    -----
    Empirical first passage of the net stock below zero, looked for at the end of each step and just before each
    arrival. Within a step, use comes by what usually leaves at one go, evenly from a moment drawn for each future:
    an empty shelf is not short before the first job that needs it, and a parcel due on Tuesday is in time for it more
    often than not. What arrives on a day is there for the whole of its use.
    """
    starts = range(0, len(problem.items), BATCH)
    parts = [first_short(futures(problem, slice(start, start + BATCH)), worked) for start in starts]
    days = np.concatenate(parts) if parts else np.empty((0, problem.n_paths))
    ends = (np.arange(problem.use.shape[2]) + 1.0) * problem.step_days
    chance = np.stack([(days <= end).mean(axis=1) for end in ends], axis=1)
    days = days if worked is None else worked.of(days)
    early, median, late = (np.quantile(days, part, axis=1, method="higher") for part in SPREAD)
    return RunOuts(chance=chance, early=early, median=median, late=late, days=days)


def first_short(shelves: StockFutures, worked: WorkedDays | None = None) -> FloatArray:
    """First day short in each future, counted from the first step, inf if none, shape (n_items, n_paths)."""
    n_paths = shelves.used.shape[1]
    edges: FloatArray = np.arange(shelves.used.shape[2], dtype=np.float64) * shelves.step_days
    first = np.full((len(shelves.items), n_paths), np.inf)
    moment = even_draws(n_paths)
    for row, item in enumerate(shelves.items):
        on_hand: FloatArray = np.broadcast_to(item.on_hand, (n_paths,))
        coming = [(each.quantity, _behind(each, worked, n_paths)) for each in item.coming]
        there = on_hand[:, None] + _arrived(coming, edges[None, :])
        if row in shelves.spoils:
            there = there - shelves.spoilt_by(row, edges[None, :])
        short = shelves.used[row] > there + TINY
        step = np.maximum(short.argmax(axis=1), 1)
        stock = np.take_along_axis(there, step[:, None], axis=1)[:, 0]
        first[row] = np.where(short.any(axis=1), _crossed(shelves, row, step, stock, moment), np.inf)
        for _, day in coming:  # short before it comes?
            near = np.minimum(day, shelves.days)
            step = np.maximum(np.ceil(near / shelves.step_days), 1).astype(np.intp)
            before = np.nextafter(day, -np.inf)
            stock = on_hand + _arrived(coming, before[:, None])[:, 0]
            if row in shelves.spoils:
                stock = stock - shelves.spoilt_by(row, before)
            falls = _crossed(shelves, row, step, stock, moment)
            first[row] = np.where((falls < day) & (day < shelves.days), np.minimum(first[row], falls), first[row])
        first[row] = np.where(on_hand + TINY < item.overdue, 0.0, first[row])
    return first


def even_draws(n_paths: int) -> FloatArray:
    """Numbers between 0 and 1, one a future, as evenly spread as they can be and in no order."""
    return (np.random.default_rng(n_paths).permutation(n_paths) + 0.5) / n_paths


def _behind(each: OnTheWay, worked: WorkedDays | None, n_paths: int) -> FloatArray:
    days: FloatArray = np.broadcast_to(each.arrives, (n_paths,))
    return days if worked is None else worked.behind(days)


def _arrived(coming: Sequence[tuple[float, FloatArray]], by: FloatArray) -> FloatArray:
    """Add up what has arrived by some moments, (n_paths or 1, n_moments)."""
    total = np.zeros(by.shape)
    for quantity, day in coming:
        total = total + quantity * (day[:, None] <= by)
    return total


def _crossed(shelves: StockFutures, row: int, step: IntArray, stock: FloatArray, moment: FloatArray) -> FloatArray:
    """Moment of a step at which its use exceeds so much stock in each future; inf where it does not by its end.

    With u the future's own draw, the k-th of n goes of a step falls at (k - 1 + u) / n of it: on average as much has
    left by each moment as if use were even, and what is lacking is looked for at the go that is the first too many.
    What is overdue leaves before all else. What spoils flows: what a lot loses is worked out so.
    """
    paths, item = np.arange(len(stock)), shelves.items[row]
    at_once = 0.0 if row in shelves.spoils else item.at_once
    before, by = shelves.used[row, paths, step - 1], shelves.used[row, paths, step]
    before = np.where(step == 1, np.minimum(item.overdue, by), before)  # goes first
    left, use = np.maximum(stock - before, 0.0), np.maximum(by - before, TINY)
    part = left / use
    if at_once > 0:
        part = (np.floor(left / at_once + TINY) + moment) * at_once / use
    day = (step - 1 + np.clip(part, 0.0, 1.0)) * shelves.step_days
    found: FloatArray = np.where(by > stock + TINY, day, np.inf)
    return found


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
