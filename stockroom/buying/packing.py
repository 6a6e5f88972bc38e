"""Choose one option per item under carriage, minimum orders and limits: a small mixed-integer programme."""

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from stockroom.buying.problem import FloatArray, IntArray, SupplierTerms

if TYPE_CHECKING:
    from scipy.optimize import LinearConstraint

PRICE_STEPS = 24
FILL_STEPS = 60
NEAR = 0.001  # money not worth proving of one packing
TINY = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Remaining:
    """What is left of cash, space and litres; inf where there is no limit."""

    cash: float = np.inf
    space: float = np.inf
    flammable: float = np.inf

    @property
    def open(self) -> bool:
        """Whether nothing is limited."""
        return bool(np.isinf(self.amounts).all())

    @property
    def amounts(self) -> FloatArray:
        """The three in the order of their prices."""
        return np.array([self.cash, self.space, self.flammable])

    def worth(self, prices: FloatArray) -> float:
        """Money that all of it is worth at these prices; what has no limit has no price."""
        return float(prices[prices > 0] @ self.amounts[prices > 0])


FREE = np.zeros(3)  # prices where nothing is limited


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PackingProblem:
    """Costs of options, shape (n_items, n_options), and the orders they add up to.

    `slot` is each option's supplier (-1: none); `now` the suppliers that may be ordered from; `fees` their carriage
    and `already` the goods value of other items on each order.
    """

    cost: FloatArray
    spend: FloatArray
    slot: IntArray
    space: FloatArray
    flammable: FloatArray
    suppliers: tuple[SupplierTerms, ...]
    now: tuple[bool, ...]
    room: Remaining
    already: FloatArray
    fees: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Packed:
    """A choice of option per item, its cost with carriage, and a proven lower bound; no choice if infeasible."""

    choice: IntArray | None
    cost: float
    bound: float


def orders(problem: PackingProblem, choice: IntArray) -> FloatArray:
    """Goods value ordered from each supplier."""
    rows = np.arange(len(choice))
    slot, spend = problem.slot[rows, choice], problem.spend[rows, choice]
    value = problem.already.copy()
    np.add.at(value, slot[slot >= 0], spend[slot >= 0])
    return value


def carriage(problem: PackingProblem, value: FloatArray) -> float:
    """Carriage of all orders."""
    total = 0.0
    for each, fee, worth in zip(problem.suppliers, problem.fees, value, strict=True):
        free = worth <= 0 or (each.free_over is not None and worth >= each.free_over - TINY)
        total += 0.0 if free else float(fee)
    return total


def used(problem: PackingProblem, choice: IntArray) -> FloatArray:
    """Cash with carriage, space and litres that a choice takes."""
    rows, value = np.arange(len(choice)), orders(problem, choice)
    room = problem.space[rows, choice].sum(), problem.flammable[rows, choice].sum()
    return np.array([value.sum() + carriage(problem, value), *room])


def feasible(problem: PackingProblem, choice: IntArray) -> bool:
    """Whether a choice meets minimum orders and limits."""
    pairs = zip(problem.suppliers, orders(problem, choice), strict=True)
    if any(0 < worth < each.least_order - TINY for each, worth in pairs):
        return False
    return problem.room.open or bool((used(problem, choice) <= problem.room.amounts + TINY).all())


def worth(problem: PackingProblem, choice: IntArray) -> float:
    """Cost of a choice with carriage, inf if infeasible."""
    if not feasible(problem, choice):
        return float("inf")
    chosen = problem.cost[np.arange(len(choice)), choice].sum()
    return float(chosen + carriage(problem, orders(problem, choice)))


def priced(problem: PackingProblem, prices: FloatArray) -> PackingProblem:
    """Charge for what is limited instead of limiting it (Lagrangian relaxation; Fisher 1981, from memory).

    For any prices, the least cost of the priced problem, less what the room is worth at them, is a lower bound.
    """
    cost = problem.cost
    for price, use in zip(prices, _uses(problem), strict=True):
        cost = cost + price * use if price > 0 else cost
    return replace(problem, cost=cost, fees=problem.fees * (1 + prices[0]), room=Remaining())


