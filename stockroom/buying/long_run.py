"""What holds in the long run: what a unit of each item costs and where it comes from, and how often to order.

An order table is about the next order; what is left after it is worth what it saves later, and the time that it bridges
costs what that time usually costs. Both follow from steady states: the lot that it pays to buy again and again
(`lasting_prices`) and each supplier's order cycle (`order_cycle`). With price breaks each depends on the other; prices
are worked out for the cycles at single packs' prices, then cycles anew at these prices.
"""

from dataclasses import dataclass, replace

import numpy as np

from stockroom.buying.announced_prices import PriceChange, announced, unchanged
from stockroom.buying.expected_cost import YEAR_DAYS, Keep, windows
from stockroom.buying.order_cycle import OrderCycle, cycle
from stockroom.buying.problem import FloatArray, IntArray, OrderProblem, PackOffer, SupplierTerms
from stockroom.buying.shelf_futures import Penalties, Relief, futures, penalties, relief, without_coming

GAPS = (1, 2, 3, 4, 5, 6, 8, 10, 13, 17, 21, 26)  # reviews ahead at which the next order may go out
FAR = 0.8  # part of the futures within which an order may have to last
DAY_PART = 0.5  # an order day half a day before a review still counts
SAMPLE = 64  # futures that order cycles are worked out on
TINY = 1e-9


def single_prices(problem: OrderProblem) -> FloatArray:
    """Price of a unit in each offer where one pack is bought, shape (n_offers,)."""
    return np.array([each.price / each.pack for each in problem.offers])


def lasting_prices(problem: OrderProblem, gap_days: FloatArray) -> FloatArray:
    """Price of a unit in each offer at the lot that it pays to buy again and again, shape (n_offers,).

    Parameters
    ----------
    problem : OrderProblem
        Offers with their breaks, and what is used.
    gap_days : ndarray, shape (n_suppliers,)
        Usual gap between two orders.

    Returns
    -------
    ndarray
        Money per unit, with what keeping it costs beyond a lot for one gap: a unit left over saves so much later.

    Notes
    -----
    The usual lot is the packs for one gap, or those from which a lower price holds where that saves more than keeping
    the rest: price times ``1 + h (Q - Q0) / (2 d)``, the average cost per unit of lots Q rather than Q0 at use d and
    holding rate h (Snyder and Shen 2019, 3.4: the best feasible candidate of each price region). A lot that would be
    spoilt before it is used is none.
    """
    rate = problem.use.mean(axis=(0, 2)) / problem.step_days
    return np.array([lasting(problem, each, rate[each.item], gap_days[each.supplier])[0] for each in problem.offers])


def lasting(problem: OrderProblem, offer: PackOffer, rate: float, gap: float) -> tuple[float, int]:
    """Give that price of one offer at a use and a gap between orders, and the packs it is for."""
    item = problem.items[offer.item]
    least = offer.at_least(rate * gap / offer.pack)
    lots = [least, *(offer.at_least(each.packs) for each in offer.breaks if each.packs > least)]
    keeps = np.inf if item.shelf_days is None else item.shelf_days * rate
    daily = item.holding_rate / YEAR_DAYS / (2 * max(rate, TINY))
    return min(
        (offer.price_at(lot) / offer.pack * (1 + daily * (lot - least) * offer.pack), lot)
        for lot in lots
        if lot == least or lot * offer.pack <= keeps
    )


def homes(problem: OrderProblem, unit: FloatArray | None = None) -> IntArray:
    """Find the supplier each item usually comes from (the cheapest unit), -1 if none; shape (n_items,)."""
    home = np.full(len(problem.items), -1)
    best = np.full(len(problem.items), np.inf)
    for offer, price in zip(problem.offers, single_prices(problem) if unit is None else unit, strict=True):
        if price < best[offer.item]:
            best[offer.item], home[offer.item] = price, offer.supplier
    return home


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Figures:
    """Figures of all items that every part of the table needs, worked out once."""

    penalty: Penalties
    unit: FloatArray  # (n_offers,), usual price of a unit
    price: FloatArray  # of the cheapest; an item's cost where no one offers it
    pack: FloatArray  # the smallest that can be bought
    home: IntArray
    relief: Relief
    change: PriceChange

    def of(self, items: IntArray) -> Penalties:
        """Look up what being short costs for some items."""
        return Penalties(once=self.penalty.once[items], daily=self.penalty.daily[items])

    def at(self, problem: OrderProblem, unit: FloatArray) -> "Figures":
        """Work out what follows from the price of a unit in each offer."""
        price = np.full(len(problem.items), np.inf)
        np.minimum.at(price, np.array([each.item for each in problem.offers], dtype=np.int64), unit)
        cost = np.array([each.unit_cost for each in problem.items])
        price = np.where(np.isfinite(price), price, cost)
        return replace(self, unit=unit, price=price, home=homes(problem, unit))


