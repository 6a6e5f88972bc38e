"""Choose one option per item under carriage, minimum orders and limits: a small mixed-integer programme."""

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from stockroom.buying.problem import FloatArray, IntArray, SupplierTerms

PRICE_STEPS = 24


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Remaining:
    """What is left of cash, space and litres; inf where there is no limit."""

    cash: float = np.inf
    space: float = np.inf
    flammable: float = np.inf

    @property
    def open(self) -> bool:
        """Whether nothing is limited."""
        return bool(np.isinf([self.cash, self.space, self.flammable]).all())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PackingProblem:
    """Costs of options, shape (n_items, n_options), and the orders they add up to.

    `slot` is each option's supplier (-1: none); `now` the suppliers ordered from; `already` the goods
    value of other items on each order.
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
    for each, worth in zip(problem.suppliers, value, strict=True):
        free = worth <= 0 or (each.free_over is not None and worth >= each.free_over - 1e-9)
        total += 0.0 if free else each.carriage
    return total


def feasible(problem: PackingProblem, choice: IntArray) -> bool:
    """Whether a choice meets minimum orders and limits."""
    rows, value = np.arange(len(choice)), orders(problem, choice)
    pairs = zip(problem.suppliers, value, strict=True)
    if any(0 < worth < each.least_order - 1e-9 for each, worth in pairs):
        return False
    room = problem.room
    return bool(
        value.sum() + carriage(problem, value) <= room.cash + 1e-9
        and problem.space[rows, choice].sum() <= room.space + 1e-9
        and problem.flammable[rows, choice].sum() <= room.flammable + 1e-9
    )


def worth(problem: PackingProblem, choice: IntArray) -> float:
    """Cost of a choice with carriage, inf if infeasible."""
    if not feasible(problem, choice):
        return float("inf")
    chosen = problem.cost[np.arange(len(choice)), choice].sum()
    return float(chosen + carriage(problem, orders(problem, choice)))


def relax(problem: PackingProblem) -> Packed:
    """Best choice without limits, each supplier's order topped up where that pays, and a lower bound.

    Notes
    -----
    The top-up is priced: a multiplier on the goods value of one supplier (Lagrangian relaxation; Fisher
    1981, from memory). With one supplier ordered from and no limits the bound is the linear relaxation's.
    """
    choice = problem.cost.argmin(axis=1)
    free = float(problem.cost.min(axis=1).sum())
    best, cost, bound = choice, worth(problem, choice), free
    active = [slot for slot, now in enumerate(problem.now) if now]
    for slot in active:
        goal = _goal(problem, slot)
        if orders(problem, best)[slot] >= goal - 1e-9:
            continue
        topped, lower = _top_up(problem, slot, goal - problem.already[slot])
        if len(active) == 1:
            must = orders(problem, choice)[slot] < problem.suppliers[slot].least_order - 1e-9
            stay = float("inf") if must else free + problem.suppliers[slot].carriage
            bound = min(stay, lower)
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
        priced = problem.cost - price * value
        choice = priced.argmin(axis=1)
        bound = max(bound, float(priced[rows, choice].sum()) + price * goal)
        if value[rows, choice].sum() >= goal - 1e-9:
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
        gain = np.where(loss <= spare + 1e-9, gain, -np.inf)
        item, option = np.unravel_index(int(np.argmax(gain)), gain.shape)
        if gain[item, option] <= 1e-9:  # noqa: PLR2004 -- nothing left to win
            break
        choice[item] = option
    return choice


def solve(problem: PackingProblem, incumbent: Packed, time_limit: float) -> Packed:
    """Prove or improve a choice with HiGHS.

    Parameters
    ----------
    problem : Problem
        Options and orders.
    incumbent : Packed
        A known choice (or none) and bound; options that cannot beat it are left out.
    time_limit : float
        Seconds.

    Returns
    -------
    Packed
        The better of both, with the better bound.
    """
    keep = np.isfinite(problem.cost)
    slack = incumbent.cost - problem.cost.min(axis=1).sum()
    keep &= problem.cost - problem.cost.min(axis=1, keepdims=True) <= slack + 1e-6
    item, option = np.nonzero(keep)
    active = [slot for slot, now in enumerate(problem.now) if now]
    rows = _constraints(problem, item, option, active)
    paid = np.array([problem.suppliers[slot].carriage for slot in active])
    with quiet():
        answer = milp(
            np.concatenate([problem.cost[item, option], paid]),
            integrality=np.ones(len(item) + len(active)),
            bounds=Bounds(0, 1),
            constraints=rows,
            options={"time_limit": max(time_limit, 0.05), "mip_rel_gap": 1e-6},
        )
    lower = incumbent.bound if answer.mip_dual_bound is None else max(incumbent.bound, answer.mip_dual_bound)
    if answer.x is None:
        infeasible = answer.status == 2 and incumbent.choice is None  # noqa: PLR2004 -- HiGHS: infeasible
        return Packed(choice=incumbent.choice, cost=incumbent.cost, bound=np.inf if infeasible else incumbent.bound)
    choice = np.zeros(len(problem.cost), dtype=np.int64)
    chosen = answer.x[: len(item)] > 0.5  # noqa: PLR2004 -- a binary
    choice[item[chosen]] = option[chosen]
    cost = worth(problem, choice)
    if cost < incumbent.cost:
        return Packed(choice=choice, cost=cost, bound=min(lower, cost))
    return Packed(choice=incumbent.choice, cost=incumbent.cost, bound=min(lower, incumbent.cost))


def _constraints(
    problem: PackingProblem, item: IntArray, option: IntArray, active: list[int]
) -> list[LinearConstraint]:
    n_items, n_options = len(problem.cost), len(item)
    spend, slot = problem.spend[item, option], problem.slot[item, option]
    one = sparse.csr_array((np.ones(n_options), (item, np.arange(n_options))), shape=(n_items, n_options + len(active)))
    rows: list[FloatArray] = []
    low: list[float] = []
    for place, each in enumerate(active):
        supplier, paid = problem.suppliers[each], np.eye(len(active))[place]
        value = np.where(slot == each, spend, 0.0)
        _at_least(rows, low, np.concatenate([value, 0 * paid]), supplier.least_order)
        if supplier.carriage > 0:
            over = supplier.free_over if supplier.free_over is not None else value.sum() + 1.0
            _at_least(rows, low, np.concatenate([value, over * paid]), over)
    fees = np.array([problem.suppliers[each].carriage for each in active])
    for limit, use, fee in (
        (problem.room.cash, spend, fees),
        (problem.room.space, problem.space[item, option], 0 * fees),
        (problem.room.flammable, problem.flammable[item, option], 0 * fees),
    ):
        if np.isfinite(limit):
            _at_least(rows, low, -np.concatenate([use, fee]), -limit)
    constraints = [LinearConstraint(one, 1, 1)]
    if rows:
        constraints.append(LinearConstraint(sparse.csr_array(np.array(rows)), low, np.inf))
    return constraints


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