def relax(problem: PackingProblem) -> Packed:
    """Best choice without limits, each supplier's order topped up where that pays, and a lower bound.

    Notes
    -----
    The top-up is priced too: a multiplier on the goods value of one supplier. With one supplier to order from the
    bound is the linear relaxation's.
    """
    choice = problem.cost.argmin(axis=1)
    free = float(problem.cost.min(axis=1).sum())
    best, cost, bound = choice, worth(problem, choice), free
    active = [slot for slot, now in enumerate(problem.now) if now]
    for slot in active:
        goal = _goal(problem, slot)
        if orders(problem, best)[slot] >= goal - TINY:
            continue
        topped, lower = _top_up(problem, slot, goal - problem.already[slot])
        if len(active) == 1:
            must = orders(problem, choice)[slot] < problem.suppliers[slot].least_order - TINY
            stay = float("inf") if must else free + problem.fees[slot]
            none = float(problem.cost[:, 0].sum()) + carriage(problem, problem.already)
            bound = min(stay, lower, none)
        if topped is not None and worth(problem, topped) < cost:
            best, cost = topped, worth(problem, topped)
    return Packed(choice=best if np.isfinite(cost) else None, cost=cost, bound=min(bound, cost))


def _goal(problem: PackingProblem, slot: int) -> float:
    """Find the goods value worth reaching: the minimum order, else where carriage falls away."""
    supplier = problem.suppliers[slot]
    value = orders(problem, problem.cost.argmin(axis=1))[slot]
    if value < supplier.least_order:
        return supplier.least_order
    return supplier.free_over or 0.0 if supplier.carriage > 0 else 0.0


def _top_up(problem: PackingProblem, slot: int, goal: float) -> tuple[IntArray | None, float]:
    """Cheapest priced choice whose order reaches the goal, and the bound the prices prove."""
    value = np.where(problem.slot == slot, problem.spend, 0.0)
    rows = np.arange(len(value))
    low, high, found, bound = 0.0, 1.0, None, -np.inf
    for _ in range(PRICE_STEPS):
        price = high if found is None else (low + high) / 2
        paid = problem.cost - price * value
        choice = paid.argmin(axis=1)
        bound = max(bound, float(paid[rows, choice].sum()) + price * goal)
        if value[rows, choice].sum() >= goal - TINY:
            found, high = choice, price
        else:
            low, high = (high, high * 8) if found is None else (price, high)
        if (found is None and high > 1e5) or (found is not None and high - low < 1e-5 * high):  # noqa: PLR2004 -- beyond reach
            break
    if found is None:
        return None, np.inf
    return _trimmed(problem, found, value, goal), bound


def _trimmed(problem: PackingProblem, choice: IntArray, value: FloatArray, goal: float) -> IntArray:
    """Step single items back where the goal is still met and the cost falls."""
    rows, choice = np.arange(len(choice)), choice.copy()
    for _ in range(len(choice)):
        spare = value[rows, choice].sum() - goal
        loss = value[rows, choice][:, None] - value
        gain = problem.cost[rows, choice][:, None] - problem.cost
        gain = np.where(loss <= spare + TINY, gain, -np.inf)
        item, option = np.unravel_index(int(np.argmax(gain)), gain.shape)
        if gain[item, option] <= TINY:
            break
        choice[item] = option
    return choice


def fitted(problem: PackingProblem, choice: IntArray | None) -> Packed:
    """Repair a choice until it fits: what is over is charged more and more, then the room that is left is filled.

    A supplier whose order falls below its minimum is left out; buying nothing at all fits always.
    """
    nothing = np.zeros(len(problem.cost), dtype=np.int64)
    choice = nothing if choice is None else _charged(problem, choice)
    value = orders(problem, choice)
    small = [slot for slot, each in enumerate(problem.suppliers) if 0 < value[slot] < each.least_order - TINY]
    choice = np.where(np.isin(problem.slot[np.arange(len(choice)), choice], small), 0, choice)
    best = min((choice, nothing), key=lambda each: worth(problem, each))
    cost = worth(problem, best)
    if not np.isfinite(cost):
        return Packed(choice=None, cost=np.inf, bound=-np.inf)
    best = _filled(problem, best)
    return Packed(choice=best, cost=worth(problem, best), bound=-np.inf)


