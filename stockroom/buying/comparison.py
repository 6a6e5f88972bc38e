"""What the whole order is worth: against ordering nothing, and against each item's own textbook level."""

from dataclasses import dataclass

import numpy as np

from stockroom.buying.ask import Ask, IntArray
from stockroom.buying.basket import Basket, missed, waiting_cost
from stockroom.buying.board import Plan
from stockroom.buying.futures import futures
from stockroom.buying.levels import order_up_to
from stockroom.buying.packing import Shelfroom, carriage, orders
from stockroom.buying.plans import Found, problem

OWN_SERVICE = 0.95  # the textbook level that the whole order is compared with


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What the basket is expected to save against ordering nothing and against each item's own textbook level."""

    over_nothing: float
    over_own_levels: float
    own_value: float
    own_carriage: float
    value: float
    carriage: float


def compare(ask: Ask, chosen: Basket) -> Comparison:
    """Set the basket against ordering nothing and against ordering each item to its own 95 per cent level."""
    nothing = own = own_value = own_carriage = 0.0
    for each in chosen.found:
        cost = each.cost - missed(each)
        nothing += waiting_cost(each) - cost
        options = _own_levels(ask, each)
        plans = _started(each, options)
        setting = problem(ask, each.board, plans, Shelfroom())
        rows = np.arange(len(options))
        fee = carriage(setting, orders(setting, options))
        spent = float(each.board.costs(plans, wished=False)[rows, options].sum()) + fee
        own += spent - each.board.rhythm(plans) - cost
        own_value += float(each.board.spend[rows, options].sum())
        own_carriage += fee
    return Comparison(
        over_nothing=nothing,
        over_own_levels=own,
        own_value=own_value,
        own_carriage=own_carriage,
        value=chosen.value,
        carriage=sum(each.carriage for each in chosen.orders),
    )


def _own_levels(ask: Ask, found: Found) -> IntArray:
    """Option of each item that brings its position to its own level, from its usual supplier."""
    table = found.board
    shelves = futures(ask, table.items)
    weekly = np.diff(shelves.used, axis=2)
    mean, spread = weekly.mean(axis=(1, 2)), weekly.std(axis=(1, 2))
    leads = np.array([sheet.lead for sheet in table.sheets])[table.home]
    level = order_up_to(mean, spread, (leads + ask.review_days) / ask.step_days, OWN_SERVICE)
    may = np.array([sheet.may_order for sheet in table.sheets])
    need = np.where(may[table.home] & (table.position < level), level - table.position, 0.0)
    usual = (table.slot == table.home[:, None]) & (table.counts > 0)
    enough = np.where(usual & (table.amounts >= need[:, None] - 1e-9), table.amounts, np.inf)
    most = np.where(usual, table.amounts, -np.inf).argmax(axis=1)
    option = np.where(np.isfinite(enough).any(axis=1), enough.argmin(axis=1), most)
    return np.where(need > 0, option, 0)


def _started(found: Found, options: IntArray) -> tuple[Plan, ...]:
    """Order now from the suppliers of these options, as long as the basket would last; wait with the others."""
    ordered = set(found.board.slot[np.arange(len(options)), options].tolist())
    return tuple(
        Plan(now=True, wait=plan.wait if plan.now else 0) if slot in ordered else Plan(now=False, wait=0)
        for slot, plan in enumerate(found.plans)
    )
