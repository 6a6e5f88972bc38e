"""When an order goes out in the year ahead, and what it fills up: the basket's trade-off for many shelves at once."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from stockroom.buying.expected_cost import OVERDUE, Keep
from stockroom.buying.long_run import Figures, keeping, lasting
from stockroom.buying.order_cycle import OrderCycle
from stockroom.buying.problem import BoolArray, FloatArray, IntArray, OrderProblem, PackOffer, SupplierTerms
from stockroom.buying.shelf_futures import Penalties, StockFutures, futures

SPANS = (0.3, 0.6, 1.0, 1.6)  # of the usual gap, that an order is tried to last
MORE = 8  # order days beyond the last of these, to which an order may be topped up
WAITS = 3  # next order days that may be waited for
GRID = 48  # points at which what a shortage costs is worked out
TOP_UPS = 6  # halvings, to find how far an order is topped up
SAMPLE = 100  # futures that it is worked out on
ALIKE = 0.02  # of its price: what is no dearer is as good as where an item usually comes from
DAY_PART = 0.5  # an order day half a day before a span is over still counts
TINY = 1e-9


def priced_on(offer: PackOffer, day: float) -> PackOffer:
    """Give an offer as it is priced on a day."""
    return offer.then if offer.then is not None and day >= offer.changes else offer


def goods_of(offer: PackOffer, packs: IntArray) -> FloatArray:
    """Price so many packs of an offer, in every future."""
    each = np.array([offer.price_at(n) for n in range(int(packs.max(initial=0)) + 1)])
    goods: FloatArray = packs * each[packs]
    return goods


def paid_on(supplier: SupplierTerms, goods: FloatArray) -> FloatArray:
    """Carriage on orders of these goods values."""
    free = np.inf if supplier.free_over is None else supplier.free_over
    return np.where((goods > 0) & (goods < free - TINY), supplier.carriage, 0.0)


def comes_on(supplier: SupplierTerms, day: float, n_paths: int) -> FloatArray:
    """Say when what is ordered on a day comes, in each future; every order but today's has a luck of its own."""
    luck = np.roll(np.broadcast_to(supplier.leads, (n_paths,)), int(day) * 37 % n_paths)
    comes: FloatArray = day + np.maximum(luck + supplier.delay(np.array([day])), 0.0)
    return comes


class Usual(NamedTuple):
    """The offer of an item that is bought on a day, and the lot that pays for its price."""

    number: int
    offer: PackOffer
    lot: int


