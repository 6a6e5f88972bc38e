"""Unused packs that may go back: laws of what the right is worth, and what a line says of it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stockroom.buying.basket import Basket, basket
from stockroom.buying.cost_table import CostTable, cost_table
from stockroom.buying.problem import GoingBack, Limits, OrderProblem
from tests.unit.buying.problems import small_ask

NEAR = 0.02  # money that the search does not prove


def _with(problem: OrderProblem, back: GoingBack | None) -> OrderProblem:
    return replace(problem, offers=tuple(replace(each, back=back) for each in problem.offers))


def _costs(problem: OrderProblem) -> CostTable:
    table = cost_table(problem)
    assert table is not None
    return table


@settings(max_examples=6, deadline=None)
@given(
    seed=st.integers(0, 60),
    until=st.floats(0.0, 120.0),
    cost=st.floats(0.0, 3.0),
    approval=st.booleans(),
    keeps=st.sampled_from([None, 20.0, 60.0]),
)
def test_a_right_to_send_back_never_makes_any_purchase_dearer(
    seed: int, until: float, cost: float, approval: bool, keeps: float | None
) -> None:
    plain = small_ask(seed)
    plain = replace(plain, items=tuple(replace(each, shelf_days=keeps) for each in plain.items))
    back = GoingBack(until=until, cost=cost, on_approval=approval)
    stays, goes = _costs(plain), _costs(_with(plain, back))
    finite = np.isfinite(stays.cost)
    assert (goes.cost[finite] <= stays.cost[finite] + 1e-9).all()
    assert (goes.parts.lasting == stays.parts.lasting).all(), "what lies there is the same"
    more = [replace(back, until=until + 21.0), replace(back, cost=cost / 2), replace(back, on_approval=True)]
    for better in more[1:] if until else more[1:2]:
        assert (_costs(_with(plain, better)).cost[finite] <= goes.cost[finite] + 1e-9).all()


@settings(max_examples=3, deadline=None)
@given(seed=st.integers(0, 60), until=st.floats(10.0, 90.0), approval=st.booleans())
def test_a_basket_of_goods_that_may_go_back_is_never_worse(seed: int, until: float, approval: bool) -> None:
    plain = small_ask(seed)
    back = GoingBack(until=until, on_approval=approval)
    assert basket(_with(plain, back)).cost <= basket(plain).cost + NEAR


def test_a_right_that_ends_before_the_goods_come_is_worth_nothing() -> None:
    plain = small_ask(3)
    soon = _costs(_with(plain, GoingBack(until=1.0, on_approval=True)))
    assert (soon.cost == _costs(plain).cost)[np.isfinite(soon.cost)].all()


def test_goods_on_approval_take_no_cash_and_still_count_towards_free_carriage() -> None:
    plain = replace(small_ask(5), limits=Limits(cash=1.0))
    assert not basket(plain).lines
    found: Basket = basket(_with(plain, GoingBack(until=60.0, on_approval=True)))
    assert found.lines
    assert found.value == pytest.approx(sum(line.spend for line in found.lines))
    assert not basket(_with(plain, GoingBack(until=60.0))).lines, "what is paid for on delivery takes cash"


def test_what_would_spoil_goes_back_for_what_sending_costs() -> None:
    plain = small_ask(2)
    plain = replace(plain, items=tuple(replace(each, shelf_days=40.0) for each in plain.items))
    stays, free = _costs(plain), _costs(_with(plain, GoingBack(until=39.0)))
    dear = _costs(_with(plain, GoingBack(until=39.0, cost=100.0)))
    late = _costs(_with(plain, GoingBack(until=60.0)))
    assert (stays.parts.expiry > 1e-9).any()
    assert np.allclose(free.parts.expiry, 0.0, atol=1e-9)
    assert np.allclose(dear.parts.expiry, stays.parts.expiry)
    assert np.allclose(late.parts.expiry, stays.parts.expiry), "it has spoilt by then"
