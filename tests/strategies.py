"""Hypothesis strategies for the shop's nouns: amounts, sizes, moments, materials of the tiny shop."""

from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from hypothesis import strategies as st

from stockroom.stock.quantities import NANO, UNITS, Dimension, Quantity, Unit
from stockroom.stock.shoe_sizes import ShoeSize, System, shoe_size
from tests import build

_HALVES = {System.EU: (30, 100), System.UK: (2, 30), System.US_MEN: (2, 30), System.US_WOMEN: (2, 30)}


def dimensions() -> st.SearchStrategy[Dimension]:
    """Any dimension."""
    return st.sampled_from(list(Dimension))


def units(dimension: Dimension | None = None) -> st.SearchStrategy[Unit]:
    """Any unit, or any of a dimension."""
    return st.sampled_from([u for u in UNITS.values() if dimension in (None, u.dimension)])


def quantities(
    dimension: Dimension | None = None, *, least: int = -(10**15), most: int = 10**15
) -> st.SearchStrategy[Quantity]:
    """Exact amounts, between `least` and `most` billionths of the base unit."""
    kinds = dimensions() if dimension is None else st.just(dimension)
    return st.builds(Quantity, nano=st.integers(least, most), dimension=kinds)


def decimals(*, places: int = 9) -> st.SearchStrategy[Decimal]:
    """Amounts as they are typed: up to a million, a few decimals."""
    return st.integers(0, 10 ** (6 + places)).map(lambda n: Decimal(n).scaleb(-places))


def fractions() -> st.SearchStrategy[Fraction]:
    """Shares and factors as recipes have them."""
    return st.fractions(min_value=0, max_value=100, max_denominator=1000)


@st.composite
def shoe_sizes(draw: st.DrawFn, system: System | None = None) -> ShoeSize:
    """Sizes in halves, in any system but Mondopoint, or in one."""
    chosen = system or draw(st.sampled_from(list(_HALVES)))
    if chosen is System.MONDOPOINT:
        return shoe_size(f"Mondo {draw(st.integers(90, 350))}")
    low, high = _HALVES[chosen]
    return ShoeSize(system=chosen, number=Fraction(draw(st.integers(low, high)), 2))


def moments(days: int = 60) -> st.SearchStrategy[datetime]:
    """Moments of the tiny shop's first weeks, on the quarter hour."""
    start = build.at("2026-01-06 08:00")
    return st.integers(0, days * 96).map(lambda n: start + timedelta(minutes=15 * n))


def weights() -> st.SearchStrategy[list[int]]:
    """Weights to split by."""
    return st.lists(st.integers(0, 10**9), min_size=1, max_size=12)


def whole_amounts(dimension: Dimension, *, most: int = 50) -> st.SearchStrategy[Quantity]:
    """Amounts of a tenth to `most` base units, on the tenth."""
    return st.integers(1, most * 10).map(lambda n: Quantity(nano=n * NANO // 10, dimension=dimension))
