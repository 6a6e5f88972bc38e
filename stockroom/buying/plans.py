"""Search over what to plan with each supplier: order now or wait, and until when the shelf must last."""

import time
from dataclasses import dataclass
from itertools import product

import numpy as np

from stockroom.buying.ask import Ask, FloatArray, IntArray
from stockroom.buying.board import Board, Plan, board
from stockroom.buying.packing import Packed, Problem, Shelfroom, relax, solve
from stockroom.buying.sheets import Sheet

MOST_COMBINATIONS = 600  # tried one by one; beyond, suppliers take turns
SMALL_GAP = 0.01  # money not worth proving
TINY = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """The best plans and options of one board, their cost (rhythm taken off) and a proven lower bound."""

    board: Board
    plans: tuple[Plan, ...]
    packed: Packed
    cost: float
    bound: float


def problem(
    ask: Ask, table: Board, plans: tuple[Plan, ...], room: Shelfroom, already: FloatArray | None = None
) -> Problem:
    """Set out the choice of options once the plans are set, beside what is already on each order."""
    return Problem(
        cost=table.costs(plans),
        spend=table.spend,
        slot=table.slot,
        space=table.space,
        flammable=table.flammable,
        suppliers=tuple(ask.suppliers[each.supplier] for each in table.sheets),
        now=tuple(each.now for each in plans),
        room=room,
        already=np.zeros(len(plans)) if already is None else already,
    )


def groups(sheets: tuple[Sheet, ...]) -> tuple[tuple[Sheet, ...], ...]:
    """Suppliers that share items, directly or through others, belong together."""
    left, found = list(sheets), []
    while left:
        group = [left.pop(0)]
        items = set(group[0].items.tolist())
        while near := [each for each in left if items & set(each.items.tolist())]:
            group += near
            left = [each for each in left if each not in near]
            items |= {item for each in near for item in each.items.tolist()}
        found.append(tuple(group))
    return tuple(found)


def search(ask: Ask, sheets: tuple[Sheet, ...], room: Shelfroom, deadline: float) -> Found:
    """Best plans for suppliers that hang together.

    Notes
    -----
    Few combinations of plans are bounded one by one and settled in the order of their bounds until none
    left can win (branch and bound); with many, suppliers take turns until no single change pays.
    """
    table = board(ask, sheets)
    choices = [table.plans(slot) for slot in range(len(sheets))]
    if np.prod([len(each) for each in choices], dtype=float) <= MOST_COMBINATIONS:
        return _settle(ask, table, list(product(*choices)), room, deadline)
    return _turns(ask, table, choices, room, deadline)


def _relaxed(ask: Ask, table: Board, plans: tuple[Plan, ...], room: Shelfroom) -> tuple[Packed, float]:
    """Quick choice for some plans, and what their time costs in the long run."""
    return relax(problem(ask, table, plans, room)), table.rhythm(plans)


def _settle(ask: Ask, table: Board, combinations: list[tuple[Plan, ...]], room: Shelfroom, deadline: float) -> Found:
    quick = [_relaxed(ask, table, plans, room) for plans in combinations]
    bounds = np.array([packed.bound - rhythm for packed, rhythm in quick])
    costs = np.array([packed.cost - rhythm for packed, rhythm in quick])
    best = int(np.argmin(costs))
    proven = costs[best]
    for index in np.argsort(bounds):
        if bounds[index] >= costs[best] - SMALL_GAP or time.monotonic() > deadline:
            proven = min(proven, bounds[index])
            break
        exact = solve(problem(ask, table, combinations[index], room), quick[index][0], deadline - time.monotonic())
        quick[index] = (exact, quick[index][1])
        costs[index], bounds[index] = exact.cost - quick[index][1], exact.bound - quick[index][1]
        best = int(np.argmin(costs))
        proven = min(proven, bounds[index])
    return Found(
        board=table,
        plans=combinations[best],
        packed=quick[best][0],
        cost=float(costs[best]),
        bound=float(min(proven, costs[best])),
    )


@dataclass(slots=True, eq=False)
class _State:
    """Plans and choice under improvement."""

    plans: tuple[Plan, ...]
    choice: IntArray
    value: float


def best_waiting(table: Board, *, wished: bool) -> tuple[tuple[Plan, ...], float]:
    """Find what ordering nothing now costs, each supplier on the best of his coming order days, and these days."""
    waiting = [[Plan(now=False, wait=wait) for wait in range(len(sheet.untils))] for sheet in table.sheets]
    best, plans = np.inf, tuple(options[0] for options in waiting)
    moved = True
    while moved:
        moved = False
        for slot, options in enumerate(waiting):
            for option in options:
                trial = (*plans[:slot], option, *plans[slot + 1 :])
                cost = float(table.costs(trial, wished=wished)[:, 0].sum()) - table.rhythm(trial)
                if cost < best - TINY:
                    best, plans, moved = cost, trial, True
    return plans, float(best)


