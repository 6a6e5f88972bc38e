"""Expected cost of buying so much of an item now and no more until a later order day."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stockroom.buying.problem import FloatArray, SupplierTerms
from stockroom.buying.shelf_futures import Penalties, StockFutures

Costing = Mapping[int, FloatArray]
YEAR_DAYS = 365.0
OVERDUE = 0.7  # part of the deliveries that are quicker than what makes a shop order again


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CoverWindows:
    """Between the arrival of an order placed now and of the next one, for several next order days.

    `first` and `nexts` are arrival days, shapes (n_paths,) and (n_waits, n_paths); `weights` has shape
    (n_waits, n_paths, n_steps), the days of each step that lie between the two.
    """

    untils: FloatArray
    first: FloatArray
    nexts: FloatArray
    weights: FloatArray


def windows(supplier: SupplierTerms, untils: FloatArray, shelves: StockFutures) -> CoverWindows:
    """Time that an order placed now must bridge if the next one goes out on each of `untils`."""
    n_paths = shelves.used.shape[1]
    first = np.broadcast_to(supplier.leads, (n_paths,))
    spacing = float(untils[1] - untils[0]) if len(untils) > 1 else float(untils[0])
    later = np.roll(first, n_paths // 2)  # the next delivery's luck is not this one's
    later = np.minimum(later, ordered_again(first, spacing))
    later = np.maximum(later[None, :] + supplier.delay(untils)[:, None], 0.0)
    nexts = np.minimum(untils[:, None] + later, shelves.days)
    return CoverWindows(untils=untils, first=first, nexts=nexts, weights=days_between(shelves, first, nexts))


def ordered_again(leads: FloatArray, spacing: float) -> FloatArray:
    """Give the days by which what is overdue has been ordered again, `spacing` days later, and has come; (n_paths,)."""
    again: FloatArray = np.quantile(leads, OVERDUE) + spacing + np.roll(leads, len(leads) // 3)
    return again


def days_between(shelves: StockFutures, first: FloatArray, nexts: FloatArray) -> FloatArray:
    """Give the days of each step from an arrival, (n_paths,), to later ones, (n_waits, n_paths).

    Shape (n_waits, n_paths, n_steps).
    """
    edges = np.arange(shelves.used.shape[2]) * shelves.step_days
    low = np.maximum(edges[:-1], np.minimum(first, shelves.days)[:, None])
    days: FloatArray = np.maximum(np.minimum(edges[1:], nexts[:, :, None]) - low, 0.0)
    return days


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UnitDays:
    """Expected unit-days held and short for each next order day and amount; shape (n_items, n_waits, n_amounts)."""

    held: FloatArray
    short: FloatArray


def expected(net: FloatArray, weights: FloatArray, amounts: FloatArray, costing: Costing | None = None) -> UnitDays:
    """Average the unit-days above and below zero once an amount is added to the net stock.

    Parameters
    ----------
    net : ndarray, shape (n_items, n_paths, n_steps)
        Net stock without the amount.
    weights : ndarray, shape (n_waits, n_paths, n_steps)
        Days that each step counts.
    amounts : ndarray, shape (n_items, n_amounts)
        Amounts to try.
    costing : mapping of int to ndarray (n_paths, n_steps), optional
        For some items (by row), the part of each step's shortage that counts.

    Returns
    -------
    Expected
        Means over the paths.

    Notes
    -----
    The order-1 loss functions of the empirical distribution: what is held is what is short and the mean net stock.
    """
    n_items, n_paths, n_steps = net.shape
    n_waits, n_amounts = weights.shape[0], amounts.shape[1]
    held, short = np.empty((2, n_items, n_waits, n_amounts))
    flat_weights = weights.reshape(n_waits, n_paths * n_steps)
    counted = flat_weights.any(axis=0)
    flat_weights = flat_weights[:, counted] / n_paths
    span = flat_weights.sum(axis=1)
    for item in range(n_items):
        flat = net[item].reshape(-1)[counted]
        lacking = np.maximum(-amounts[item] - flat[:, None], 0.0)
        short[item] = flat_weights @ lacking
        held[item] = (flat_weights @ flat)[:, None] + span[:, None] * amounts[item] + short[item]
        if costing and item in costing:
            short[item] = (flat_weights * costing[item].reshape(-1)[counted]) @ lacking
    return UnitDays(held=np.maximum(held, 0.0), short=short)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ExpectedCost:
    """Expected cost parts, shape (n_items, n_waits, n_amounts), of an amount bought now and none until each wait.

    `held` counts only what the amount adds; `lasting` is the chance of not running out meanwhile.
    """

    held: FloatArray
    short: FloatArray
    expiry: FloatArray
    tail: FloatArray
    lasting: FloatArray

    @property
    def cost(self) -> FloatArray:
        """All parts together."""
        total: FloatArray = self.held + self.short + self.expiry + self.tail
        return total


def stacked(tables: Sequence[ExpectedCost]) -> ExpectedCost:
    """Join the tables of several batches of items."""
    return ExpectedCost(
        held=np.concatenate([each.held for each in tables]),
        short=np.concatenate([each.short for each in tables]),
        expiry=np.concatenate([each.expiry for each in tables]),
        tail=np.concatenate([each.tail for each in tables]),
        lasting=np.concatenate([each.lasting for each in tables]),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Keep:
    """What keeping costs, shape (n_items,) each: per unit and day, a unit's cost, life, and packs and levels."""

    daily: FloatArray
    unit_cost: FloatArray
    shelf_days: FloatArray  # inf when it keeps
    pack: FloatArray  # smallest usual pack
    level: FloatArray  # usual order-up-to position


