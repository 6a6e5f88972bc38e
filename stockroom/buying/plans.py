"""Search over what to plan with each supplier: order now or wait, and until when the shelf must last."""

import time
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np

from stockroom.buying.ask import Ask
from stockroom.buying.board import Board, Plan, board
from stockroom.buying.packing import Packed, Problem, Shelfroom, relax, solve, worth
from stockroom.buying.sheets import Sheet

MOST_COMBINATIONS = 600  # tried one by one; beyond, suppliers take turns
SMALL_GAP = 0.01  # money not worth proving


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """The best plans and options of one board, their cost (rhythm taken off) and a proven lower bound."""

    board: Board
    plans: tuple[Plan, ...]
    packed: Packed
    cost: float
    bound: float


def problem(ask: Ask, table: Board, plans: tuple[Plan, ...], room: Shelfroom) -> Problem:
    """Set out the choice of options once the plans are set."""
    return Problem(
        cost=table.costs(plans),
        spend=table.spend,
        slot=table.slot,
        space=table.space,
        flammable=table.flammable,
        suppliers=tuple(ask.suppliers[each.supplier] for each in table.sheets),
        now=tuple(each.now for each in plans),
        room=room,
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


def _turns(ask: Ask, table: Board, choices: list[tuple[Plan, ...]], room: Shelfroom, deadline: float) -> Found:
    """Suppliers take turns to improve their own plan, from all waiting and from all at their own rhythm."""
    best: tuple[float, tuple[Plan, ...]] = (np.inf, ())
    for start in _starts(table, choices):
        value, plans = _descend(ask, table, choices, (start, room, deadline))
        if value < best[0]:
            best = (value, plans)
    plans = best[1]
    packed, rhythm = _relaxed(ask, table, plans, room)
    exact = solve(problem(ask, table, plans, room), packed, deadline - time.monotonic())
    bound = _loosest(table, choices)
    return Found(
        board=table, plans=plans, packed=exact, cost=exact.cost - rhythm, bound=min(bound, exact.cost - rhythm)
    )


def _starts(table: Board, choices: list[tuple[Plan, ...]]) -> Iterator[tuple[Plan, ...]]:
    yield tuple(each[0] for each in choices)
    usual = []
    for sheet, plans in zip(table.sheets, choices, strict=True):
        wait = int(np.argmin(np.abs(sheet.untils - sheet.rhythm.gap_days)))
        usual.append(next((each for each in plans if each.now and each.wait == wait), plans[0]))
    yield tuple(usual)


def _descend(
    ask: Ask, table: Board, choices: list[tuple[Plan, ...]], begin: tuple[tuple[Plan, ...], Shelfroom, float]
) -> tuple[float, tuple[Plan, ...]]:
    plans, room, deadline = begin
    packed, rhythm = _relaxed(ask, table, plans, room)
    value, moved = packed.cost - rhythm, True
    while moved and time.monotonic() < deadline:
        moved = False
        for slot, options in enumerate(choices):
            for each in options:
                trial = (*plans[:slot], each, *plans[slot + 1 :])
                packed, rhythm = _relaxed(ask, table, trial, room)
                if packed.cost - rhythm < value - 1e-9:
                    value, plans, moved = packed.cost - rhythm, trial, True
    return value, plans


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


def fixed(ask: Ask, found: Found, room: Shelfroom, plans: tuple[Plan, ...]) -> float:
    """Cost of a found choice under other plans."""
    if found.packed.choice is None:
        return float("inf")
    return worth(problem(ask, found.board, plans, room), found.packed.choice) - found.board.rhythm(plans)
