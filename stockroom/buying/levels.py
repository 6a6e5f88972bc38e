"""Textbook ordering rules: single-item formulas that baskets and back-tests are measured against."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from stockroom.buying.problem import FloatArray


def normal_loss(level: float, mean: float, spread: float) -> float:
    """Find the expected demand beyond a level when demand is normal.

    Parameters
    ----------
    level, mean, spread : float
        In units; `spread` is the standard deviation, > 0.

    Returns
    -------
    float
        Units, >= 0.

    Notes
    -----
    ``sd * (phi(z) - z * (1 - Phi(z)))`` (Snyder and Shen 2019, appendix C).
    """
    z = (level - mean) / spread
    density = np.exp(-z * z / 2) / np.sqrt(2 * np.pi)
    return float(spread * (density - z * ndtr(-z)))


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


def newsvendor(holding: float, penalty: float, mean: float, spread: float, *, periods: float = 1.0) -> Level:
    """Find the order-up-to level for normal demand over so many periods of protection.

    Parameters
    ----------
    holding, penalty : float
        Per unit left and per unit short, > 0.
    mean, spread : float
        Demand of one period.
    periods : float
        Lead time plus review period, in periods.

    Returns
    -------
    Level
        Units and cost per period.

    Notes
    -----
    Critical ratio ``p / (p + h)`` (Arrow, Harris and Marschak 1951; Snyder and Shen 2019, 4.3).
    """
    total, deviation = mean * periods, spread * np.sqrt(periods)
    level = float(total + deviation * ndtri(penalty / (penalty + holding)))
    short = normal_loss(level, total, float(deviation))
    return Level(level=level, cost=holding * (level - total + short) + penalty * short)


def newsvendor_counts(holding: float, penalty: float, chances: FloatArray) -> Level:
    """Find the best level for whole-number demand; `chances[n]` is the chance of n."""
    level = int(np.searchsorted(chances.cumsum(), penalty / (penalty + holding) - 1e-12))
    return Level(level=level, cost=counts_cost(level, holding, penalty, chances))


def counts_cost(level: float, holding: float, penalty: float, chances: FloatArray) -> float:
    """Cost of a level for whole-number demand."""
    short = count_loss(level, chances)
    mean = float(np.arange(len(chances)) @ chances)
    return holding * (level - mean + short) + penalty * short


def safety_sigma(lead: float, lead_spread: float, rate: float, spread: float) -> float:
    """Spread of demand over a random lead time: ``sqrt(L sd^2 + d^2 sL^2)`` (Taylor, ch. 16)."""
    return float(np.hypot(np.sqrt(lead) * spread, rate * lead_spread))


def order_up_to(mean: FloatArray, spread: FloatArray, periods: FloatArray, service: float) -> FloatArray:
    """Level that lasts `periods` with chance `service` when demand is normal, per item."""
    level: FloatArray = mean * periods + ndtri(service) * spread * np.sqrt(periods)
    return level


def packs_to(position: FloatArray, low: FloatArray, high: FloatArray, pack: FloatArray) -> FloatArray:
    """Whole packs up to `high` for items whose position is below `low`: the (s, S) family of rules."""
    packs = np.ceil(np.maximum(high - position, 0.0) / pack - 1e-9)
    return np.where(position < low, np.maximum(packs, 1.0), 0.0)
