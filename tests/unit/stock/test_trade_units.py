"""Dozens, yards, pints and gallons as the trade and the law mean them."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.errors import UnitsError
from stockroom.stock.quantities import NANO, UNITS, quantity, unit
from tests import build


@pytest.mark.parametrize(
    ("kept", "said", "pieces"),
    [
        ("pair", "1 dozen", 24), ("pair", "1 gross", 288), ("pair", "0.5 dozen", 12), ("pair", "3 pair", 6),
        ("pair", "24 piece", 24), ("piece", "1 dozen", 12), ("piece", "1 gross", 144), ("dozen", "2 dozen", 24),
    ],
)  # fmt: skip
def test_a_dozen_of_what_is_kept_in_pairs_is_twelve_pairs(kept: str, said: str, pieces: int) -> None:
    """Common practice in the trade, no source: laces and heels are sold by the dozen pairs."""
    material = build.material("LACE", kept)
    there = material.to_base(quantity(said))
    assert there.nano == pieces * NANO
    assert material.to_base(there) == there, "asked twice, it is not doubled twice"


@given(amount=st.integers(1, 1000))
def test_a_dozen_is_the_same_however_it_is_said(amount: int) -> None:
    pairs = build.material("LACE", "pair")
    assert pairs.to_base(unit("dozen").of(amount)) == pairs.to_base(unit("pair").of(12 * amount))
    assert pairs.to_base(unit("gross").of(amount)) == pairs.to_base(unit("dozen").of(12 * amount))


@pytest.mark.parametrize(
    ("name", "base"),
    [
        ("yd", Fraction("0.9144")),  # international yard and pound agreement of 1959
        ("gallon UK", Fraction("4546.09")),  # Weights and Measures Act 1985, schedule 1 (from memory)
        ("pint UK", Fraction("4546.09") / 8),
        ("fl oz UK", Fraction("4546.09") / 160),
        ("gallon US", 231 * Fraction("2.54") ** 3),  # NIST Handbook 44, appendix C: 231 cubic inches (from memory)
        ("pint US", 231 * Fraction("2.54") ** 3 / 8),
        ("fl oz US", 231 * Fraction("2.54") ** 3 / 128),
    ],
)
def test_measures_of_both_systems_are_exact(name: str, base: Fraction) -> None:
    known = UNITS[name]
    assert known.of(128).nano == 128 * base * NANO, "exact wherever a billionth can hold it"
    assert abs(known.of(1).nano - base * NANO) <= Fraction(1, 2)
    assert known.count(known.of(128).nano) == 128


@pytest.mark.parametrize(
    ("said", "name"),
    [("2 yards", "yd"), ("1 US pint", "pint US"), ("3 pints uk", "pint UK"), ("1 imperial gallon", "gallon UK"),
     ("4 fluid ounces US", "fl oz US"), ("4 fl. oz UK", "fl oz UK")],
)  # fmt: skip
def test_usual_spellings_are_understood(said: str, name: str) -> None:
    assert quantity(said) == UNITS[name].of(int(said[0]))


@pytest.mark.parametrize("said", ["pint", "Gallons", "fl oz", "fluid  ounces"])
def test_a_measure_that_differs_between_the_systems_is_asked_about(said: str) -> None:
    with pytest.raises(UnitsError, match="not the same in the UK and the US") as refused:
        unit(said)
    assert " UK' or '" in refused.value.fix
