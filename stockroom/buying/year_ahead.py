"""What a year of orders is expected to come to, when, and how sure that is: the order cycles played on the futures."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stockroom.buying.basket import Basket
from stockroom.buying.long_run import Figures, lasting, long_run
from stockroom.buying.order_cycle import OrderCycle
from stockroom.buying.problem import FloatArray, IntArray, OrderProblem, PackOffer, SupplierTerms
from stockroom.buying.shelf_futures import StockFutures, futures

ROUNDING = 1e-9
DAY_PART = 0.5  # an order day half a day before the gap is over still counts


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
        Its answer: what is ordered now, and for which day each supplier's next order is planned.
    days : float
        Orders of later days are left out.

    Notes
    -----
    Today's orders are the basket's own. From then on each supplier is ordered from in the cycle by which baskets are
    compared (`order_cycle.cycle`): at its gap, on the order days he has, each item that usually comes from him is
    filled up in whole packs, and at the lot that pays for long, to where it lasts until the next order comes as surely
    as the cycle's level does. What is sure is asked of the use then ahead, so that levels follow the season; each
    future has used what it has. A future whose order is below the supplier's least waits for his next order day.
    What an order costs is worked out with the price in force on its day, as far as one is announced.
    """
    figures, cycles = long_run(problem)
    bought = np.zeros((len(problem.items), problem.n_paths))
    shelves, orders = futures(problem), list[OrderFuture]()
    for day, number in _occasions(problem, chosen, cycles, days):
        supplier, span = problem.suppliers[number], cycles[number].gap_days
        if day == 0:
            packs = {
                line.offer: np.full(problem.n_paths, line.packs) for line in chosen.lines if line.supplier == number
            }
        else:
            packs = _filled(problem, shelves, bought, _Occasion(number, day, span, figures, cycles[number]))
        order = _order(problem, supplier, number, day, packs)
        for offer, many in packs.items():
            bought[problem.offers[offer].item] += many * problem.offers[offer].pack * (order.goods > 0)
        orders.append(order)
    return tuple(orders)


@dataclass(frozen=True, slots=True, eq=False)
class _Occasion:
    """A supplier's order: his number, the day, days until the next, and what holds for long."""

    number: int
    day: float
    span: float
    figures: Figures
    cycle: OrderCycle


def _occasions(
    problem: OrderProblem, chosen: Basket, cycles: Mapping[int, OrderCycle], days: float
) -> Iterator[tuple[float, int]]:
    """Give the days on which each supplier is ordered from, in their order; today first where the basket does so."""
    found = []
    planned = {each.supplier: each for each in chosen.orders}
    for number, each in cycles.items():
        plan = planned.get(number)
        if plan is not None and plan.value > 0:
            found.append((0.0, number))
        day = plan.next_day if plan is not None else each.gap_days
        ahead = np.array(problem.suppliers[number].order_days)
        while day <= days:
            found.append((day, number))
            later = ahead[ahead >= day + each.gap_days - DAY_PART]
            day = float(later[0]) if len(later) else np.inf
    return iter(sorted(found))


def _filled(problem: OrderProblem, shelves: StockFutures, bought: FloatArray, at: _Occasion) -> dict[int, IntArray]:
    """Fill up what usually comes from a supplier; packs of each offer in each future."""
    leads = np.broadcast_to(problem.suppliers[at.number].leads, (problem.n_paths,))
    leads = np.maximum(leads + problem.suppliers[at.number].delay(np.array([at.day + at.span])), 0.0)
    until = np.full(problem.n_paths, at.day + at.span) + leads
    used, there = shelves.used_by(np.full(problem.n_paths, at.day)), shelves.stocked_by(until)
    ahead = shelves.used_by(until) - used
    usual = shelves.used_by(np.full(problem.n_paths, at.span) + leads)
    packs: dict[int, IntArray] = {}
    for place, item in enumerate(np.flatnonzero(at.figures.home == at.number).tolist()):
        sure = float(np.mean(usual[item] <= at.cycle.level[place] + ROUNDING))
        lacking = np.quantile(ahead[item], sure) - (there[item] + bought[item] - used[item])
        number, lot = _usual_offer(problem, at, item)
        offer = problem.offers[number]
        asked = np.ceil(np.maximum(lacking, 0.0) / offer.pack / offer.multiple - ROUNDING).astype(np.int64)
        packs[number] = np.where(asked > 0, np.maximum(asked * offer.multiple, lot), 0)
    return packs


def _usual_offer(problem: OrderProblem, at: _Occasion, item: int) -> tuple[int, int]:
    """Find the offer that is cheapest for long then, and its lot where more than a gap's need pays for the price."""
    rate = float(problem.use[:, item].mean()) / problem.step_days
    mine = [n for n, each in enumerate(problem.offers) if each.item == item and each.supplier == at.number]
    lots = {n: lasting(problem, priced_on(problem.offers[n], at.day), rate, at.span) for n in mine}
    best = min(mine, key=lambda n: lots[n][0])
    offer, lot = problem.offers[best], lots[best][1]
    plain = offer.at_least(rate * at.span / offer.pack)
    return best, lot if lot > plain else offer.at_least(1)


def priced_on(offer: PackOffer, day: float) -> PackOffer:
    """Give an offer as it is priced on a day."""
    return offer.then if offer.then is not None and day >= offer.changes else offer


def _order(
    problem: OrderProblem, supplier: SupplierTerms, number: int, day: float, packs: Mapping[int, IntArray]
) -> OrderFuture:
    """Price an order in every future; none where it is less than the supplier takes."""
    goods, weight = np.zeros((2, problem.n_paths))
    for each, many in packs.items():
        offer = priced_on(problem.offers[each], day)
        goods += many * np.array([offer.price_at(n) for n in range(int(many.max(initial=0)) + 1)])[many]
        weight += many * offer.weight
    taken = (goods >= supplier.least_order - ROUNDING) & (weight >= supplier.least_weight - ROUNDING)
    goods = np.where(taken, goods, 0.0)
    free = np.inf if supplier.free_over is None else supplier.free_over
    return OrderFuture(
        supplier=number,
        day=day,
        goods=goods,
        carriage=np.where((goods > 0) & (goods < free - ROUNDING), supplier.carriage, 0.0),
        comes=day
        + np.maximum(np.broadcast_to(supplier.leads, (problem.n_paths,)) + supplier.delay(np.array([day])), 0.0),
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