def table(
    shelves: StockFutures,
    span: CoverWindows,
    amounts: FloatArray,
    penalty: Penalties,
    keep: Keep,
    costing: Costing | None = None,
) -> ExpectedCost:
    """Cost parts of each amount for each next order day.

    Parameters
    ----------
    shelves : Futures
        The items without the order.
    span : Windows
        Arrival of this order and the next.
    amounts : ndarray, shape (n_items, n_amounts)
        Amounts to try; zero must be the first.
    penalty : Penalties
        Money per unit short, once and daily.
    keep : Keep
        Holding and expiry figures.
    costing : mapping of int to ndarray, optional
        As in `expected`.

    Returns
    -------
    Table
        Money, each array of shape (n_items, n_waits, n_amounts).
    """
    days = expected(shelves.net_within(since=span.first), span.weights, amounts, costing)
    once, lasting = run_out(shelves, span, amounts)
    held = keep.daily[:, None, None] * (days.held - days.held[:, :, :1])
    short = penalty.daily[:, None, None] * days.short + penalty.once[:, None, None] * once
    expiry = np.broadcast_to(_expiry(shelves, amounts, keep)[:, None, :], held.shape)
    return ExpectedCost(
        held=held, short=short, expiry=expiry, tail=_tail(shelves, span, amounts, keep), lasting=lasting
    )


def run_out(shelves: StockFutures, span: CoverWindows, amounts: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Units that newly fall short before the next order arrives, and the chance that none does."""
    opening = np.maximum(-shelves.net_by(span.first)[:, None, :] - amounts[:, :, None], 0.0)
    shape = (amounts.shape[0], len(span.untils), amounts.shape[1])
    once, lasting = np.empty(shape), np.empty(shape)
    for wait, arrival in enumerate(span.nexts):
        late = arrival <= span.first  # crossed: the next order comes first
        closing = np.maximum(-shelves.net_by(arrival)[:, None, :] - amounts[:, :, None], 0.0)
        once[:, wait] = np.where(late, 0.0, np.maximum(closing - opening, 0.0)).mean(axis=2)
        lasting[:, wait] = (closing <= 0).mean(axis=2)
    return once, lasting


def short_before(shelves: StockFutures, first: FloatArray, penalty: Penalties) -> FloatArray:
    """Cost of being short before a day, (n_paths,), such as that of an order's arrival; shape (n_items,)."""
    short = np.maximum(-shelves.net_by(np.nextafter(first, -np.inf)), 0.0).mean(axis=1)
    edges = np.arange(shelves.used.shape[2]) * shelves.step_days
    weights = np.clip(first[:, None] - edges[:-1], 0.0, shelves.step_days)
    days = (np.maximum(-shelves.net_within(before=first), 0.0) * weights).sum(axis=2).mean(axis=1)
    base: FloatArray = penalty.once * short + penalty.daily * days
    return base


def _expiry(shelves: StockFutures, amounts: FloatArray, keep: Keep) -> FloatArray:
    """Cost of what the amount adds to the stock still unused when it has reached its age."""
    life = np.minimum(keep.shelf_days, 1e6)
    stretch = np.maximum(life / shelves.days, 1.0)[:, None]
    n_paths = shelves.used.shape[1]
    within = np.stack(
        [shelves.used_by(np.full(n_paths, min(each, shelves.days)))[row] for row, each in enumerate(life)]
    )
    left = shelves.position() - within * stretch
    spoilt = np.maximum(left[:, None, :] + amounts[:, :, None], 0.0).mean(axis=2)
    cost: FloatArray = keep.unit_cost[:, None] * (spoilt - spoilt[:, :1])
    return cost


def _tail(shelves: StockFutures, span: CoverWindows, amounts: FloatArray, keep: Keep) -> FloatArray:
    """Price what is left above the usual level on the next order day, held until it is used.

    What will be bought then anyway is no excess: positions are first rounded up by packs to the level.
    """
    thin = slice(None, None, max(shelves.used.shape[1] // 64, 1))
    position, n_paths = shelves.position(), shelves.used.shape[1]
    tail = np.empty((amounts.shape[0], len(span.untils), amounts.shape[1]))
    level, pack = keep.level[:, None, None], keep.pack[:, None, None]
    for wait, until in enumerate(span.untils):
        left = (position - shelves.used_by(np.full(n_paths, until)))[:, None, thin] + amounts[:, :, None]
        left += np.ceil(np.maximum(level - left, 0.0) / pack) * pack
        tail[:, wait] = (np.maximum(left - level, 0.0) ** 2).mean(axis=2)
    tail *= (keep.daily / (2 * np.maximum(shelves.rate, 1e-9)))[:, None, None]
    change: FloatArray = tail - tail[:, :, :1]
    return change
