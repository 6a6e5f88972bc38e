"""What a year of orders is expected to come to, when, and how sure that is: orders played on the futures."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stockroom.buying.basket import Basket
from stockroom.buying.long_run import long_run
from stockroom.buying.order_rule import OrderRule, comes_on, goods_of, order_rules, paid_on, priced_on
from stockroom.buying.problem import FloatArray, IntArray, OrderProblem


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrderFuture:
    """One order of a supplier in every future, shape (n_paths,): goods and carriage (0: none), and when it comes."""

    supplier: int
    day: float  # days from now on which it is placed
    goods: FloatArray
    carriage: FloatArray
    comes: FloatArray


def year_of_orders(problem: OrderProblem, chosen: Basket, days: float) -> tuple[OrderFuture, ...]:
    """Play the orders of so many days in every future.

    Parameters
    ----------
    problem : OrderProblem
        With futures that reach beyond the days, by a supplier's lead time and a gap between orders at least.
    chosen : Basket
        Its answer: what is ordered now.
    days : float
        Orders of later days are left out.

    Notes
    -----
    Today's orders are the basket's own. From then on every future orders for itself: on each of a supplier's order days
    what lies there decides whether ordering pays, and how far an order is to last (`OrderRule.ordered`). Each item
    is bought where it is cheapest for long, in whole packs, and at the lot that pays for long. What an order costs is
    worked out with the price in force on its day, as far as one is announced.
    """
    rules = order_rules(problem, *long_run(problem))
    bought = np.zeros((len(problem.items), problem.n_paths))
    orders = list[OrderFuture]()
    for number in sorted({each.supplier for each in chosen.lines}):
        packs = {line.offer: np.full(problem.n_paths, line.packs) for line in chosen.lines if line.supplier == number}
        orders.append(_order(problem, number, 0.0, packs, bought))
    for day, number in _occasions(rules, days):
        rule = rules[number]
        there = rule.shelves.stocked_by(rule.comes(day)) - rule.shelves.used_by(np.full(problem.n_paths, day))
        packs = rule.ordered(day, there + bought[rule.items])
        if any(many.any() for many in packs.values()):
            orders.append(_order(problem, number, day, packs, bought))
    return tuple(orders)


def _occasions(rules: Mapping[int, OrderRule], days: float) -> list[tuple[float, int]]:
    """Give all suppliers' order days after today, in their order; on one day, whoever delivers sooner goes first."""
    found = [(day, each) for each in rules.values() for day in each.days.tolist() if 0 < day <= days]
    found.sort(key=lambda one: (one[0], float(one[1].supplier.leads.mean()), one[1].supplier.name))
    return [(day, each.number) for day, each in found]


def _order(
    problem: OrderProblem, number: int, day: float, packs: Mapping[int, IntArray], bought: FloatArray
) -> OrderFuture:
    """Price an order in every future, and add what it brings to what is bought."""
    goods, supplier = np.zeros(problem.n_paths), problem.suppliers[number]
    for each, many in packs.items():
        goods += goods_of(priced_on(problem.offers[each], day), many)
        bought[problem.offers[each].item] += many * problem.offers[each].pack
    return OrderFuture(
        supplier=number,
        day=day,
        goods=goods,
        carriage=paid_on(supplier, goods),
        comes=comes_on(supplier, day, problem.n_paths),
    )


def by_month(orders: Sequence[OrderFuture], ends: FloatArray, n_suppliers: int, n_paths: int) -> FloatArray:
    """Add up goods, carriage and number of orders that come in each month, shape (3, n_suppliers, n_months, n_paths).

    Parameters
    ----------
    orders : sequence of OrderFuture
    ends : ndarray, shape (n_months,)
        Days from now before which each month ends; what comes later is left out.
    n_suppliers, n_paths : int
    """
    total = np.zeros((3, n_suppliers, len(ends) + 1, n_paths))
    paths = np.arange(n_paths)
    for each in orders:
        month = np.searchsorted(ends, each.comes, side="right")
        for row, value in enumerate((each.goods, each.carriage, each.goods > 0)):
            total[row, each.supplier, month, paths] += value
    return total[:, :, :-1]
