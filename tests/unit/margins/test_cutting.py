from fractions import Fraction

import pytest

from stockroom.margins.cutting import Pattern, Sheet, cut_or_buy, measured_yield
from stockroom.stock.quantities import NANO
from stockroom.stock.shoe_sizes import shoe_size

EU42, EU36, EU45 = shoe_size("EU 42"), shoe_size("EU 36"), shoe_size("EU 45")
PATTERN = Pattern(pair_area=6 * NANO, reference=(EU42,))
BEND = Sheet(area=100 * NANO, cost=6_000_000)  # 60.00 for 100 dm2


def test_cost_of_a_pair_is_its_area_over_the_yield() -> None:
    (choice,) = cut_or_buy(PATTERN, BEND, {EU42: 500_000}, share=Fraction(3, 4))
    assert choice.cut == 480_000  # 6 dm2 / 0.75 x 0.60
    assert choice.saved == 20_000


def test_break_even_yield_costs_the_same() -> None:
    (choice,) = cut_or_buy(PATTERN, BEND, {EU42: 450_000}, share=Fraction(3, 4))
    assert choice.break_even == Fraction(4, 5)
    (even,) = cut_or_buy(PATTERN, BEND, {EU42: 450_000}, share=choice.break_even)
    assert even.saved == 0


def test_larger_sizes_cost_more_by_the_square_of_their_length() -> None:
    small, middle, large = cut_or_buy(PATTERN, BEND, {EU45: None, EU42: None, EU36: None}, share=Fraction(1))
    assert [small.size, middle.size, large.size] == [EU36, EU42, EU45]
    assert small.cut == round(middle.cut * Fraction(36, 42) ** 2)
    assert large.saved is None


def test_cutting_time_counts() -> None:
    slow = Sheet(area=BEND.area, cost=BEND.cost, cutting=100_000)
    (choice,) = cut_or_buy(PATTERN, slow, {EU42: 90_000}, share=Fraction(1))
    assert choice.cut == 460_000
    assert choice.break_even is None  # the time alone costs more than the bought pair


@pytest.mark.parametrize("share", [Fraction(0), Fraction(11, 10)])
def test_yield_outside_its_range_is_a_mistake(share: Fraction) -> None:
    with pytest.raises(ValueError, match="yield"):
        cut_or_buy(PATTERN, BEND, {EU42: None}, share=share)


def test_measured_yield_is_the_ratio_of_sums() -> None:
    found = measured_yield([(70.0, 100.0), (150.0, 200.0)])
    assert found.share == pytest.approx(220 / 300)
    assert found.error == pytest.approx(1 / 45)  # both sheets are 10/3 off: (2 x 2 x (10/3)^2)^0.5 / 300
    assert measured_yield([(70.0, 100.0)]).error is None
    with pytest.raises(ValueError, match="no area"):
        measured_yield([])
