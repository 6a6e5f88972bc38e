"""Textbook solvers of inventory problems: nothing of the shop's, kept to hold its sums against where one has a closed form.

Each is itself held to published examples in `test_inventory_textbooks.py`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import optimize
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
