"""Laws of amounts and money: nothing is lost to rounding, nothing meets what it should not."""

from datetime import datetime
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.errors import UnitsError
from stockroom.stock.money import half_up, major, minor, split
from stockroom.stock.moves import Move, MoveKind
from stockroom.stock.postings import Fixed, corrections
from stockroom.stock.quantities import LIMIT, NANO, Bridge, Dimension, Quantity, Unit, quantity
from stockroom.stock.recipes import JobFacts, needs
from stockroom.stock.shoe_sizes import ShoeSize, scale, shoe_size
from tests import build
from tests.strategies import decimals, dimensions, fractions, moments, quantities, shoe_sizes, units, weights

SHELF = build.shelf()
RESOLE = build.recipes()[0]


ROUNDED = {"oz", "lb", "ft", "in", "yd", "sq ft"} | {  # decision 1
    f"{name} {system}" for name in ("fl oz", "pint", "gallon") for system in ("UK", "US")
}


@given(units(), decimals(places=3))
def test_an_amount_in_any_unit_converts_and_back_or_is_refused(unit: Unit, amount: Decimal) -> None:
    exact = Fraction(amount) * (unit.exact or unit.nano)
    if exact > LIMIT or (exact.denominator != 1 and (unit.name not in ROUNDED or exact < 1)):
        with pytest.raises(UnitsError, match=r"is finer than|is more than"):
            unit.of(amount)
        return
    kept = unit.of(amount)
    assert abs(kept.nano - exact) <= Fraction(1, 2), "rounded once, to the nearest billionth"
    assert quantity(f"{amount:f} {unit.name}") == kept
    if exact.denominator == 1:
        assert kept.nano == exact
        assert unit.count(kept.nano) == amount


@given(quantities())
def test_an_amount_reads_back_from_its_own_text(amount: Quantity) -> None:
    assert quantity(str(amount)) == amount


@given(dimensions(), st.data())
def test_adding_and_taking_away_are_exact(dimension: Dimension, data: st.DataObject) -> None:
    one, other = data.draw(quantities(dimension)), data.draw(quantities(dimension))
    assert one + other - other == one
    assert one + other == other + one
    assert one + -one == Quantity(nano=0, dimension=dimension)
    assert (one <= other) == (one.nano <= other.nano)


@given(quantities(), quantities())
def test_amounts_of_different_kinds_never_meet(one: Quantity, other: Quantity) -> None:
    if one.dimension is not other.dimension:
        for meeting in (lambda: one + other, lambda: one - other, lambda: one < other, lambda: one <= other):
            with pytest.raises(UnitsError, match="can't be added or compared"):
                meeting()


@given(quantities(least=1, most=10**13), quantities(least=1, most=10**13), st.integers(-(10**13), 10**13))
def test_a_bridge_there_and_back_is_off_by_less_than_its_own_grain(left: Quantity, right: Quantity, nano: int) -> None:
    if left.dimension is right.dimension:
        return
    bridge = Bridge(left=left, right=right)
    there = bridge.carry(Quantity(nano=nano, dimension=left.dimension), right.dimension)
    assert there is not None
    back = bridge.carry(there, left.dimension)
    assert back is not None
    assert abs(back.nano - nano) <= Fraction(left.nano, 2 * right.nano) + Fraction(1, 2)


@given(quantities(), fractions())
def test_multiplying_is_off_by_at_most_half_a_billionth(amount: Quantity, factor: Fraction) -> None:
    assert abs(amount.times(factor).nano - amount.nano * factor) <= Fraction(1, 2)


@given(st.integers(-(10**15), 10**15), weights())
def test_a_split_adds_up_and_is_fair(total: int, shares: list[int]) -> None:
    parts = split(total, shares)
    whole = sum(shares)
    assert sum(parts) == total
    if whole:
        assert all(abs(part - Fraction(total * share, whole)) < 1 for part, share in zip(parts, shares, strict=True))
        assert all(part == 0 for part, share in zip(parts, shares, strict=True) if not share)


@given(st.integers(-(10**12), 10**12), st.integers(0, 3))
def test_money_goes_to_coins_and_back(coins: int, digits: int) -> None:
    assert minor(major(coins, digits), digits) == coins


@given(st.fractions(max_denominator=10**6))
def test_rounding_is_to_the_nearest_and_mirrors_its_sign(value: Fraction) -> None:
    assert abs(half_up(value) - value) <= Fraction(1, 2)
    assert half_up(-value) == -half_up(value)


@given(shoe_sizes())
def test_a_size_reads_back_from_its_own_text(size: ShoeSize) -> None:
    assert shoe_size(str(size)) == size


@given(st.data())
def test_a_longer_shoe_scales_longer_and_there_and_back_is_one(data: st.DataObject) -> None:
    one = data.draw(shoe_sizes())
    other = data.draw(shoe_sizes(one.system))
    assert scale(one, (other,)) * scale(other, (one,)) == 1
    assert (scale(one, (other,)) > 1) == (one.number > other.number)


@given(shoe_sizes(), shoe_sizes())
def test_a_larger_shoe_never_asks_for_less(one: ShoeSize, other: ShoeSize) -> None:
    if one.system is not other.system or str(one.system) not in {"EU", "UK"}:
        return
    low, high = sorted((one, other), key=lambda size: size.number)
    small, large = (needs(RESOLE, JobFacts(size=size, chosen={}), SHELF) for size in (low, high))
    assert all(a.nano <= b.nano for a, b in zip(small, large, strict=True))


@given(st.integers(1, 12))
def test_shoes_one_by_one_ask_for_as_much_as_together(shoes: int) -> None:
    size = build.size("EU 41")
    single = needs(RESOLE, JobFacts(shoes=1, size=size, chosen={}), SHELF)
    together = needs(RESOLE, JobFacts(shoes=shoes, size=size, chosen={}), SHELF)
    assert all(abs(a.nano * shoes - b.nano) <= shoes for a, b in zip(single, together, strict=True))


_moves = st.lists(st.tuples(moments(3), st.integers(-5, 5)), max_size=8)
_points = st.dictionaries(moments(3), st.integers(0, 9), max_size=5)


@given(_moves, _moves, _points)
def test_corrections_make_the_book_agree_with_every_count(
    kept: list[tuple[datetime, int]], late: list[tuple[datetime, int]], points: dict[datetime, int]
) -> None:
    def book_at(_material: str, _site: str, at: datetime) -> int:
        return sum(nano for when, nano in kept if when <= at)

    moves = [Move(material="TIP", nano=n * NANO, kind=MoveKind.WASTE, happened=when) for when, n in late]
    kept = [(when, n * NANO) for when, n in kept]
    fixed = [Fixed(material="TIP", site="main", counted=when, nano=n * NANO) for when, n in points.items()]
    made = corrections(moves, fixed, book_at)
    for point in fixed:
        added = sum(m.nano for m in (*moves, *made) if m.happened <= point.counted)
        assert book_at("TIP", "main", point.counted) + added == point.nano
    assert {m.happened for m in made} <= set(points)
    assert all(m.kind is MoveKind.COUNT and m.nano for m in made)
