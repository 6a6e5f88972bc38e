"""The exact finish: one option per item under carriage, minimum orders and limits, by HiGHS."""

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

import numpy as np

from stockroom.buying.packing import FREE, Packed, Packing, priced, worth
from stockroom.buying.problem import FloatArray, IntArray

if TYPE_CHECKING:
    from scipy.optimize import LinearConstraint

NEAR, NEAR_SHARE = 0.001, 1e-6  # money not worth proving of one packing, and as a part of what it saves
TINY = 1e-9


def solve(
    setting: Packing, incumbent: Packed, time_limit: float, *, prices: FloatArray = FREE, cutoff: float = np.inf
) -> Packed:
    """Prove or improve a choice with HiGHS.

    Parameters
    ----------
    setting : Packing
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
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 -- slow, and most baskets need no solver

    cutoff = min(cutoff, incumbent.cost)
    charged = priced(setting, prices).cost
    least = charged.min(axis=1, keepdims=True)
    slack = cutoff - (float(least.sum()) - float(prices[prices > 0] @ setting.room[prices > 0]))
    item, option = np.nonzero(np.isfinite(charged) & (charged - least <= slack + 1e-6))
    if len(np.unique(item)) < len(charged):
        return Packed(choice=incumbent.choice, cost=incumbent.cost, bound=max(incumbent.bound, cutoff))
    base = setting.cost.min(axis=1)
    reach = min(cutoff - float(base.sum()), 1 / TINY)  # what the solver's objective may come to
    near = max(NEAR, NEAR_SHARE * float((setting.cost[:, 0] - base).sum()))
    active = np.flatnonzero(setting.now)
    rows = _constraints(setting, item, option, active)
    cost = setting.cost[item, option] - base[item]
    objective = np.concatenate([cost, setting.terms.fees[active], np.zeros(len(active))])
    if cutoff < incumbent.cost:  # what is told as a limit too is much sooner proven to be beaten by nothing
        most = max(reach, float(objective.max()), TINY)
        rows.append(LinearConstraint(objective[None] / most, -np.inf, reach / most))
    with quiet():
        answer = milp(
            objective,
            integrality=np.ones_like(objective),
            bounds=Bounds(0, 1),
            constraints=rows,
            options={"time_limit": max(time_limit, 0.05), "mip_rel_gap": max(1e-6, near / max(reach, near))},
        )
    if answer.x is None:
        lower = cutoff if answer.status == 2 else incumbent.bound  # noqa: PLR2004 -- HiGHS: infeasible
        return Packed(choice=incumbent.choice, cost=incumbent.cost, bound=max(incumbent.bound, lower))
    proven = -np.inf if answer.mip_dual_bound is None else min(answer.mip_dual_bound + float(base.sum()), cutoff)
    lower = max(incumbent.bound, proven)
    choice = np.zeros(len(setting.cost), dtype=np.int64)
    picked = answer.x[: len(item)] > 0.5  # noqa: PLR2004 -- a binary
    choice[item[picked]] = option[picked]
    cost = worth(setting, choice)
    if cost < incumbent.cost:
        return Packed(choice=choice, cost=cost, bound=min(lower, cost))
    return Packed(choice=incumbent.choice, cost=incumbent.cost, bound=min(lower, incumbent.cost))


def _constraints(setting: Packing, item: IntArray, option: IntArray, active: IntArray) -> "list[LinearConstraint]":
    """One option an item; per supplier, whether carriage is paid and whether anything is ordered; the limits."""
    from scipy import sparse  # noqa: PLC0415 -- slow import
    from scipy.optimize import LinearConstraint  # noqa: PLC0415 -- slow import

    n_items, n_options, n_active = len(setting.cost), len(item), len(active)
    terms, slot, spend = setting.terms, setting.table.slot[item, option], setting.table.spend[item, option]
    one = sparse.csr_array(
        (np.ones(n_options), (item, np.arange(n_options))), shape=(n_items, n_options + 2 * n_active)
    )
    rows: list[FloatArray] = []
    low: list[float] = []
    weight = setting.table.weights[item, option]
    for this, supplier in zip(np.eye(n_active), active, strict=True):
        value = np.where(slot == supplier, spend, 0.0)
        most = _most(item, value, n_items)
        if not most:
            continue
        over = terms.free_over[supplier] if np.isfinite(terms.free_over[supplier]) else most + 1.0
        _at_least(rows, low, np.concatenate([-value, 0 * this, most * this]), 0.0)  # ordered, or nothing is bought
        _at_least(rows, low, np.concatenate([value, 0 * this, -terms.least[supplier] * this]), 0.0)
        heavy = np.where(slot == supplier, weight, 0.0)
        if terms.weight[supplier] > 0:
            _at_least(rows, low, np.concatenate([heavy, 0 * this, -terms.weight[supplier] * this]), 0.0)
        if terms.fees[supplier] > 0:
            _at_least(rows, low, np.concatenate([value, over * this, -over * this]), 0.0)
    fees = np.zeros((3, n_active))
    fees[0] = terms.fees[active]
    for most, use, fee in zip(setting.room, setting.table.uses[:, item, option], fees, strict=True):
        if np.isfinite(most):
            _at_least(rows, low, -np.concatenate([use, fee, 0 * fee]), -most)
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
