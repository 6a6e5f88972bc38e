"""Search over what to plan with each supplier, and which packs of each item to buy under these plans.

The programme
-------------
Sets: items i; suppliers s; plans p of a supplier (may an order go out now; until which of his order days u(p) must the
shelf last); options o of an item (no purchase, or so many packs of one offer, whose supplier is s(o)); limits l (cash,
space, litres of flammables).

Variables: one plan p_s per supplier, one option o_i per item (of a supplier whose plan lets him be ordered from).

Objective: the least of

    sum_i c_i(o_i, p)  +  sum_s k_s(V_s)  -  sum_s g_s u(p_s),        V_s = goods value of the options from s,

where c_i is the expected cost of the option until the next orders arrive (`CostTable.costs`; what another supplier can
bridge meanwhile counts at his price, `bridging`), k_s carriage (`carriage`:
nothing where nothing is ordered, or from a value F_s on) and g_s what a day costs in the long run (`CostTable.cycle`),
so that plans that bridge different times compare.

Constraints: V_s = 0 or V_s >= m_s, the minimum order, and its packs weigh w_s at least (`too_small`);
for each limit, sum_i a_li(o_i) <= b_l, cash with the carriage (`feasible`).

Method. Once the plans are set, what is left is a multiple-choice knapsack (`Packing`). Each limit has one price for all
suppliers (`priced`: Lagrangian relaxation; Fisher 1981, *Management Science* 27, from memory). At given prices it is
solved quickly by topping single orders up (`chosen`), and suppliers take turns to improve their own plan (`_descend`);
the prices rise by bisection until what is chosen fits (`_priced_plans`). The plans met on the way, and those one step
from the best, are bounded at the final prices (`bound`, `_plan_bounds`) and settled in the order of their bounds by an
exact solver under all limits (`exact.solve`) until none left can win: branch and bound (`_settle`). Where few
combinations of plans remain that could win, all are settled, and the answer is proven.

Without limits, suppliers that share no items, directly or through others, are apart: each group is searched by itself.
"""

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import reduce
from itertools import product
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from stockroom.buying.cost_table import ANY, CostTable, CyclePlan, Plans, changed
from stockroom.buying.exact import solve
from stockroom.buying.packing import (
    FREE,
    OPEN,
    OrderTerms,
    Packing,
    bound,
    chosen,
    fitted,
    paying,
    priced,
    share,
    terms_of,
    used,
    worth,
)
from stockroom.buying.problem import BoolArray, FloatArray, IntArray, OrderProblem

