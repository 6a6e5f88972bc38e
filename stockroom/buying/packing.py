"""The inner problem: which option of each item, once it is planned whom to order from; quick answers and bounds."""

from dataclasses import dataclass, replace

import numpy as np

from stockroom.buying.cost_table import CostTable
from stockroom.buying.problem import BoolArray, FloatArray, IntArray, OrderProblem

PRICE_STEPS = 24
FILL_STEPS = 60
TINY = 1e-9
BOTH = (2.0, 3.0, 5.0)  # what is asked of value and weight together, each 1 where it is just reached
FREE = np.zeros(3)  # prices of cash, space and litres where nothing is limited
OPEN = np.full(3, np.inf)  # what there is of them then


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrderTerms:
    """Terms of the table's suppliers, (n_suppliers,): carriage, free from (inf: never), least value and weight."""

    fees: FloatArray
    free_over: FloatArray
    least: FloatArray
    weight: FloatArray


def terms_of(problem: OrderProblem, table: CostTable) -> OrderTerms:
    """Look up the terms of a table's suppliers."""
    known = [problem.suppliers[each] for each in table.suppliers]
    return OrderTerms(
        fees=np.array([each.carriage for each in known]),
        free_over=np.array([np.inf if each.free_over is None else each.free_over for each in known]),
        least=np.array([each.least_order for each in known]),
        weight=np.array([each.least_weight for each in known]),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Packing:
    """What one option per item is chosen by: the options' cost under the plans, shape (n_items, n_options).

    `now` are the suppliers that may be ordered from, `room` what is left of cash, space and litres, and `already` the
    goods value (row 0) and weight (row 1) of other items on each order.
    """

    table: CostTable
    cost: FloatArray
    now: BoolArray
    terms: OrderTerms
    room: FloatArray
    already: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Packed:
    """A choice of option per item, its cost with carriage, and a proven lower bound; no choice if infeasible."""

    choice: IntArray | None
    cost: float
    bound: float


def orders(setting: Packing, choice: IntArray) -> FloatArray:
    """Goods value ordered from each supplier (V_s)."""
    value: FloatArray = setting.already[0] + by_supplier(setting, choice, setting.table.spend)
    return value


def weights(setting: Packing, choice: IntArray) -> FloatArray:
    """Weight ordered from each supplier."""
    weight: FloatArray = setting.already[1] + by_supplier(setting, choice, setting.table.weights)
    return weight


def by_supplier(setting: Packing, choice: IntArray, values: FloatArray) -> FloatArray:
    """Add up what belongs to the chosen options by supplier."""
    rows, many = np.arange(len(choice)), len(setting.now)
    total = np.bincount(setting.table.slot[rows, choice] + 1, values[rows, choice], minlength=many + 1)
    return total[1:].astype(np.float64)


def too_small(setting: Packing, choice: IntArray) -> BoolArray:
    """Find the suppliers whose order is below the least value or weight they take."""
    value, terms = orders(setting, choice), setting.terms
    small = value < terms.least - TINY
    if terms.weight.any():
        small |= weights(setting, choice) < terms.weight - TINY
    return (value > 0) & small


def carriage(terms: OrderTerms, value: FloatArray) -> FloatArray:
    """Carriage on each supplier's order of these goods values (k_s)."""
    return np.where((value > 0) & (value < terms.free_over - TINY), terms.fees, 0.0)


def used(setting: Packing, choice: IntArray) -> FloatArray:
    """Cash with carriage, space and litres that a choice takes."""
    total: FloatArray = setting.table.uses[:, np.arange(len(choice)), choice].sum(axis=1)
    value = orders(setting, choice)
    total[0] += setting.already[0].sum() + carriage(setting.terms, value).sum()
    return total


def feasible(setting: Packing, choice: IntArray) -> bool:
    """Whether a choice meets minimum orders and limits."""
    if too_small(setting, choice).any():
        return False
    return bool(np.isinf(setting.room).all() or (used(setting, choice) <= setting.room + TINY).all())


def worth(setting: Packing, choice: IntArray) -> float:
    """Cost of a choice with carriage, inf if infeasible."""
    if not feasible(setting, choice):
        return float("inf")
    own = setting.cost[np.arange(len(choice)), choice].sum()
    return float(own + carriage(setting.terms, orders(setting, choice)).sum())


def priced(setting: Packing, prices: FloatArray) -> Packing:
    """Charge for what is limited instead of limiting it (Lagrangian relaxation; Fisher 1981, from memory).

    For any prices, the least cost of the priced problem, less what the room is worth at them, is a lower bound.
    """
    cost = setting.cost
    for price, use in zip(prices, setting.table.uses, strict=True):
        cost = cost + price * use if price > 0 else cost
    terms = replace(setting.terms, fees=setting.terms.fees * (1 + prices[0]))
    return replace(setting, cost=cost, terms=terms, room=OPEN)


def chosen(setting: Packing) -> tuple[IntArray, float]:
    """Choose the best options without limits, each supplier's order topped up where that pays; inf if infeasible.

    Notes
    -----
    The top-up is priced too: a multiplier on the goods value of one supplier. Whose order would be too small is left
    out until it is topped up, so that of two such suppliers neither bars the other.
    """
    wanted = setting.cost.argmin(axis=1)
    small = too_small(setting, wanted)
    best = _without(setting, wanted, small) if small.any() else wanted
    cost = worth(setting, best)
    for slot in np.unique(setting.table.of_slot[setting.now[setting.table.of_slot]]):
        for measure, goal in _short_of(setting, int(slot), wanted if small[slot] else best):
            topped = _topped(setting, int(slot), goal, best, measure)[0]
            if topped is not None and worth(setting, topped) < cost:
                best, cost = topped, worth(setting, topped)
    return best, cost


def _without(setting: Packing, choice: IntArray, left_out: BoolArray) -> IntArray:
    """Buy nothing from some suppliers."""
    whose = setting.table.slot[np.arange(len(choice)), choice]
    return np.where(np.append(left_out, False)[whose], 0, choice)  # the last: slot -1, nothing bought


def _short_of(setting: Packing, slot: int, choice: IntArray) -> list[tuple[FloatArray, float]]:
    """Say by what one supplier's order is worth topping up, and to how much of it: its value, its weight, or both.

    Where both are too small, what is asked of the two together rises until each is reached (or it pays no more).
    """
    table, terms = setting.table, setting.terms
    value = orders(setting, choice)
    goal = float(_goals(terms, value)[slot] - setting.already[0, slot])
    found = [(table.spend, goal)] if 0 < value[slot] < goal + setting.already[0, slot] - TINY else []
    least = float(terms.weight[slot])
    if value[slot] <= 0 or least <= 0 or weights(setting, choice)[slot] >= least - TINY:
        return found
    heavy = least - float(setting.already[1, slot])
    if not found:
        return [(table.weights, heavy)]
    both = table.spend / max(goal, TINY) + table.weights / max(heavy, TINY)
    return [*found, (table.weights, heavy), *((both, times) for times in BOTH)]


def _goals(terms: OrderTerms, value: FloatArray) -> FloatArray:
    """Find the goods value worth reaching from each supplier: the minimum order, else where carriage falls away."""
    free = np.where((terms.fees > 0) & np.isfinite(terms.free_over), terms.free_over, 0.0)
    return np.where(value < terms.least, terms.least, free)


def _topped(
    setting: Packing, slot: int, goal: float, start: IntArray, measure: FloatArray
) -> tuple[IntArray | None, float]:
    """Find the cheapest priced choice whose order reaches the goal, and what the prices prove of his items' cost."""
    own = np.unique(setting.table.of_item[setting.table.of_slot == slot])
    cost, rows = setting.cost[own], np.arange(len(own))
    value = np.where(setting.table.slot[own] == slot, measure[own], 0.0)
    low, high, found, lower = 0.0, 1.0, None, -np.inf
    for _ in range(PRICE_STEPS):
        price = high if found is None else (low + high) / 2
        paid = cost - price * value
        choice = paid.argmin(axis=1)
        lower = max(lower, float(paid[rows, choice].sum()) + price * goal)
        if value[rows, choice].sum() >= goal - TINY:
            found, high = choice, price
        else:
            low, high = (high, high * 8) if found is None else (price, high)
        if (found is None and high > 1e5) or (found is not None and high - low < 1e-5 * high):  # noqa: PLR2004 -- beyond reach
            break
    if found is None:
        return None, np.inf
    whole = start.copy()
    whole[own] = _trimmed(cost, value, found, goal)
    return whole, lower


def _trimmed(cost: FloatArray, value: FloatArray, choice: IntArray, goal: float) -> IntArray:
    """Step single items back where the goal is still met and the cost falls."""
    rows, choice = np.arange(len(choice)), choice.copy()
    for _ in range(len(choice)):
        spare = value[rows, choice].sum() - goal
        loss = value[rows, choice][:, None] - value
        gain = np.where(loss <= spare + TINY, cost[rows, choice][:, None] - cost, -np.inf)
        item, option = np.unravel_index(int(np.argmax(gain)), gain.shape)
        if gain[item, option] <= TINY:
            break
        choice[item] = option
    return choice


def bound(setting: Packing) -> float:
    """Bound the cost without limits from below, carriage and minimum orders counted (nothing being ordered already).

    Notes
    -----
    Each item counts with the supplier it usually comes from. One who shares no items is not ordered from, or pays
    carriage, or reaches the value from which it is free, which a price on goods value bounds (`_topped`). Of one who
    shares items and `pays`, each option is lowered by the part of the carriage that its goods value saves, k_s V / F_s,
    and the carriage k_s is added where any of his own items needs him: below F_s that is no more than what is paid,
    and above no more than nothing.
    """
    pays = paying(setting)
    return sum(share(setting, slot, setting.table.home == slot, pays) for slot in range(len(setting.now)))


def paying(setting: Packing) -> BoolArray:
    """Find the suppliers whose carriage is worth counting: what is cheapest of them does not reach free carriage."""
    pays: BoolArray = orders(setting, setting.cost.argmin(axis=1)) < setting.terms.free_over
    return pays


def share(setting: Packing, slot: int, own: BoolArray, pays: BoolArray) -> float:
    """Bound one supplier's part of the cost: the items that usually come from him, and his carriage."""
    table, terms = setting.table, setting.terms
    credit = np.where(pays & ~table.alone, terms.fees / np.maximum(terms.free_over, TINY), 0.0)
    lowered = setting.cost[own] - np.append(credit, 0.0)[table.slot[own]] * table.spend[own]
    least = float(lowered.min(axis=1).sum())
    if not (setting.now[slot] and (pays[slot] or table.alone[slot])):
        return least
    without = float(np.where(table.slot[own] == slot, np.inf, lowered).min(axis=1).sum())
    if not table.alone[slot]:
        return min(without, least + float(terms.fees[slot]))
    choice = lowered.argmin(axis=1)
    value = float(np.where(table.slot[own] == slot, table.spend[own], 0.0)[np.arange(len(choice)), choice].sum())
    goal, fee = float(_goals(terms, np.full(len(setting.now), value))[slot]), float(terms.fees[slot])
    if value >= goal - TINY:
        return min(without, least + fee * float(np.isinf(terms.free_over[slot])))
    stay = least + fee if value >= terms.least[slot] - TINY else np.inf
    start = np.zeros(len(table.items), dtype=np.int64)
    return min(without, stay, _topped(setting, slot, goal, start, table.spend)[1])


def fitted(setting: Packing, choice: IntArray | None) -> Packed:
    """Repair a choice until it fits: what is over is charged more and more, then the room that is left is filled.

    A supplier whose order falls below its minimum is left out; buying nothing at all fits always.
    """
    nothing = np.zeros(len(setting.cost), dtype=np.int64)
    choice = nothing if choice is None else _charged(setting, choice)
    choice = _without(setting, choice, too_small(setting, choice))
    best = min((choice, nothing), key=lambda each: worth(setting, each))
    cost = worth(setting, best)
    if not np.isfinite(cost):
        return Packed(choice=None, cost=np.inf, bound=-np.inf)
    best = _filled(setting, best)
    return Packed(choice=best, cost=worth(setting, best), bound=-np.inf)


def _charged(setting: Packing, choice: IntArray) -> IntArray:
    """Charge for what a choice takes too much of, until the cheapest choice fits."""
    room = setting.room
    over = used(setting, choice) > room + TINY
    weight = np.zeros_like(setting.cost)
    for too_much, most, use in zip(over, room, setting.table.uses, strict=True):
        weight += use / max(most, TINY) if too_much else 0.0
    low, high = 0.0, np.inf
    for _ in range(PRICE_STEPS if over.any() else 0):
        price = max(low, 1.0) * 8 if np.isinf(high) else (low + high) / 2
        trial = (setting.cost + price * weight).argmin(axis=1)
        if (used(setting, trial) <= room + TINY).all():
            high, choice = price, trial
        else:
            low = price
    return choice


def _filled(setting: Packing, choice: IntArray) -> IntArray:
    """Buy more where that pays most for the room it takes, from those who are ordered from already."""
    rows, choice = np.arange(len(choice)), choice.copy()
    uses = [u for u, most in zip(setting.table.uses, setting.room, strict=True) if np.isfinite(most)]
    for _ in range(FILL_STEPS):
        spare = np.maximum(setting.room - used(setting, choice), 0.0)
        spare = spare[np.isfinite(setting.room)]
        ordered = np.append(orders(setting, choice) > 0, True)  # the last: slot -1, nothing bought
        gain = np.where(ordered[setting.table.slot], setting.cost[rows, choice][:, None] - setting.cost, -np.inf)
        taken = np.zeros_like(gain)
        for use, left in zip(uses, spare, strict=True):
            more = use - use[rows, choice][:, None]
            gain[more > left] = -np.inf
            taken += np.maximum(more, 0.0) / max(left, TINY)
        rate = np.where(gain > TINY, gain / (taken + TINY), -np.inf)
        item, option = np.unravel_index(int(np.argmax(rate)), rate.shape)
        trial = choice.copy()
        trial[item] = option
        if not np.isfinite(rate[item, option]) or worth(setting, trial) >= worth(setting, choice):
            break
        choice = trial
    return choice
