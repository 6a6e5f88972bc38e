"""Textbook solvers of inventory problems: nothing of the shop's, kept to hold its sums against where one has a closed form.

Each is itself held to published examples in `tests/unit/test_textbook.py`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stockroom.buying.problem import FloatArray


def count_loss(level: float, chances: FloatArray) -> float:
    """Find the expected demand beyond a level when `chances[n]` is the chance of a demand of n."""
    demand = np.arange(len(chances))
    return float(np.maximum(demand - level, 0.0) @ chances)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """A lot size and the cost per period it leads to; `shortfall` is the part of demand backordered."""

    quantity: float
    cost: float
    shortfall: float = 0.0


def economic_lot(fee: float, holding: float, rate: float, *, backorder: float = np.inf) -> Lot:
    """Find the economic order quantity, with backorders at a cost if given.

    Parameters
    ----------
    fee : float
        Cost of an order.
    holding, backorder : float
        Per unit and period.
    rate : float
        Demand per period.

    Returns
    -------
    Lot
        Quantity and cost per period.

    Raises
    ------
    ValueError
        If a figure is not positive.

    Notes
    -----
    Harris 1913; with planned backorders ``Q = sqrt(2 K lambda (h + p) / (h p))`` (Snyder and Shen 2019, 3.2 and 3.5).
    """
    if min(fee, holding, rate, backorder) <= 0:
        raise ValueError("fee, holding, rate and backorder cost must be positive")
    short = 0.0 if np.isinf(backorder) else holding / (holding + backorder)
    quantity = float(np.sqrt(2 * fee * rate / (holding * (1 - short))))
    return Lot(quantity=quantity, cost=float(np.sqrt(2 * fee * rate * holding * (1 - short))), shortfall=short)


def lot_cost(quantity: float, fee: float, holding: float, rate: float) -> float:
    """Cost per period of ordering so much at a time."""
    return fee * rate / quantity + holding * quantity / 2


def lot_with_breaks(
    fee: float, holding_rate: float, rate: float, breaks: Sequence[tuple[float, float]], *, incremental: bool = False
) -> Lot:
    """Find the best lot when the price falls with the quantity; the cost includes the goods.

    Parameters
    ----------
    fee, holding_rate, rate : float
        Cost of an order; holding per money and period; demand per period.
    breaks : sequence of (quantity, price)
        Price from each quantity on, ascending; the first from 0.
    incremental : bool
        Whether the lower price holds only for units beyond the break, rather than for all.

    Returns
    -------
    Lot
        Quantity and cost per period.

    Notes
    -----
    Snyder and Shen 2019, 3.4: the best feasible candidate of each price region.
    """
    found: list[Lot] = []
    extra, before = 0.0, breaks[0][1]
    for place, (least, price) in enumerate(breaks):
        extra += (before - price) * least if incremental else 0.0
        before = price
        most = breaks[place + 1][0] if place + 1 < len(breaks) else np.inf
        quantity = float(np.sqrt(2 * (fee + extra) * rate / (holding_rate * price)))
        if quantity >= most and incremental:
            continue
        quantity = max(quantity, least)
        if quantity < most and not (incremental and quantity == least > 0):
            fixed = lot_cost(quantity, fee + extra, holding_rate * price, rate) + holding_rate * extra / 2
            found.append(Lot(quantity=quantity, cost=price * rate + fixed))
    return min(found, key=lambda each: each.cost)


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A stock level and its expected cost per period."""

    level: float
    cost: float


def newsvendor_counts(holding: float, penalty: float, chances: FloatArray) -> Level:
    """Find the best level for whole-number demand; `chances[n]` is the chance of n."""
    level = int(np.searchsorted(chances.cumsum(), penalty / (penalty + holding) - 1e-12))
    return Level(level=level, cost=counts_cost(level, holding, penalty, chances))


def counts_cost(level: float, holding: float, penalty: float, chances: FloatArray) -> float:
    """Cost of a level for whole-number demand."""
    short = count_loss(level, chances)
    mean = float(np.arange(len(chances)) @ chances)
    return holding * (level - mean + short) + penalty * short


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """Order from the supplier every `gap`; each item on every `every`-th occasion."""

    gap: float
    every: tuple[int, ...]
    cost: float


def joint_replenishment(fee: float, line_fees: FloatArray, holding: FloatArray, rate: FloatArray) -> Joint:
    """Find one rhythm for the items of a supplier.

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