def _charged(problem: PackingProblem, choice: IntArray) -> IntArray:
    """Charge for what a choice takes too much of, until the cheapest choice fits."""
    room = problem.room.amounts
    over = used(problem, choice) > room + TINY
    weight = np.zeros_like(problem.cost)
    for too_much, most, use in zip(over, room, _uses(problem), strict=True):
        weight += use / max(most, TINY) if too_much else 0.0
    low, high = 0.0, np.inf
    for _ in range(PRICE_STEPS if over.any() else 0):
        price = max(low, 1.0) * 8 if np.isinf(high) else (low + high) / 2
        trial = (problem.cost + price * weight).argmin(axis=1)
        if (used(problem, trial) <= room + TINY).all():
            high, choice = price, trial
        else:
            low = price
    return choice


def _filled(problem: PackingProblem, choice: IntArray) -> IntArray:
    """Buy more where that pays most for the room it takes, from those who are ordered from already."""
    rows, choice = np.arange(len(choice)), choice.copy()
    uses = [u for u, most in zip(_uses(problem), problem.room.amounts, strict=True) if np.isfinite(most)]
    for _ in range(FILL_STEPS):
        spare = np.maximum(problem.room.amounts - used(problem, choice), 0.0)
        spare = spare[np.isfinite(problem.room.amounts)]
        ordered = np.append(orders(problem, choice) > 0, True)  # the last: slot -1, nothing bought
        gain = np.where(ordered[problem.slot], problem.cost[rows, choice][:, None] - problem.cost, -np.inf)
        taken = np.zeros_like(gain)
        for use, left in zip(uses, spare, strict=True):
            more = use - use[rows, choice][:, None]
            gain[more > left] = -np.inf
            taken += np.maximum(more, 0.0) / max(left, TINY)
        rate = np.where(gain > TINY, gain / (taken + TINY), -np.inf)
        item, option = np.unravel_index(int(np.argmax(rate)), rate.shape)
        trial = choice.copy()
        trial[item] = option
        if not np.isfinite(rate[item, option]) or worth(problem, trial) >= worth(problem, choice):
            break
        choice = trial
    return choice


