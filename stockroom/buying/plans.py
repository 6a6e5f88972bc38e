"""Search over what to plan with each supplier: order now or wait, and until when the shelf must last.

The programme
-------------
Sets: items i; suppliers s; plans p of a supplier (may an order go out now; until which of his order days u(p) must the
shelf last); options o of an item (no purchase, or so many packs of one offer, whose supplier is s(o)); limits l (cash,
space, litres of flammables).

Variables: one plan p_s per supplier, one option o_i per item (of a supplier whose plan lets him be ordered from).

Objective: the least of

    sum_i c_i(o_i, p)  +  sum_s k_s(V_s)  -  sum_s g_s u(p_s),        V_s = goods value of the options from s,

where c_i is the expected cost of the option until the next orders arrive (`supplier_costs`), k_s carriage (nothing
where nothing is ordered, or from a value on) and g_s what a day costs in the long run (`order_cycle`), so that plans
that bridge different times compare.

Constraints: V_s = 0 or V_s >= m_s, the minimum order; for each limit, sum_i a_li(o_i) <= b_l, cash with the carriage.

Method. Each limit has one price for all suppliers (Lagrangian relaxation: Fisher 1981, *Management Science* 27, from
memory). At given prices suppliers take turns to improve their own plan; the prices rise by bisection until what is
chosen fits. The plans met on the way, and those one step from the best, are bounded at the final prices and settled in
the order of their bounds by an exact solver under all limits (`packing.solve`) until none left can win: branch and
bound. Where few combinations of plans remain that could win, all are settled, and the answer is proven.
"""

import time
from dataclasses import dataclass
from functools import reduce
from itertools import product

import numpy as np

from stockroom.buying.option_table import CyclePlan, OptionTable, option_table
from stockroom.buying.packing import (
    FREE,
    Packed,
    PackingProblem,
    Remaining,
    fitted,
    priced,
    relax,
    solve,
    used,
    worth,
)
from stockroom.buying.problem import FloatArray, IntArray, OrderProblem
from stockroom.buying.supplier_costs import SupplierCosts

MOST_COMBINATIONS = 600  # settled one by one; beyond, only those that the search comes by
MOST_OUTLINED = 1e6  # combinations looked through for those that could win
MOST_SOLVED, MOST_FREE = 24, 1  # exact solutions a round, with and without limits, where not all plans are settled
PRICE_ROUNDS, PRICE_RISE, PRICE_NEAR = 3, 4.0, 1.05  # over all limits; step up, and how close the bisection comes
SMALL_GAP = 0.01  # money not worth proving
TINY = 1e-9

