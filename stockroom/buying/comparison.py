"""What the whole order is worth: against ordering nothing, and against each item's own order-up-to level."""

from dataclasses import dataclass

import numpy as np

from stockroom.buying.basket import Basket, missed, waiting_cost
from stockroom.buying.levels import order_up_to
from stockroom.buying.option_table import CyclePlan
from stockroom.buying.packing import Remaining, carriage, orders
from stockroom.buying.plans import SearchResult, packing_problem
from stockroom.buying.problem import IntArray, OrderProblem
from stockroom.buying.shelf_futures import futures

OWN_SERVICE = 0.95  # the textbook level that the whole order is compared with


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What the basket is expected to save against ordering nothing and against each item's own order-up-to level."""

    over_nothing: float
    over_own_levels: float
    own_value: float
    own_carriage: float
    value: float
    carriage: float


def compare(problem: OrderProblem, chosen: Basket) -> Comparison:
    """Set the basket against ordering nothing and against ordering each item to its own 95 per cent level."""
    nothing = own = own_value = own_carriage = 0.0
    for each in chosen.found:
        cost = each.cost - missed(each)
        nothing += waiting_cost(each) - cost
        options = _own_levels(problem, each)
        plans = _started(each, options)
        setting = packing_problem(problem, each.table, plans, Remaining())
        rows = np.arange(len(options))
        fee = carriage(setting, orders(setting, options))
        spent = float(each.table.costs(plans, wished=False)[rows, options].sum()) + fee
        own += spent - each.table.cycle(plans) - cost
        own_value += float(each.table.spend[rows, options].sum())
        own_carriage += fee
    return Comparison(
        over_nothing=nothing,
        over_own_levels=own,
        own_value=own_value,
        own_carriage=own_carriage,
        value=chosen.value,
        carriage=sum(each.carriage for each in chosen.orders),
    )


def _own_levels(problem: OrderProblem, found: SearchResult) -> IntArray:
    """Option of each item that brings its position to its own level, from its usual supplier."""
    table = found.table
    shelves = futures(problem, table.items)
    weekly = np.diff(shelves.used, axis=2)
    mean, spread = weekly.mean(axis=(1, 2)), weekly.std(axis=(1, 2))
    leads = np.array([costs.lead for costs in table.all_costs])[table.home]
    level = order_up_to(mean, spread, (leads + problem.review_days) / problem.step_days, OWN_SERVICE)
    may = np.array([costs.may_order for costs in table.all_costs])
    need = np.where(may[table.home] & (table.position < level), level - table.position, 0.0)
    usual = (table.slot == table.home[:, None]) & (table.counts > 0)
    enough = np.where(usual & (table.amounts >= need[:, None] - 1e-9), table.amounts, np.inf)
    most = np.where(usual, table.amounts, -np.inf).argmax(axis=1)
    option = np.where(np.isfinite(enough).any(axis=1), enough.argmin(axis=1), most)
    return np.where(need > 0, option, 0)


def _started(found: SearchResult, options: IntArray) -> tuple[CyclePlan, ...]:
    """Order now from the suppliers of these options, as long as the basket would last; wait with the others."""
    ordered = set(found.table.slot[np.arange(len(options)), options].tolist())
    return tuple(
        CyclePlan(now=True, wait=plan.wait if plan.now else 0) if slot in ordered else CyclePlan(now=False, wait=0)
        for slot, plan in enumerate(found.plans)
    )