@dataclass(frozen=True, kw_only=True, eq=False)
class OrderRule:
    """What one supplier offers, and by what he is ordered from.

    Of his items, shape (n_items,): whether each usually comes from him, how much dearer a unit is here in the long run
    than where it usually comes from, and how much dearer with the next best of the others (inf: nobody).
    """

    problem: OrderProblem
    number: int
    items: IntArray
    own: BoolArray
    premium: FloatArray
    elsewhere: FloatArray
    shelves: StockFutures  # of these items
    penalty: Penalties
    keep: Keep
    cycle: OrderCycle

    @cached_property
    def supplier(self) -> SupplierTerms:
        """His terms."""
        return self.problem.suppliers[self.number]

    @cached_property
    def days(self) -> FloatArray:
        """His order days on which an order may go out: the first after each of the shop's looks at its orders."""
        every = np.array(self.supplier.order_days)
        places = np.searchsorted(every, np.arange(0.0, every[-1] + DAY_PART, self.problem.review_days) - DAY_PART)
        days: FloatArray = np.unique(every[places[places < len(every)]])
        return days

    @cached_property
    def offers(self) -> list[list[int]]:
        """His offers of each item."""
        offers = self.problem.offers
        return [
            [n for n, each in enumerate(offers) if each.item == item and each.supplier == self.number]
            for item in self.items.tolist()
        ]

    def ordered(self, day: float, there: FloatArray) -> dict[int, IntArray]:
        """Say what is ordered on one of his order days in each future; packs by offer.

        Parameters
        ----------
        day : float
            Days from now.
        there : ndarray, shape (n_items, n_paths)
            What lies there and is on order, then.

        Notes
        -----
        As for a basket (`search`): an order that is to last u costs its carriage, what it adds to stock, and what may
        fall short before the next one comes; waiting for a later order day w costs what may fall short until that one
        comes. Plans of different length compare once the long-run cost of the days they bridge, g u or g w, is taken
        off. What is sure is asked of the use of the weeks then ahead in all futures, not of the one that is played.
        """
        later = self.days[self.days > day + TINY]
        if not len(later):
            return {}
        near, usual = self._ahead(day, float(later[0])), self._usual(day)
        enough = near.level(self.keep, self.premium)
        rescued = self._filled(near, usual, there, enough)
        soon = near.risk(there)
        least = self._waiting(day, later[:WAITS], soon, there)
        before = self._ahead(day, day).risk(there)[self.own].sum(axis=0)
        packs = np.zeros(there.shape, dtype=np.int64)
        spans = self._spans(day, later)
        most = np.where(self.own, self._ahead(day, spans[-1]).level(self.keep), enough)
        for until in spans[:-1]:
            ahead = self._ahead(day, until)
            least_level = np.where(self.own, ahead.level(self.keep), enough)
            levels = least_level, np.maximum(most, least_level)
            for tried, cost in self._topped(ahead, usual, there, levels, rescued, near, soon):
                goods, weight = worth_of(usual, tried)
                total = cost + before + paid_on(self.supplier, goods) - self.cycle.day_cost * (until - day)
                taken = (goods >= self.supplier.least_order - TINY) & (weight >= self.supplier.least_weight - TINY)
                better = taken & (goods > 0) & (total < least)
                packs, least = np.where(better, tried, packs), np.where(better, total, least)
        return {each.number: packs[place] for place, each in enumerate(usual)}

    def _spans(self, day: float, later: FloatArray) -> list[float]:
        """Give the order days that an order is tried to last to, and one more to fill up to."""
        spans = day + np.array(SPANS) * self.cycle.gap_days - DAY_PART
        places = np.minimum(np.searchsorted(later, spans), len(later) - 1)
        more = min(int(places[-1]) + MORE, len(later) - 1)
        return [*later[np.unique(places)].tolist(), float(later[more])]

    def _waiting(self, day: float, waits: FloatArray, soon: FloatArray, there: FloatArray) -> FloatArray:
        """Say what the best wait costs."""
        least = np.full(there.shape[1], np.inf)
        for wait in waits.tolist():
            risk = self._without(self._ahead(day, wait), soon, there)
            least = np.minimum(least, risk.sum(axis=0) - self.cycle.day_cost * (wait - day))
        return least

    def _without(self, ahead: "_Ahead", soon: FloatArray, there: FloatArray) -> FloatArray:
        """Say what it costs to buy nothing of each item; what others offer too may be bought there, at a premium.

        `soon` is what may fall short until his next order day.
        """
        shared = np.isfinite(self.elsewhere)[:, None]
        dearer = np.where(shared, self.elsewhere[:, None], 0.0)
        risk = ahead.risk(there)
        instead = soon + dearer * np.maximum(ahead.use.mean(axis=1)[:, None] - there, 0.0)
        return np.where(self.own[:, None], np.where(shared, np.minimum(risk, instead), risk), soon)

    def _topped(
        self, ahead: "_Ahead", usual: Sequence[Usual], there: FloatArray, levels: tuple[FloatArray, FloatArray],
        rescued: tuple[IntArray, FloatArray], near: "_Ahead", soon: FloatArray,
    ) -> Iterator[tuple[IntArray, FloatArray]]:  # fmt: skip
        """Fill up as far as pays, and as far as carriage is free."""
        own = self.own[:, None]
        packs, cost = self._filled(ahead, usual, there, levels[0])
        packs, cost = np.where(own, packs, rescued[0]), np.where(own, cost, rescued[1])
        without = self._without(ahead, soon, there)
        packs, cost = np.where(without < cost, 0, packs), np.minimum(cost, without)
        yield packs, cost.sum(axis=0)
        goal = max(self.supplier.free_over or 0.0 if self.supplier.carriage else 0.0, self.supplier.least_order)
        low, high = np.zeros(there.shape[1]), np.ones(there.shape[1])
        short = worth_of(usual, packs)[0] < goal - TINY
        if not short.any():
            return
        best = packs
        for _ in range(TOP_UPS):
            part = (low + high) / 2
            tried = self._rounded(usual, there, levels[0][:, None] + part * (levels[1] - levels[0])[:, None])
            tried = np.maximum(packs, tried)
            reached = worth_of(usual, tried)[0] >= goal - TINY
            best = np.where(reached, tried, best)
            low, high = np.where(reached, low, part), np.where(reached, part, high)
        more = best * _packs_of(usual)
        its = np.where(own, ahead.cost(self.keep, there, more), near.cost(self.keep, there, more))
        yield best, (its + self.premium[:, None] * more).sum(axis=0)

    def _rounded(self, usual: Sequence[Usual], there: FloatArray, level: FloatArray) -> IntArray:
        """Fill up to a level in whole packs, to the nearest."""
        step = np.array([each.offer.multiple for each in usual])[:, None]
        lot = np.array([each.lot for each in usual])[:, None]
        many = np.rint(np.maximum(level - there, 0.0) / _packs_of(usual) / step).astype(np.int64) * step
        return np.where(many > 0, np.maximum(many, lot), 0)

    def _usual(self, day: float) -> list[Usual]:
        """Find the offer of each item that is cheapest for long on a day, and the lot that pays for its price."""
        found = []
        for place, mine in enumerate(self.offers):
            rate, gap = float(self.shelves.rate[place]), self.cycle.gap_days
            lots = {n: lasting(self.problem, priced_on(self.problem.offers[n], day), rate, gap) for n in mine}
            best = min(mine, key=lambda n: lots[n][0])
            offer = priced_on(self.problem.offers[best], day)
            plain = offer.at_least(rate * gap / offer.pack)
            found.append(Usual(best, offer, lots[best][1] if lots[best][1] > plain else offer.at_least(1)))
        return found

    def _ahead(self, day: float, until: float) -> "_Ahead":
        """Look at the use from a day on until what is ordered on a later one (or on itself) comes."""
        n_paths = self.problem.n_paths
        used = self.shelves.used_by(np.full(n_paths, day))
        comes = np.minimum(self.comes(until), until + self._overdue)
        use = (self.shelves.used_by(comes) - used)[:, :: max(n_paths // SAMPLE, 1)]
        before = (self.shelves.used_by(self.comes(day)) - used).mean(axis=1)
        rate = np.maximum(use.mean(axis=1) / max(float(comes.mean()) - day, 1.0), TINY)[:, None]
        return _Ahead(use=use, before=before, rate=rate, days=until - day, penalty=self.penalty)

    def comes(self, day: float) -> FloatArray:
        """Say when what is ordered on a day comes, in each future."""
        return comes_on(self.supplier, day, self.problem.n_paths)

    @cached_property
    def _overdue(self) -> FloatArray:
        """Give the days by which what is late has been ordered again."""
        leads = np.broadcast_to(self.supplier.leads, (self.problem.n_paths,))
        again: FloatArray = np.quantile(leads, OVERDUE) + self.problem.review_days + np.roll(leads, len(leads) // 3)
        return again

    def _filled(
        self, ahead: "_Ahead", usual: Sequence[Usual], there: FloatArray, level: FloatArray
    ) -> tuple[IntArray, FloatArray]:
        """Fill up to a level in whole packs, rounded to what costs least; with what that costs, for each item."""
        step = np.array([each.offer.multiple for each in usual])[:, None]
        lot, pack = np.array([each.lot for each in usual])[:, None], _packs_of(usual)
        few = np.floor(np.maximum(level[:, None] - there, 0.0) / pack / step).astype(np.int64) * step
        best, cost = few, np.full(there.shape, np.inf)
        for wanted in (few, few + step):
            many = np.where(wanted > 0, np.maximum(wanted, lot), 0)
            its = ahead.cost(self.keep, there, many * pack) + self.premium[:, None] * many * pack
            best, cost = np.where(its < cost, many, best), np.minimum(cost, its)
        return best, cost


def _packs_of(usual: Sequence[Usual]) -> FloatArray:
    return np.array([each.offer.pack for each in usual])[:, None]


def worth_of(usual: Sequence[Usual], packs: IntArray) -> tuple[FloatArray, FloatArray]:
    """Say what packs of some offers come to, and weigh, in each future."""
    plain = np.array([0.0 if each.offer.breaks else each.offer.price for each in usual])
    amounts, weights = packs.astype(np.float64), np.array([each.offer.weight for each in usual])
    goods: FloatArray = plain @ amounts
    for many, each in zip(packs, usual, strict=True):
        if each.offer.breaks:
            goods += goods_of(each.offer, many)
    return goods, weights @ amounts


@dataclass(frozen=True, kw_only=True, eq=False)
class _Ahead:
    """Use of some items until what a later order brings comes, in a sample of futures, shape (n_items, n_sample).

    `before` is what is usually used before an order placed now comes, `rate` use a day, shape (n_items, 1), and `days`
    how long an order has to last.
    """

    use: FloatArray
    before: FloatArray
    rate: FloatArray
    days: float
    penalty: Penalties

    @cached_property
    def grid(self) -> FloatArray:
        """Amounts at which the cost of a shortage is worked out, shape (n_items, GRID + 1)."""
        most = np.maximum(self.use.max(axis=1), TINY)
        grid: FloatArray = most[:, None] * (np.arange(GRID + 1) / GRID)
        return grid

    @cached_property
    def table(self) -> FloatArray:
        """What falls short from each amount, in money: of U short at the end at use d, U^2 / 2d days of a unit."""
        short = np.maximum(self.use[:, None, :] - self.grid[:, :, None], 0.0)
        once, daily = short.mean(axis=2), (short**2).mean(axis=2) / (2 * self.rate)
        table: FloatArray = self.penalty.once[:, None] * once + self.penalty.daily[:, None] * daily
        return table

    def risk(self, there: FloatArray) -> FloatArray:
        """Say what falls short of so much is expected to cost, shape (n_items, n_paths)."""
        place = np.clip(there / self.grid[:, 1:2], 0.0, GRID)
        low = np.minimum(place.astype(np.int64), GRID - 1)
        rows = np.arange(len(there))[:, None]
        risk: FloatArray = self.table[rows, low] + (self.table[rows, low + 1] - self.table[rows, low]) * (place - low)
        return risk + self.penalty.once[:, None] * np.maximum(-there, 0.0)

    def _held(self, there: FloatArray) -> FloatArray:
        """Unit-days of so much, from what an order placed now brings until the next comes."""
        left = np.maximum(there - self.before[:, None], 0.0)
        end = np.maximum(left - self.rate * self.days, 0.0)
        held: FloatArray = (left**2 - end**2) / (2 * self.rate)
        return held

    def level(self, keep: Keep, premium: FloatArray | None = None) -> FloatArray:
        """Find the amount that is best to have at the beginning, shape (n_items,)."""
        cost = keep.daily[:, None] * self._held(self.grid) + self.table
        if premium is not None:
            cost = cost + premium[:, None] * self.grid
        best = cost.argmin(axis=1)
        level: FloatArray = self.grid[np.arange(len(best)), best]
        return level

    def cost(self, keep: Keep, there: FloatArray, more: FloatArray) -> FloatArray:
        """Say what it costs to have so much more: what it adds to stock, outlasts and lets fall short."""
        whole = there + more
        held = self._held(whole) - self._held(there)
        used, level = self.before[:, None] + self.rate * self.days, keep.level[:, None]
        tail = np.maximum(whole - used - level, 0.0) ** 2 - np.maximum(there - used - level, 0.0) ** 2
        spoilt = np.maximum(whole - self.rate * keep.shelf_days[:, None], 0.0)
        spoilt = np.where(more > 0, np.minimum(spoilt, more), 0.0) * keep.unit_cost[:, None]
        cost: FloatArray = keep.daily[:, None] * (held + tail / (2 * self.rate)) + spoilt + self.risk(whole)
        return cost


def order_rules(problem: OrderProblem, figures: Figures, cycles: Mapping[int, OrderCycle]) -> dict[int, OrderRule]:
    """Set out every supplier's rule."""
    dearer = np.full((len(problem.suppliers), len(problem.items)), np.inf)
    for each, unit in zip(problem.offers, figures.unit, strict=True):
        dearer[each.supplier, each.item] = min(dearer[each.supplier, each.item], unit - figures.price[each.item])
    leads = np.array([float(each.leads.mean()) for each in problem.suppliers])
    found, level = {}, np.zeros(len(problem.items))
    for number, cycle in cycles.items():
        level[figures.home == number] = cycle.level
    for number, cycle in cycles.items():
        sooner = leads[number] < leads[figures.home]  # who delivers later bridges nothing
        alike = dearer[number] <= ALIKE * figures.price
        items = np.flatnonzero(np.isfinite(dearer[number]) & ((figures.home == number) | alike | sooner))
        own = (figures.home[items] == number) | (dearer[number, items] <= ALIKE * figures.price[items])
        found[number] = OrderRule(
            problem=problem,
            number=number,
            items=items,
            own=own,
            premium=np.maximum(dearer[number, items], 0.0),
            elsewhere=np.delete(dearer, number, axis=0)[:, items].min(axis=0, initial=np.inf),
            shelves=futures(problem, items),
            penalty=figures.of(items),
            keep=keeping(problem, items, level[items], figures),
            cycle=cycle,
        )
    return found
