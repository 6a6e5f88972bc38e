"""Textbook reorder points: order a lot at a point, or up to a level; single items, for comparison."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import optimize
from scipy.special import ndtri

from stockroom.buying.levels import normal_loss
from stockroom.buying.problem import FloatArray

Loss = Callable[[float], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class PointAndLot:
    """Order `lot` whenever the position falls to `point`."""

    point: float
    lot: float


def point_lot_cost(rule: PointAndLot, fee: float, rate: float, at_level: Loss) -> float:
    """Cost per period of a continuous (r, Q) rule.

    Parameters
    ----------
    rule : PointAndLot
        Reorder point and lot.
    fee, rate : float
        Cost of an order, demand per period.
    at_level : callable
        Expected holding and shortage cost per period at a steady position.

    Returns
    -------
    float
        Money per period.

    Notes
    -----
    ``(K lambda + integral of g over (r, r + Q)) / Q``: the position is uniform over the interval (Zheng
    1992; Snyder and Shen 2019, 5.2). Simpson's rule on 400 panels.
    """
    grid = np.linspace(rule.point, rule.point + rule.lot, 801)
    values = np.array([at_level(float(each)) for each in grid])
    weights = np.ones(801)
    weights[1:-1:2], weights[2:-1:2] = 4.0, 2.0
    return float((fee * rate + weights @ values * rule.lot / 2400) / rule.lot)


def point_for(lot: float, at_level: Loss, low: float, high: float) -> float:
    """Find the reorder point that is best for a lot: the cost at both ends is equal."""
    return float(optimize.brentq(lambda point: at_level(point) - at_level(point + lot), low, high))


def normal_position_cost(holding: float, penalty: float, mean: float, spread: float) -> Loss:
    """Cost per period at a steady position when lead-time demand is normal."""

    def at_level(position: float) -> float:
        short = normal_loss(position, mean, spread)
        return holding * (position - mean + short) + penalty * short

    return at_level


def point_lot_counts_cost(point: int, lot: int, fee: float, rate: float, at_level: Loss) -> float:
    """Cost per period of a whole-number (r, Q) rule: the position is uniform on r + 1 .. r + Q."""
    return (fee * rate + sum(at_level(position) for position in range(point + 1, point + lot + 1))) / lot


def point_level_counts_cost(point: int, level: int, fee: float, chances: FloatArray, at_level: Loss) -> float:
    """Cost per period of a periodic (s, S) rule with whole-number demand.

    Parameters
    ----------
    point, level : int
        Order up to `level` when the position is at or below `point` < `level`.
    fee : float
        Cost of an order.
    chances : ndarray
        Chance of a demand of n in a period, n its index.
    at_level : callable
        Expected holding and shortage cost of a period that starts at a position.

    Returns
    -------
    float
        Money per period.

    Notes
    -----
    Renewal reward: ``(K + sum m(j) G(S - j)) / M(S - s)`` (Veinott and Wagner 1965; Zheng and Federgruen 1991, eq. 2).
    """
    span = level - point
    visits = np.zeros(span)
    visits[0] = 1 / (1 - chances[0])
    for gone in range(1, span):
        visits[gone] = chances[1 : gone + 1] @ visits[gone - 1 :: -1][:gone] / (1 - chances[0])
    kept = sum(float(visits[gone]) * at_level(level - gone) for gone in range(span))
    return float((fee + kept) / visits.sum())


def point_and_lot(
    fee: float, holding: float, penalty: float, rate: float, lead_demand: tuple[float, float]
) -> PointAndLot:
    """Find a reorder point and lot that fit each other when lead-time demand is normal.

    Parameters
    ----------
    fee, holding, penalty : float
        Cost of an order; per unit and period; per unit short.
    rate : float
        Demand per period.
    lead_demand : (float, float)
        Mean and standard deviation of demand over the lead time.

    Returns
    -------
    PointAndLot
        Units.

    Notes
    -----
    Hadley and Whitin's iteration between ``Q = sqrt(2 lambda (K + p n(r)) / h)`` and
    ``1 - F(r) = Q h / (p lambda)`` (Nahmias and Olsen, ch. 5; Snyder and Shen 2019, 5.3).
    """
    mean, spread = lead_demand
    lot, point = float(np.sqrt(2 * fee * rate / holding)), mean
    for _ in range(100):
        point = float(mean - spread * ndtri(min(lot * holding / (penalty * rate), 0.5)))
        lot, before = float(np.sqrt(2 * rate * (fee + penalty * normal_loss(point, mean, spread)) / holding)), lot
        if abs(lot - before) < 1e-9 * lot:
            break
    return PointAndLot(point=point, lot=lot)
