"""One sheet per supplier: what every pack count of every offer would cost for every next order day."""

from dataclasses import dataclass, replace

import numpy as np

from stockroom.buying.expected_cost import YEAR_DAYS, CoverWindows, ExpectedCost, Keep, stacked, table, windows
from stockroom.buying.order_cycle import OrderCycle, cycle
from stockroom.buying.problem import FloatArray, IntArray, OrderProblem, PackOffer, SupplierTerms
from stockroom.buying.shelf_futures import (
    BATCH,
    Penalties,
    Relief,
    StockFutures,
    futures,
    penalties,
    relief,
    without_coming,
)

GAPS = (1, 2, 3, 4, 5, 6, 8, 10, 13, 17, 21, 26)  # reviews ahead at which the next order may go out
DAY_PART = 0.5  # an order day half a day before a review still counts
COUNTS = 24  # pack counts tried per offer
FEW = 3  # of them the smallest
NEAR_WAITS, NEAR_LEVELS, FAR_LEVELS = 5, (0.7, 0.95, 0.995), (0.98,)  # certainty of lasting that amounts aim at
TINY = 1e-9
MISSED = 1e5  # weight, in money, that makes a wish come before costs


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SupplierCosts:
    """Offers of one supplier; `counts` and `spend` have shape (n_offers, n_counts), `cost` one axis more.

    `counts[:, 0]` is 0: what leaving the item until the next order day costs. `base` is what being short
    before an order placed now could arrive costs in any case, shape (n_offers,).
    """

    supplier: int
    offers: IntArray
    items: IntArray
    counts: IntArray
    spend: FloatArray
    amounts: FloatArray
    cost: FloatArray  # (n_offers, n_waits, n_counts); inf where ruled out
    missed: FloatArray  # weight on missing the wished service, same shape
    table: ExpectedCost
    base: FloatArray
    untils: FloatArray
    cycle: OrderCycle
    value: FloatArray  # (n_offers,), what a unit left over saves later
    premium: FloatArray  # (n_offers,), how much dearer a unit usually is than in the cheapest offer
    usual: IntArray  # (n_offers,), the supplier its item usually comes from
    lead: float  # usual days
    may_order: bool


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
    return np.array([_lasting(problem, each, rate[each.item], gap_days[each.supplier]) for each in problem.offers])


def _lasting(problem: OrderProblem, offer: PackOffer, rate: float, gap: float) -> float:
    item = problem.items[offer.item]
    least = max(int(np.ceil(rate * gap / offer.pack - TINY)), offer.least_packs)
    lots = [least, *(each.packs for each in offer.breaks if each.packs > least)]
    keeps = np.inf if item.shelf_days is None else item.shelf_days * rate
    daily = item.holding_rate / YEAR_DAYS / (2 * max(rate, TINY))
    prices = [
        offer.price_at(lot) / offer.pack * (1 + daily * (lot - least) * offer.pack)
        for lot in lots
        if lot == least or lot * offer.pack <= keeps
    ]
    return min(prices)


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
    """Figures of all items that every sheet needs, worked out once."""

    penalty: Penalties
    unit: FloatArray  # (n_offers,), usual price of a unit
    price: FloatArray  # of the cheapest; an item's cost where no one offers it
    pack: FloatArray  # the smallest that can be bought
    home: IntArray
    relief: Relief

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


def supplier_costs(problem: OrderProblem) -> tuple[SupplierCosts, ...]:
    """Work out the sheet of every supplier that offers anything."""
    pack = np.full(len(problem.items), np.inf)
    for offer in problem.offers:
        pack[offer.item] = min(pack[offer.item], offer.pack * offer.least_packs)
    none = np.zeros(0)
    figures = Figures(
        penalty=penalties(problem), unit=none, price=none, pack=pack, home=homes(problem), relief=relief(problem)
    ).at(problem, single_prices(problem))
    cycles = _cycles(problem, figures)
    if any(each.breaks for each in problem.offers):
        gaps = np.array([cycles[n].gap_days if n in cycles else np.nan for n in range(len(problem.suppliers))])
        figures = figures.at(problem, lasting_prices(problem, gaps))
        cycles = _cycles(problem, figures)
    return tuple(_sheet(problem, number, figures, each) for number, each in cycles.items())


