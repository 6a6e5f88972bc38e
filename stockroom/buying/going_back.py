"""What the right to send unused goods back is worth: what is left need not be kept, spoil, or be paid for."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stockroom.buying.expected_cost import CoverWindows, ExpectedCost, Keep, expected
from stockroom.buying.problem import FloatArray, PackOffer
from stockroom.buying.shelf_futures import StockFutures

TINY = 1e-9


def eased(
    told: ExpectedCost, shelves: StockFutures, span: CoverWindows, tried: tuple[FloatArray, FloatArray], keep: Keep,
    offers: Sequence[PackOffer],
) -> ExpectedCost:  # fmt: skip
    """Take off what packs cost that may go back to their supplier; no part is ever more than without that right.

    Parameters
    ----------
    told : ExpectedCost
        Cost parts of goods that stay.
    shelves, span, keep
        As in `table`.
    tried : tuple of ndarray, shape (n_items, n_amounts) each
        Amounts, and the price of a unit at each.
    offers : sequence of PackOffer
        What each row is an offer of.

    Notes
    -----
    Goods go back once, on the last day R: that is when the shop is reminded. Let t be the next order day, and c what
    sending a unit back costs: carriage, and what it is credited less than it is worth here. A unit that lies x deep in
    what is then above the usual level is used about x / d later, at use d. Kept, it costs h for each day from R on;
    sent back, c. So the right spares max(h (x / d - (R - t)) - c, 0) of it, and on approval h for the days until R as
    well: no money is tied up before. What would spoil later than R goes back for c instead. Each part is bounded by
    what the goods cost if they stay.
    """
    rows = [row for row, offer in enumerate(offers) if offer.back is not None]
    if not rows:
        return told
    held, tail, expiry = told.held.copy(), told.tail.copy(), told.expiry.copy()
    there, net = shelves.position(), shelves.net_within(since=span.first)
    for row in rows:
        back, amounts = offers[row].back, tried[0][row]
        if back is None or back.until <= float(np.mean(span.first)):  # it ends before anything has come
            continue
        loss = back.cost + np.maximum(keep.unit_cost[row] - tried[1][row], 0.0)
        shelf = _Shelf(
            shelves=shelves,
            row=row,
            there=there[row] - keep.level[row],
            rate=max(float(shelves.rate[row]), TINY),
            daily=float(keep.daily[row]),
            last=back.until,
        )
        eases = np.array([shelf.spared(amounts, until, loss) for until in span.untils])
        if back.on_approval:
            eases += np.array([shelf.unpaid(amounts, until) for until in span.untils])
            unpaid = shelf.daily * _held_before(shelves, net[row : row + 1], span, amounts, back.until)
            held[row] -= np.clip(unpaid, 0.0, np.maximum(held[row], 0.0))
        tail[row] -= np.clip(eases, 0.0, np.maximum(tail[row], 0.0))
        if back.until <= keep.shelf_days[row]:
            lost = np.clip(loss / max(keep.unit_cost[row], TINY), 0.0, 1.0)
            expiry[row] = np.where(expiry[row] > 0, expiry[row] * lost, expiry[row])
    return replace(told, held=held, tail=tail, expiry=expiry)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Shelf:
    """One item's shelf: `there` is on hand and ordered above its usual level, in each future; `last` the last day."""

    shelves: StockFutures
    row: int
    there: FloatArray
    rate: float
    daily: float
    last: float

    def above(self, amounts: FloatArray, until: float) -> FloatArray:
        """Stock above the usual level on the next order day with each amount, as known on the last day.

        Shape (n_amounts, n_paths); where that day comes first, what is used between the two is what is usual.
        """
        used = self.shelves.used_of(self.row, min(until, self.last, self.shelves.days))
        left = self.there - used - max(until - self.last, 0.0) * self.rate
        above: FloatArray = np.maximum(left[None, :] + amounts[:, None], 0.0)
        return above

    def spared(self, amounts: FloatArray, until: float, loss: FloatArray) -> FloatArray:
        """Say what sending back spares of keeping what is above the usual level: never negative, more for more."""
        above = self.above(amounts, until)
        soon = self.rate * (max(self.last - until, 0.0) + loss / max(self.daily, TINY))[:, None]  # used before it pays
        deep = np.maximum(above - soon, 0.0) ** 2 - np.maximum(above[:1] - soon, 0.0) ** 2
        spared: FloatArray = (self.daily / (2 * self.rate) * deep).mean(axis=1)
        return spared

    def unpaid(self, amounts: FloatArray, until: float) -> FloatArray:
        """Say what keeping that costs until the last day: no money is tied up in goods on approval before."""
        above, days = self.above(amounts, until), max(self.last - until, 0.0)
        used = np.minimum(above, self.rate * days)
        whole = used**2 / (2 * self.rate) + days * (above - used)
        unpaid: FloatArray = self.daily * (whole - whole[:1]).mean(axis=1)
        return unpaid


def _held_before(
    shelves: StockFutures, net: FloatArray, span: CoverWindows, amounts: FloatArray, last: float
) -> FloatArray:
    """Unit-days that each amount is held before a day, for each next order day, shape (n_waits, n_amounts)."""
    edges = np.arange(shelves.used.shape[2]) * shelves.step_days
    part = np.clip((last - edges[:-1]) / shelves.step_days, 0.0, 1.0)
    held = expected(net, span.weights * part, amounts[None, :]).held[0]
    before: FloatArray = held - held[:, :1]
    return before