MOST_COMBINATIONS = 600  # settled one by one; beyond, only those that the search comes by
MOST_OUTLINED = 1e6  # combinations looked through for those that could win
MOST_SOLVED, MOST_FREE = 10, 1  # exact solutions a round, with and without limits, where not all plans are settled
MOST_NEAR = 3  # where a near answer is the start
PRICE_ROUNDS, PRICE_RISE, PRICE_NEAR = 3, 4.0, 1.05  # over all limits; step up, and how close the bisection comes
SMALL_GAP = 0.01  # money not worth proving
PLACES = 6  # of a bound: what differs beyond them is the same bound
TINY = 1e-9
Number = TypeVar("Number", np.float64, np.int64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SearchResult:
    """The best plans and options of a table, their cost (long-run cost taken off), a proven lower bound, and prices.

    `prices` are those of cash, space and litres, in money saved per unit more.
    """

    table: CostTable
    plans: Plans
    choice: IntArray
    cost: float
    bound: float
    prices: FloatArray

    def of(self, values: NDArray[Number]) -> NDArray[Number]:
        """Look the chosen options up in what has shape (n_items, n_options)."""
        return values[np.arange(len(self.choice)), self.choice]


def packing(problem: OrderProblem, table: CostTable, plans: Plans, room: FloatArray = OPEN) -> Packing:
    """Set out the choice of options once the plans are set."""
    return _packing(table, plans, room, terms_of(problem, table), np.zeros((2, len(plans))))


def _packing(table: CostTable, plans: Plans, room: FloatArray, terms: OrderTerms, already: FloatArray) -> Packing:
    now = np.array([each.now for each in plans])
    return Packing(table=table, cost=table.costs(plans), now=now, terms=terms, room=room, already=already)


def search(
    problem: OrderProblem, table: CostTable, room: FloatArray, deadline: float, near: SearchResult | None = None
) -> SearchResult:
    """Find the best plans and options.

    Parameters
    ----------
    problem : OrderProblem
        Its suppliers' terms.
    table : CostTable
        Expected costs of all options.
    room : ndarray, shape (3,)
        What is left of cash, space and litres; inf where there is no limit.
    deadline : float
        By `time.monotonic`.
    near : SearchResult, optional
        A near answer, to start from its plans and prices.
    """
    terms = terms_of(problem, table)
    if not np.isinf(room).all():
        every = np.arange(len(table.suppliers))
        board = _board(table.within(room), terms, every, room, deadline)
        return _found(replace(board, near=near is not None), table, near)
    plans, choice = best_waiting(table, wished=True)[0], np.zeros(len(table.items), dtype=np.int64)
    cost = proven = 0.0
    for slots, rows in groups(table):
        part = _found(_board(table.only(rows), terms, slots, room, deadline), table, None)
        plans = tuple(part.plans[n] if n in slots else each for n, each in enumerate(plans))
        choice[rows] = part.choice
        cost, proven = cost + part.cost, proven + part.bound
    return SearchResult(table=table, plans=plans, choice=choice, cost=cost, bound=proven, prices=FREE)


def groups(table: CostTable) -> list[tuple[IntArray, IntArray]]:
    """Part suppliers that share no items, directly or through others: suppliers and items of each group."""
    group = np.arange(len(table.suppliers))
    offered = [np.unique(table.of_slot[table.of_item == row]) for row in range(len(table.items))]
    for slots in offered:
        group[np.isin(group, group[slots])] = group[slots].min()
    of_item = np.array([group[slots[0]] for slots in offered])
    return [(np.flatnonzero(group == each), np.flatnonzero(of_item == each)) for each in np.unique(group)]


def best_waiting(table: CostTable, *, wished: bool) -> tuple[Plans, float]:
    """Find what ordering nothing now costs, each supplier on the best of his coming order days, and these days."""
    nothing = np.zeros(len(table.items), dtype=np.int64)
    return best_waits(table, nothing, np.zeros(len(table.suppliers), dtype=np.bool_), wished=wished)


def best_waits(table: CostTable, choice: IntArray, ordered: BoolArray, *, wished: bool) -> tuple[Plans, float]:
    """Find the best next order days for options that are chosen, and what they cost with these days' cycles taken off.

    `ordered`, (n_suppliers,), says who is ordered from now. Carriage is left out.
    """
    rows = np.arange(len(choice))
    choices = [
        [CyclePlan(bool(now), each.wait) for each in table.plans(slot) if not each.now]
        for slot, now in enumerate(ordered)
    ]
    best, plans = np.inf, tuple(options[0] for options in choices)
    moved = True
    while moved:
        moved = False
        for slot, options in enumerate(choices):
            for option in options:
                trial = changed(plans, slot, option)
                cost = float(table.costs(trial, wished=wished)[rows, choice].sum()) - table.cycle(trial)
                if cost < best - TINY:
                    best, plans, moved = cost, trial, True
    return plans, float(best)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Board:
    """What the search works on: the options that could fit, what may be planned, and each supplier's own part.

    Suppliers that are not searched for (not among `slots`) offer none of the items.
    """

    table: CostTable
    terms: OrderTerms
    slots: IntArray
    choices: tuple[tuple[CyclePlan, ...], ...]
    parts: dict[int, tuple[IntArray, CostTable]]
    room: FloatArray
    deadline: float
    near: bool = False  # whether a near answer is known to start from

    @property
    def late(self) -> bool:
        """Whether time is up."""
        return time.monotonic() > self.deadline

    @property
    def open(self) -> bool:
        """Whether nothing is limited."""
        return bool(np.isinf(self.room).all())

    @property
    def most_solved(self) -> int:
        """How many exact solutions a round are worth their time: without limits the quick choice is near the best."""
        return MOST_FREE if self.open else MOST_NEAR if self.near else MOST_SOLVED

    @property
    def few(self) -> bool:
        """Whether every combination can be settled."""
        return bool(np.prod([len(each) for each in self.choices], dtype=float) <= MOST_COMBINATIONS)

    def cycle(self, plans: Plans) -> float:
        """Price the time bridged at its long-run cost."""
        return self.table.cycle(plans, self.slots)

    def packing(self, plans: Plans) -> Packing:
        """Set out the choice of options under all limits."""
        return _packing(self.table, plans, self.room, self.terms, np.zeros((2, len(plans))))

    def worth(self, prices: FloatArray) -> float:
        """Money that all the room is worth at these prices; what has no limit has no price."""
        return float(prices[prices > 0] @ self.room[prices > 0])


def _board(table: CostTable, terms: OrderTerms, slots: IntArray, room: FloatArray, deadline: float) -> _Board:
    plans = [table.plans(slot) for slot in range(len(table.suppliers))]
    rows = {int(slot): np.unique(table.of_item[table.of_slot == slot]) for slot in slots}
    return _Board(
        table=table,
        terms=terms,
        slots=slots,
        choices=tuple(each if slot in slots else each[:1] for slot, each in enumerate(plans)),
        parts={slot: (own, table.only(own)) for slot, own in rows.items()},
        room=room,
        deadline=deadline,
    )


@dataclass(slots=True, eq=False)
class _Best:
    """The best plans so far, their options, and their cost with the long-run cost taken off.

    `proven` are the bounds of what has been solved exactly, which need not be solved again.
    """

    plans: Plans
    choice: IntArray | None = None
    cost: float = np.inf
    proven: dict[Plans, float] = field(default_factory=dict)


def _found(board: _Board, whole: CostTable, near: SearchResult | None) -> SearchResult:
    """Search one board; every combination where they are few."""
    prices, met = (near.prices, [near.plans]) if near else _priced_plans(board)
    best = _Best(plans=met[-1])
    if board.few:
        proven = _settle(board, list(product(*board.choices)), prices, best)
    else:
        _settle(board, met, prices, best, most=board.most_solved)
        proven = _improve(board, prices, best)
    choice = np.zeros(len(board.table.items), dtype=np.int64) if best.choice is None else best.choice
    lower = min(proven, best.cost)
    return SearchResult(table=whole, plans=best.plans, choice=choice, cost=best.cost, bound=lower, prices=prices)


def _settle(
    board: _Board, combinations: Sequence[Plans], prices: FloatArray, best: _Best, most: float = np.inf
) -> float:
    """Solve combinations exactly in the order of their bounds until none left can win; return the proven bound.

    When time is up, they are only made to fit, which is quick: the solver keeps no time limit near nothing.
    Of two with one bound the one with more open goes first: what is proven of it holds of the other (`_known`).
    """
    bounds = np.empty(len(combinations))
    for index, plans in enumerate(combinations):
        easy = bound(priced(board.packing(plans), prices)) - board.worth(prices) - board.cycle(plans)
        bounds[index] = max(easy, best.proven.get(plans, -np.inf))
    quick: dict[int, IntArray] = {}
    for index in np.argsort(bounds, kind="stable").tolist():
        if bounds[index] >= best.cost - SMALL_GAP:
            break
        plans, setting = combinations[index], board.packing(combinations[index])
        quick[index] = chosen(priced(setting, prices))[0]
        cost = worth(setting, quick[index]) - board.cycle(plans)
        if cost < best.cost:
            best.plans, best.cost, best.choice = plans, cost, quick[index]
    opened, solved = np.array([sum(each.now for each in plans) for plans in combinations]), 0
    for index in np.lexsort((-opened, bounds.round(PLACES))).tolist():
        plans, cycle = combinations[index], board.cycle(combinations[index])
        enough = bounds[index] >= best.cost - SMALL_GAP or solved >= (min(most, MOST_SOLVED) if board.late else most)
        if enough and np.isfinite(best.cost):
            break
        bounds[index] = max(bounds[index], _known(best, plans))
        if bounds[index] >= best.cost - SMALL_GAP:
            continue
        solved += 1
        setting = board.packing(plans)
        start = replace(fitted(setting, quick.get(index)), bound=bounds[index] + cycle)
        left = board.deadline - time.monotonic()
        exact = solve(setting, start, left, prices=prices, cutoff=best.cost + cycle) if left > 0 else start
        bounds[index] = best.proven[plans] = exact.bound - cycle
        if exact.cost - cycle < best.cost:
            best.plans, best.choice, best.cost = plans, exact.choice, exact.cost - cycle
    return float(min(bounds.min(), best.cost))


def _known(best: _Best, plans: Plans) -> float:
    """Bound plans by those solved that last as long and let more suppliers be ordered from: they have all options."""
    wider = (
        proven
        for solved, proven in best.proven.items()
        if all(one.wait == own.wait and one.now >= own.now for one, own in zip(solved, plans, strict=True))
    )
    return max(wider, default=-np.inf)


def _improve(board: _Board, prices: FloatArray, best: _Best) -> float:
    """Settle what could still win, where that is little; otherwise step to better neighbours until there are none."""
    bounds, lower = _plan_bounds(board, best.plans, prices)
    before = best.cost
    excess = [each - each.min() for each in bounds]
    could = [np.flatnonzero(each < before - SMALL_GAP - lower) for each in excess]
    if np.prod([len(each) for each in could], dtype=float) <= MOST_OUTLINED:
        whole = reduce(np.add.outer, [each[some] for each, some in zip(excess, could, strict=True)])
        places = np.argwhere(whole < before - SMALL_GAP - lower)
        places = places[np.argsort(whole[tuple(places.T)], kind="stable")]
        outlined = [
            tuple(plans[some[n]] for plans, some, n in zip(board.choices, could, row, strict=True))
            for row in places[:MOST_COMBINATIONS]
        ]
        settled = _settle(board, outlined, prices, best, most=board.most_solved) if outlined else np.inf
        if len(places) == len(outlined):
            return max(min(settled, before - SMALL_GAP), lower)
    while not board.late and not board.open:  # without limits, taking turns has been there already
        start = best.cost
        near = [changed(best.plans, slot, board.choices[slot][n]) for slot, some in enumerate(could) for n in some]
        _settle(board, near, prices, best, most=board.most_solved)
        if best.cost >= start - SMALL_GAP:
            break
    return lower


def _plan_bounds(board: _Board, near: Plans, prices: FloatArray) -> tuple[list[FloatArray], float]:
    """Bound each supplier's share of the cost under each of his plans, and from these the whole.

    An item's cost is counted with the supplier it usually comes from, the others' plans being the best for it.
    """
    table, count = board.table, len(board.choices)
    nothing = np.zeros((2, count))
    own = [table.only(np.flatnonzero(table.home == slot)) for slot in range(count)]
    pays = paying(priced(board.packing(near), prices))
    best_elsewhere = tuple(CyclePlan(bool(table.may_order[slot]), ANY) for slot in range(count))
    bounds = []
    for slot, plans in enumerate(board.choices):
        shares = np.zeros(len(plans))
        for index, plan in enumerate(plans if len(own[slot].items) else ()):
            setting = _packing(own[slot], changed(best_elsewhere, slot, plan), OPEN, board.terms, nothing)
            shares[index] = share(priced(setting, prices), slot, np.ones(len(own[slot].items), dtype=np.bool_), pays)
        cycle = [table.cycle(changed(best_elsewhere, slot, plan), np.array([slot])) for plan in plans]
        bounds.append(shares - np.array(cycle) * np.isin(slot, board.slots))
    return bounds, float(sum(each.min() for each in bounds)) - board.worth(prices)


def _priced_plans(board: _Board) -> tuple[FloatArray, list[Plans]]:
    """Find the price of each limit at which what is chosen fits, and the plans met on the way; the last ones fit."""
    starts = best_waiting(board.table, wished=True)[0], _usual(board)
    prices = FREE.copy()
    state = min((_descend(board, each, prices) for each in starts), key=lambda each: each.value)
    met = [state.plans]
    for _ in range(PRICE_ROUNDS):
        for limit, most in enumerate(board.room):
            if _used(board, state)[limit] > most + TINY:
                prices, state = _raise(board, prices, limit, state, met)
    return prices, list(dict.fromkeys(met))


def _raise(
    board: _Board, prices: FloatArray, limit: int, state: "_State", met: list[Plans]
) -> tuple[FloatArray, "_State"]:
    """Raise the price of one limit until it is kept: in large steps, then by bisection."""
    low, high = float(prices[limit]), np.inf
    price, fits = max(low * PRICE_RISE, _first_price(board, state, limit)), state
    while price < 1 / TINY if np.isinf(high) else high > PRICE_NEAR * max(low, TINY):
        trial = prices.copy()
        trial[limit] = price
        state = _descend(board, state.plans, trial)
        met.append(state.plans)
        if _used(board, state)[limit] <= board.room[limit] + TINY:
            high, fits = price, state
            low = max(low, high / PRICE_RISE**4)
        else:
            low = price
        price = low * PRICE_RISE if np.isinf(high) else float(np.sqrt(low * high))
    met.append(fits.plans)
    prices = prices.copy()
    prices[limit] = high if np.isfinite(high) else price
    return prices, fits


def _first_price(board: _Board, state: "_State", limit: int) -> float:
    """Guess a price: what the choice saves per unit that it uses of what is limited."""
    cost = board.table.costs(state.plans)
    saved = float((cost[:, 0] - cost[np.arange(len(cost)), state.choice]).sum())
    return max(saved, TINY) / float(_used(board, state)[limit]) / PRICE_RISE


def _used(board: _Board, state: "_State") -> FloatArray:
    return used(board.packing(state.plans), state.choice)


@dataclass(slots=True, eq=False)
class _State:
    """Plans and choice under improvement."""

    plans: Plans
    choice: IntArray
    each: FloatArray  # cost of each item's option, priced
    value: float


def _usual(board: _Board) -> Plans:
    """Order from everyone in his own order cycle."""
    table, usual = board.table, []
    for slot, plans in enumerate(board.choices):
        wait = int(np.argmin(np.abs(table.untils[slot, :-1] - table.gap_days[slot])))
        usual.append(next((each for each in plans if each.now and each.wait == wait), plans[0]))
    return tuple(usual)


def _descend(board: _Board, start: Plans, prices: FloatArray) -> _State:
    """Change one supplier's plan at a time, choosing anew for his items only, until nothing improves."""
    setting = priced(board.packing(start), prices)
    choice, cost = chosen(setting)
    each = setting.cost[np.arange(len(choice)), choice]
    state, moved = _State(plans=start, choice=choice, each=each, value=cost - board.cycle(start)), True
    while moved:
        before = state.value
        for slot in board.slots.tolist():
            _turn(board, slot, state, prices)
        moved = state.value < before - SMALL_GAP
    return state


def _turn(board: _Board, slot: int, state: _State, prices: FloatArray) -> None:
    """Try one supplier's plans with the items he offers; the others' items stay as they are."""
    table, (rows, part) = board.table, board.parts[slot]
    others = np.setdiff1d(np.arange(len(table.items)), rows)
    kept = (others, state.choice[others])
    many = len(state.plans) + 1
    sums = [np.bincount(table.slot[kept] + 1, of[kept], many)[1:] for of in (table.spend, table.weights)]
    already = np.stack(sums).astype(np.float64)
    outside = float(state.each[others].sum())
    for option in board.choices[slot]:
        plans = changed(state.plans, slot, option)
        setting = priced(_packing(part, plans, board.room, board.terms, already), prices)
        fixed = outside - board.cycle(plans)
        if fixed + setting.cost.min(axis=1).sum() >= state.value - TINY:
            continue  # not even without carriage and minimum orders
        choice, cost = chosen(setting)
        value = fixed + cost
        if value < state.value - TINY:
            state.plans, state.value = plans, value
            state.choice, state.each = state.choice.copy(), state.each.copy()
            state.choice[rows], state.each[rows] = choice, setting.cost[np.arange(len(rows)), choice]
