"""The order to place today: packs per offer with the least expected cost, and what it is measured against."""

import time
from dataclasses import dataclass, replace

import numpy as np

from stockroom.buying.cost_table import CostTable, cost_table
from stockroom.buying.packing import OPEN, carriage, orders, used
from stockroom.buying.problem import FloatArray, OrderProblem
from stockroom.buying.search import SearchResult, best_waiting, packing, search

TIME_LIMIT = 20.0
TINY = 1e-9
LEAST_SAVING = 0.05  # part of its goods' value that a second order of one day must save


@dataclass(frozen=True, slots=True, kw_only=True)
class BasketLine:
    """So many packs of one offer; `item`, `offer` and `supplier` are positions in the order problem."""

    item: int
    offer: int
    supplier: int
    packs: int
    quantity: float
    spend: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierOrder:
    """What is ordered from one supplier now (nothing when `value` is 0) and until when it must last."""

    supplier: int
    value: float
    carriage: float
    next_day: float  # days from now of the next planned order
    cycle_days: float  # usual gap between two orders
    day_worth: float  # what putting the whole rhythm off by a day saves


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Basket:
    """Lines to order now, the orders they make, and the expected cost with its proven bound.

    `cost` is what is expected until the next planned orders, over the long-run cost of that time; only
    differences between baskets for the same Ask mean anything. `gap` is `cost - bound`, in money. `free` is the basket
    without limits, where that does not fit. `found` is what the search found; None where nothing is offered.
    """

    lines: tuple[BasketLine, ...]
    orders: tuple[SupplierOrder, ...]
    cost: float
    bound: float
    cost_of_nothing: float
    found: SearchResult | None
    free: "Basket | None" = None

    @property
    def gap(self) -> float:
        """How much better a basket could be at the very most."""
        return max(self.cost - self.bound, 0.0)

    @property
    def value(self) -> float:
        """Goods value of all orders."""
        return sum(each.value for each in self.orders)


def basket(problem: OrderProblem, *, time_limit: float = TIME_LIMIT) -> Basket:
    """Choose what to order now.

    Parameters
    ----------
    ask : Ask
        Shelves, futures, offers, suppliers, limits and what-ifs.
    time_limit : float
        Seconds for the search; a feasible basket is returned in any case.

    Returns
    -------
    Basket
        Lines, orders, expected cost and a lower bound on it.

    Notes
    -----
    For each supplier the search compares ordering now, to last until one of his later order days, with
    waiting for one of the next order days. Within a plan an item's cost depends only on what is bought of
    it, so the plan's best packs are a multiple-choice knapsack under carriage, minimum orders and limits.
    Plans that bridge different times are compared after taking off the supplier's long-run cost per day
    (`rhythm`): ordering now pays once the risk of waiting outgrows what a day's delay of the rhythm saves.
    A supplier who has an order of today already is asked again only where that saves `LEAST_SAVING` of the goods'
    value: an item has one option here, so what a second choice from another offer would add is found only later.
    """
    deadline = time.monotonic() + time_limit
    table = cost_table(problem)
    if table is None:
        return Basket(lines=(), orders=(), cost=0.0, bound=0.0, cost_of_nothing=0.0, found=None)
    free = _found(problem, table, OPEN, deadline)
    room = room_left(problem)
    if (used(packing(problem, table, free.plans), free.choice) <= room + TINY).all():
        return _basket(problem, free)
    # waiting with every supplier is always feasible, so a choice is always found
    tight = _found(problem, table, room, max(deadline, time.monotonic() + 1.0))
    proven = max(free.bound, tight.bound) if free.bound <= tight.cost else tight.bound
    return replace(_basket(problem, replace(tight, bound=proven)), free=_basket(problem, free))


def saved_by_more(problem: OrderProblem, chosen: Basket, cash: float) -> float:
    """Say what so much more cash would save, goods not counted; nothing where cash is not what is short."""
    room, now = room_left(problem), chosen.found
    if chosen.free is None or now is None or np.isinf(room[0]):
        return 0.0
    more = room + np.array([cash, 0.0, 0.0])
    then = _found(problem, now.table, more, time.monotonic() + TIME_LIMIT, near=now)
    return max(now.cost - missed(now) - then.cost + missed(then), 0.0)


def _found(
    problem: OrderProblem, table: CostTable, room: FloatArray, deadline: float, near: SearchResult | None = None
) -> SearchResult:
    """Find the best plans; who has an order of today already gets a second one only where that saves enough."""
    best = search(problem, table, room, deadline, near)
    begun = np.array([problem.suppliers[each].ordered_now for each in table.suppliers])
    again = begun & np.array([plan.now for plan in best.plans])
    slot = best.of(table.slot).astype(np.int64)
    spent = best.of(table.spend)[(slot >= 0) & again[slot]].sum()
    if not spent or problem.what_if.service is not None:
        return best
    without = replace(table, may_order=table.may_order & ~again)
    other = search(problem, without, room, max(deadline, time.monotonic() + 1.0))
    return best if other.cost - best.cost >= LEAST_SAVING * spent else replace(other, bound=best.bound)


def room_left(problem: OrderProblem) -> FloatArray:
    """Cash, space and litres left for this order after what is on the shelf and coming; inf where there is no limit."""
    limits, wish = problem.limits, problem.what_if
    cash = min([each for each in (limits.cash, wish.cash) if each is not None], default=np.inf)
    stocked = np.array([float(np.mean(i.on_hand)) + sum(c.quantity for c in i.coming) for i in problem.items])
    space = np.array([each.space for each in problem.items]) @ stocked
    litres = np.array([each.flammable for each in problem.items]) @ stocked
    room = [cash]
    for most, taken in ((limits.space, space), (limits.flammable, litres)):
        room.append(np.inf if most is None else max(most - float(taken), 0.0))
    return np.array(room)


def _basket(problem: OrderProblem, found: SearchResult) -> Basket:
    weight = missed(found)
    cost = found.cost - weight
    return Basket(
        lines=_lines(problem, found),
        orders=_orders(problem, found),
        cost=cost,
        bound=min(found.bound - weight, cost),
        cost_of_nothing=best_waiting(found.table, wished=False)[1],
        found=found,
    )


def missed(found: SearchResult) -> float:
    """Weight of the service levels that even the best basket misses: it is not money."""
    wished, plain = (found.of(found.table.costs(found.plans, wished=wish)) for wish in (True, False))
    return float((wished - plain).sum())


def _lines(problem: OrderProblem, found: SearchResult) -> tuple[BasketLine, ...]:
    lines = []
    for row in np.flatnonzero(found.choice):
        option = row, found.choice[row]
        number, packs = int(found.table.offer[option]), int(found.table.packs[option])
        offer = problem.offers[number]
        lines.append(
            BasketLine(
                item=offer.item,
                offer=number,
                supplier=offer.supplier,
                packs=packs,
                quantity=packs * offer.pack,
                spend=float(found.table.spend[option]),
            )
        )
    return tuple(lines)


def _orders(problem: OrderProblem, found: SearchResult) -> tuple[SupplierOrder, ...]:
    table, setting = found.table, packing(problem, found.table, found.plans)
    values = orders(setting, found.choice)
    fees = carriage(setting.terms, values)
    return tuple(
        SupplierOrder(
            supplier=int(supplier),
            value=float(values[slot]),
            carriage=float(fees[slot]),
            next_day=float(table.untils[slot, found.plans[slot].wait]),
            cycle_days=float(table.gap_days[slot]),
            day_worth=float(table.day_cost[slot]),
        )
        for slot, supplier in enumerate(table.suppliers)
    )
