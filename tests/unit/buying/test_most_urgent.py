"""What runs out first takes the money first."""

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from stockroom.buying.basket import Basket, BasketLine
from stockroom.buying.most_urgent import most_urgent_first
from stockroom.buying.order_cycle import carriage_on
from stockroom.buying.problem import Limits, OrderProblem, WhatIf
from tests.unit.buying.problems import shared_ask, small_ask


def wanting(problem: OrderProblem, packs: dict[int, int]) -> Basket:
    lines = tuple(
        BasketLine(
            item=problem.offers[n].item,
            offer=n,
            supplier=problem.offers[n].supplier,
            packs=count,
            quantity=count * problem.offers[n].pack,
            spend=count * problem.offers[n].price_at(count),
        )
        for n, count in packs.items()
    )
    return Basket(lines=lines, orders=(), cost=0.0, bound=0.0, cost_of_nothing=0.0, found=None)


def paid(problem: OrderProblem, packs: dict[int, int]) -> float:
    worth = dict.fromkeys(range(len(problem.suppliers)), 0.0)
    for n, count in packs.items():
        worth[problem.offers[n].supplier] += count * problem.offers[n].price_at(count)
    return sum(each + carriage_on(problem.suppliers[supplier], each) for supplier, each in worth.items())


@given(
    st.integers(0, 500),
    st.lists(st.integers(0, 4), min_size=6, max_size=6),
    st.permutations([3.0, 9.0, np.inf]),
    st.floats(0, 300),
)
def test_it_fits_the_limit_takes_no_more_than_wanted_and_keeps_minimums(
    seed: int, counts: list[int], runs_out: list[float], cash: float
) -> None:
    problem = replace(shared_ask(seed), what_if=WhatIf(cash=cash), limits=Limits())
    wanted = {n: problem.offers[n].at_least(count) for n, count in enumerate(counts) if count}
    taken = most_urgent_first(problem, wanting(problem, wanted), np.array(runs_out))
    assert paid(problem, taken) <= cash + 1e-6
    assert all(0 < count <= wanted[n] and problem.offers[n].at_least(count) == count for n, count in taken.items())
    for number, supplier in enumerate(problem.suppliers):
        mine = {n: count for n, count in taken.items() if problem.offers[n].supplier == number}
        assert (
            not mine or sum(c * problem.offers[n].price_at(c) for n, c in mine.items()) >= supplier.least_order - 1e-6
        )


@given(st.integers(0, 500), st.permutations([3.0, 9.0, 20.0]))
def test_the_most_urgent_has_all_it_wants_if_it_alone_fits(seed: int, runs_out: list[float]) -> None:
    problem = small_ask(seed)
    wanted = {0: 2, 1: 2, 2: 2}
    first = int(np.argmin(runs_out))
    cash = paid(problem, {first: 2})
    taken = most_urgent_first(replace(problem, what_if=WhatIf(cash=cash)), wanting(problem, wanted), np.array(runs_out))
    assert taken[first] == 2


def test_without_a_limit_all_that_is_wanted_is_taken() -> None:
    problem = small_ask(1)
    assert most_urgent_first(problem, wanting(problem, {0: 3, 2: 1}), np.array([1.0, 2.0, 3.0])) == {0: 3, 2: 1}
