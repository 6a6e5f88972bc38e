from dataclasses import replace

import numpy as np
import pytest

from stockroom.buying.caution import frontier
from tests.unit.buying.problems import small_ask, stocked


@pytest.mark.parametrize("seed", range(3))
def test_more_caution_ties_up_more_and_delays_less(seed: int) -> None:
    points = frontier(stocked(small_ask(seed), 1.0), (0.001, 0.01, 0.1, 1.0))
    stock, held_up = [each.stock for each in points], [each.held_up for each in points]
    assert stock[0] < stock[-1]
    assert held_up[0] > held_up[-1]
    assert (np.diff(held_up) <= 1e-6).all()
    least = min(each.cost for each in points)
    assert points[-1].cost <= 1.05 * least  # the shop's own figures choose what is cheapest by them, carriage shared
    assert all(each.cost == pytest.approx(each.paid + each.delays) for each in points)


@pytest.mark.parametrize("seed", range(3))
def test_every_step_shown_changes_what_is_ordered_or_money_and_only_the_last_costs_twice_as_much(seed: int) -> None:
    points = frontier(stocked(small_ask(seed), 1.0))
    times = [each.times for each in points]
    (own,) = (each for each in points if each.times == 1.0)
    assert times == sorted(set(times))
    figures = np.array([[each.today, each.paid, each.cost] for each in points])
    assert (np.abs(np.diff(figures, axis=0)) > 0.01 * figures[1:]).any(axis=1).all()
    assert [each.times for each in points if each.cost > 2 * own.cost] in ([], times[:1])


def test_a_shop_without_jobs_delays_none() -> None:
    problem = replace(small_ask(), jobs=None)
    items = tuple(replace(each, lost_margin=2.0) for each in problem.items)
    (point,) = frontier(replace(problem, items=items), (1.0,))
    assert point.held_up == 0.0
    assert point.stock > 0
