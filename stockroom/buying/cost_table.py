"""The one table of expected costs: every way to buy every item, for every order day the shelf may have to last to."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import NamedTuple

import numpy as np

from stockroom.buying.announced_prices import ahead, spared
from stockroom.buying.bridging import bridged
from stockroom.buying.expected_cost import CoverWindows, ExpectedCost, short_before, stacked, table, windows
from stockroom.buying.going_back import eased
from stockroom.buying.long_run import LongRun, keeping, long_run, untils_of
from stockroom.buying.order_cycle import OrderCycle, unpaid_carriage
from stockroom.buying.problem import BoolArray, FloatArray, IntArray, OrderItem, OrderProblem, PackOffer
from stockroom.buying.shelf_futures import BATCH, StockFutures, futures

COUNTS = 24  # pack counts tried per offer, with none
FEW = 3  # of them the smallest
NEAR_WAITS, NEAR_LEVELS, FAR_LEVELS = 5, (0.7, 0.95, 0.995), (0.98,)  # certainty of lasting that amounts aim at
ROUNDING = 1e-9  # a limit that is just reached is kept
TINY = 1e-9
PARTS = ("held", "short", "expiry", "tail", "lasting")
MISSED = 1e5  # weight, in money, that makes a wish come before costs


class CyclePlan(NamedTuple):
    """Order from a supplier now or not, and which of its next order days the shelf must last to.

    A wait of `ANY` is, for each option, whichever order day is cheapest: a bound.
    """

    now: bool
    wait: int


Plans = tuple[CyclePlan, ...]


def changed(plans: Plans, slot: int, plan: CyclePlan) -> Plans:
    """Plan anew with one supplier."""
    return (*plans[:slot], plan, *plans[slot + 1 :])


class Bought(NamedTuple):
    """A number of packs of an offer to cost beside those tried by themselves, what they bring, and what is paid."""

    packs: int
    amount: float
    spend: float


NOTHING = Bought(0, 0.0, 0.0)
ANY = -1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CostTable:
    """Expected costs of the options of some items.

    Per item (n_items,): its position in the problem, its usual supplier (the cheapest in the long run), use per day,
    what is on hand and coming, and what a unit costs in the long run. Per option (n_items, n_options), the first of
    which is to buy nothing: supplier (-1: none), offer, packs, amount, money for the goods, weight of the packs, and
    what it spares of a price that will rise; `uses` are what it takes of the limits (cash, space, litres): goods on
    approval take no cash. Per offer (n_offers,): its
    position, item and supplier; `cost` and `plain` have shape (n_offers, n_waits + 1, n_counts), the last wait being
    the cheapest; `plain` leaves out the weight of a wished service.
    Per supplier (n_suppliers,): the days from now of his next orders, what his orders cost in the long run, what of his
    carriage an order at the next of these days pays that isn't paid anyway, and whether he alone offers all he offers.
    """

    items: IntArray
    home: IntArray
    rate: FloatArray
    position: FloatArray
    price: FloatArray
    slot: IntArray
    offer: IntArray
    packs: IntArray
    amounts: FloatArray
    spend: FloatArray
    weights: FloatArray
    spared: FloatArray
    uses: FloatArray
    offers: IntArray
    of_item: IntArray
    of_slot: IntArray
    rank: IntArray  # among its item's offers
    premium: FloatArray  # how much dearer a unit is there in the long run than from the usual supplier
    cost: FloatArray
    plain: FloatArray
    parts: ExpectedCost
    suppliers: IntArray
    untils: FloatArray  # (n_suppliers, n_waits + 1); inf beyond his order days; the last: the first of them
    leads: FloatArray  # usual days
    nexts: FloatArray  # usual days from now to the shelf of what is ordered on each of `untils`
    gap_days: FloatArray
    unpaid: FloatArray
    day_cost: FloatArray
    may_order: BoolArray
    alone: BoolArray

    def plans(self, slot: int) -> tuple[CyclePlan, ...]:
        """List what may be planned with one supplier.

        Waiting may last as long as an order placed now: were it cut short, a full shelf could never wait to its end.
        """
        waits = np.flatnonzero(np.isfinite(self.untils[slot, :-1])).tolist()
        choices = (False, True) if self.may_order[slot] else (False,)
        return tuple(CyclePlan(now, wait) for now in choices for wait in waits)

    def costs(self, plans: Plans, *, wished: bool = True) -> FloatArray:
        """Cost of each option under these plans, without carriage and order cycle; inf where not open.

        What is used before the usual supplier's next order can arrive, and is not bought now, has to be bought at the
        premium of whoever sells it; where nothing is bought now, with the carriage that bridging pays. With `wished`,
        options that miss the wished service carry its weight.
        """
        now, wait = np.array(plans, dtype=np.intp).T
        arrival = self.nexts[np.arange(len(wait)), wait]
        shortfall = np.maximum(self.rate * arrival[self.home] - self.position, 0.0)[self.of_item]
        told = (self.cost if wished else self.plain)[np.arange(len(self.offers)), wait[self.of_slot]]
        laid = np.full((*self.slot.shape[:1], self._most_offers, told.shape[1] - 1), np.inf)
        opened = np.flatnonzero(now[self.of_slot])
        if len(opened):
            bought = self.amounts.reshape(-1)[self._place(opened)]
            late = self.premium[opened, None] * np.maximum(shortfall[opened, None] - bought, 0.0)
            laid[self.of_item[opened], self.rank[opened]] = told[opened, 1:] + late
        instead = (self.premium * shortfall + self.unpaid[self.of_slot]) * ((self.premium > 0) & (shortfall > 0))
        waiting = np.minimum.reduceat(told[:, 0] + instead, np.flatnonzero(self.rank == 0))
        return np.concatenate([waiting[:, None], laid.reshape(len(self.items), -1)], axis=1)

    def cycle(self, plans: Plans, slots: IntArray | None = None) -> float:
        """Price the time bridged by the plans of some suppliers (all) at its long-run cost."""
        chosen = np.arange(len(plans)) if slots is None else slots
        waits = np.array([plans[slot].wait for slot in chosen], dtype=np.intp)
        return float(self.day_cost[chosen] @ self.untils[chosen, waits])

    def at(self, row: int, option: int) -> tuple[int, int]:
        """Find an option's row among the offers, and its column among the counts."""
        rank, column = divmod(option - 1, self.cost.shape[2] - 1)
        return int(np.flatnonzero((self.of_item == row) & (self.rank == rank))[0]), int(column) + 1

    def only(self, rows: IntArray) -> "CostTable":
        """Keep some of the items, in ascending order."""
        kept = np.flatnonzero(np.isin(self.of_item, rows))
        width = 1 + (int(self.rank[kept].max(initial=0)) + 1) * (self.cost.shape[2] - 1)
        per_item = {name: getattr(self, name)[rows] for name in ("items", "home", "rate", "position", "price")}
        per_option = {
            name: getattr(self, name)[rows, :width]
            for name in ("slot", "offer", "packs", "amounts", "spend", "weights", "spared")
        }
        per_offer = {name: getattr(self, name)[kept] for name in ("offers", "of_slot", "rank", "premium", "cost")}
        return replace(
            self,
            **per_item,
            **per_option,
            **per_offer,
            uses=self.uses[:, rows, :width],
            of_item=np.searchsorted(rows, self.of_item[kept]),
            plain=per_offer["cost"] if self.plain is self.cost else self.plain[kept],
        )

    def within(self, room: FloatArray) -> "CostTable":
        """Leave out options that alone take more cash, space or litres than there is."""
        fits = (self.uses <= room[:, None, None] + ROUNDING).all(axis=0)
        kept = np.ones((len(self.offers), self.cost.shape[2]), dtype=np.bool_)
        kept[:, 1:] = fits.reshape(-1)[self._place(np.arange(len(self.offers)))]
        return replace(self, cost=np.where(kept[:, None, :], self.cost, np.inf))

    @property
    def _most_offers(self) -> int:
        return int((self.slot.shape[1] - 1) // (self.cost.shape[2] - 1))

    def _place(self, offers: IntArray) -> IntArray:
        """Find where an offer's pack counts stand in the flattened options, shape (n_offers, n_counts - 1)."""
        many = self.cost.shape[2] - 1
        first: IntArray = self.of_item[offers] * self.slot.shape[1] + 1 + self.rank[offers] * many
        return first[:, None] + np.arange(many)


def cost_table(problem: OrderProblem, also: Mapping[int, Bought] | None = None) -> CostTable | None:
    """Work out what every way to buy every item that is offered is expected to cost; None where nothing is offered.

    `also` are purchases to cost beside those thought of here, by offer: the last option of each.
    """
    if not problem.offers:
        return None
    known = figures, cycles = long_run(problem)
    sheets = [_sheet(problem, known, number, also or {}) for number in cycles]
    items, of_item = np.unique(np.concatenate([each.items for each in sheets]), return_inverse=True)
    of_slot = np.repeat(np.arange(len(sheets)), [len(each.offers) for each in sheets])
    order = np.lexsort((np.arange(len(of_item)), of_item))
    of_item, of_slot = of_item[order], of_slot[order]
    rank = np.arange(len(of_item)) - np.searchsorted(of_item, np.arange(len(items)))[of_item]
    n_waits = max(len(each.untils) for each in sheets)
    offers, counts, spend, amounts, saved = (
        np.concatenate([getattr(each, name) for each in sheets])[order]
        for name in ("offers", "counts", "spend", "amounts", "spared")
    )
    cost, plain = (_and_best([getattr(each, name) for each in sheets], n_waits)[order] for name in ("cost", "plain"))
    laid = partial(_laid, of_item, rank, counts.shape[1] - 1)
    amount, weight = laid(amounts[:, 1:], 0.0), np.array([each.weight for each in problem.offers])[offers]
    slot_of = {each.supplier: slot for slot, each in enumerate(sheets)}
    return CostTable(
        items=items,
        home=np.array([slot_of[int(figures.home[each])] for each in items]),
        rate=problem.use[:, items, :].mean(axis=(0, 2)) / problem.step_days,
        position=np.array([_position(problem.items[each]) for each in items]),
        price=figures.price[items],
        slot=laid(of_slot[:, None], -1.0).astype(np.int64),
        offer=laid(offers[:, None], -1.0).astype(np.int64),
        packs=laid(counts[:, 1:], 0.0).astype(np.int64),
        amounts=amount,
        spend=laid(spend[:, 1:], 0.0),
        weights=laid(counts[:, 1:] * weight[:, None], 0.0),
        uses=_uses(problem, items, laid(_cash(problem, offers, spend)[:, 1:], 0.0), amount),
        spared=laid(saved[:, 1:], 0.0),
        offers=offers,
        of_item=of_item,
        of_slot=of_slot,
        rank=rank,
        premium=_premium(figures.unit[offers] - figures.price[items[of_item]], of_item, of_slot),
        cost=plain if problem.what_if.service is None else cost,
        plain=plain,
        parts=ExpectedCost(**{n: _over_waits([getattr(s.parts, n) for s in sheets], n_waits)[order] for n in PARTS}),
        suppliers=np.array([each.supplier for each in sheets]),
        untils=_untils(sheets, n_waits),
        leads=np.array([each.lead for each in sheets]),
        nexts=_nexts(problem, sheets, n_waits),
        **_cycles(problem, sheets),
        may_order=np.array([each.may_order for each in sheets]),
        alone=_alone(of_item, of_slot, len(sheets)),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sheet:
    """One supplier's part of the table: as in `CostTable`, with his own waits and the weight of the service wish."""

    supplier: int
    offers: IntArray
    items: IntArray
    counts: IntArray
    spend: FloatArray
    amounts: FloatArray
    spared: FloatArray
    cost: FloatArray
    plain: FloatArray
    parts: ExpectedCost
    untils: FloatArray
    cycle: OrderCycle
    lead: float
    may_order: bool


def _sheet(problem: OrderProblem, known: LongRun, number: int, also: Mapping[int, Bought]) -> _Sheet:
    """Cost every pack count of a supplier's offers, for every order day of his.

    What is short before an order placed now could arrive is part of each, unless another supplier bridges it more
    cheaply; what is left over is worth what it saves later, its price in the long run.
    """
    figures, supplier = known[0], problem.suppliers[number]
    offers = np.array([index for index, each in enumerate(problem.offers) if each.supplier == number])
    items = np.array([problem.offers[each].item for each in offers])
    starts = range(0, len(offers), BATCH)
    batches = [_part(problem, known, number, (offers[start : start + BATCH], also)) for start in starts]
    counts, amounts, short, saved = (np.concatenate([each[index] for each in batches]) for index in range(4))
    parts = stacked([each[4] for each in batches])
    spend = np.array([[_paid(problem.offers[o], int(n)) for n in row] for o, row in zip(offers, counts, strict=True)])
    if also:
        spend[:, -1] = [also.get(int(each), NOTHING).spend for each in offers]
    extra = spend - amounts * figures.price[items][:, None] - saved
    plain = parts.cost - parts.short + short + extra[:, None, :]
    plain[:, :, 1:][np.broadcast_to((counts[:, 1:] == 0)[:, None, :], plain[:, :, 1:].shape)] = np.inf
    return _Sheet(
        supplier=number,
        offers=offers,
        items=items,
        counts=counts,
        spend=spend,
        amounts=amounts,
        spared=saved,
        cost=plain + _missed(problem, parts),
        plain=plain,
        parts=parts,
        untils=untils_of(problem, number),
        cycle=known[1][number],
        lead=float(np.mean(supplier.leads)),
        may_order=supplier.order_days[0] == 0 and supplier.name not in problem.what_if.skip,
    )


def _cash(problem: OrderProblem, offers: IntArray, spend: FloatArray) -> FloatArray:
    """Say what of the money for the goods is needed now: goods on approval take none."""
    later = [problem.offers[each].back for each in offers]
    now = np.array([0.0 if back is not None and back.on_approval else 1.0 for back in later])
    cash: FloatArray = spend * now[:, None]
    return cash


def _uses(problem: OrderProblem, items: IntArray, spend: FloatArray, amount: FloatArray) -> FloatArray:
    """Work out what the options take of cash, space and litres."""
    room = np.array([[problem.items[each].space, problem.items[each].flammable] for each in items]).T
    return np.stack([spend, *(amount * each[:, None] for each in room)])


def _position(item: OrderItem) -> float:
    """Add up what is on hand and coming."""
    return float(np.mean(item.on_hand)) + sum(each.quantity for each in item.coming)


def _laid(of_item: IntArray, rank: IntArray, many: int, values: IntArray | FloatArray, empty: float) -> FloatArray:
    """Set out what belongs to offers and pack counts by item and option."""
    n_items = int(of_item.max()) + 1
    whole = np.full((n_items, int(rank.max()) + 1, many), empty)
    whole[of_item, rank] = values
    return np.concatenate([np.full((n_items, 1), empty), whole.reshape(n_items, -1)], axis=1)


def _over_waits(values: Sequence[FloatArray], n_waits: int) -> FloatArray:
    """Join what belongs to the offers of each supplier, waits filled up."""
    return np.concatenate([_padded(each, n_waits) for each in values])


def _and_best(values: Sequence[FloatArray], n_waits: int) -> FloatArray:
    """Join costs so, and add the cheapest wait as the last."""
    costs = _over_waits(values, n_waits)
    return np.concatenate([costs, costs.min(axis=1, keepdims=True)], axis=1)


def _padded(values: FloatArray, n_waits: int) -> FloatArray:
    """Fill up the waits a supplier does not have: what is planned for them costs infinitely much."""
    return np.pad(values, ((0, 0), (0, n_waits - values.shape[1]), (0, 0)), constant_values=np.inf)


def _alone(of_item: IntArray, of_slot: IntArray, n_suppliers: int) -> BoolArray:
    """Find the suppliers none of whose items anyone else offers."""
    offered = np.zeros((int(of_item.max()) + 1, n_suppliers), dtype=np.bool_)
    offered[of_item, of_slot] = True
    alone: BoolArray = ~offered[offered.sum(axis=1) > 1].any(axis=0)
    return alone


def _premium(dearer: FloatArray, of_item: IntArray, of_slot: IntArray) -> FloatArray:
    """Take the least premium of the offers that a supplier has for an item."""
    pair = of_item * (int(of_slot.max()) + 1) + of_slot
    least = np.full(int(pair.max()) + 1, np.inf)
    np.minimum.at(least, pair, dearer)
    premium: FloatArray = least[pair]
    return premium


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


def _part(
    problem: OrderProblem, known: LongRun, number: int, tried: tuple[IntArray, Mapping[int, Bought]]
) -> tuple[IntArray, FloatArray, FloatArray, FloatArray, ExpectedCost]:
    """Pack counts, amounts, cost of what is short, what is spared of a rise, and table of some offers."""
    (figures, cycles), (offers, also), supplier = known, tried, problem.suppliers[number]
    items = np.array([problem.offers[each].item for each in offers])
    shelves = futures(problem, items)
    span = windows(supplier, untils_of(problem, number), shelves)
    until = cycles[number].gap_days + float(np.mean(supplier.leads))
    level = np.quantile(shelves.used_by(np.full(problem.n_paths, until)), 0.95, axis=1)
    own, keep, change = figures.of(items), keeping(problem, items, level, figures), figures.change.of(items)
    wanted = _wanted(shelves, span)
    if change.rise.any():
        wanted = np.concatenate([wanted, ahead(shelves, keep, change)], axis=1)
    counts = np.stack([_counts(problem.offers[o], row) for o, row in zip(offers, wanted, strict=True)])
    amounts = counts * np.array([problem.offers[each].pack for each in offers])[:, None]
    if also:
        asked = [also.get(int(each), NOTHING) for each in offers]
        counts = np.column_stack([counts, [each.packs for each in asked]])
        amounts = np.column_stack([amounts, [each.amount for each in asked]])
    costing = {row: figures.relief[int(item)] for row, item in enumerate(items) if int(item) in figures.relief}
    told = table(shelves, span, amounts, own, keep, costing)
    mine = [problem.offers[each] for each in offers]
    if any(each.back for each in mine):
        told = eased(told, shelves, span, (amounts, _unit_prices(mine, counts)), keep, mine)
    alone = short_before(shelves, span.first, own)[:, None, None] + told.short
    short = np.minimum(alone, bridged(problem, known, offers, shelves, (span, amounts)))
    told = replace(told, short=told.short * short / np.maximum(alone, TINY))
    return counts, amounts, short, spared(shelves, amounts, keep, change), told


def _untils(sheets: Sequence[_Sheet], n_waits: int) -> FloatArray:
    """Give each supplier's next order days, and the first of them once more."""
    untils = np.stack([_padded(each.untils[None, :, None], n_waits)[0, :, 0] for each in sheets])
    return np.concatenate([untils, untils[:, :1]], axis=1)


def _cycles(problem: OrderProblem, sheets: Sequence[_Sheet]) -> dict[str, FloatArray]:
    """Give what each supplier's orders are like in the long run."""
    unpaid = [unpaid_carriage(problem.suppliers[each.supplier], each.cycle, each.untils[0]) for each in sheets]
    return {
        "gap_days": np.array([each.cycle.gap_days for each in sheets]),
        "unpaid": np.array(unpaid),
        "day_cost": np.array([each.cycle.day_cost for each in sheets]),
    }


def _nexts(problem: OrderProblem, sheets: Sequence[_Sheet], n_waits: int) -> FloatArray:
    """Give when what is ordered on each of those days usually comes."""
    suppliers, days = [problem.suppliers[each.supplier] for each in sheets], _untils(sheets, n_waits)
    return np.stack([at + s.lead + own.delay(at) for s, own, at in zip(sheets, suppliers, days, strict=True)])


def _unit_prices(offers: Sequence[PackOffer], counts: IntArray) -> FloatArray:
    """Give what a unit costs at each pack count, shape (n_offers, n_counts)."""
    return np.array([[o.price_at(int(n)) / o.pack for n in row] for o, row in zip(offers, counts, strict=True)])


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
    few = offer.at_least(1) + offer.multiple * np.arange(FEW)
    starts = [offer.at_least(each.packs) for each in offer.breaks if each.packs > offer.least_packs]
    tried = np.unique(np.concatenate([[offer.at_least(each) for each in wanted / offer.pack], few]))
    room = COUNTS - 1 - len(starts)
    if len(tried) > room:
        tried = tried[np.unique(np.linspace(0, len(tried) - 1, room).round().astype(np.int64))]
    tried = np.unique(np.concatenate([tried, starts]))
    counts = np.zeros(COUNTS, dtype=np.int64)
    counts[1 : 1 + len(tried)] = tried[: COUNTS - 1]
    return counts
