"""Prices that are announced: what buying ahead of a rise spares, and how far ahead it could pay."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stockroom.buying.expected_cost import YEAR_DAYS, Keep
from stockroom.buying.problem import FloatArray, IntArray, OrderProblem
from stockroom.buying.shelf_futures import StockFutures

AHEAD = tuple(n / 5 for n in range(2, 9))  # of the time for which keeping a unit costs what it spares, to buy ahead for
TINY = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PriceChange:
    """How much dearer a unit of each item will be for long, and from which day on; shape (n_items,) each.

    Of a rise nothing is said while it can still be bought at today's price on a later review.
    """

    rise: FloatArray
    day: FloatArray

    def of(self, items: IntArray) -> "PriceChange":
        """Look some items up."""
        return PriceChange(rise=self.rise[items], day=self.day[items])


def unchanged(problem: OrderProblem) -> PriceChange:
    """Say that no price will change."""
    return PriceChange(rise=np.zeros(len(problem.items)), day=np.full(len(problem.items), np.inf))


def announced(problem: OrderProblem, prices: tuple[FloatArray, FloatArray], soonest: Sequence[float]) -> PriceChange:
    """Find what announced prices will change: a unit from whoever is cheapest then, beside whoever is cheapest now.

    Parameters
    ----------
    problem : OrderProblem
        Its offers and the prices announced for them.
    prices : tuple of ndarray, shape (n_offers,) each
        What a unit costs in the long run in each offer, now and then.
    soonest : sequence of float
        Days from now of each supplier's first order after this one.

    Notes
    -----
    A rise counts once the next order would come too late for today's price, and not before: until then it can be bought
    ahead on that order day, kept for less long. A price that falls counts from the day it is announced for.
    """
    now, then = prices
    change, of_item = unchanged(problem), np.array([each.item for each in problem.offers])
    for item in {each.item for each in problem.offers if each.then is not None}:
        own = np.flatnonzero(of_item == item)
        before, after = own[np.argmin(now[own])], own[np.argmin(then[own])]
        dearer = float(then[after] - now[before])
        offer = problem.offers[before if dearer > 0 else after]
        if np.isfinite(offer.changes) and (dearer < 0 or offer.changes <= soonest[offer.supplier]):
            change.rise[item], change.day[item] = dearer, offer.changes
    return change


def spared(shelves: StockFutures, amounts: FloatArray, keep: Keep, change: PriceChange) -> FloatArray:
    """Say what each amount spares of a rise: the rise on what of it is used after it, shape (n_items, n_amounts).

    What is not used while it keeps, or within a year, would not be bought and spares nothing.
    """
    saved = np.zeros_like(amounts)
    for row in np.flatnonzero(change.rise).tolist():
        there = shelves.position()[row]
        by_then, in_all = (
            np.maximum(_use_until(shelves, row, day) - there, 0.0)
            for day in (change.day[row], max(min(keep.shelf_days[row], YEAR_DAYS), change.day[row]))
        )
        most = amounts[row][:, None]
        saved[row] = change.rise[row] * (np.minimum(most, in_all) - np.minimum(most, by_then)).mean(axis=1)
    return saved


def ahead(shelves: StockFutures, keep: Keep, change: PriceChange) -> FloatArray:
    """Amounts worth thinking of before a rise: up to where keeping them costs what they spare; (n_items, n_amounts)."""
    wanted = np.zeros((len(shelves.items), len(AHEAD)))
    for row in np.flatnonzero(change.rise > 0).tolist():
        pays = change.rise[row] / max(keep.daily[row], TINY)  # days that a unit can be kept for what it spares
        last = min(change.day[row] + pays, keep.shelf_days[row], YEAR_DAYS)
        there = float(shelves.position()[row].mean())
        wanted[row] = [max(float(_use_until(shelves, row, last * part).mean()) - there, 0.0) for part in AHEAD]
    return wanted


def _use_until(shelves: StockFutures, row: int, day: float) -> FloatArray:
    """Use of an item up to a day, shape (n_paths,); beyond the futures it goes on as within them."""
    return shelves.used_of(row, min(day, shelves.days)) * max(day / shelves.days, 1.0)
