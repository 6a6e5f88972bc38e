from dataclasses import replace

import pytest

from stockroom.buying.basket import basket
from stockroom.buying.comparison import _lasting_cost, _own_levels, _started, compare
from tests.unit.buying.problems import small_ask, stocked


def test_basket_beats_nothing_and_own_levels() -> None:
    for seed in range(4):
        problem = stocked(small_ask(seed), 0.5)
        told = compare(problem, basket(problem))
        assert told.over_nothing > 0
        assert told.over_own_levels >= -0.02  # the search proves to within a cent a group


def test_comparison_with_full_shelves_is_nil() -> None:
    problem = stocked(small_ask(), 40.0)
    told = compare(problem, basket(problem))
    assert told.over_nothing == pytest.approx(0.0, abs=1e-9)
    assert told.value == 0


def test_the_levels_are_ordered_for_again_when_that_is_best_for_them() -> None:
    spared = []
    for seed in range(4):
        problem = stocked(small_ask(seed), 0.3)
        dear = replace(
            problem, suppliers=tuple(replace(each, carriage=each.carriage * 9) for each in problem.suppliers)
        )
        chosen = basket(dear)
        assert chosen.found is not None
        own = replace(chosen.found, choice=_own_levels(dear, chosen.found))
        best = _lasting_cost(own, _started(own))
        ordered = [each.now for each in _started(own)]
        held = tuple(
            plan._replace(now=now) for now, plan in zip(ordered, own.plans, strict=True)
        )  # as the basket lasts
        spared.append(_lasting_cost(own, held) - best)
    assert min(spared) >= -1e-9
    assert max(spared) > 1.0
