"""Substitutes that work one way only: this sheet will do for that one, but not the reverse."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stockroom.buying.problem import OrderItem, OrderProblem
from stockroom.flows.outlook.agreements import Pools
from stockroom.stock.agreements import Lean

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaning:
    """An item whose work another does once it is used up; a unit of that one does `does` units of its work.

    `always`: for good, as the other is cheaper for the work. Otherwise until more of its own can come.
    """

    item: int
    on: int
    does: float
    always: bool


def lean(
    problem: OrderProblem, leans: Iterable[Lean], codes: Sequence[str], pools: Pools
) -> tuple[OrderProblem, tuple[Leaning, ...]]:
    """Let the work of what is used up fall to its substitute.

    Parameters
    ----------
    problem : OrderProblem
        With either-way substitutes put together.
    leans : iterable of Lean
        What leans on what, by code, in base units.
    codes : sequence of str
        What the items stand for.
    pools : Pools
        Which items are one.

    Notes
    -----
    Let O(t) be use of the item beyond what it has by t, in each future. Where a unit of work is cheaper by the
    substitute, all of O is use of the substitute: its own offers are then not needed, and its shelf is used up. Where
    it is dearer, O is covered only until the item's own next order can have come, and only by what the substitute has
    then: c(t) = max(c(t - 1), min(O(t), d net(t))). What is left of the item never does the substitute's work. An item
    leans on the cheapest of several; one after the other, in the order of codes, so that what leans may be leant on.
    """
    place, mains = {code: n for n, code in enumerate(codes)}, pools.mains(len(codes))
    scale = {int(item): float(each) for items, does in pools.pools for item, each in zip(items, does, strict=True)}
    wanted: dict[int, list[tuple[int, float]]] = {}
    for each in leans:
        if each.material in place and each.other in place:
            item, on = place[each.material], place[each.other]
            does = each.does * scale.get(item, 1.0) / scale.get(on, 1.0)
            if mains[item] != mains[on]:
                wanted.setdefault(int(mains[item]), []).append((int(mains[on]), does))
    found: list[Leaning] = []
    displaced: set[int] = set()
    for item, others in wanted.items():
        price = _price(problem, item)
        on, does = min(others, key=lambda other: _price(problem, other[0]) / other[1])
        always = on not in displaced and _price(problem, on) / does < price
        displaced |= {item} if always else set()
        found.append(Leaning(item=item, on=on, does=does, always=always))
        problem = _moved(problem, found[-1])
    return _seen_by_all(problem, pools) if found else problem, tuple(found)


def _price(problem: OrderProblem, item: int) -> float:
    return min((each.price / each.pack for each in problem.offers if each.item == item), default=np.inf)


def _moved(problem: OrderProblem, leaning: Leaning) -> OrderProblem:
    """Move the use that the substitute covers from the item to it."""
    item, on, does = leaning.item, leaning.on, leaning.does
    beyond = np.maximum.accumulate(np.maximum(-_net(problem, item), 0.0), axis=1)
    if leaning.always:
        covered = beyond
    else:
        could = np.minimum(beyond, does * np.maximum(_net(problem, on), 0.0))
        steps = int(np.ceil(_next_comes(problem, item) / problem.step_days))
        covered = np.maximum.accumulate(could[:, :steps], axis=1)
        covered = np.concatenate([covered, np.repeat(covered[:, -1:], beyond.shape[1] - steps, axis=1)], axis=1)
    moved, use = np.diff(covered, axis=1, prepend=0.0), problem.use.copy()
    use[:, item] = np.maximum(use[:, item] - moved, 0.0)
    use[:, on] += moved / does
    jobs, wish = problem.jobs, problem.what_if
    if jobs is not None and leaning.always:
        needs = jobs.needs.copy()
        needs[:, on] += needs[:, item] / does
        jobs = replace(jobs, needs=needs)
    promises = tuple(replace(each, needs=_promised(each.needs, leaning)) for each in wish.promises)
    return replace(problem, use=use, jobs=jobs, what_if=replace(wish, promises=promises))


def _promised(needs: Floats, leaning: Leaning) -> Floats:
    """Give a promised job's needs to the substitute where that does the work for good."""
    if not leaning.always:
        return needs
    moved = needs.copy()
    moved[leaning.on] += moved[leaning.item] / leaning.does
    moved[leaning.item] = 0.0
    return moved


def _net(problem: OrderProblem, item: int) -> Floats:
    """Say what is left of an item at the end of each step with what is coming, shape (n_paths, n_steps)."""
    it: OrderItem = problem.items[item]
    ends = (np.arange(problem.use.shape[2]) + 1.0) * problem.step_days
    net: Floats = np.broadcast_to(it.on_hand, (problem.n_paths,))[:, None] - np.cumsum(problem.use[:, item], axis=1)
    for each in it.coming:
        net = net + each.quantity * (each.arrives[:, None] <= ends)
    return net


def _next_comes(problem: OrderProblem, item: int) -> float:
    """Days until an item's own next order can have come: an order placed now, or on the supplier's first order day."""
    days = [float(np.mean(problem.suppliers[each.supplier].leads)) for each in problem.offers if each.item == item]
    reach = problem.use.shape[2] * problem.step_days
    return float(max(min([*days, reach]), problem.step_days / 2))


def _seen_by_all(problem: OrderProblem, pools: Pools) -> OrderProblem:
    """Let all that are one see the use of the main one, in units of their own."""
    use = problem.use.copy()
    for items, does in pools.pools:
        for item, each in zip(items[1:], does[1:], strict=True):
            use[:, item] = use[:, items[0]] / each
    return replace(problem, use=use)


def leant(problem: OrderProblem, leanings: Sequence[Leaning], tickets: Sequence[tuple[Floats, float]]) -> list[Floats]:
    """Say what each ticket takes: of an item while there is any, then of what does its work.

    `tickets` are needs and days from now; earlier days are served first. What is there is a shelf's mean.
    """
    taken, needs = np.zeros(len(problem.items)), [need for need, _ in tickets]
    for n in sorted(range(len(tickets)), key=lambda each: tickets[each][1]):
        need, day = tickets[n]
        for each in leanings:
            if need[each.item] <= 0 or _there(problem, each.item, day) - taken[each.item] >= need[each.item]:
                continue
            instead = need[each.item] / each.does
            if each.always or _there(problem, each.on, day) - taken[each.on] >= instead + need[each.on]:
                need = need.copy()
                need[each.item], need[each.on] = 0.0, need[each.on] + instead
        needs[n], taken = need, taken + need
    return needs


def _there(problem: OrderProblem, item: int, day: float) -> float:
    it = problem.items[item]
    coming = sum((each.quantity for each in it.coming if np.median(each.arrives) <= day), 0.0)
    return float(np.mean(it.on_hand)) + coming


def needed(blamed: int, needs: Floats, leanings: Sequence[Leaning]) -> int:
    """Name, for a substitute that is lacking, what a ticket needs that leans on it."""
    if blamed < 0 or needs[blamed] > 0:
        return blamed
    return next((x.item for x in leanings if x.on == blamed and needs[x.item] > 0), blamed)
