"""How often it pays to order from a supplier in the long run, and what a day of that order cycle costs."""

from dataclasses import dataclass, field

import numpy as np

from stockroom.buying.expected_cost import CoverWindows, Keep, expected
from stockroom.buying.problem import FloatArray, SupplierTerms
from stockroom.buying.shelf_futures import Penalties, StockFutures

LEVELS = (0.5, 0.7, 0.85, 0.93, 0.97, 0.99, 1.0)  # of use until the next arrival, to try as order-up-to levels


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderCycle:
    """The cheapest steady gap between two orders, and its cost per day (carriage, cycle stock, shortage).

    Of each item usually bought there, shape (n_items,): the level that an order fills it up to, mean stock, units newly
    short per day, and units short on a day. `carriage` is per day.
    """

    gap_days: float
    day_cost: float
    carriage: float = 0.0
    level: FloatArray = field(default_factory=lambda: np.zeros(0))
    stock: FloatArray = field(default_factory=lambda: np.zeros(0))
    once: FloatArray = field(default_factory=lambda: np.zeros(0))
    short: FloatArray = field(default_factory=lambda: np.zeros(0))


def carriage_on(supplier: SupplierTerms, value: float) -> float:
    """Carriage on an order of this goods value."""
    if value <= 0 or (supplier.free_over is not None and value >= supplier.free_over):
        return 0.0
    return supplier.carriage


def unpaid_carriage(supplier: SupplierTerms, usual: OrderCycle, until: float) -> float:
    """Say what of the carriage of an order after so many days isn't paid anyway: he is ordered from only so often.

    All of it with a supplier from whom nothing usually comes.
    """
    return supplier.carriage * max(1.0 - until / usual.gap_days, 0.0) if usual.level.size else supplier.carriage


def cycle(
    supplier: SupplierTerms, bare: StockFutures, span: CoverWindows, penalty: Penalties, keep: Keep
) -> OrderCycle:
    """Find the gap between orders with the least cost per day.

    Parameters
    ----------
    supplier : Supplier
        Terms.
    bare : Futures
        The items usually bought there, with nothing on hand or coming.
    span : Windows
        Candidate gaps, as waits until the next order day.
    penalty, keep : Penalties, Keep
        Money per unit short and kept, for the same items.

    Returns
    -------
    Rhythm
        Gap in days, money per day.

    Notes
    -----
    Renewal reward: the cost of one cycle over its length (Ross, *Stochastic Processes*, ch. 3, from
    memory), each item at the cheapest of a few order-up-to levels. Holding counts what the order adds to
    the stock left when it is placed, as in `curves.table`.
    """
    if not bare.items:
        return OrderCycle(gap_days=float(span.untils[0]), day_cost=0.0)
    steady = _steady(bare, span, penalty, keep)
    cycle = steady.cost.sum(axis=0)
    worth = float(bare.rate @ keep.unit_cost)
    fees = np.array([carriage_on(supplier, max(worth * until, supplier.least_order)) for until in span.untils])
    beyond = np.maximum(supplier.least_order - worth * span.untils, 0.0)
    cycle += fees + beyond * span.untils / 2 * _daily_rate(keep)
    best = int(np.argmin(cycle / span.untils))
    gap = float(span.untils[best])
    return OrderCycle(
        gap_days=gap,
        day_cost=float(cycle[best] / gap),
        carriage=float(fees[best] / gap),
        level=steady.level[:, best],
        stock=steady.held[:, best] / gap,
        once=steady.once[:, best] / gap,
        short=steady.short[:, best] / gap,
    )


def _daily_rate(keep: Keep) -> float:
    """Typical holding rate per day of value."""
    return float(keep.daily.sum() / max(keep.unit_cost.sum(), 1e-12))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Steady:
    """One cycle of each gap at the best levels, shape (n_items, n_waits): cost, level, unit-days held and short."""

    cost: FloatArray
    level: FloatArray
    held: FloatArray
    once: FloatArray
    short: FloatArray


def _steady(bare: StockFutures, span: CoverWindows, penalty: Penalties, keep: Keep) -> _Steady:
    """Price holding and shortage of one cycle at the best level."""
    until_next = np.stack([bare.used_by(arrival) for arrival in span.nexts], axis=1)
    before = bare.used_by(span.first)[:, None, None, :]
    levels = np.moveaxis(np.quantile(until_next, LEVELS, axis=2), 0, 2)
    n_levels = levels.shape[2]
    left = levels - bare.rate[:, None, None] * span.untils[None, :, None]
    amounts, net = np.concatenate([levels, left], axis=2), bare.net_within()
    days = [expected(net, weight[None], amounts[:, wait]) for wait, weight in enumerate(span.weights)]
    held = np.concatenate([each.held for each in days], axis=1)
    short = np.concatenate([each.short for each in days], axis=1)[..., :n_levels]
    closing = np.maximum(until_next[:, :, None, :] - levels[..., None], 0.0)
    opening = np.maximum(before - levels[..., None], 0.0)
    once = np.maximum(closing - opening, 0.0).mean(axis=3)
    cost = keep.daily[:, None, None] * (held[..., :n_levels] - held[..., n_levels:])
    cost += penalty.daily[:, None, None] * short + penalty.once[:, None, None] * once
    best = cost.argmin(axis=2)[:, :, None]
    picked = (np.take_along_axis(each, best, axis=2)[:, :, 0] for each in (cost, levels, held, once, short))
    return _Steady(**dict(zip(("cost", "level", "held", "once", "short"), picked, strict=True)))