Plans = tuple[CyclePlan, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SearchResult:
    """The best plans and options of one table, their cost (long-run cost taken off), a proven lower bound, and prices.

    `prices` are those of cash, space and litres, in money saved per unit more.
    """

    table: OptionTable
    plans: Plans
    packed: Packed
    cost: float
    bound: float
    prices: FloatArray


def packing_problem(
    problem: OrderProblem, table: OptionTable, plans: Plans, room: Remaining, already: FloatArray | None = None
) -> PackingProblem:
    """Set out the choice of options once the plans are set, beside what is already on each order."""
    suppliers = tuple(problem.suppliers[each.supplier] for each in table.all_costs)
    return PackingProblem(
        cost=table.costs(plans),
        spend=table.spend,
        slot=table.slot,
        space=table.space,
        flammable=table.flammable,
        suppliers=suppliers,
        now=tuple(each.now for each in plans),
        room=room,
        already=np.zeros(len(plans)) if already is None else already,
        fees=np.array([each.carriage for each in suppliers]),
    )


def groups(all_costs: tuple[SupplierCosts, ...]) -> tuple[tuple[SupplierCosts, ...], ...]:
    """Suppliers that share items, directly or through others, belong together."""
    left, found = list(all_costs), []
    while left:
        group = [left.pop(0)]
        items = set(group[0].items.tolist())
        while near := [each for each in left if items & set(each.items.tolist())]:
            group += near
            left = [each for each in left if each not in near]
            items |= {item for each in near for item in each.items.tolist()}
        found.append(tuple(group))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Board:
    """What the search works on: the options that could fit, what may be planned, and each supplier's own part."""

    problem: OrderProblem
    table: OptionTable
    choices: tuple[tuple[CyclePlan, ...], ...]
    parts: tuple[tuple[IntArray, OptionTable], ...]
    room: Remaining
    deadline: float

    @property
    def late(self) -> bool:
        """Whether time is up."""
        return time.monotonic() > self.deadline

    @property
    def most_solved(self) -> int:
        """How many exact solutions a round are worth their time: without limits the quick choice is near the best."""
        return MOST_FREE if self.room.open else MOST_SOLVED

    @property
    def few(self) -> bool:
        """Whether every combination can be settled."""
        return bool(np.prod([len(each) for each in self.choices], dtype=float) <= MOST_COMBINATIONS)


def search(
    problem: OrderProblem,
    all_costs: tuple[SupplierCosts, ...],
    room: Remaining,
    deadline: float,
    near: SearchResult | None = None,
) -> SearchResult:
    """Find the best plans and options for some suppliers; from its plans and prices where a near answer is known."""
    whole = option_table(problem, all_costs)
    table = whole.within(room.amounts)
    rows = [np.unique(place // table.spend.shape[1]) for place in whole.place]
    board = _Board(
        problem=problem,
        table=table,
        choices=tuple(table.plans(slot) for slot in range(len(all_costs))),
        parts=tuple((each, table.only(each)) for each in rows),
        room=room,
        deadline=deadline,
    )
    prices, met = (near.prices, [near.plans]) if near else _priced_plans(board)
    best = _Best(plans=met[-1], packed=Packed(choice=None, cost=np.inf, bound=-np.inf), cost=np.inf)
    if board.few:
        bound = _settle(board, list(product(*board.choices)), prices, best)
    else:
        _settle(board, met, prices, best, most=board.most_solved)
        bound = _improve(board, prices, best)
    return SearchResult(
        table=whole, plans=best.plans, packed=best.packed, cost=best.cost, bound=min(bound, best.cost), prices=prices
    )


@dataclass(slots=True, eq=False)
class _Best:
    """The best plans so far, and their cost with the long-run cost taken off."""

    plans: Plans
    packed: Packed
    cost: float


def _settle(board: _Board, combinations: list[Plans], prices: FloatArray, best: _Best, most: float = np.inf) -> float:
    """Solve combinations exactly in the order of their bounds until none left can win; return the proven bound."""
    bounds, choices = np.empty(len(combinations)), []
    for index, plans in enumerate(combinations):
        setting, cycle = packing_problem(board.problem, board.table, plans, board.room), board.table.cycle(plans)
        quick = relax(priced(setting, prices))
        bounds[index] = quick.bound - board.room.worth(prices) - cycle
        choices.append(quick.choice)
        cost = np.inf if quick.choice is None else worth(setting, quick.choice) - cycle
        if cost < best.cost:
            best.plans, best.cost = plans, cost
            best.packed = Packed(choice=quick.choice, cost=cost + cycle, bound=bounds[index] + cycle)
    for solved, index in enumerate(np.argsort(bounds)):
        enough = bounds[index] >= best.cost - SMALL_GAP or solved >= most or (solved > 0 and board.late)
        if enough and np.isfinite(best.cost):
            break
        plans, cycle = combinations[index], board.table.cycle(combinations[index])
        setting = packing_problem(board.problem, board.table, plans, board.room)
        start = fitted(setting, choices[index])
        start = Packed(choice=start.choice, cost=start.cost, bound=bounds[index] + cycle)
        left = board.deadline - time.monotonic()
        exact = solve(setting, start, left, prices=prices, cutoff=best.cost + cycle)
        bounds[index] = exact.bound - cycle
        if exact.cost - cycle < best.cost:
            best.plans, best.packed, best.cost = plans, exact, exact.cost - cycle
    return float(min(bounds.min(), best.cost))


def _improve(board: _Board, prices: FloatArray, best: _Best) -> float:
    """Settle what could still win, where that is little; otherwise step to better neighbours until there are none."""
    bounds, bound = _plan_bounds(board, prices)
    before = best.cost
    excess = [each - each.min() for each in bounds]
    could = [np.flatnonzero(each < before - SMALL_GAP - bound) for each in excess]
    if np.prod([len(each) for each in could], dtype=float) <= MOST_OUTLINED:
        whole = reduce(np.add.outer, [each[some] for each, some in zip(excess, could, strict=True)])
        places = np.argwhere(whole < before - SMALL_GAP - bound)
        places = places[np.argsort(whole[tuple(places.T)], kind="stable")]
        outlined = [
            tuple(plans[some[n]] for plans, some, n in zip(board.choices, could, row, strict=True))
            for row in places[:MOST_COMBINATIONS]
        ]
        settled = _settle(board, outlined, prices, best, most=board.most_solved) if outlined else np.inf
        if len(places) == len(outlined):
            return max(min(settled, before - SMALL_GAP), bound)
    while not board.late and not board.room.open:  # without limits, taking turns has been there already
        start = best.cost
        near = [
            _changed(best.plans, slot, board.choices[slot][each]) for slot, some in enumerate(could) for each in some
        ]
        _settle(board, near, prices, best, most=board.most_solved)
        if best.cost >= start - SMALL_GAP:
            break
    return bound


def _changed(plans: Plans, slot: int, plan: CyclePlan) -> Plans:
    return (*plans[:slot], plan, *plans[slot + 1 :])


def _priced_plans(board: _Board) -> tuple[FloatArray, list[Plans]]:
    """Find the price of each limit at which what is chosen fits, and the plans met on the way; the last ones fit."""
    starts = best_waiting(board.table, wished=True)[0], _usual(board.table, board.choices)
    prices = FREE.copy()
    state = min((_descend(board, each, prices) for each in starts), key=lambda each: each.value)
    met = [state.plans]
    for _ in range(PRICE_ROUNDS):
        for limit, most in enumerate(board.room.amounts):
            if _used(board, state)[limit] > most + TINY and not board.late:
                prices, state = _raise(board, prices, limit, state, met)
    return prices, list(dict.fromkeys(met))


def _raise(
    board: _Board, prices: FloatArray, limit: int, state: "_State", met: list[Plans]
) -> tuple[FloatArray, "_State"]:
    """Raise the price of one limit until it is kept: in large steps, then by bisection."""
    low, high = float(prices[limit]), np.inf
    price, fits = max(low * PRICE_RISE, _first_price(board, state, limit)), state
    while (np.isinf(high) and price < 1 / TINY) or high > PRICE_NEAR * max(low, TINY):
        trial = prices.copy()
        trial[limit] = price
        state = _descend(board, state.plans, trial)
        met.append(state.plans)
        if _used(board, state)[limit] <= board.room.amounts[limit] + TINY:
            high, fits = price, state
            low = max(low, high / PRICE_RISE**4)
        else:
            low = price
        if board.late:
            break
        price = low * PRICE_RISE if np.isinf(high) else float(np.sqrt(low * high))
    met.append(fits.plans)
    prices = prices.copy()
    prices[limit] = high if np.isfinite(high) else price
    return prices, fits


def _first_price(board: _Board, state: "_State", limit: int) -> float:
    """Guess a price: what the choice saves per unit that it uses of what is limited."""
    cost = board.table.costs(state.plans)
    rows = np.arange(len(cost))
    saved = float((cost[:, 0] - cost[rows, state.choice]).sum())
    return max(saved, TINY) / float(_used(board, state)[limit]) / PRICE_RISE


def _used(board: _Board, state: "_State") -> FloatArray:
    return used(packing_problem(board.problem, board.table, state.plans, board.room), state.choice)


@dataclass(slots=True, eq=False)
class _State:
    """Plans and choice under improvement."""

    plans: Plans
    choice: IntArray
    value: float


def best_waiting(table: OptionTable, *, wished: bool) -> tuple[tuple[CyclePlan, ...], float]:
    """Find what ordering nothing now costs, each supplier on the best of his coming order days, and these days."""
    waiting = [[CyclePlan(now=False, wait=wait) for wait in range(len(costs.untils))] for costs in table.all_costs]
    best, plans = np.inf, tuple(options[0] for options in waiting)
    moved = True
    while moved:
        moved = False
        for slot, options in enumerate(waiting):
            for option in options:
                trial = (*plans[:slot], option, *plans[slot + 1 :])
                cost = float(table.costs(trial, wished=wished)[:, 0].sum()) - table.cycle(trial)
                if cost < best - TINY:
                    best, plans, moved = cost, trial, True
    return plans, float(best)


def _usual(table: OptionTable, choices: tuple[tuple[CyclePlan, ...], ...]) -> Plans:
    """Order from everyone in his own order cycle."""
    usual = []
    for costs, plans in zip(table.all_costs, choices, strict=True):
        wait = int(np.argmin(np.abs(costs.untils - costs.cycle.gap_days)))
        usual.append(next((each for each in plans if each.now and each.wait == wait), plans[0]))
    return tuple(usual)


def _descend(board: _Board, start: Plans, prices: FloatArray) -> _State:
    """Change one supplier's plan at a time, choosing anew for his items only, until nothing improves."""
    setting = priced(packing_problem(board.problem, board.table, start, board.room), prices)
    packed = relax(setting)
    choice = np.zeros(len(board.table.items), dtype=np.int64) if packed.choice is None else packed.choice
    state, moved = _State(plans=start, choice=choice, value=packed.cost - board.table.cycle(start)), True
    while moved and not board.late:
        before = state.value
        for slot in range(len(board.choices)):
            _turn(board, slot, state, prices)
        moved = state.value < before - SMALL_GAP
    return state


def _turn(board: _Board, slot: int, state: _State, prices: FloatArray) -> None:
    """Try one supplier's plans with the items he offers; the others' items stay as they are."""
    table, (rows, part) = board.table, board.parts[slot]
    others = np.setdiff1d(np.arange(len(table.items)), rows)
    kept = priced(packing_problem(board.problem, table, state.plans, board.room), prices)
    chosen = (others, state.choice[others])
    slots, spend = table.slot[chosen], table.spend[chosen]
    already = np.zeros(len(table.all_costs))
    np.add.at(already, slots[slots >= 0], spend[slots >= 0])
    outside = float(kept.cost[chosen].sum())
    for option in board.choices[slot]:
        plans = _changed(state.plans, slot, option)
        packed = relax(priced(packing_problem(board.problem, part, plans, board.room, already), prices))
        value = outside + packed.cost - table.cycle(plans)
        if packed.choice is not None and value < state.value - TINY:
            state.plans, state.value = plans, value
            state.choice = state.choice.copy()
            state.choice[rows] = packed.choice


def _plan_bounds(board: _Board, prices: FloatArray) -> tuple[list[FloatArray], float]:
    """Bound each supplier's share of the cost under each of his plans, and from these the whole.

    An item's cost is counted with the supplier it usually comes from, the others' plans being the best for it.
    """
    table = board.table
    shared = np.sum([np.bincount(rows, minlength=len(table.items)) for rows, _ in board.parts], axis=0) > 1
    bounds = []
    for slot, plans in enumerate(board.choices):
        alone = table.only(np.flatnonzero((table.home == slot) & ~shared))
        among = table.only(np.flatnonzero((table.home == slot) & shared))
        most = max(len(each) for each in board.choices)
        own = np.empty(len(plans))
        for index, plan in enumerate(plans):
            turned = [tuple(each[min(k, len(each) - 1)] for each in board.choices) for k in range(most)]
            together = [_changed(each, slot, plan) for each in turned]
            cost = _least(board, alone, together[:1], prices) + _least(board, among, together, prices)
            own[index] = cost - table.all_costs[slot].cycle.day_cost * table.all_costs[slot].untils[plan.wait]
        bounds.append(own)
    return bounds, float(sum(each.min() for each in bounds)) - board.room.worth(prices)


def _least(board: _Board, part: OptionTable, together: list[Plans], prices: FloatArray) -> float:
    """Sum each item's least priced cost over some plans."""
    if not len(part.items):
        return 0.0
    settings = (priced(packing_problem(board.problem, part, each, board.room), prices) for each in together)
    return float(np.min([each.cost.min(axis=1) for each in settings], axis=0).sum())
