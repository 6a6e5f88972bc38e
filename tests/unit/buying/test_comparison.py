import pytest

from stockroom.buying.basket import basket
from stockroom.buying.comparison import compare
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
