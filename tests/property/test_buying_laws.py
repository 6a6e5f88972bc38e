"""Laws of the buying room that hold whatever the shop."""

from dataclasses import replace
from itertools import product
from random import Random

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from stockroom.buying.basket import basket, room_left
from stockroom.buying.cost_table import CostTable, CyclePlan, cost_table
from stockroom.buying.exact import solve
from stockroom.buying.packing import (
    FREE,
    OPEN,
    Packed,
    Packing,
    bound,
    chosen,
    feasible,
    fitted,
    orders,
    priced,
    terms_of,
    used,
    worth,
)
from stockroom.buying.problem import FloatArray, Limits, OnTheWay, OrderProblem, PriceStep
from stockroom.buying.risk import runouts
from stockroom.buying.search import _board, _descend, _plan_bounds, best_waiting, packing, search
from tests.unit.buying.problems import (
    best_of_plans,
    brute_force,
    partly_shared,
    shared_ask,
    small_ask,
    stocked,
    weighed,
)

seeds = st.integers(0, 10_000)
shares = st.floats(0.0, 1.0)
charges = st.tuples(*(st.floats(0.0, 3.0) for _ in range(3)))  # for a unit of cash, space and litres
MOST, GAP = st.sampled_from([600, 63, 12]), st.sampled_from([0.01, 3.0, 60.0])
pytestmark = pytest.mark.usefixtures("few_counts")
PROVEN = 0.021  # the search proves to within a cent, on either side of a comparison


def limited(problem: OrderProblem, cash: float, space: float, litres: float) -> OrderProblem:
    """Leave so much of the cash, room and litres that would be taken without limits."""
    free = basket(problem)
    most = {
        "cash": cash * (free.value + sum(each.carriage for each in free.orders)),
        "space": space * sum(problem.items[line.item].space * line.quantity for line in free.lines),
        "flammable": litres * sum(problem.items[line.item].flammable * line.quantity for line in free.lines),
    }
    stock = np.array([float(np.mean(each.on_hand)) for each in problem.items])
    most["space"] += float(np.array([each.space for each in problem.items]) @ stock)
    most["flammable"] += float(np.array([each.flammable for each in problem.items]) @ stock)
    return replace(problem, limits=Limits(**most))


@given(seed=seeds)
@settings(max_examples=15, deadline=None)
def test_chance_of_having_run_out_never_falls_and_more_stock_never_raises_it(seed: int) -> None:
    problem = small_ask(seed)
    chance = runouts(problem).chance
    assert (np.diff(chance, axis=1) >= 0).all()
    assert ((chance >= 0) & (chance <= 1)).all()
    more = replace(problem, items=tuple(replace(each, on_hand=each.on_hand + 1.0) for each in problem.items))
    assert (runouts(more).chance <= chance).all()


@given(seed=seeds, weeks=st.floats(0.0, 6.0), cash=st.floats(0.0, 400.0))
@settings(max_examples=6, deadline=None)
def test_basket_keeps_every_rule(seed: int, weeks: float, cash: float) -> None:
    problem = stocked(small_ask(seed), weeks)
    problem = replace(
        problem,
        limits=Limits(cash=cash),
        suppliers=tuple(replace(each, least_order=20.0) for each in problem.suppliers),
        offers=tuple(
            replace(each, least_packs=2, breaks=(PriceStep(packs=4, price=0.9 * each.price),))
            for each in problem.offers
        ),
    )
    found = basket(problem, time_limit=0.3)
    assert found.value + sum(each.carriage for each in found.orders) <= cash + 1e-6
    assert all(each.value == 0 or each.value >= 20.0 - 1e-6 for each in found.orders)
    assert all(
        line.packs >= 2 and line.spend == line.packs * problem.offers[line.offer].price_at(line.packs)
        for line in found.lines
    )
    assert len({line.item for line in found.lines}) == len(found.lines)
    assert found.bound <= found.cost + 1e-9
    assert found.cost <= found.cost_of_nothing + 0.011


