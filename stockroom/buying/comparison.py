"""What the whole order is worth: against ordering nothing, and against each item's own order-up-to level."""

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from stockroom.buying.basket import Basket
from stockroom.buying.cost_table import CyclePlan, Plans, changed
from stockroom.buying.levels import order_up_to
from stockroom.buying.packing import carriage, orders
from stockroom.buying.problem import IntArray, OrderProblem
from stockroom.buying.search import SearchResult, packing
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
    found, paid = chosen.found, sum(each.carriage for each in chosen.orders)
    own = own_value = own_carriage = 0.0
    if found is not None:
        own_choice = replace(found, choice=_own_levels(problem, found))
        plans = _started(own_choice)
        setting = packing(problem, found.table, plans)
        own_carriage = float(carriage(setting.terms, orders(setting, own_choice.choice)).sum())
        own_value = float(own_choice.of(found.table.spend).sum())
        cost = float(own_choice.of(found.table.costs(plans, wished=False)).sum())
        own = cost + own_carriage - found.table.cycle(plans) - chosen.cost
    return Comparison(
        over_nothing=chosen.cost_of_nothing - chosen.cost,
        over_own_levels=own,
        own_value=own_value,
        own_carriage=own_carriage,
        value=chosen.value,
        carriage=paid,
    )


def _own_levels(problem: OrderProblem, found: SearchResult) -> IntArray:
    """Option of each item that brings its position to its own level, from its usual supplier."""
    table = found.table
    shelves = futures(problem, table.items)
    weekly = np.diff(shelves.used, axis=2)
    mean, spread = weekly.mean(axis=(1, 2)), weekly.std(axis=(1, 2))
    level = order_up_to(mean, spread, (table.leads[table.home] + problem.review_days) / problem.step_days, OWN_SERVICE)
    short = table.may_order[table.home] & (table.position < level)
    need = np.where(short, level - table.position, 0.0)
    usual = (table.slot == table.home[:, None]) & (table.packs > 0)
    enough = np.where(usual & (table.amounts >= need[:, None] - 1e-9), table.amounts, np.inf)
    most = np.where(usual, table.amounts, -np.inf).argmax(axis=1)
    option = np.where(np.isfinite(enough).any(axis=1), enough.argmin(axis=1), most)
    return np.where(need > 0, option, 0)


def _started(found: SearchResult) -> Plans:
    """Order now from the suppliers of these options, and again when that is best for them; wait with the others.

    Held to the time that the basket lasts, the levels would pay for shelves that nobody leaves empty for so long.
    """
    ordered = set(found.of(found.table.slot).tolist())
    plans: Plans = tuple(CyclePlan(now=slot in ordered, wait=0) for slot in range(len(found.plans)))
    for slot, plan in enumerate(plans):
        if plan.now:
            tried = [changed(plans, slot, each) for each in found.table.plans(slot) if each.now]
            plans = min(tried, key=partial(_lasting_cost, found), default=plans)
    return plans


def _lasting_cost(found: SearchResult, plans: Plans) -> float:
    return float(found.of(found.table.costs(plans, wished=False)).sum()) - found.table.cycle(plans)
