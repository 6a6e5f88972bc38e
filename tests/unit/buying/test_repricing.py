from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stockroom.buying.basket import basket, room_left
from stockroom.buying.problem import Limits
from stockroom.buying.repricing import reprice
from tests.unit.buying.problems import shared_ask, small_ask, stocked

seeds = st.integers(0, 10_000)
PROVEN = 0.021  # the search proves to within a cent, on either side of a comparison


@given(seed=seeds, shared=st.booleans())
@settings(max_examples=12, deadline=None)
def test_the_suggested_basket_costs_as_much_as_itself(seed: int, shared: bool) -> None:
    problem = shared_ask(seed) if shared else small_ask(seed)
    found = basket(problem)
    told = reprice(problem, found, {line.offer: line.packs for line in found.lines})
    assert told.dearer == pytest.approx(0.0, abs=1e-6)
    assert told.goods == pytest.approx(found.value)
    assert told.carriage == pytest.approx(sum(each.carriage for each in found.orders))
    assert told.fits
    np.testing.assert_allclose(told.risk, told.risk_suggested)


@given(seed=seeds, drawn=st.randoms(use_true_random=False), cash=st.floats(0.2, 1.0))
@settings(max_examples=12, deadline=None)
def test_no_changed_basket_that_fits_is_expected_to_cost_less(seed: int, drawn: Random, cash: float) -> None:
    problem = shared_ask(seed)
    problem = replace(problem, limits=Limits(cash=cash * (basket(problem).value + 10.0)))
    found = basket(problem)
    assert found.found is not None
    table = found.found.table
    for _ in range(4):
        packs = {line.offer: line.packs for line in found.lines}
        row = drawn.randrange(len(table.items))
        option = drawn.randrange(table.packs.shape[1])
        packs = {n: count for n, count in packs.items() if problem.offers[n].item != table.items[row]}
        if table.offer[row, option] >= 0 and table.packs[row, option]:
            packs[int(table.offer[row, option])] = int(table.packs[row, option])
        told = reprice(problem, found, packs)
        assert told.dearer >= -found.gap - PROVEN or not told.fits


def test_what_is_taken_off_is_at_risk_and_what_is_added_is_not() -> None:
    problem = stocked(small_ask(), 0.5)
    found = basket(problem)
    line = next(each for each in found.lines if each.item == 1)
    without = reprice(problem, found, {each.offer: each.packs for each in found.lines if each is not line})
    assert without.risk[1] > without.risk_suggested[1] + 1.0
    assert without.dearer > 1.0
    assert without.goods == pytest.approx(found.value - line.spend)
    more = reprice(problem, found, {each.offer: each.packs + (each is line) for each in found.lines})
    assert more.risk[1] <= more.risk_suggested[1] + 1e-9
    assert more.dearer > 0


def test_packs_in_two_offers_of_an_item_count_together() -> None:
    problem = stocked(small_ask(), 0.5)
    found = basket(problem)
    packs = {line.offer: line.packs for line in found.lines if line.item != 0}
    one = reprice(problem, found, packs | {0: 1})
    both = reprice(problem, found, packs | {0: 1, 3: 1})
    assert both.risk[0] < one.risk[0]
    assert both.goods == pytest.approx(one.goods + problem.offers[3].price)


@given(seed=seeds, weeks=st.floats(0.0, 1.0))
@settings(max_examples=8, deadline=None)
def test_what_a_quick_supplier_brings_fills_the_shelf_until_the_slow_one_delivers(seed: int, weeks: float) -> None:
    """To buy of the slow one as well costs no more than its price and carriage."""
    problem = stocked(small_ask(seed), weeks)
    slow, quick = problem.suppliers
    slow, quick = replace(slow, leads=slow.leads + 14.0), replace(quick, leads=quick.leads / 4)
    large = replace(problem.offers[0], pack=2 * problem.offers[0].pack)
    problem = replace(problem, suppliers=(slow, quick), offers=(large, *problem.offers[1:]))
    found = basket(problem)
    packs = {line.offer: line.packs for line in found.lines if line.item != 0}
    alone, late, both = (reprice(problem, found, packs | more) for more in ({3: 1}, {0: 1}, {0: 1, 3: 1}))
    assert both.risk[0] <= late.risk[0] + PROVEN
    assert both.dearer <= alone.dearer + large.price + both.carriage - alone.carriage + PROVEN
    assert both.dearer - both.carriage <= late.dearer - late.carriage + problem.offers[3].price + PROVEN


def test_limits_and_minimum_orders_that_are_not_kept_are_told() -> None:
    problem = stocked(small_ask(), 0.5)
    problem = replace(problem, suppliers=tuple(replace(each, least_order=500.0) for each in problem.suppliers))
    problem = replace(problem, limits=Limits(cash=30.0))
    found = basket(problem)
    told = reprice(problem, found, {1: 1})
    supplier = problem.suppliers[1]
    paid = problem.offers[1].price + (
        0.0 if problem.offers[1].price >= (supplier.free_over or 0) else supplier.carriage
    )
    assert room_left(problem)[0] == 30.0
    assert told.over[0] == pytest.approx(max(paid - 30.0, 0.0), abs=1e-6)
    assert told.below == {1: pytest.approx(500.0 - problem.offers[1].price)}
    assert not told.fits


def test_nothing_offered_is_priced_at_nothing() -> None:
    problem = replace(small_ask(), offers=())
    told = reprice(problem, basket(problem), {})
    assert (told.goods, told.dearer, told.fits) == (0.0, 0.0, True)
