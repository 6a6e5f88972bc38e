"""Any basket priced against the chosen one: what it costs, what it risks, and what it goes beyond."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from stockroom.buying.basket import Basket, room_left
from stockroom.buying.cost_table import Bought, CostTable, cost_table
from stockroom.buying.packing import carriage, terms_of
from stockroom.buying.problem import BoolArray, FloatArray, IntArray, OnTheWay, OrderProblem
from stockroom.buying.search import best_waits

TINY = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PricedBasket:
    """A basket beside the suggested one; money in the shop's unit.

    `dearer` is what it is expected to cost beyond the suggested one in all: goods, carriage, keeping, delayed work and
    lost sales, and what is left over. `risk` is what is expected of delayed work and lost sales until what is ordered
    on the next order days comes, shape (n_items,), and `risk_suggested` the same for the suggested basket.
    `over` is what cash, space and litres are exceeded by, `below` what is missing to a supplier's minimum order,
    `light` to its least weight, and `unsold` are the offers not sold in so many packs.
    """

    goods: float
    carriage: float
    dearer: float
    risk: FloatArray
    risk_suggested: FloatArray
    over: FloatArray
    below: Mapping[int, float]
    light: Mapping[int, float] = field(default_factory=dict)
    unsold: tuple[int, ...] = ()

    @property
    def fits(self) -> bool:
        """Whether it can be ordered as it is."""
        return not (self.below or self.light or self.unsold) and bool((self.over <= TINY).all())


def reprice(problem: OrderProblem, suggested: Basket, packs: Mapping[int, int]) -> PricedBasket:
    """Price a basket beside the suggested one.

    Parameters
    ----------
    problem : OrderProblem
        That the suggested basket answers.
    suggested : Basket
        What it is held against.
    packs : mapping of int to int
        Packs of each offer; those not named are not bought.

    Notes
    -----
    The packs are costed as they are, by the same table; each supplier's next order is planned for the day that is best
    for them. Where an item is bought in several offers, they are kept and paid for as if they came together with the
    last, but what comes sooner fills the shelf until then.
    """
    wanted = {offer: n for offer, n in packs.items() if n > 0}
    own, its = _together(problem, wanted), suggested.found
    mine = cost_table(problem, own)
    if mine is None or its is None:
        none = np.zeros(len(problem.items))
        return PricedBasket(
            goods=0.0, carriage=0.0, dearer=0.0, risk=none, risk_suggested=none, over=np.zeros(3), below={}
        )
    mine = _in_turn(problem, wanted, own, mine)
    terms, values = terms_of(problem, mine), _values(problem, mine, wanted)
    choice, paid = _choice(mine, own), carriage(terms, values)
    return PricedBasket(
        goods=float(values.sum()),
        carriage=float(paid.sum()),
        dearer=best_waits(mine, choice, values > 0, wished=False)[1] + float(paid.sum()) - suggested.cost,
        risk=_risk(problem, mine, choice),
        risk_suggested=_risk(problem, its.table, its.choice),
        over=_over(problem, mine, choice, float(paid.sum())),
        below=_below(mine, values, terms.least - values),
        light=_below(mine, values, terms.weight - _values(problem, mine, wanted, heavy=True)),
        unsold=tuple(each for each, n in wanted.items() if problem.offers[each].at_least(n) != n),
    )


def _together(problem: OrderProblem, packs: Mapping[int, int]) -> dict[int, Bought]:
    """Bring what is bought of an item in several offers together in the one that comes last, the largest of these."""
    by_item: dict[int, list[tuple[float, float, int, int]]] = defaultdict(list)
    for number, count in packs.items():
        offer = problem.offers[number]
        by_item[offer.item].append((_lead(problem, number), count * offer.pack, number, count))
    found = {}
    for lines in by_item.values():
        spend = sum(count * problem.offers[number].price_at(count) for _, _, number, count in lines)
        *_, main, count = max(lines)
        found[main] = Bought(count, sum(amount for _, amount, _, _ in lines), spend)
    return found


def _lead(problem: OrderProblem, offer: int) -> float:
    return float(np.mean(problem.suppliers[problem.offers[offer].supplier].leads))


def _in_turn(problem: OrderProblem, packs: Mapping[int, int], own: Mapping[int, Bought], table: CostTable) -> CostTable:
    """Charge what is bought together only for what is short though the sooner of it has come."""
    mains, items = {problem.offers[main].item: main for main in own}, list(problem.items)
    last, changed = dict(own), []
    for number, count in packs.items():
        offer = problem.offers[number]
        main = mains[offer.item]
        if offer.supplier != problem.offers[main].supplier:
            each, amount = items[offer.item], count * offer.pack
            sooner = OnTheWay(quantity=amount, arrives=problem.suppliers[offer.supplier].leads)
            items[offer.item] = replace(each, coming=(*each.coming, sooner))
            last[main] = last[main]._replace(amount=last[main].amount - amount)
            changed.append(main)
    after = cost_table(replace(problem, items=tuple(items)), last) if changed else None
    if after is None:
        return table
    plain, short = table.plain.copy(), table.parts.short.copy()
    for place in np.flatnonzero(np.isin(table.offers, changed)).tolist():
        waits = np.isfinite(table.plain[place, :-1, -1])  # the rest are filled up: he has not so many order days
        plain[place, :-1, -1][waits] += _short(after, place, waits) - _short(table, place, waits)
        plain[place, -1, -1] = plain[place, :-1, -1].min()
        short[place, :, -1] = after.parts.short[place, :, -1]
    return replace(table, plain=plain, parts=replace(table.parts, short=short))


def _short(table: CostTable, place: int, waits: BoolArray) -> FloatArray:
    """Cost what is short with what is bought in an offer, for some waits: what neither keeping nor paying for it is."""
    parts, row = table.parts, int(table.of_item[place])
    option = (int(table.rank[place]) + 1) * (table.cost.shape[2] - 1)
    paid = table.spend[row, option] - table.amounts[row, option] * table.price[row] - table.spared[row, option]
    kept = (parts.held + parts.expiry + parts.tail)[place, waits, -1]
    short: FloatArray = table.plain[place, :-1, -1][waits] - kept - paid
    return short


def _values(problem: OrderProblem, table: CostTable, packs: Mapping[int, int], *, heavy: bool = False) -> FloatArray:
    """Goods value of the order with each supplier, or its weight."""
    values = np.zeros(len(table.suppliers))
    for number, count in packs.items():
        offer = problem.offers[number]
        values[np.flatnonzero(table.suppliers == offer.supplier)] += count * (
            offer.weight if heavy else offer.price_at(count)
        )
    return values


def _choice(table: CostTable, own: Mapping[int, Bought]) -> IntArray:
    """Find the option of each item that stands for what is bought of it: the last of its offer."""
    choice = np.zeros(len(table.items), dtype=np.int64)
    many = table.cost.shape[2] - 1
    for offer in own:
        place = int(np.flatnonzero(table.offers == offer)[0])
        choice[table.of_item[place]] = (table.rank[place] + 1) * many
    return choice


def _risk(problem: OrderProblem, table: CostTable, choice: IntArray) -> FloatArray:
    """Expect what delayed work and lost sales of each item come to until what the next order days bring comes."""
    risk = np.zeros(len(problem.items))
    for row, option in enumerate(choice.tolist()):
        if option:
            place, column = table.at(row, option)
        else:
            usual = np.flatnonzero((table.of_item == row) & (table.of_slot == table.home[row]))
            place, column = int(usual[0]), 0
        risk[table.items[row]] = table.parts.short[place, 0, column]
    return risk


def _over(problem: OrderProblem, table: CostTable, choice: IntArray, paid: float) -> FloatArray:
    used = table.uses[:, np.arange(len(choice)), choice].sum(axis=1) + np.array([paid, 0.0, 0.0])
    over: FloatArray = np.maximum(used - room_left(problem) - TINY, 0.0)
    return over


def _below(table: CostTable, values: FloatArray, lacking: FloatArray) -> dict[int, float]:
    """Give what is lacking, by supplier, where anything is ordered."""
    missing = np.where(values > 0, lacking, 0.0)
    return {int(table.suppliers[slot]): float(missing[slot]) for slot in np.flatnonzero(missing > TINY)}