def _turns(ask: Ask, table: Board, choices: list[tuple[Plan, ...]], room: Shelfroom, deadline: float) -> Found:
    """Suppliers take turns to improve their own plan, from all waiting at their best and from all at their rhythm."""
    rows = [np.unique(place // table.spend.shape[1]) for place in table.place]
    parts = [(each, table.only(each)) for each in rows]
    ends = [
        _descend(ask, (table, parts), choices, start, (room, deadline))
        for start in (best_waiting(table, wished=True)[0], _usual(table, choices))
    ]
    best = min(ends, key=lambda each: each.value)
    packed, rhythm = _relaxed(ask, table, best.plans, room)
    if packed.cost - rhythm > best.value:
        packed = Packed(choice=best.choice, cost=best.value + rhythm, bound=packed.bound)
    if packed.cost - packed.bound > SMALL_GAP:
        packed = solve(problem(ask, table, best.plans, room), packed, deadline - time.monotonic())
    cost = packed.cost - rhythm
    return Found(board=table, plans=best.plans, packed=packed, cost=cost, bound=min(_loosest(table, choices), cost))


def _usual(table: Board, choices: list[tuple[Plan, ...]]) -> tuple[Plan, ...]:
    """Order from everyone at his own rhythm."""
    usual = []
    for sheet, plans in zip(table.sheets, choices, strict=True):
        wait = int(np.argmin(np.abs(sheet.untils - sheet.rhythm.gap_days)))
        usual.append(next((each for each in plans if each.now and each.wait == wait), plans[0]))
    return tuple(usual)


def _descend(
    ask: Ask,
    boards: tuple[Board, list[tuple[IntArray, Board]]],
    choices: list[tuple[Plan, ...]],
    start: tuple[Plan, ...],
    limits: tuple[Shelfroom, float],
) -> _State:
    """Change one supplier's plan at a time, choosing anew for his items only, until nothing improves."""
    table, parts = boards
    room, deadline = limits
    packed, rhythm = _relaxed(ask, table, start, room)
    choice = np.zeros(len(table.items), dtype=np.int64) if packed.choice is None else packed.choice
    state, moved = _State(plans=start, choice=choice, value=packed.cost - rhythm), True
    while moved and time.monotonic() < deadline:
        before = state.value
        for slot, options in enumerate(choices):
            _turn(
                ask,
                (table, *parts[slot]),
                state,
                [(*state.plans[:slot], e, *state.plans[slot + 1 :]) for e in options],
                room,
            )
        moved = state.value < before - SMALL_GAP
    return state


def _turn(
    ask: Ask,
    boards: tuple[Board, IntArray, Board],
    state: _State,
    trials: list[tuple[Plan, ...]],
    room: Shelfroom,
) -> None:
    """Try one supplier's plans with the items he offers; the others' items stay as they are."""
    table, rows, part = boards
    others = np.setdiff1d(np.arange(len(table.items)), rows)
    kept = problem(ask, table, state.plans, room)
    chosen = (others, state.choice[others])
    slot, spend = table.slot[chosen], table.spend[chosen]
    already = np.zeros(len(table.sheets))
    np.add.at(already, slot[slot >= 0], spend[slot >= 0])
    left = Shelfroom(
        cash=room.cash,
        space=room.space - float(table.space[chosen].sum()),
        flammable=room.flammable - float(table.flammable[chosen].sum()),
    )
    outside = float(kept.cost[chosen].sum())
    for plans in trials:
        packed = relax(problem(ask, part, plans, left, already))
        value = outside + packed.cost - table.rhythm(plans)
        if packed.choice is not None and value < state.value - TINY:
            state.plans, state.value = plans, value
            state.choice = state.choice.copy()
            state.choice[rows] = packed.choice


def _loosest(table: Board, choices: list[tuple[Plan, ...]]) -> float:
    """Bound every combination: each item and supplier at its own best."""
    cost = np.full(table.spend.shape, np.inf)
    rhythm = 0.0
    for slot, options in enumerate(choices):
        rhythm += max(table.sheets[slot].rhythm.day_cost * table.sheets[slot].untils[each.wait] for each in options)
    for waits in range(max(len(each) for each in choices)):
        plans = tuple(each[min(waits, len(each) - 1)] for each in choices)
        np.minimum(cost, table.costs(plans), out=cost)
    return float(cost.min(axis=1).sum()) - rhythm
