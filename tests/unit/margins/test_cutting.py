from dataclasses import replace
from datetime import datetime
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.margins.cutting import CuttingSheet, Pattern, cut_or_buy, followed_areas, learnt_yield
from stockroom.stock.moves import DocumentKind, MoveKind
from stockroom.stock.quantities import NANO
from stockroom.stock.shoe_sizes import shoe_size
from stockroom.stock.tickets import Ticket
from tests.unit.margins.book import Pen, line

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


def test_a_yield_starts_from_the_layout_and_follows_the_counts() -> None:
    """Two sheets went, 1.5 of them soles: precisions 100 and 2 / .0064 = 312.5, mean (57 + 234.375) / 412.5."""
    start = learnt_yield(0.57, (0.0, 0.0), 100.0)
    assert (start.share, start.counted, start.sheets) == (0.57, None, 0)
    assert (start.low, start.high) == pytest.approx((0.57 - 0.1645, 0.57 + 0.1645))
    learnt = learnt_yield(0.57, (150.0, 200.0), 100.0)
    assert (learnt.counted, learnt.sheets) == (0.75, 2)
    assert learnt.share == pytest.approx((57 + 234.375) / 412.5)
    assert learnt.high - learnt.share == pytest.approx(1.645 / 412.5**0.5)
    assert learnt.exact == Fraction(learnt.share).limit_denominator(1000)


@given(
    layout=st.floats(0.2, 0.95), true=st.floats(0.2, 0.95), some=st.floats(0.1, 50), more=st.floats(0.1, 50)
)  # fmt: skip
def test_more_counted_work_brings_a_yield_nearer_to_it_and_its_range_together(
    layout: float, true: float, some: float, more: float
) -> None:
    less, much = (learnt_yield(layout, (true * area, area), 1.0) for area in (some, some + more))
    assert min(layout, true) - 1e-9 <= much.share <= max(layout, true) + 1e-9
    assert abs(much.share - true) <= abs(less.share - true) + 1e-9
    assert much.high - much.low <= less.high - less.low + 1e-9


DAY = datetime(2026, 1, 10)
YIELD_PATTERN = Pattern(pair_area=5 * NANO, reference=(shoe_size("EU 42"),))


def ticket(size: str | None = "EU 42", shoes: int = 2) -> Ticket:
    return Ticket(number="T1", job="SOLE", taken_in=DAY, shoes=shoes, size=shoe_size(size) if size else None)


def followed(pen: Pen, *made: Ticket) -> tuple[float, float]:
    """Give net and gone in dm2."""
    moves = [move for document in pen.documents for move in document.moves if move.material == "BEND"]
    net, gone = followed_areas(moves, {"SOLE": YIELD_PATTERN}, {each.number: each for each in made})
    return net / NANO, gone / NANO


@pytest.fixture
def pen() -> Pen:
    made = Pen()
    made.deliver(DAY, [("BEND", 100, 6000), ("GLUE", 1000, 1000)])
    made.finish(DAY, "T1", "SOLE")  # draws 6.5 dm2
    return made


def test_work_alone_repeats_the_recipes_own_waste(pen: Pen) -> None:
    assert followed(pen, ticket()) == (5, 6.5)


def test_what_counts_find_missing_went_and_offcuts_kept_came_back(pen: Pen) -> None:
    pen.write(DocumentKind.COUNT, DAY, [line("BEND", -1, MoveKind.COUNT)])
    pen.write(DocumentKind.OFFCUT, DAY, [line("BEND", 0.5, MoveKind.OFFCUT)])
    assert followed(pen, ticket()) == (5, 7)


def test_single_shoe_has_half_the_area(pen: Pen) -> None:
    assert followed(pen, ticket(shoes=1)) == (2.5, 6.5)


def test_work_taken_back_has_cut_nothing(pen: Pen) -> None:
    pen.undo(DAY, pen.documents[-1])
    assert followed(pen, ticket()) == (0, 0)
    pen.finish(DAY, "T2", "SOLE")
    assert followed(pen, ticket(), replace(ticket(), number="T2")) == (5, 6.5)


def test_work_whose_size_cant_be_told_is_left_out(pen: Pen) -> None:
    assert followed(pen, ticket(None)) == (0, 0)
    assert followed(pen, replace(ticket(), size=shoe_size("UK 8"))) == (0, 0)


def test_an_area_grows_by_the_power_its_recipe_says() -> None:
    flat = Pattern(pair_area=6 * NANO, reference=(EU42,), growth=Fraction(3, 2))
    assert float(flat.area(EU36)) == pytest.approx(6 * NANO * (36 / 42) ** 1.5)
    assert PATTERN.area(EU36) == 6 * NANO * Fraction(36, 42) ** 2