@given(seed=seeds, scale=st.sampled_from([0.01, 100.0]))
@settings(max_examples=6, deadline=None)
def test_basket_does_not_depend_on_the_unit_an_item_is_measured_in(seed: int, scale: float) -> None:
    problem = stocked(small_ask(seed), 0.5)
    assert problem.jobs is not None
    unit = np.array([scale] + [1.0] * (len(problem.items) - 1))
    other = replace(
        problem,
        items=tuple(
            replace(each, on_hand=each.on_hand * unit[i], unit_cost=each.unit_cost / unit[i])
            for i, each in enumerate(problem.items)
        ),
        use=problem.use * unit[:, None],
        offers=tuple(replace(each, pack=each.pack * unit[each.item]) for each in problem.offers),
        jobs=replace(problem.jobs, needs=problem.jobs.needs * unit),
    )
    packs = {line.offer: line.packs for line in basket(problem).lines}
    assert {line.offer: line.packs for line in basket(other).lines} == packs


@given(seed=seeds)
@settings(max_examples=15, deadline=None)
def test_cost_of_an_amount_is_convex_without_terminal_and_price_parts(seed: int) -> None:
    table = cost_table(small_ask(seed))
    assert table is not None
    for row, item in enumerate(table.of_item):
        own = table.offer[item] == table.offers[row]
        amounts = np.append(0.0, table.amounts[item, own])
        known = np.append(0, table.packs[item, own]).argsort(kind="stable")[(table.packs[item, own] == 0).sum() :]
        slope = np.diff(table.parts.held[row][:, known], axis=1) / np.diff(amounts[known])
        assert (np.diff(slope[np.isfinite(slope).all(axis=1)], axis=1) >= -1e-7).all()


@given(seed=seeds)
@settings(max_examples=6, deadline=None)
def test_found_basket_is_feasible_under_its_own_plans(seed: int) -> None:
    problem = stocked(small_ask(seed), 1.0)
    found = basket(problem).found
    assert found is not None
    setting = packing(problem, found.table, found.plans)
    assert feasible(setting, found.choice)
    assert (orders(setting, found.choice) >= 0).all()


@given(seed=seeds)
@settings(max_examples=6, deadline=None)
def test_ordering_nothing_is_always_open_and_what_is_coming_lowers_its_cost(seed: int) -> None:
    problem = stocked(small_ask(seed), 0.5)
    plenty = tuple(replace(each, coming=(OnTheWay(quantity=1e3, arrives=np.zeros(1)),)) for each in problem.items)
    waiting = {}
    for name, items in {"as it is": problem.items, "plenty": plenty}.items():
        table = cost_table(replace(problem, items=items))
        assert table is not None
        cost = table.costs(tuple(CyclePlan(now=False, wait=0) for _ in table.suppliers))
        assert np.isfinite(cost[:, 0]).all()
        waiting[name] = cost[:, 0].sum()
    assert waiting["plenty"] <= waiting["as it is"] + 1e-9


@given(litres=st.floats(0.0, 50.0), weeks=st.floats(0.0, 5.0))
@settings(max_examples=20, deadline=None)
def test_room_left_is_never_negative(litres: float, weeks: float) -> None:
    problem = stocked(small_ask(), weeks)
    items = tuple(replace(each, flammable=1.0) for each in problem.items)
    assert room_left(replace(problem, items=items, limits=Limits(flammable=litres)))[2] >= 0


@given(seed=seeds, drawn=st.randoms(use_true_random=False), shared=st.booleans())
@settings(max_examples=25, deadline=None)
def test_a_bound_is_never_above_what_any_choice_costs(seed: int, drawn: Random, shared: bool) -> None:
    problem = shared_ask(seed, n_items=4) if shared else small_ask(seed, n_items=4)
    table = cost_table(problem)
    assert table is not None
    plans = tuple(drawn.choice(table.plans(slot)) for slot in range(len(table.suppliers)))
    setting = packing(problem, table, plans)
    told = bound(setting)
    quick, cost = chosen(setting)
    assert told <= cost + 1e-6
    for _ in range(100):
        other = quick.copy()
        row = drawn.randrange(len(quick))
        other[row] = drawn.choice(np.flatnonzero(np.isfinite(setting.cost[row])).tolist())
        assert told <= worth(setting, other) + 1e-6
        quick = other if drawn.random() < 0.5 else quick


