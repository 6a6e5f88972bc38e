"""Shelves in every future if nothing more were ordered, and what being short costs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from stockroom.buying.problem import BoolArray, FloatArray, IntArray, Jobs, OrderItem, OrderProblem, ShelfLot

BATCH = 200  # items worked on at a time, to bound memory


@dataclass(frozen=True, kw_only=True, eq=False)
class StockFutures:
    """Net stock (below zero: owed to waiting work) of some items in each future.

    `items` are the items looked at; `used` has shape (n_items, n_paths, n_steps + 1), cumulative use at
    the edges of the steps.
    """

    items: tuple[OrderItem, ...]
    used: FloatArray
    step_days: float

    @cached_property
    def days(self) -> float:
        """How far the futures reach."""
        return float((self.used.shape[2] - 1) * self.step_days)

    @cached_property
    def rate(self) -> FloatArray:
        """Mean use per day, shape (n_items,)."""
        mean: FloatArray = self.used[:, :, -1].mean(axis=1) / self.days
        return mean

    @cached_property
    def spoils(self) -> dict[int, tuple[FloatArray, FloatArray]]:
        """Find what spoils of the lots on hand, by item: their last days, and how much in all by then in each future.

        Shapes (n_lots,) and (n_lots, n_paths), the latter never falls.

        Notes
        -----
        The first to expire is used first. With A_k on hand in the first k lots, U(t) used by t and e_k the last day of
        lot k, V_k = max(V_{k-1}, A_k - U(e_k)) is spoilt by then: lot k loses what of it neither use nor earlier
        spoiling has taken, A_k - V_{k-1} - U(e_k) where that is above zero. What is bought later is used later, so
        that it changes nothing of this. What lasts beyond the futures is not looked at.
        """
        found: dict[int, tuple[FloatArray, FloatArray]] = {}
        for row, item in enumerate(self.items):
            until = np.array([each.until for each in item.lots])
            if not (until <= self.days).any():
                continue
            first = np.array([self.used_of(row, max(each, 0.0)) for each in until[until <= self.days]])
            there = np.maximum(item.on_hand, 0.0) * shares_by(item.lots)[: len(first), None]
            found[row] = until[: len(first)], np.maximum.accumulate(np.maximum(there - first, 0.0), axis=0)
        return found

    def used_of(self, row: int, day: float) -> FloatArray:
        """Use of one item up to a day, shape (n_paths,)."""
        place = min(day / self.step_days, float(self.used.shape[2] - 1))
        whole = min(int(place), self.used.shape[2] - 2)
        low, high = self.used[row, :, whole], self.used[row, :, whole + 1]
        by: FloatArray = low + (high - low) * (place - whole)
        return by

    def spoilt_by(self, row: int, day: FloatArray) -> FloatArray:
        """Say what of an item has spoilt by a day, shape (n_paths,), or (n_paths, …) as `day` broadcasts to."""
        lost = np.zeros(np.broadcast_shapes(np.shape(day), (self.used.shape[1],) + (1,) * (np.ndim(day) - 1)))
        until, spoilt = self.spoils.get(row, ((), ()))
        for last, much in zip(until, spoilt, strict=True):
            lost = np.where(np.asarray(day) >= last, much.reshape(-1, *[1] * (lost.ndim - 1)), lost)
        return lost

    def used_by(self, day: FloatArray) -> FloatArray:
        """Use up to a day that may differ from path to path, shape (n_items, n_paths)."""
        place = np.clip(day / self.step_days, 0, self.used.shape[2] - 1)
        whole = np.minimum(place.astype(np.int64), self.used.shape[2] - 2)
        paths = np.arange(self.used.shape[1])
        low, high = self.used[:, paths, whole], self.used[:, paths, whole + 1]
        by: FloatArray = low + (high - low) * (place - whole)
        return by

    def stocked_by(self, day: FloatArray) -> FloatArray:
        """On hand now and not spoilt by a day, plus what has arrived by then, shape (n_items, n_paths)."""
        n_paths = self.used.shape[1]
        stocked = np.empty((len(self.items), n_paths))
        for row, item in enumerate(self.items):
            stocked[row] = item.on_hand
            for each in item.coming:
                stocked[row] += each.quantity * (each.arrives <= day)
            if row in self.spoils:
                stocked[row] -= self.spoilt_by(row, day)
        return stocked

    def net_by(self, day: FloatArray) -> FloatArray:
        """Net stock on a day, shape (n_items, n_paths)."""
        return self.stocked_by(day) - self.used_by(day)

    def net_within(self, *, since: FloatArray | None = None, before: FloatArray | None = None) -> FloatArray:
        """Net stock in the middle of each step, shape (n_items, n_paths, n_steps).

        Where only the days since an arrival count, or those before it, shape (n_paths,), what comes with it is there
        in all of the days since and in none of the days before, though the step's middle lies on the other side.
        """
        middle = ((np.arange(self.used.shape[2] - 1) + 0.5) * self.step_days)[None, :]
        if since is not None:
            middle = np.maximum(middle, since[:, None])
        if before is not None:
            middle = np.minimum(middle, np.nextafter(before, -np.inf)[:, None])
        net: FloatArray = -(self.used[:, :, 1:] + self.used[:, :, :-1]) / 2
        for row, item in enumerate(self.items):
            net[row] += item.on_hand[:, None]
            for each in item.coming:
                net[row] += each.quantity * (each.arrives[:, None] <= middle)
            if row in self.spoils:
                net[row] -= self.spoilt_by(row, middle)
        return net

    def position(self) -> FloatArray:
        """On hand plus everything ordered, less what is known to spoil, shape (n_items, n_paths)."""
        return self.stocked_by(np.full(self.used.shape[1], np.inf))


def shares_by(lots: Sequence[ShelfLot]) -> FloatArray:
    """Share of what is on hand that lies in each lot and those before it, shape (n_lots,)."""
    amounts: FloatArray = np.cumsum([each.quantity for each in lots], dtype=np.float64)
    return amounts / max(float(amounts[-1]), 1e-12) if len(amounts) else amounts


def futures(problem: OrderProblem, which: slice | IntArray = slice(None), thin: slice = slice(None)) -> StockFutures:
    """Shelves of some items of the order problem (in some of its futures), promised jobs included."""
    use = np.moveaxis(problem.use[thin, which, :], 0, 1)
    used = np.zeros((use.shape[0], use.shape[1], use.shape[2] + 1))
    np.cumsum(use, axis=2, out=used[:, :, 1:])
    edges = np.arange(used.shape[2]) * problem.step_days
    for promise in problem.what_if.promises:
        used += promise.needs[which][:, None, None] * (edges > promise.day)
    chosen = problem.items[which] if isinstance(which, slice) else tuple(problem.items[each] for each in which)
    return StockFutures(items=tuple(_thinned(each, thin) for each in chosen), used=used, step_days=problem.step_days)


def _thinned(item: OrderItem, thin: slice) -> OrderItem:
    if thin == slice(None):
        return item
    coming = tuple(replace(each, arrives=_thin(each.arrives, thin)) for each in item.coming)
    return replace(item, on_hand=_thin(item.on_hand, thin), coming=coming)


def _thin(values: FloatArray, thin: slice) -> FloatArray:
    return values[thin] if values.size > 1 else values


def without_coming(shelves: StockFutures) -> StockFutures:
    """Empty the shelves: nothing on hand and nothing ordered."""
    bare = tuple(replace(each, on_hand=np.zeros(1), coming=()) for each in shelves.items)
    return StockFutures(items=bare, used=shelves.used, step_days=shelves.step_days)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Penalties:
    """What one unit short costs, shape (n_items,) each: once, and for every day it stays short."""

    once: FloatArray
    daily: FloatArray


def penalties(problem: OrderProblem) -> Penalties:
    """Cost of a unit short, from the jobs it holds up and the sales it loses.

    Returns
    -------
    Penalties
        Money per unit of each item.

    Notes
    -----
    A unit short holds up ``1 / need`` jobs; over the jobs that share the item, the mean weighted by use
    is ``sum(rate * cost) / sum(rate * need)``. Each missing part is charged the whole job, so the sum
    over the parts is never below the cost of the job held up (union bound), and equals it whenever one
    part is missing at a time; `stockroom.buying.joint` settles the rest.
    """
    margin = np.array([each.lost_margin for each in problem.items])
    if problem.jobs is None:
        return Penalties(once=margin, daily=np.zeros_like(margin))
    share = np.array([each.sales_share for each in problem.items])
    rate = problem.jobs.paths.mean(axis=(0, 2)) + 1e-9
    needs = problem.jobs.needs
    touched = (needs > 0).astype(np.float64)
    use = np.maximum(rate @ needs, 1e-12)
    held = (rate * problem.jobs.held_cost) @ touched / use
    waiting = (rate * problem.jobs.held_day_cost) @ touched / use
    used = needs.any(axis=0)
    share = np.where(used, share, 1.0)
    return Penalties(once=(1 - share) * held + share * margin, daily=(1 - share) * waiting)


Relief = dict[int, FloatArray]


def relief(problem: OrderProblem) -> Relief:
    """Find how much a shortage still costs where the same job lacks a part that no order can bring in time.

    Parameters
    ----------
    ask : Ask
        Shelves, jobs and suppliers.

    Returns
    -------
    dict of int to ndarray
        Per affected item an array of shape (n_paths, n_steps) in [0, 1]; items not named cost in full.

    Notes
    -----
    A job waits for its last part: its cost is the largest, not the sum, over its missing parts. Charging
    each missing part in full is a bound from above (a sum is never below its largest term), and exact
    while one part is missing at a time. Where a part is short before anything ordered now can arrive, the
    job's days are lost whatever is bought, so the bound stays valid when the other parts are let off.
    """
    if problem.jobs is None:
        return {}
    doomed = _doomed(problem)
    if not doomed:
        return {}
    touched = problem.jobs.needs > 0
    weight = (problem.jobs.paths.mean(axis=(0, 2)) + 1e-9) * problem.jobs.held_day_cost
    found: Relief = {}
    for item in np.flatnonzero(touched[touched[:, list(doomed)].any(axis=1)].any(axis=0)):
        let_off = _let_off(problem.jobs, weight, int(item), doomed)
        if let_off is not None:
            found[int(item)] = 1.0 - let_off
    return found


def _doomed(problem: OrderProblem) -> dict[int, BoolArray]:
    """Items short before any order could arrive: where, (n_paths, n_steps)."""
    first = np.full((len(problem.items), problem.n_paths), np.inf)
    for offer in problem.offers:
        supplier = problem.suppliers[offer.supplier]
        if supplier.order_days[0] == 0:  # whoever is left out: leaving one out must not make being short cheaper
            np.minimum(first[offer.item], supplier.leads, out=first[offer.item])
    middle = (np.arange(problem.use.shape[2]) + 0.5) * problem.step_days
    found: dict[int, BoolArray] = {}
    for start in range(0, len(problem.items), BATCH):
        net = futures(problem, slice(start, start + BATCH)).net_within()
        before = middle < first[start : start + BATCH, :, None]
        short = (net < 0) & before & np.isfinite(first[start : start + BATCH, :, None])
        for row in np.flatnonzero(short.any(axis=(1, 2))):
            found[start + int(row)] = short[row]
    return found


def _let_off(jobs: Jobs, weight: FloatArray, item: int, doomed: Mapping[int, BoolArray]) -> FloatArray | None:
    """Part of the item's daily cost that other, doomed parts already cause; None if none."""
    own = np.flatnonzero(jobs.needs[:, item] > 0)
    let_off = None
    for job, share in zip(own, weight[own] / max(float(weight[own].sum()), 1e-12), strict=True):
        others = [
            doomed[each] for each in np.flatnonzero(jobs.needs[job] > 0).tolist() if each != item and each in doomed
        ]
        if others:
            part = share * np.logical_or.reduce(others)
            let_off = part if let_off is None else let_off + part
    return let_off