def order_gaps(supplier: SupplierTerms, review_days: float, reach: float) -> FloatArray:
    """Find the order days on which the next order may go out: his first after each of the coming reviews."""
    later = np.array([day for day in supplier.order_days if day > 0])
    if not len(later):
        return np.array([review_days])
    places = np.searchsorted(later, np.array(GAPS) * review_days - DAY_PART)
    days: FloatArray = np.unique(later[places[places < len(later)]])
    return days[days <= reach] if (days <= reach).any() else later[:1]


def _untils(problem: OrderProblem, number: int) -> FloatArray:
    return order_gaps(problem.suppliers[number], problem.review_days, 0.8 * problem.use.shape[2] * problem.step_days)


def _sheet(problem: OrderProblem, number: int, figures: Figures, beat: OrderCycle) -> SupplierCosts:
    supplier = problem.suppliers[number]
    offers = np.array([index for index, each in enumerate(problem.offers) if each.supplier == number])
    items = np.array([problem.offers[each].item for each in offers])
    untils = _untils(problem, number)
    starts = range(0, len(offers), BATCH)
    parts = [_part(problem, (supplier, untils, beat), figures, offers[start : start + BATCH]) for start in starts]
    counts, amounts, base = (np.concatenate([part[index] for part in parts]) for index in range(3))
    whole = stacked([part[3] for part in parts])
    spend = np.array([[_paid(problem.offers[o], int(n)) for n in row] for o, row in zip(offers, counts, strict=True)])
    extra = spend - amounts * figures.price[items][:, None]
    cost = whole.cost + extra[:, None, :]
    cost[:, :, 1:][np.broadcast_to((counts[:, 1:] == 0)[:, None, :], cost[:, :, 1:].shape)] = np.inf
    return SupplierCosts(
        supplier=number,
        offers=offers,
        items=items,
        counts=counts,
        spend=spend,
        amounts=amounts,
        cost=cost,
        missed=_missed(problem, whole),
        table=whole,
        base=base,
        untils=untils,
        cycle=beat,
        value=figures.price[items],
        premium=figures.unit[offers] - figures.price[items],
        usual=figures.home[items],
        lead=float(np.mean(supplier.leads)),
        may_order=supplier.order_days[0] == 0 and supplier.name not in problem.what_if.skip,
    )


def _paid(offer: PackOffer, packs: int) -> float:
    return packs * offer.price_at(packs)


def _missed(problem: OrderProblem, whole: ExpectedCost) -> FloatArray:
    """Weigh counts that miss the service level asked for, unless even the best misses it; nothing if none is asked."""
    wish = problem.what_if.service
    if wish is None:
        return np.zeros_like(whole.lasting)
    reachable = np.minimum(whole.lasting.max(axis=2, keepdims=True), wish)
    short = np.maximum(reachable - whole.lasting, 0.0)
    return np.where(short > TINY, MISSED * (1.0 + short), 0.0)


def _keep(problem: OrderProblem, items: IntArray, level: FloatArray, figures: Figures) -> Keep:
    chosen = [problem.items[each] for each in items]
    return Keep(
        daily=figures.price[items] * np.array([each.holding_rate for each in chosen]) / YEAR_DAYS,
        unit_cost=figures.price[items],
        shelf_days=np.array([np.inf if each.shelf_days is None else each.shelf_days for each in chosen]),
        pack=figures.pack[items],
        level=level,
    )


def _cycles(problem: OrderProblem, figures: Figures) -> dict[int, OrderCycle]:
    """Find the order cycle of every supplier that offers anything."""
    offering = sorted({each.supplier for each in problem.offers})
    return {number: _cycle(problem, number, figures) for number in offering}


