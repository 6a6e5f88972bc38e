"""Search over what to plan with each supplier: order now or wait, and until when the shelf must last."""

import time
from dataclasses import dataclass
from itertools import product

import numpy as np

from stockroom.buying.option_table import CyclePlan, OptionTable, option_table
from stockroom.buying.packing import Packed, PackingProblem, Remaining, relax, solve
from stockroom.buying.problem import FloatArray, IntArray, OrderProblem
from stockroom.buying.supplier_costs import SupplierCosts

MOST_COMBINATIONS = 600  # tried one by one; beyond, suppliers take turns
SMALL_GAP = 0.01  # money not worth proving
TINY = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SearchResult:
    """The best plans and options of one option table, their cost (order cycle taken off) and a proven lower bound."""

    table: OptionTable
    plans: tuple[CyclePlan, ...]
    packed: Packed
    cost: float
    bound: float


def packing_problem(
    problem: OrderProblem,
    table: OptionTable,
    plans: tuple[CyclePlan, ...],
    room: Remaining,
    already: FloatArray | None = None,
) -> PackingProblem:
    """Set out the choice of options once the plans are set, beside what is already on each order."""
    return PackingProblem(
        cost=table.costs(plans),
        spend=table.spend,
        slot=table.slot,
        space=table.space,
        flammable=table.flammable,
        suppliers=tuple(problem.suppliers[each.supplier] for each in table.all_costs),
        now=tuple(each.now for each in plans),
        room=room,
        already=np.zeros(len(plans)) if already is None else already,
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


def search(
    problem: OrderProblem, all_costs: tuple[SupplierCosts, ...], room: Remaining, deadline: float
) -> SearchResult:
    """Best plans for suppliers that share items.

    Notes
    -----
    Few combinations of plans are bounded one by one and settled in the order of their bounds until none
    left can win (branch and bound); with many, suppliers take turns until no single change pays.
    """
    table = option_table(problem, all_costs)
    choices = [table.plans(slot) for slot in range(len(all_costs))]
    if np.prod([len(each) for each in choices], dtype=float) <= MOST_COMBINATIONS:
        return _settle(problem, table, list(product(*choices)), room, deadline)
    return _turns(problem, table, choices, room, deadline)


def _relaxed(
    problem: OrderProblem, table: OptionTable, plans: tuple[CyclePlan, ...], room: Remaining
) -> tuple[Packed, float]:
    """Quick choice for some plans, and what their time costs in the long run."""
    return relax(packing_problem(problem, table, plans, room)), table.cycle(plans)


def _settle(
    problem: OrderProblem,
    table: OptionTable,
    combinations: list[tuple[CyclePlan, ...]],
    room: Remaining,
    deadline: float,
) -> SearchResult:
    quick = [_relaxed(problem, table, plans, room) for plans in combinations]
    bounds = np.array([packed.bound - cycle for packed, cycle in quick])
    costs = np.array([packed.cost - cycle for packed, cycle in quick])
    best = int(np.argmin(costs))
    proven = costs[best]
    for index in np.argsort(bounds):
        if bounds[index] >= costs[best] - SMALL_GAP or time.monotonic() > deadline:
            proven = min(proven, bounds[index])
            break
        exact = solve(
            packing_problem(problem, table, combinations[index], room), quick[index][0], deadline - time.monotonic()
        )
        quick[index] = (exact, quick[index][1])
        costs[index], bounds[index] = exact.cost - quick[index][1], exact.bound - quick[index][1]
        best = int(np.argmin(costs))
        proven = min(proven, bounds[index])
    return SearchResult(
        table=table,
        plans=combinations[best],
        packed=quick[best][0],
        cost=float(costs[best]),
        bound=float(min(proven, costs[best])),
    )


@dataclass(slots=True, eq=False)
class _State:
    """Plans and choice under improvement."""

    plans: tuple[CyclePlan, ...]
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


def _turns(
    problem: OrderProblem, table: OptionTable, choices: list[tuple[CyclePlan, ...]], room: Remaining, deadline: float
) -> SearchResult:
    """Suppliers take turns to improve their own plan, from all waiting at their best and from all in cycle."""
    rows = [np.unique(place // table.spend.shape[1]) for place in table.place]
    parts = [(each, table.only(each)) for each in rows]
    ends = [
        _descend(problem, (table, parts), choices, start, (room, deadline))
        for start in (best_waiting(table, wished=True)[0], _usual(table, choices))
    ]
    best = min(ends, key=lambda each: each.value)
    packed, cycle = _relaxed(problem, table, best.plans, room)
    if packed.cost - cycle > best.value:
        packed = Packed(choice=best.choice, cost=best.value + cycle, bound=packed.bound)
    if packed.cost - packed.bound > SMALL_GAP:
        packed = solve(packing_problem(problem, table, best.plans, room), packed, deadline - time.monotonic())
    cost = packed.cost - cycle
    return SearchResult(
        table=table, plans=best.plans, packed=packed, cost=cost, bound=min(_loosest(table, choices), cost)
    )


def _usual(table: OptionTable, choices: list[tuple[CyclePlan, ...]]) -> tuple[CyclePlan, ...]:
    """Order from everyone in his own order cycle."""
    usual = []
    for costs, plans in zip(table.all_costs, choices, strict=True):
        wait = int(np.argmin(np.abs(costs.untils - costs.cycle.gap_days)))
        usual.append(next((each for each in plans if each.now and each.wait == wait), plans[0]))
    return tuple(usual)


def _descend(
    problem: OrderProblem,
    boards: tuple[OptionTable, list[tuple[IntArray, OptionTable]]],
    choices: list[tuple[CyclePlan, ...]],
    start: tuple[CyclePlan, ...],
    limits: tuple[Remaining, float],
) -> _State:
    """Change one supplier's plan at a time, choosing anew for his items only, until nothing improves."""
    table, parts = boards
    room, deadline = limits
    packed, cycle = _relaxed(problem, table, start, room)
    choice = np.zeros(len(table.items), dtype=np.int64) if packed.choice is None else packed.choice
    state, moved = _State(plans=start, choice=choice, value=packed.cost - cycle), True
    while moved and time.monotonic() < deadline:
        before = state.value
        for slot, options in enumerate(choices):
            _turn(
                problem,
                (table, *parts[slot]),
                state,
                [(*state.plans[:slot], e, *state.plans[slot + 1 :]) for e in options],
                room,
            )
        moved = state.value < before - SMALL_GAP
    return state


def _turn(
    problem: OrderProblem,
    boards: tuple[OptionTable, IntArray, OptionTable],
    state: _State,
    trials: list[tuple[CyclePlan, ...]],
    room: Remaining,
) -> None:
    """Try one supplier's plans with the items he offers; the others' items stay as they are."""
    table, rows, part = boards
    others = np.setdiff1d(np.arange(len(table.items)), rows)
    kept = packing_problem(problem, table, state.plans, room)
    chosen = (others, state.choice[others])
    slot, spend = table.slot[chosen], table.spend[chosen]
    already = np.zeros(len(table.all_costs))
    np.add.at(already, slot[slot >= 0], spend[slot >= 0])
    left = Remaining(
        cash=room.cash,
        space=room.space - float(table.space[chosen].sum()),
        flammable=room.flammable - float(table.flammable[chosen].sum()),
    )
    outside = float(kept.cost[chosen].sum())
    for plans in trials:
        packed = relax(packing_problem(problem, part, plans, left, already))
        value = outside + packed.cost - table.cycle(plans)
        if packed.choice is not None and value < state.value - TINY:
            state.plans, state.value = plans, value
            state.choice = state.choice.copy()
            state.choice[rows] = packed.choice


def _loosest(table: OptionTable, choices: list[tuple[CyclePlan, ...]]) -> float:
    """Bound every combination: each item and supplier at its own best."""
    cost = np.full(table.spend.shape, np.inf)
    cycle = 0.0
    for slot, options in enumerate(choices):
        cycle += max(table.all_costs[slot].cycle.day_cost * table.all_costs[slot].untils[each.wait] for each in options)
    for waits in range(max(len(each) for each in choices)):
        plans = tuple(each[min(waits, len(each) - 1)] for each in choices)
        np.minimum(cost, table.costs(plans), out=cost)
    return float(cost.min(axis=1).sum()) - cycle
