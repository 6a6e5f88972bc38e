"""What runs short before a slow supplier's goods come can be bought of a quick one: what that costs instead.

An order with one supplier doesn't keep the shop from ordering with another. Were an item's shortage charged in full
until its cheap but slow supplier delivers, whoever delivers next week would look better every week, however dear.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from stockroom.buying.expected_cost import CoverWindows, days_between, expected, run_out, short_before, windows
from stockroom.buying.long_run import Figures, LongRun, untils_of
from stockroom.buying.order_cycle import unpaid_carriage
from stockroom.buying.problem import FloatArray, IntArray, OrderProblem, PackOffer
from stockroom.buying.shelf_futures import Penalties, StockFutures


def bridged(
    problem: OrderProblem,
    known: LongRun,
    offers: IntArray,
    shelves: StockFutures,
    tried: tuple[CoverWindows, FloatArray],
) -> FloatArray:
    """Cost what is short of items until their next order comes, where another supplier bridges it.

    Parameters
    ----------
    problem : OrderProblem
        Offers and suppliers.
    known : LongRun
        What holds in the long run.
    offers : ndarray, shape (n_rows,)
        Offers of one supplier.
    shelves : StockFutures
        The items of these offers.
    tried : CoverWindows, ndarray (n_rows, n_amounts)
        When his orders come, and the amounts bought of him.

    Returns
    -------
    ndarray, shape (n_rows, n_waits, n_amounts)
        Money, with what is short before his first order comes; inf where nobody else offers the item.

    Notes
    -----
    Another's first order day after today is his to bridge from: what is short until that order comes is lost, what is
    short after it until the own next order comes is bought there in whole packs, at what they cost beyond the item's
    usual price. Where he isn't ordered from that often, the rest of the time one more order is paid for. Of several,
    the cheapest counts.
    """
    span, amounts = tried
    cost = np.full((len(offers), *span.nexts.shape[:1], amounts.shape[1]), np.inf)
    for other, rows, theirs in _others(problem, known[0], offers):
        rest = np.array(rows)
        part = StockFutures(
            items=tuple(shelves.items[row] for row in rows), used=shelves.used[rest], step_days=shelves.step_days
        )
        own = known[0].of(np.array([problem.offers[offers[row]].item for row in rows]))
        untils = untils_of(problem, other)
        comes = windows(problem.suppliers[other], untils, part).nexts[0]
        lost, lacking = _lost(part, span, (amounts[rest], comes), own), _lacking(part, span, comes)
        fee = unpaid_carriage(problem.suppliers[other], known[1][other], float(untils[0]))
        for place, (row, offer) in enumerate(zip(rows, theirs, strict=True)):
            each, (first, last) = problem.offers[offer], (of[place] for of in lacking)
            some = np.flatnonzero((amounts[row] > 0) | (np.arange(amounts.shape[1]) == 0))  # the rest is filled up
            bought = _whole(each, np.maximum(last[:, None] - amounts[row, some][:, None], first))
            dearer = max(float(known[0].unit[offer] - known[0].price[each.item]), 0.0)
            paid = dearer * bought.mean(axis=2) + fee * (bought > 0).mean(axis=2)
            cost[row][:, some] = np.minimum(cost[row][:, some], lost[place][:, some] + paid)
    return cost


def _others(
    problem: OrderProblem, figures: Figures, offers: IntArray
) -> list[tuple[int, Sequence[int], Sequence[int]]]:
    """Find who else offers the items of these offers: a supplier, rows, and his cheapest offer for each of them."""
    items, by_item = np.array([each.item for each in problem.offers]), defaultdict[int, list[int]](list)
    rivals = np.flatnonzero(np.isin(items, items[offers]))
    for number in rivals[np.argsort(figures.unit[rivals], kind="stable")].tolist():
        by_item[int(items[number])].append(number)
    found: dict[int, dict[int, int]] = defaultdict(dict)
    for row, offer in enumerate(offers.tolist()):
        own = problem.offers[offer]
        for number in by_item[own.item]:
            other = problem.offers[number].supplier
            if other != own.supplier:
                found[other].setdefault(row, number)
    return [(other, tuple(rows), tuple(rows.values())) for other, rows in sorted(found.items())]


def _lost(
    shelves: StockFutures, span: CoverWindows, tried: tuple[FloatArray, FloatArray], penalty: Penalties
) -> FloatArray:
    """Cost what is short until the other's order comes, (n_rows, n_waits, n_amounts)."""
    amounts, comes = tried
    until = np.clip(comes, span.first, span.nexts)
    until, kept, wait = np.unique(until, axis=0, return_index=True, return_inverse=True)  # most waits are alike here
    before = short_before(shelves, np.minimum(span.first, comes), penalty)
    lost = np.broadcast_to(before[:, None, None], (len(amounts), len(until), amounts.shape[1])).copy()
    if (comes > span.first).any():
        weights = days_between(shelves, span.first, until)
        cut = replace(span, untils=span.untils[kept], nexts=until, weights=weights)
        days = expected(shelves.net_within(since=span.first), weights, amounts).short
        lost += penalty.daily[:, None, None] * days + penalty.once[:, None, None] * run_out(shelves, cut, amounts)[0]
    return lost[:, wait]


def _lacking(shelves: StockFutures, span: CoverWindows, comes: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Say what is short just before the own order comes, and before the next one does, if the other comes before them.

    Shapes (n_rows, n_paths) and (n_rows, n_waits, n_paths), without what is bought now.
    """
    first = np.maximum(-shelves.net_by(np.nextafter(span.first, -np.inf)), 0.0) * (comes < span.first)
    last = [np.where(comes < arrival, -shelves.net_by(arrival), 0.0) for arrival in span.nexts]
    return first, np.stack(last, axis=1)


def _whole(offer: PackOffer, amount: FloatArray) -> FloatArray:
    """Round amounts up to what can be bought; none stays none."""
    packs = np.maximum(np.ceil(amount / offer.pack / offer.multiple - 1e-9) * offer.multiple, offer.at_least(1))
    whole: FloatArray = packs * offer.pack * (amount > 0)
    return whole