def _uses(problem: PackingProblem) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give what the options take of each limit, in the order of the limits."""
    return problem.spend, problem.space, problem.flammable


def solve(
    problem: PackingProblem, incumbent: Packed, time_limit: float, *, prices: FloatArray = FREE, cutoff: float = np.inf
) -> Packed:
    """Prove or improve a choice with HiGHS.

    Parameters
    ----------
    problem : PackingProblem
        Options and orders.
    incumbent : Packed
        A known choice (or none) and bound.
    time_limit : float
        Seconds.
    prices : ndarray, shape (3,)
        Of what is limited: options that cannot beat what is known, whatever the others, are left out by them.
    cutoff : float
        Cost that a better choice must beat; a choice that cannot is not looked for.

    Returns
    -------
    Packed
        The better of both, with the better bound (never above the cutoff).
    """
    from scipy.optimize import Bounds, milp  # noqa: PLC0415 -- slow import, and most baskets need no solver

    cutoff = min(cutoff, incumbent.cost)
    charged = priced(problem, prices).cost
    least = charged.min(axis=1, keepdims=True)
    slack = cutoff - (float(least.sum()) - problem.room.worth(prices))
    item, option = np.nonzero(np.isfinite(charged) & (charged - least <= slack + 1e-6))
    if len(np.unique(item)) < len(charged):
        return Packed(choice=incumbent.choice, cost=incumbent.cost, bound=max(incumbent.bound, cutoff))
    base = problem.cost.min(axis=1)
    reach = min(cutoff - float(base.sum()), 1 / TINY)  # what the solver's objective may come to
    active = [s for s, now in enumerate(problem.now) if now]
    rows = _constraints(problem, item, option, active)
    with quiet():
        answer = milp(
            np.concatenate([problem.cost[item, option] - base[item], problem.fees[active], np.zeros(len(active))]),
            integrality=np.ones(len(item) + 2 * len(active)),
            bounds=Bounds(0, 1),
            constraints=rows,
            options={"time_limit": max(time_limit, 0.05), "mip_rel_gap": max(1e-6, NEAR / max(reach, NEAR))},
        )
    if answer.x is None:
        lower = cutoff if answer.status == 2 else incumbent.bound  # noqa: PLR2004 -- HiGHS: infeasible
        return Packed(choice=incumbent.choice, cost=incumbent.cost, bound=max(incumbent.bound, lower))
    proven = -np.inf if answer.mip_dual_bound is None else min(answer.mip_dual_bound + float(base.sum()), cutoff)
    lower = max(incumbent.bound, proven)
    choice = np.zeros(len(problem.cost), dtype=np.int64)
    chosen = answer.x[: len(item)] > 0.5  # noqa: PLR2004 -- a binary
    choice[item[chosen]] = option[chosen]
    cost = worth(problem, choice)
    if cost < incumbent.cost:
        return Packed(choice=choice, cost=cost, bound=min(lower, cost))
    return Packed(choice=incumbent.choice, cost=incumbent.cost, bound=min(lower, incumbent.cost))


def _constraints(
    problem: PackingProblem, item: IntArray, option: IntArray, active: list[int]
) -> "list[LinearConstraint]":
    """One option an item; per supplier, whether carriage is paid and whether anything is ordered; the limits."""
    from scipy import sparse  # noqa: PLC0415 -- slow import
    from scipy.optimize import LinearConstraint  # noqa: PLC0415 -- slow import

    n_items, n_options, n_active = len(problem.cost), len(item), len(active)
    spend, slot = problem.spend[item, option], problem.slot[item, option]
    shape = (n_items, n_options + 2 * n_active)
    one = sparse.csr_array((np.ones(n_options), (item, np.arange(n_options))), shape=shape)
    rows: list[FloatArray] = []
    low: list[float] = []
    for place, each in enumerate(active):
        supplier, this = problem.suppliers[each], np.eye(n_active)[place]
        value = np.where(slot == each, spend, 0.0)
        most = _most(item, value, n_items)
        if not most:
            continue
        over = most + 1.0 if supplier.free_over is None else supplier.free_over
        _at_least(rows, low, np.concatenate([-value, 0 * this, most * this]), 0.0)  # ordered, or nothing is bought
        _at_least(rows, low, np.concatenate([value, 0 * this, -supplier.least_order * this]), 0.0)
        if problem.fees[each] > 0:
            _at_least(rows, low, np.concatenate([value, over * this, -over * this]), 0.0)
    fees = problem.fees[active]
    for limit, use, fee in (
        (problem.room.cash, spend, fees),
        (problem.room.space, problem.space[item, option], 0 * fees),
        (problem.room.flammable, problem.flammable[item, option], 0 * fees),
    ):
        if np.isfinite(limit):
            _at_least(rows, low, -np.concatenate([use, fee, 0 * fee]), -limit)
    constraints = [LinearConstraint(one, 1, 1)]
    if rows:
        constraints.append(LinearConstraint(sparse.csr_array(np.array(rows)), low, np.inf))
    return constraints


def _most(item: IntArray, value: FloatArray, n_items: int) -> float:
    """Largest order there can be: each item at its largest."""
    most = np.zeros(n_items)
    np.maximum.at(most, item, value)
    return float(most.sum())


def _at_least(rows: list[FloatArray], low: list[float], row: FloatArray, least: float) -> None:
    """Add a row, scaled to its largest figure so that the solver's tolerances mean the same in each."""
    scale = max(float(np.abs(row).max(initial=0.0)), abs(least))
    if scale > 0:
        rows.append(row / scale)
        low.append(least / scale)


@contextmanager
def quiet() -> Iterator[None]:
    """Send what C code prints to nowhere.

    HiGHS 1.12, inside SciPy 1.17, prints a line of its own whatever its options say
    (github.com/ERGO-Code/HiGHS, issue 2783). Remove this once no supported SciPy carries it.
    """
    try:
        sys.stdout.flush()
        kept = os.dup(1)
    except (AttributeError, OSError, ValueError):  # no standard output to protect
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        _flush()
        os.dup2(nowhere, 1)
        yield
    finally:
        _flush()
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def _flush() -> None:
    """Empty C's own buffer, where the line would wait for better times."""
    with suppress(AttributeError, OSError, TypeError):
        ctypes.CDLL(None).fflush(None)