def _cycle(problem: OrderProblem, number: int, figures: Figures) -> OrderCycle:
    """Find a supplier's order cycle, on a thin sample of futures and the items usually bought from him."""
    items, untils = np.flatnonzero(figures.home == number), _untils(problem, number)
    if not len(items):
        return OrderCycle(gap_days=float(untils[0]), day_cost=0.0)
    thin = slice(None, None, max(problem.n_paths // 64, 1))
    bare = without_coming(futures(problem, items, thin))
    span = windows(_thinned(problem.suppliers[number], thin), untils, bare)
    return cycle(
        problem.suppliers[number], bare, span, figures.of(items), _keep(problem, items, np.zeros(len(items)), figures)
    )


def _thinned(supplier: SupplierTerms, thin: slice) -> SupplierTerms:
    return replace(supplier, leads=supplier.leads[thin] if supplier.leads.size > 1 else supplier.leads)


def _part(
    problem: OrderProblem, terms: tuple[SupplierTerms, FloatArray, OrderCycle], figures: Figures, offers: IntArray
) -> tuple[IntArray, FloatArray, FloatArray, ExpectedCost]:
    """Pack counts, amounts, base cost and table of some offers."""
    supplier, untils, beat = terms
    items = np.array([problem.offers[each].item for each in offers])
    shelves = futures(problem, items)
    span = windows(supplier, untils, shelves)
    lead = float(np.mean(supplier.leads))
    level = np.quantile(shelves.used_by(np.full(problem.n_paths, beat.gap_days + lead)), 0.95, axis=1)
    counts = np.stack([_counts(problem.offers[o], row) for o, row in zip(offers, _wanted(shelves, span), strict=True)])
    amounts = counts * np.array([problem.offers[each].pack for each in offers])[:, None]
    own, keep = figures.of(items), _keep(problem, items, level, figures)
    costing = {row: figures.relief[int(item)] for row, item in enumerate(items) if int(item) in figures.relief}
    return counts, amounts, _base(shelves, span, own), table(shelves, span, amounts, own, keep, costing)


def _wanted(shelves: StockFutures, span: CoverWindows) -> FloatArray:
    """Amounts worth thinking of: enough to last to each candidate's arrival, with little and with great certainty.

    Shape (n_items, n_amounts); near candidates get more of them, as the choice is mostly theirs.
    """
    levels = [
        np.quantile(-shelves.net_by(arrival), NEAR_LEVELS if wait < NEAR_WAITS else FAR_LEVELS, axis=1)
        for wait, arrival in enumerate(span.nexts)
    ]
    return np.maximum(np.concatenate(levels).T, 0.0)


def _counts(offer: PackOffer, wanted: FloatArray) -> IntArray:
    """Pack counts to try for these amounts; first 0, padded with 0."""
    few = offer.least_packs + np.arange(FEW)
    starts = [each.packs for each in offer.breaks if each.packs > offer.least_packs]
    tried = np.maximum(np.ceil(wanted / offer.pack - TINY), offer.least_packs)
    tried = np.unique(np.concatenate([tried, few]))
    room = COUNTS - 1 - len(starts)
    if len(tried) > room:
        tried = tried[np.unique(np.linspace(0, len(tried) - 1, room).round().astype(np.int64))]
    tried = np.unique(np.concatenate([tried, starts]))
    counts = np.zeros(COUNTS, dtype=np.int64)
    counts[1 : 1 + len(tried)] = tried[: COUNTS - 1]
    return counts


def _base(shelves: StockFutures, span: CoverWindows, penalty: Penalties) -> FloatArray:
    """Cost of being short before an order placed now could arrive."""
    short = np.maximum(-shelves.net_by(np.nextafter(span.first, -np.inf)), 0.0).mean(axis=1)
    edges = np.arange(shelves.used.shape[2]) * shelves.step_days
    weights = np.clip(span.first[:, None] - edges[:-1], 0.0, shelves.step_days)
    days = (np.maximum(-shelves.net_within(before=span.first), 0.0) * weights).sum(axis=2).mean(axis=1)
    base: FloatArray = penalty.once * short + penalty.daily * days
    return base