LongRun = tuple[Figures, dict[int, OrderCycle]]


def order_gaps(supplier: SupplierTerms, review_days: float, reach: float) -> FloatArray:
    """Find the order days on which the next order may go out: his first after each of the coming reviews."""
    later = np.array([day for day in supplier.order_days if day > 0])
    if not len(later):
        return np.array([review_days])
    places = np.searchsorted(later, np.array(GAPS) * review_days - DAY_PART)
    days: FloatArray = np.unique(later[places[places < len(later)]])
    return days[days <= reach] if (days <= reach).any() else later[:1]


def untils_of(problem: OrderProblem, number: int) -> FloatArray:
    """Find one supplier's next order days that an order placed now may have to last to.

    Where a price of his will change, as far as the futures reach: what is bought before a rise may last for long.
    """
    changes = any(each.then is not None for each in problem.offers if each.supplier == number)
    reach = (1.0 if changes else FAR) * problem.use.shape[2] * problem.step_days
    return order_gaps(problem.suppliers[number], problem.review_days, reach)


def long_run(problem: OrderProblem, *, sample: int = SAMPLE) -> LongRun:
    """Work out what all items need, and each supplier's order cycle; with breaks, by the lots that pay for long."""
    pack = np.full(len(problem.items), np.inf)
    for offer in problem.offers:
        pack[offer.item] = min(pack[offer.item], offer.pack * offer.at_least(1))
    none = np.zeros(0)
    figures = Figures(
        penalty=penalties(problem),
        unit=none,
        price=none,
        pack=pack,
        home=homes(problem),
        relief=relief(problem),
        change=unchanged(problem),
    ).at(problem, single_prices(problem))
    cycles = _cycles(problem, figures, sample)
    if any(each.breaks for each in problem.offers):
        gaps = np.array([cycles[n].gap_days if n in cycles else np.nan for n in range(len(problem.suppliers))])
        figures = figures.at(problem, lasting_prices(problem, gaps))
        cycles = _cycles(problem, figures, sample)
    if any(each.then is not None for each in problem.offers):
        gaps = np.array([cycles[n].gap_days if n in cycles else np.nan for n in range(len(problem.suppliers))])
        then = replace(problem, offers=tuple(each.then or each for each in problem.offers))
        soonest = [untils_of(problem, n)[0] for n in range(len(problem.suppliers))]
        prices = lasting_prices(problem, gaps), lasting_prices(then, gaps)
        figures = replace(figures, change=announced(problem, prices, soonest))
    return figures, cycles


def keeping(problem: OrderProblem, items: IntArray, level: FloatArray, figures: Figures) -> Keep:
    """Say what keeping some items costs, and the level that their orders usually fill them up to."""
    chosen = [problem.items[each] for each in items]
    return Keep(
        daily=figures.price[items] * np.array([each.holding_rate for each in chosen]) / YEAR_DAYS,
        unit_cost=figures.price[items],
        shelf_days=np.array([np.inf if each.shelf_days is None else each.shelf_days for each in chosen]),
        pack=figures.pack[items],
        level=level,
    )


def _cycles(problem: OrderProblem, figures: Figures, sample: int) -> dict[int, OrderCycle]:
    """Find the order cycle of every supplier that offers anything."""
    offering = sorted({each.supplier for each in problem.offers})
    return {number: _cycle(problem, number, figures, sample) for number in offering}


def _cycle(problem: OrderProblem, number: int, figures: Figures, sample: int) -> OrderCycle:
    """Find a supplier's order cycle, on a thin sample of futures and the items usually bought from him."""
    items, untils = np.flatnonzero(figures.home == number), untils_of(problem, number)
    if not len(items):
        return OrderCycle(gap_days=float(untils[0]), day_cost=0.0)
    thin = slice(None, None, max(problem.n_paths // sample, 1))
    bare = without_coming(futures(problem, items, thin))
    span = windows(_thinned(problem.suppliers[number], thin), untils, bare)
    return cycle(
        problem.suppliers[number], bare, span, figures.of(items), keeping(problem, items, np.zeros(len(items)), figures)
    )


def _thinned(supplier: SupplierTerms, thin: slice) -> SupplierTerms:
    return replace(supplier, leads=supplier.leads[thin] if supplier.leads.size > 1 else supplier.leads)
