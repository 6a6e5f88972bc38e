"""When an order goes out in the year ahead, and what it fills up: the basket's trade-off for many shelves at once."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from stockroom.buying.expected_cost import Keep, ordered_again
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
NEVER = 10**9  # packs of an order
DAY_PART = 0.5  # an order day half a day before a span is over still counts
TINY = 1e-9


def priced_on(offer: PackOffer, day: float) -> PackOffer:
    """Give an offer as it is priced on a day."""
    return offer.then if offer.then is not None and day >= offer.changes else offer


def goods_of(offer: PackOffer, packs: IntArray) -> FloatArray:
    """Price so many packs of an offer, in every future."""
    price = np.full(packs.shape, offer.price)
    for step in sorted(offer.breaks, key=lambda each: each.packs):
        price = np.where(packs >= step.packs, step.price, price)
    goods: FloatArray = packs * price
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Usual:
    """The offer of each item that is bought on a day: packs' size, how many are sold together, and the least lot.

    The lot pays for its price. Pack, step, lot and weight have shape (n_items, 1); of `prices`, shape (n_items,
    n_prices), each holds from `starts` packs on.
    """

    numbers: tuple[int, ...]
    pack: FloatArray
    step: IntArray
    lot: IntArray
    weight: FloatArray
    starts: IntArray
    prices: FloatArray

    def worth(self, packs: IntArray) -> tuple[FloatArray, FloatArray]:
        """Say what packs of these offers come to, and weigh, in each future."""
        price = self.prices[:, :1]
        for starts, then in zip(self.starts.T[1:, :, None], self.prices.T[1:, :, None], strict=True):
            price = np.where(packs >= starts, then, price)
        return (price * packs).sum(axis=0), (self.weight * packs).sum(axis=0)


def _usual_of(found: Sequence[tuple[int, PackOffer, int]]) -> Usual:
    """Set out offers by their number, and the lot of each."""
    steps = [sorted((each.packs, each.price) for each in offer.breaks) for _, offer, _ in found]
    many = max(map(len, steps), default=0)
    laid = [
        [(0, offer.price), *own, *[(NEVER, offer.price)] * (many - len(own))]
        for (_, offer, _), own in zip(found, steps, strict=True)
    ]
    starts, prices = np.moveaxis(np.array(laid, dtype=np.float64).reshape(len(found), many + 1, 2), 2, 0)
    offers = [offer for _, offer, _ in found]
    return Usual(
        numbers=tuple(number for number, _, _ in found),
        pack=np.array([each.pack for each in offers])[:, None],
        step=np.array([each.multiple for each in offers])[:, None],
        lot=np.array([lot for _, _, lot in found])[:, None],
        weight=np.array([each.weight for each in offers])[:, None],
        starts=starts.astype(np.int64),
        prices=prices,
    )


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
        spans, waits, usual = self._spans(day, later), later[:WAITS].tolist(), self._usual(day)
        aheads = self._aheads(day, {day, *waits, *spans})
        near = aheads[waits[0]]
        enough = near.level(self.keep, self.premium)
        rescued = self._filled(near, usual, there, enough)
        soon = near.risk(there)
        least = self._waiting([aheads[each] for each in waits], soon, there)
        before = aheads[day].risk(there)[self.own].sum(axis=0)
        packs = np.zeros(there.shape, dtype=np.int64)
        most = np.where(self.own, aheads[spans[-1]].level(self.keep), enough)
        for until in spans[:-1]:
            ahead = aheads[until]
            least_level = np.where(self.own, ahead.level(self.keep), enough)
            levels = least_level, np.maximum(most, least_level)
            for tried, cost in self._topped(ahead, usual, there, levels, rescued, near, soon):
                goods, weight = usual.worth(tried)
                total = cost + before + paid_on(self.supplier, goods) - self.cycle.day_cost * (until - day)
                taken = (goods >= self.supplier.least_order - TINY) & (weight >= self.supplier.least_weight - TINY)
                better = taken & (goods > 0) & (total < least)
                packs, least = np.where(better, tried, packs), np.where(better, total, least)
        return dict(zip(usual.numbers, packs, strict=True))

    def _spans(self, day: float, later: FloatArray) -> list[float]:
        """Give the order days that an order is tried to last to, and one more to fill up to."""
        spans = day + np.array(SPANS) * self.cycle.gap_days - DAY_PART
        places = np.minimum(np.searchsorted(later, spans), len(later) - 1)
        more = min(int(places[-1]) + MORE, len(later) - 1)
        return [*later[np.unique(places)].tolist(), float(later[more])]

    def _waiting(self, waits: Sequence["_Ahead"], soon: FloatArray, there: FloatArray) -> FloatArray:
        """Say what the best wait costs."""
        least = np.full(there.shape[1], np.inf)
        for wait in waits:
            risk = self._without(wait, soon, there)
            least = np.minimum(least, risk.sum(axis=0) - self.cycle.day_cost * wait.days)
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
        self, ahead: "_Ahead", usual: Usual, there: FloatArray, levels: tuple[FloatArray, FloatArray],
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
        short = usual.worth(packs)[0] < goal - TINY
        if not short.any():
            return
        best = packs
        for _ in range(TOP_UPS):
            part = (low + high) / 2
            tried = self._rounded(usual, there, levels[0][:, None] + part * (levels[1] - levels[0])[:, None])
            tried = np.maximum(packs, tried)
            reached = usual.worth(tried)[0] >= goal - TINY
            best = np.where(reached, tried, best)
            low, high = np.where(reached, low, part), np.where(reached, part, high)
        more = best * usual.pack
        its = np.where(own, ahead.cost(self.keep, there, more), near.cost(self.keep, there, more))
        yield best, (its + self.premium[:, None] * more).sum(axis=0)

    def _rounded(self, usual: Usual, there: FloatArray, level: FloatArray) -> IntArray:
        """Fill up to a level in whole packs, to the nearest."""
        many = np.rint(np.maximum(level - there, 0.0) / usual.pack / usual.step).astype(np.int64) * usual.step
        return np.where(many > 0, np.maximum(many, usual.lot), 0)

    def _usual(self, day: float) -> Usual:
        """Find the offer of each item that is cheapest for long on a day, and the lot that pays for its price."""
        found = []
        for place, mine in enumerate(self.offers):
            rate, gap = float(self.shelves.rate[place]), self.cycle.gap_days
            lots = {n: lasting(self.problem, priced_on(self.problem.offers[n], day), rate, gap) for n in mine}
            best = min(mine, key=lambda n: lots[n][0])
            offer = priced_on(self.problem.offers[best], day)
            plain = offer.at_least(rate * gap / offer.pack)
            found.append((best, offer, lots[best][1] if lots[best][1] > plain else offer.at_least(1)))
        return _usual_of(found)

    def _aheads(self, day: float, untils: set[float]) -> dict[float, "_Ahead"]:
        """Look at the use from a day on until what is ordered on some later ones (or on itself) comes."""
        n_paths = self.problem.n_paths
        used = self.shelves.used_by(np.full(n_paths, day))
        before = (self.shelves.used_by(self.comes(day)) - used).mean(axis=1)
        found = {}
        for until in untils:
            comes = np.minimum(self.comes(until), until + self._overdue)
            use = (self.shelves.used_by(comes) - used)[:, :: max(n_paths // SAMPLE, 1)]
            rate = np.maximum(use.mean(axis=1) / max(float(comes.mean()) - day, 1.0), TINY)[:, None]
            found[until] = _Ahead(use=use, before=before, rate=rate, days=until - day, penalty=self.penalty)
        return found

    def comes(self, day: float) -> FloatArray:
        """Say when what is ordered on a day comes, in each future."""
        return comes_on(self.supplier, day, self.problem.n_paths)

    @cached_property
    def _overdue(self) -> FloatArray:
        """Give the days by which what is late has been ordered again."""
        leads = np.broadcast_to(self.supplier.leads, (self.problem.n_paths,))
        return ordered_again(leads, self.problem.review_days)

    def _filled(
        self, ahead: "_Ahead", usual: Usual, there: FloatArray, level: FloatArray
    ) -> tuple[IntArray, FloatArray]:
        """Fill up to a level in whole packs, rounded to what costs least; with what that costs, for each item."""
        pack, step = usual.pack, usual.step
        few = np.floor(np.maximum(level[:, None] - there, 0.0) / pack / step).astype(np.int64) * step
        best, cost = few, np.full(there.shape, np.inf)
        for wanted in (few, few + step):
            many = np.where(wanted > 0, np.maximum(wanted, usual.lot), 0)
            its = ahead.cost(self.keep, there, many * pack) + self.premium[:, None] * many * pack
            best, cost = np.where(its < cost, many, best), np.minimum(cost, its)
        return best, cost


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
        once, squares = short.mean(axis=2), np.einsum("igf,igf->ig", short, short) / short.shape[2]
        daily = squares / (2 * self.rate)
        table: FloatArray = self.penalty.once[:, None] * once + self.penalty.daily[:, None] * daily
        return table

    def risk(self, there: FloatArray) -> FloatArray:
        """Say what falls short of so much is expected to cost, shape (n_items, n_paths)."""
        place = np.clip(there / self.grid[:, 1:2], 0.0, GRID)
        low = np.minimum(place.astype(np.int64), GRID - 1)
        at = low + (GRID + 1) * np.arange(len(there))[:, None]
        left = self.table.take(at)
        risk: FloatArray = left + (self.table.take(at + 1) - left) * (place - low)
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
