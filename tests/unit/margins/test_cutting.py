from dataclasses import replace
from datetime import datetime
from fractions import Fraction

import pytest

from stockroom.margins.cutting import CuttingSheet, Pattern, Yield, cut_or_buy, measured_yield, own_yield
from stockroom.stock.layers import replay
from stockroom.stock.moves import DocumentKind, MoveKind
from stockroom.stock.quantities import NANO
from stockroom.stock.shoe_sizes import shoe_size
from stockroom.stock.tickets import Ticket
from tests.unit.margins.book import MATERIALS, Pen, line

EU42, EU36, EU45 = shoe_size("EU 42"), shoe_size("EU 36"), shoe_size("EU 45")
PATTERN = Pattern(pair_area=6 * NANO, reference=(EU42,))
BEND = CuttingSheet(area=100 * NANO, cost=6_000_000)  # 60.00 for 100 dm2


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
    slow = CuttingSheet(area=BEND.area, cost=BEND.cost, cutting=100_000)
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


DAY = datetime(2026, 1, 10)
YIELD_PATTERN = Pattern(pair_area=5 * NANO, reference=(shoe_size("EU 42"),))


def ticket(size: str | None = "EU 42", shoes: int = 2) -> Ticket:
    return Ticket(number="T1", job="SOLE", taken_in=DAY, shoes=shoes, size=shoe_size(size) if size else None)


def measured(pen: Pen, made: Ticket) -> Yield | None:
    return own_yield(replay(pen.documents, MATERIALS).entries, "BEND", {"SOLE": YIELD_PATTERN}, {"T1": made})


@pytest.fixture
def pen() -> Pen:
    made = Pen()
    made.deliver(DAY, [("BEND", 100, 6000), ("GLUE", 1000, 1000)])
    made.finish(DAY, "T1", "SOLE")  # draws 6.5 dm2
    return made


def found(result: Yield | None) -> float:
    assert result is not None
    return result.share


def test_without_counts_the_yield_is_the_recipes(pen: Pen) -> None:
    assert found(measured(pen, ticket())) == pytest.approx(5 / 6.5)


def test_what_counts_find_missing_lowers_it_and_offcuts_kept_raise_it(pen: Pen) -> None:
    pen.write(DocumentKind.COUNT, DAY, [line("BEND", -1, MoveKind.COUNT)])
    pen.write(DocumentKind.OFFCUT, DAY, [line("BEND", 0.5, MoveKind.OFFCUT)])
    assert found(measured(pen, ticket())) == pytest.approx(5 / 7)


def test_single_shoe_has_half_the_area(pen: Pen) -> None:
    assert found(measured(pen, ticket(shoes=1))) == pytest.approx(2.5 / 6.5)


def test_work_taken_back_has_cut_nothing(pen: Pen) -> None:
    pen.undo(DAY, pen.documents[-1])
    assert measured(pen, ticket()) is None
    pen.finish(DAY, "T2", "SOLE")
    entries = replay(pen.documents, MATERIALS).entries
    both = own_yield(entries, "BEND", {"SOLE": YIELD_PATTERN}, {"T1": ticket(), "T2": ticket()})
    assert found(both) == pytest.approx(5 / 6.5)


def test_work_whose_size_cant_be_told_is_left_out(pen: Pen) -> None:
    assert measured(pen, ticket(None)) is None
    assert measured(pen, replace(ticket(), size=shoe_size("UK 8"))) is None
