"""Textbook schedules: lots for known demand over time, and one order cycle for several items."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stockroom.buying.problem import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """What to order in each period, and what it costs."""

    orders: tuple[float, ...]
    cost: float


def wagner_whitin(demand: Sequence[float], fees: Sequence[float], holding: float) -> Schedule:
    """Find the cheapest lots for known demand.

    Parameters
    ----------
    demand, fees : sequence of float
        Units needed, and cost of an order, in each period.
    holding : float
        Per unit carried into the next period.

    Returns
    -------
    Schedule
        Orders per period and their cost.

    Notes
    -----
    Backward dynamic programme over the periods covered by each order (Wagner and Whitin 1958,
    *Management Science* 5, 89-96).
    """
    if len(demand) != len(fees):
        raise ValueError("one fee per period is needed")
    many = len(demand)
    best = [0.0] * (many + 1)
    until = [many] * many
    for start in reversed(range(many)):
        carried, options = 0.0, []
        for end in range(start + 1, many + 1):
            carried += holding * (end - 1 - start) * demand[end - 1]
            options.append(fees[start] + carried + best[end])
        until[start] = start + 1 + int(np.argmin(options))
        best[start] = min(options)
    orders, start = [0.0] * many, 0
    while start < many:
        orders[start] = float(sum(demand[start : until[start]]))
        start = until[start]
    return Schedule(orders=tuple(orders), cost=best[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """Order from the supplier every `gap`; each item on every `every`-th occasion."""

    gap: float
    every: tuple[int, ...]
    cost: float


def joint_replenishment(fee: float, line_fees: FloatArray, holding: FloatArray, rate: FloatArray) -> Joint:
    """Find one order cycle for the items of a supplier.

    Parameters
    ----------
    fee : float
        Cost of an order, whatever is on it.
    line_fees, holding, rate : ndarray, shape (n_items,)
        Cost of a line, holding per unit and period, demand per period.

    Returns
    -------
    Joint
        Gap in periods, multiples, cost per period.

    Notes
    -----
    Silver's heuristic: the item with the least ``a / (h d)`` on every occasion, the others on the nearest
    whole multiple (Silver 1976, *Management Science* 22; Silver, Pyke and Peterson 1998, ch. 11).
    """
    ratio = line_fees / (holding * rate)
    first = int(np.argmin(ratio))
    exact = np.sqrt(ratio * holding[first] * rate[first] / (fee + line_fees[first]))
    every = np.maximum(np.floor(exact + 0.5), 1.0)
    every[first] = 1.0
    each_time = fee + float((line_fees / every).sum())
    kept = float((every * holding * rate).sum())
    return Joint(
        gap=float(np.sqrt(2 * each_time / kept)),
        every=tuple(int(each) for each in every),
        cost=float(np.sqrt(2 * each_time * kept)),
    )