@given(seed=seeds, cash=shares)
@settings(max_examples=3, deadline=None)
def test_a_basket_costs_what_its_options_cost_and_no_less_than_the_bound_without_limits(seed: int, cash: float) -> None:
    problem = shared_ask(seed, n_items=5)
    tight = limited(problem, cash, 1.0, 1.0)
    found, free = basket(tight), basket(problem)
    assert found.found is not None
    setting = packing(tight, found.found.table, found.found.plans, room_left(tight))
    told = worth(setting, found.found.choice) - found.found.table.cycle(found.found.plans)
    assert found.cost == pytest.approx(told)
    assert free.bound - 1e-6 <= found.bound <= found.cost


def few(problem: OrderProblem, parts: tuple[float, float, float]) -> tuple[OrderProblem, CostTable, FloatArray]:
    """Cost few pack counts and order days only, so that all can be gone through; within a part of each limit."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("stockroom.buying.cost_table.COUNTS", 4)
        patch.setattr("stockroom.buying.long_run.GAPS", (1, 3))
        tight = limited(problem, *parts)
        table = cost_table(tight)
    assert table is not None
    return tight, table, room_left(tight)


@given(
    seed=seeds, drawn=st.randoms(use_true_random=False), share=st.sampled_from([0.0, 0.4, 1.0]), prices=charges,
    parts=st.tuples(shares, shares, shares), turned=st.booleans(),
)  # fmt: skip
@settings(max_examples=15, deadline=None)
def test_at_any_prices_no_bound_of_any_plan_is_above_the_best_of_all_choices_within_every_limit(
    seed: int,
    drawn: Random,
    share: float,
    prices: tuple[float, float, float],
    parts: tuple[float, float, float],
    turned: bool,
) -> None:
    """Suppliers may share items, some have a least value or weight: duality holds whatever the prices (Fisher 1981)."""
    problem, table, room = few(partly_shared(seed, share), parts)
    if turned:  # so that lasting longer is what is cheaper
        turn = np.concatenate([table.cost[:, -2::-1], table.cost[:, -1:]], axis=1)
        table = replace(table, cost=turn, plain=turn)
    every = list(product(*(table.plans(slot) for slot in range(len(table.suppliers)))))
    best = {plans: best_of_plans(problem, table, plans, room) for plans in every}
    charged = np.array(prices)
    board = _board(table, terms_of(problem, table), np.arange(len(table.suppliers)), room, np.inf)
    shares_of, lower = _plan_bounds(board, drawn.choice(every), charged)
    for plans, cost in best.items():
        of_plan = bound(priced(packing(problem, table, plans, room), charged)) - float(charged @ room)
        assert of_plan - table.cycle(plans) <= cost + 1e-6
        excess = [each[board.choices[slot].index(plans[slot])] - each.min() for slot, each in enumerate(shares_of)]
        assert lower + sum(excess) <= cost + 1e-6


@given(seed=seeds, drawn=st.randoms(use_true_random=False), parts=st.tuples(shares, shares, shares), prices=charges)
@settings(max_examples=6, deadline=None)
def test_the_exact_finish_finds_the_best_of_all_choices_and_nothing_where_the_cutoff_is_better(
    seed: int, drawn: Random, parts: tuple[float, float, float], prices: tuple[float, float, float]
) -> None:
    problem, table, room = few(weighed(shared_ask(seed), seed), parts)
    plans = tuple(drawn.choice(table.plans(slot)) for slot in range(len(table.suppliers)))
    setting, cycle = packing(problem, table, plans, room), table.cycle(plans)
    best = best_of_plans(problem, table, plans, room) + cycle
    start = replace(fitted(setting, None), bound=-np.inf)
    found = solve(setting, start, 10.0, prices=np.array(prices))
    assert found.cost == pytest.approx(best, abs=PROVEN)
    assert found.bound <= best + 1e-6
    assert found.bound >= best - PROVEN
    with pytest.MonkeyPatch.context() as patch:  # an answer that need not be the best is not called so
        patch.setattr("stockroom.buying.exact.NEAR", 1e9)
        assert solve(setting, start, 10.0, prices=np.array(prices)).bound <= best + 1e-6
    cutoff = best - 5.0
    assert solve(setting, start, 10.0, prices=np.array(prices), cutoff=cutoff).bound <= cutoff + 1e-6


@given(seed=seeds, share=st.sampled_from([0.0, 0.4, 1.0]), parts=st.tuples(shares, shares, shares))
@settings(max_examples=8, deadline=None)
def test_a_basket_within_every_limit_is_the_best_of_all_there_are(
    seed: int, share: float, parts: tuple[float, float, float]
) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("stockroom.buying.cost_table.COUNTS", 4)
        patch.setattr("stockroom.buying.long_run.GAPS", (1, 3))
        problem = limited(partly_shared(seed, share), *parts)
        found, best = basket(problem), brute_force(problem, room_left(problem))
    assert found.cost == pytest.approx(best, abs=PROVEN)
    assert found.bound <= best + 1e-6


@given(seed=seeds, drawn=st.randoms(use_true_random=False), prices=charges)
@settings(max_examples=20, deadline=None)
def test_at_a_price_a_choice_costs_as_much_more_as_what_it_takes_is_worth(
    seed: int, drawn: Random, prices: tuple[float, float, float]
) -> None:
    """The relaxation itself: cash is taken by the carriage as well."""
    problem = shared_ask(seed)
    table = cost_table(problem)
    assert table is not None
    setting = packing(problem, table, tuple(drawn.choice(table.plans(slot)) for slot in range(len(table.suppliers))))
    choice = np.array([drawn.choice(np.flatnonzero(np.isfinite(row)).tolist()) for row in setting.cost])
    plain, charged = worth(setting, choice), worth(priced(setting, np.array(prices)), choice)
    if np.isfinite(plain):
        assert charged == pytest.approx(plain + np.array(prices) @ used(setting, choice))
    else:
        assert not np.isfinite(charged)


@given(seed=seeds, least=st.sampled_from([0.0, 30.0]))
@settings(max_examples=15, deadline=None)
def test_where_carriage_never_falls_away_the_bound_of_a_supplier_with_one_item_is_what_it_costs(
    seed: int, least: float
) -> None:
    problem = small_ask(seed, n_items=1, n_suppliers=1)
    supplier = replace(problem.suppliers[0], free_over=None, least_order=least)
    problem, table, _ = few(replace(problem, suppliers=(supplier,)), (1.0, 1.0, 1.0))
    for plan in table.plans(0):
        setting = packing(problem, table, (plan,))
        best = best_of_plans(problem, table, (plan,), OPEN) + table.cycle((plan,))
        cheapest = int(setting.cost[0].argmin())
        if table.spend[0, cheapest] >= least or not cheapest:  # else topping up is bounded by a price
            assert bound(setting) == pytest.approx(best)


@given(
    seed=seeds, share=st.sampled_from([0.0, 0.4, 1.0]), parts=st.tuples(shares, shares, shares), most=MOST, gap=GAP,
    proves=st.booleans(),
)  # fmt: skip
@example(seed=6, share=0.0, parts=(0.5, 0.5, 0.5), most=600, gap=0.01, proves=False)
@example(seed=6, share=0.0, parts=(0.5, 0.5, 0.5), most=600, gap=0.01, proves=True)
@example(seed=6, share=0.0, parts=(0.5, 0.5, 0.5), most=63, gap=60.0, proves=False)
@settings(max_examples=6, deadline=None)
def test_where_the_search_gives_up_early_its_bound_still_holds(
    seed: int, share: float, parts: tuple[float, float, float], most: int, gap: float, proves: bool
) -> None:
    """The exact solver finds nothing that was not known [but proves], and not all plans are tried, or worth a proof."""
    problem, table, room = few(partly_shared(seed, share), parts)
    every = list(product(*(table.plans(slot) for slot in range(len(table.suppliers)))))
    best = {plans: best_of_plans(problem, table, plans, room) for plans in every}
    board = _board(table.within(room), terms_of(problem, table), np.arange(len(table.suppliers)), room, np.inf)
    known = {board.packing(plans).cost.tobytes(): cost + table.cycle(plans) for plans, cost in best.items()}

    def gives_up(setting: Packing, start: Packed, *_: float, **__: object) -> Packed:
        return replace(start, bound=known[setting.cost.tobytes()]) if proves else start

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("stockroom.buying.search.solve", gives_up)
        patch.setattr("stockroom.buying.search.SMALL_GAP", gap)
        patch.setattr("stockroom.buying.search.MOST_COMBINATIONS", most)
        found = search(problem, table, room, np.inf)
    assert found.bound <= min(best.values()) + 1e-6
    assert found.cost >= min(best.values()) - 1e-6


@given(seed=seeds, share=st.sampled_from([0.0, 1.0]), parts=st.tuples(shares, shares, shares), many=st.booleans())
@settings(max_examples=5, deadline=None)
def test_once_time_is_up_what_fits_is_bought_without_the_solver_and_its_bound_holds(
    seed: int, share: float, parts: tuple[float, float, float], many: bool
) -> None:
    problem, table, room = few(partly_shared(seed, share), parts)
    every = product(*(table.plans(slot) for slot in range(len(table.suppliers))))
    best = min(best_of_plans(problem, table, plans, room) for plans in every)
    with pytest.MonkeyPatch.context() as patch:
        patch.delattr("stockroom.buying.search.solve")
        patch.setattr("stockroom.buying.search.MOST_COMBINATIONS", 1 if many else 600)
        found = search(problem, table, room, -np.inf)
    assert feasible(packing(problem, table, found.plans, room), found.choice)
    assert found.bound - 1e-6 <= best <= found.cost + 1e-6
    assert found.cost <= best_waiting(table, wished=True)[1] + PROVEN


@given(seed=seeds)
@settings(max_examples=15, deadline=None)
def test_without_carriage_and_least_orders_a_bound_is_what_the_best_choice_costs(seed: int) -> None:
    """Nothing binds the items then: each is at its cheapest, and the bound says exactly that."""
    problem = shared_ask(seed)
    plain = tuple(replace(each, carriage=0.0, least_order=0.0) for each in problem.suppliers)
    problem, table, _ = few(replace(problem, suppliers=plain), (1.0, 1.0, 1.0))
    plans = tuple(table.plans(slot)[-1] for slot in range(len(table.suppliers)))
    told = bound(packing(problem, table, plans)) - table.cycle(plans)
    assert told == pytest.approx(best_of_plans(problem, table, plans, OPEN), abs=1e-6)


@given(seed=seeds)
@settings(max_examples=8, deadline=None)
def test_suppliers_apart_without_carriage_are_bounded_by_the_best_of_all_plans(seed: int) -> None:
    """The bound of all plans is the sum of every supplier's best then, and exactly that."""
    problem = partly_shared(seed, 0.0)
    plain = tuple(replace(each, carriage=0.0, least_order=0.0, least_weight=0.0) for each in problem.suppliers)
    problem, table, _ = few(replace(problem, suppliers=plain), (1.0, 1.0, 1.0))
    every = list(product(*(table.plans(slot) for slot in range(len(table.suppliers)))))
    board = _board(table, terms_of(problem, table), np.arange(len(table.suppliers)), OPEN, np.inf)
    lower = _plan_bounds(board, every[0], FREE)[1]
    assert lower == pytest.approx(min(best_of_plans(problem, table, plans, OPEN) for plans in every), abs=1e-6)


@given(seed=seeds, prices=charges)
@settings(max_examples=8, deadline=None)
def test_taking_turns_ends_at_the_best_plans_of_suppliers_apart(seed: int, prices: tuple[float, float, float]) -> None:
    """Nothing a supplier plans bears on another then: each at his best is no worse than any plans of all."""
    problem, table, room = few(partly_shared(seed, 0.0), (1.0, 1.0, 1.0))
    board = _board(table, terms_of(problem, table), np.arange(len(table.suppliers)), room, np.inf)
    every = list(product(*(table.plans(slot) for slot in range(len(table.suppliers)))))
    costs = [chosen(priced(board.packing(plans), np.array(prices)))[1] - table.cycle(plans) for plans in every]
    for start in (every[0], every[-1]):
        assert _descend(board, start, np.array(prices)).value <= min(costs) + PROVEN
