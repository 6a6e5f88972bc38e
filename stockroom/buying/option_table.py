"""All ways to buy the items of some suppliers, laid out as one table of options an item chooses from."""

from dataclasses import dataclass, replace

import numpy as np

from stockroom.buying.problem import FloatArray, IntArray, OrderItem, OrderProblem
from stockroom.buying.supplier_costs import SupplierCosts

ROUNDING = 1e-9  # a limit that is just reached is kept


@dataclass(frozen=True, slots=True, kw_only=True)
class CyclePlan:
    """Order from a supplier now or not, and which of its next order days the shelf must last to."""

    now: bool
    wait: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OptionTable:
    """Options of each item, shape (n_items, n_options); option 0 is to buy nothing.

    `slot` is the place of the option's supplier among `all_costs` (-1 for option 0 and padding); `place` holds, per
    supplier, where his costs (those `taken`) go in the flattened table; `idle` the cost of option 0 under each of his
    waits, shape (n_items, n_waits), inf for items he does not offer, and `missed` the weight of its service level.
    `home` is the place of the supplier an item usually comes from and `premium`, per
    supplier, how much more a unit costs there: what is used before the usual supplier's next order can arrive
    has to be bought at that premium.
    """

    all_costs: tuple[SupplierCosts, ...]
    items: IntArray
    slot: IntArray
    offer: IntArray
    counts: IntArray
    spend: FloatArray
    amounts: FloatArray
    space: FloatArray
    flammable: FloatArray
    place: tuple[IntArray, ...]
    taken: tuple[IntArray, ...]
    idle: tuple[FloatArray, ...]
    missed: tuple[FloatArray, ...]
    home: IntArray
    premium: tuple[FloatArray, ...]
    rate: FloatArray
    position: FloatArray

    def plans(self, slot: int) -> tuple[CyclePlan, ...]:
        """List what may be planned with one supplier.

        Waiting may last as long as an order placed now: were it cut short, a full shelf could never wait to its end.
        """
        waits = range(len(self.all_costs[slot].untils))
        later = tuple(CyclePlan(now=False, wait=each) for each in waits)
        return later + (
            tuple(CyclePlan(now=True, wait=each) for each in waits) if self.all_costs[slot].may_order else ()
        )

    def costs(self, plans: tuple[CyclePlan, ...], *, wished: bool = True) -> FloatArray:
        """Cost of each option under these plans, without carriage and order cycle; inf where not open.

        With `wished`, options that miss the wished service carry its weight.
        """
        cost = np.full(self.spend.size, np.inf)
        idle = np.full(len(self.items), np.inf)
        shortfall = self._shortfall(plans)
        amounts = self.amounts.ravel()
        for slot, (costs, plan) in enumerate(zip(self.all_costs, plans, strict=True)):
            waiting = self.idle[slot][:, plan.wait] + self.premium[slot] * shortfall
            np.minimum(idle, waiting + wished * self.missed[slot][:, plan.wait], out=idle)
            place, taken = self.place[slot], self.taken[slot]
            if plan.now and len(place):
                row = place // self.spend.shape[1]
                premium = self.premium[slot][row] * np.maximum(shortfall[row] - amounts[place], 0.0)
                whole = costs.cost[:, plan.wait, 1:] + wished * costs.missed[:, plan.wait, 1:] + costs.base[:, None]
                cost[place] = whole.ravel()[taken] + premium
        table = cost.reshape(self.spend.shape)
        table[:, 0] = idle
        return table

    def only(self, rows: IntArray) -> "OptionTable":
        """Keep some of the items."""
        width = self.spend.shape[1]
        new_row = np.full(len(self.items), -1)
        new_row[rows] = np.arange(len(rows))
        kept = [new_row[place // width] >= 0 for place in self.place]
        places = (place[keep] for place, keep in zip(self.place, kept, strict=True))
        return replace(
            self,
            items=self.items[rows],
            slot=self.slot[rows],
            offer=self.offer[rows],
            counts=self.counts[rows],
            spend=self.spend[rows],
            amounts=self.amounts[rows],
            space=self.space[rows],
            flammable=self.flammable[rows],
            place=tuple(new_row[place // width] * width + place % width for place in places),
            taken=tuple(taken[keep] for taken, keep in zip(self.taken, kept, strict=True)),
            idle=tuple(each[rows] for each in self.idle),
            missed=tuple(each[rows] for each in self.missed),
            home=self.home[rows],
            premium=tuple(each[rows] for each in self.premium),
            rate=self.rate[rows],
            position=self.position[rows],
        )

    def within(self, room: FloatArray) -> "OptionTable":
        """Leave out options that alone take more cash, space or litres than there is."""
        most = room + ROUNDING
        fits = ((self.spend <= most[0]) & (self.space <= most[1]) & (self.flammable <= most[2])).ravel()
        return replace(
            self,
            place=tuple(place[fits[place]] for place in self.place),
            taken=tuple(taken[fits[place]] for place, taken in zip(self.place, self.taken, strict=True)),
        )

    def _shortfall(self, plans: tuple[CyclePlan, ...]) -> FloatArray:
        """Units that must come from elsewhere before the usual supplier's next order can arrive."""
        arrivals = [costs.untils[plan.wait] + costs.lead for costs, plan in zip(self.all_costs, plans, strict=True)]
        shortfall: FloatArray = np.maximum(self.rate * np.array(arrivals)[self.home] - self.position, 0.0)
        return shortfall

    def cycle(self, plans: tuple[CyclePlan, ...]) -> float:
        """Price the time bridged by these plans at its long-run cost."""
        pairs = zip(self.all_costs, plans, strict=True)
        return float(sum(costs.cycle.day_cost * costs.untils[plan.wait] for costs, plan in pairs))


def option_table(problem: OrderProblem, all_costs: tuple[SupplierCosts, ...]) -> OptionTable:
    """Lay out the options of some suppliers."""
    items = np.unique(np.concatenate([each.items for each in all_costs]))
    row_of = {int(item): row for row, item in enumerate(items)}
    width = np.ones(len(items), dtype=np.int64)
    starts = []
    for costs in all_costs:
        start = np.empty(len(costs.offers), dtype=np.int64)
        for index, item in enumerate(costs.items):
            start[index] = width[row_of[int(item)]]
            width[row_of[int(item)]] += costs.counts.shape[1] - 1
        starts.append(start)
    shape = (len(items), int(width.max()))
    places = tuple(_places(costs, row_of, start, shape[1]) for costs, start in zip(all_costs, starts, strict=True))
    filled = _filled(all_costs, places, shape)
    amounts = filled["amounts"]
    space = np.array([problem.items[each].space for each in items])
    flammable = np.array([problem.items[each].flammable for each in items])
    idle = tuple(_idle(costs, row_of, len(items)) for costs in all_costs)
    premium = tuple(_premium(costs, row_of, len(items)) for costs in all_costs)
    home = np.zeros(len(items), dtype=np.int64)
    slot_of = {costs.supplier: slot for slot, costs in enumerate(all_costs)}
    for costs in all_costs:
        for item, usual in zip(costs.items, costs.usual, strict=True):
            home[row_of[int(item)]] = slot_of[int(usual)]
    return OptionTable(
        all_costs=all_costs,
        items=items,
        place=places,
        taken=tuple(np.arange(len(each)) for each in places),
        idle=idle,
        missed=tuple(_missed(costs, row_of, len(items)) for costs in all_costs),
        home=home,
        premium=premium,
        amounts=amounts,
        rate=problem.use[:, items, :].mean(axis=(0, 2)) / problem.step_days,
        position=np.array([_position(problem.items[each]) for each in items]),
        slot=filled["slot"].astype(np.int64),
        offer=filled["offer"].astype(np.int64),
        counts=filled["counts"].astype(np.int64),
        spend=filled["spend"],
        space=amounts * space[:, None],
        flammable=amounts * flammable[:, None],
    )


def _places(costs: SupplierCosts, row_of: dict[int, int], start: IntArray, width: int) -> IntArray:
    rows = np.array([row_of[int(item)] for item in costs.items])
    columns = start[:, None] + np.arange(costs.counts.shape[1] - 1)
    places: IntArray = (rows[:, None] * width + columns).ravel()
    return places


def _filled(
    all_costs: tuple[SupplierCosts, ...], places: tuple[IntArray, ...], shape: tuple[int, int]
) -> dict[str, FloatArray]:
    names = {"slot": -1.0, "offer": -1.0, "counts": 0.0, "spend": 0.0, "amounts": 0.0}
    flat = {name: np.full(shape[0] * shape[1], empty) for name, empty in names.items()}
    for slot, (costs, place) in enumerate(zip(all_costs, places, strict=True)):
        many = costs.counts.shape[1] - 1
        flat["slot"][place] = slot
        flat["offer"][place] = np.repeat(costs.offers, many)
        flat["counts"][place] = costs.counts[:, 1:].ravel()
        flat["spend"][place] = costs.spend[:, 1:].ravel()
        flat["amounts"][place] = costs.amounts[:, 1:].ravel()
    return {name: values.reshape(shape) for name, values in flat.items()}


def _idle(costs: SupplierCosts, row_of: dict[int, int], n_items: int) -> FloatArray:
    idle = np.full((n_items, len(costs.untils)), np.inf)
    for index, item in enumerate(costs.items):
        idle[row_of[int(item)]] = costs.cost[index, :, 0] + costs.base[index]
    return idle


def _missed(costs: SupplierCosts, row_of: dict[int, int], n_items: int) -> FloatArray:
    missed = np.zeros((n_items, len(costs.untils)))
    for index, item in enumerate(costs.items):
        missed[row_of[int(item)]] = costs.missed[index, :, 0]
    return missed


def _premium(costs: SupplierCosts, row_of: dict[int, int], n_items: int) -> FloatArray:
    premium = np.full(n_items, np.inf)
    for index, item in enumerate(costs.items):
        premium[row_of[int(item)]] = min(premium[row_of[int(item)]], costs.premium[index])
    return np.where(np.isfinite(premium), premium, 0.0)


def _position(item: OrderItem) -> float:
    return float(np.mean(item.on_hand)) + sum(each.quantity for each in item.coming)
