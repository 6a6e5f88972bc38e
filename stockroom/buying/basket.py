"""The order to place today: packs per offer with the least expected cost, and what it is measured against."""

import time
from dataclasses import dataclass, replace

import numpy as np

from stockroom.buying.packing import Remaining, carriage, orders
from stockroom.buying.plans import SearchResult, best_waiting, groups, packing_problem, search
from stockroom.buying.problem import FloatArray, IntArray, OrderProblem
from stockroom.buying.supplier_costs import SupplierCosts, supplier_costs

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
    without limits, where that does not fit.
    """

    lines: tuple[BasketLine, ...]
    orders: tuple[SupplierOrder, ...]
    cost: float
    bound: float
    cost_of_nothing: float
    found: tuple[SearchResult, ...]
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
    offered = supplier_costs(problem)
    if not offered:
        return Basket(lines=(), orders=(), cost=0.0, bound=0.0, cost_of_nothing=0.0, found=())
    found = tuple(_found(problem, group, Remaining(), deadline) for group in groups(offered))
    room = room_left(problem)
    if not room.open and _over(found, room):
        bound = sum(each.bound for each in found)
        # waiting with every supplier is always feasible, so a choice is always found
        whole = _found(problem, offered, room, max(deadline, time.monotonic() + 1.0))
        proven = max(bound, whole.bound) if bound <= whole.cost else whole.bound
        return replace(_basket(problem, (whole,), proven), free=_basket(problem, found, bound))
    return _basket(problem, found, sum(each.bound for each in found))


def saved_by_more(problem: OrderProblem, chosen: Basket, cash: float) -> float:
    """Say what so much more cash would save, goods not counted; nothing where cash is not what is short."""
    room = room_left(problem)
    if chosen.free is None or np.isinf(room.cash):
        return 0.0
    (now,) = chosen.found
    deadline = time.monotonic() + TIME_LIMIT
    then = _found(problem, now.table.all_costs, replace(room, cash=room.cash + cash), deadline, near=now)
    return max(now.cost - missed(now) - then.cost + missed(then), 0.0)


def _found(
    problem: OrderProblem,
    offered: tuple[SupplierCosts, ...],
    room: Remaining,
    deadline: float,
    near: SearchResult | None = None,
) -> SearchResult:
    """Find the best plans; who has an order of today already gets a second one only where that saves enough."""
    best = search(problem, offered, room, deadline, near)
    orders = zip(best.table.all_costs, best.plans, strict=True)
    again = {each.supplier for each, plan in orders if plan.now and problem.suppliers[each.supplier].ordered_now}
    spent = _chosen(best, best.table.spend)[np.isin(_suppliers(best), list(again))].sum()
    if not spent or problem.what_if.service is not None:
        return best
    without = tuple(replace(each, may_order=False) if each.supplier in again else each for each in offered)
    other = search(problem, without, room, max(deadline, time.monotonic() + 1.0))
    return best if other.cost - best.cost >= LEAST_SAVING * spent else replace(other, bound=best.bound)


def _suppliers(each: SearchResult) -> IntArray:
    """Give the supplier of each item's chosen option, -1 for none."""
    choice = each.packed.choice
    slot = each.table.slot[np.arange(len(each.table.slot)), 0 if choice is None else choice]
    return np.where(slot >= 0, np.array([costs.supplier for costs in each.table.all_costs])[slot], -1)


def room_left(problem: OrderProblem) -> Remaining:
    """Cash, space and litres left for this order after what is on the shelf and coming."""
    limits, wish = problem.limits, problem.what_if
    cash = min([each for each in (limits.cash, wish.cash) if each is not None], default=np.inf)
    stocked = np.array([float(np.mean(i.on_hand)) + sum(c.quantity for c in i.coming) for i in problem.items])
    space = np.array([each.space for each in problem.items]) @ stocked
    litres = np.array([each.flammable for each in problem.items]) @ stocked
    return Remaining(
        cash=cash,
        space=np.inf if limits.space is None else max(limits.space - float(space), 0.0),
        flammable=np.inf if limits.flammable is None else max(limits.flammable - float(litres), 0.0),
    )


def _chosen(each: SearchResult, values: FloatArray) -> FloatArray:
    choice = each.packed.choice
    chosen: FloatArray = values[np.arange(len(values)), 0 if choice is None else choice]
    return chosen


def _over(found: tuple[SearchResult, ...], room: Remaining) -> bool:
    cash = sum(_chosen(each, each.table.spend).sum() + _carriage(each) for each in found)
    space = sum(_chosen(each, each.table.space).sum() for each in found)
    litres = sum(_chosen(each, each.table.flammable).sum() for each in found)
    return bool((np.array([cash, space, litres]) > room.amounts + TINY).any())


def _carriage(each: SearchResult) -> float:
    if each.packed.choice is None:
        return 0.0
    return each.packed.cost - float(_chosen(each, each.table.costs(each.plans)).sum())


def _basket(problem: OrderProblem, found: tuple[SearchResult, ...], bound: float) -> Basket:
    lines = tuple(line for each in found for line in _lines(problem, each))
    made = tuple(order for each in found for order in _orders(problem, each))
    weight = sum(missed(each) for each in found)
    cost = sum(each.cost for each in found) - weight
    return Basket(
        lines=lines,
        orders=made,
        cost=cost,
        bound=min(bound - weight, cost),
        cost_of_nothing=sum(waiting_cost(each) for each in found),
        found=found,
    )


def missed(each: SearchResult) -> float:
    """Weight of the service levels that even the best basket misses: it is not money."""
    wished, plain = (each.table.costs(each.plans, wished=wish) for wish in (True, False))
    return float((_chosen(each, wished) - _chosen(each, plain)).sum())


def waiting_cost(each: SearchResult) -> float:
    """Cost of ordering nothing now, each supplier on the best of his coming order days."""
    return best_waiting(each.table, wished=False)[1]


def _lines(problem: OrderProblem, each: SearchResult) -> list[BasketLine]:
    choice = each.packed.choice
    if choice is None:
        return []
    lines = []
    for row in np.flatnonzero(choice):
        offer = int(each.table.offer[row, choice[row]])
        packs = int(each.table.counts[row, choice[row]])
        of = problem.offers[offer]
        spend = float(each.table.spend[row, choice[row]])
        lines.append(
            BasketLine(
                item=of.item, offer=offer, supplier=of.supplier, packs=packs, quantity=packs * of.pack, spend=spend
            )
        )
    return lines


def _orders(problem: OrderProblem, each: SearchResult) -> list[SupplierOrder]:
    table, choice = each.table, each.packed.choice
    setting = packing_problem(problem, table, each.plans, Remaining())
    values = orders(setting, choice if choice is not None else np.zeros(len(table.items), dtype=np.int64))
    made = []
    for slot, (costs, plan) in enumerate(zip(table.all_costs, each.plans, strict=True)):
        single = np.where(np.arange(len(values)) == slot, values, 0.0)
        made.append(
            SupplierOrder(
                supplier=costs.supplier,
                value=float(values[slot]),
                carriage=carriage(setting, single),
                next_day=float(costs.untils[plan.wait]),
                cycle_days=costs.cycle.gap_days,
                day_worth=costs.cycle.day_cost,
            )
        )
    return made
