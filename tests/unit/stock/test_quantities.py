from decimal import Decimal
from fractions import Fraction

import pytest

from stockroom.errors import UnitsError
from stockroom.stock.quantities import (
    LIMIT,
    NANO,
    UNITS,
    Dimension,
    Quantity,
    bridge,
    plain,
    quantity,
    thickness_mm,
    unit,
)


def test_every_unit_is_a_whole_number_of_billionths_of_its_base() -> None:
    assert {d: d.base.nano for d in Dimension} == dict.fromkeys(Dimension, NANO)
    assert all(each.nano > 0 for each in UNITS.values())


@pytest.mark.parametrize(
    ("text", "nano"),
    [
        ("1 dm2", 10**9),
        ("2.5 m2", 250 * 10**9),
        ("1 sq ft", 9_290_304_000),
        ("3 ft", 914_400_000),
        ("1 oz", 28_349_523_125),
        ("1 pair", 2 * 10**9),
        ("0.5 pair", 10**9),
        ("2 gross", 288 * 10**9),
        ("0.000000001 g", 1),
        ("-4 ml", -4 * 10**9),
    ],
)
def test_an_amount_is_read_exactly(text: str, nano: int) -> None:
    assert quantity(text).nano == nano


@pytest.mark.parametrize(
    ("text", "name"), [(" KG ", "kg"), ("dm²", "dm2"), ("sq.  ft", "sq ft"), ("Litres", "l"), ("pcs", "piece")]
)
def test_a_unit_is_known_by_its_usual_spellings(text: str, name: str) -> None:
    assert unit(text).name == name


def test_a_unit_that_does_not_exist_is_named_with_the_nearest() -> None:
    with pytest.raises(UnitsError) as caught:
        unit("dozn")
    assert (caught.value.what, caught.value.fix) == ("No unit is called 'dozn'.", "Did you mean 'dozen'?")


def test_adding_grams_to_metres_names_both() -> None:
    with pytest.raises(UnitsError) as caught:
        _ = quantity("5 g") + quantity("2 m")
    assert caught.value.what == "5 g (mass) and 2 m (length) can't be added or compared."
    assert (
        caught.value.fix == "Give both in units of the same kind, or state a conversion between them on the material."
    )


def test_comparing_pairs_to_millilitres_names_both() -> None:
    with pytest.raises(UnitsError, match=r"^6 piece \(count\) and 1 ml \(volume\) can't be added or compared\.$"):
        _ = quantity("3 pair") < quantity("1 ml")


def test_an_amount_too_fine_to_hold_is_refused() -> None:
    with pytest.raises(UnitsError) as caught:
        unit("g").of(Fraction(1, 3))
    assert caught.value.what == "1/3 g is finer than the book can hold (a billionth of a g)."
    assert caught.value.fix == "Give it in g, with nine decimals or fewer."


def test_half_an_ounce_is_rounded_once_to_a_billionth_of_a_gram() -> None:
    # half of 28.349523125 g is 14.1747615625 g; half to even
    assert quantity("0.5 oz").nano == 14_174_761_562
    assert quantity("1.5 oz").nano == 42_524_284_688


def test_an_amount_too_large_to_add_up_is_refused() -> None:
    with pytest.raises(UnitsError) as caught:
        quantity("1000000000000000000000000000000 dm2")
    assert caught.value.what == "1000000000000000000000000000000 dm2 is more than the book can hold."
    assert caught.value.fix == "Give at most 9 223 372 dm2."
    assert quantity(f"{LIMIT // NANO} dm2").nano <= LIMIT


@pytest.mark.parametrize("text", ["", "dm2", "2", "two dm2", "1e3 g", "NaN g", "inf m", "1,5 dm2", "--1 g"])
def test_what_is_not_an_amount_is_refused(text: str) -> None:
    with pytest.raises(UnitsError):
        quantity(text)


def test_a_bridge_carries_both_ways_and_nowhere_else() -> None:
    tin = bridge("1 l = 860 g")
    assert tin.carry(quantity("250 ml"), Dimension.MASS) == quantity("215 g")
    assert tin.carry(quantity("0.43 kg"), Dimension.VOLUME) == quantity("500 ml")
    assert tin.carry(quantity("1 m"), Dimension.MASS) is None
    assert bridge(str(tin)) == tin


@pytest.mark.parametrize("text", ["1 l = 2 ml", "0 l = 5 g", "1 l = -5 g"])
def test_a_bridge_joins_two_kinds_with_amounts_above_zero(text: str) -> None:
    with pytest.raises(UnitsError, match="must join two different kinds of unit with amounts above zero"):
        bridge(text)


def test_a_bridge_needs_an_equals_sign() -> None:
    with pytest.raises(UnitsError, match=r"^'1 l 860 g' is not a conversion between units\.$"):
        bridge("1 l 860 g")


@pytest.mark.parametrize(
    ("text", "wanted"),
    [("4 mm", Fraction(4)), ("9 iron", Fraction(381, 80)), ("5 oz", Fraction(127, 64)), (" 4.5mm", Fraction(9, 2))],
)
def test_a_thickness_is_read_as_exact_millimetres(text: str, wanted: Fraction) -> None:
    assert thickness_mm(text) == wanted


@pytest.mark.parametrize("text", ["", "4", "4 cm", "-1 mm", "thick"])
def test_what_is_not_a_thickness_is_refused(text: str) -> None:
    with pytest.raises(UnitsError) as caught:
        thickness_mm(text)
    assert (caught.value.what, caught.value.fix) == (
        f"'{text}' is not a thickness.",
        "Write it like '4 mm', '9 iron' or '5 oz'.",
    )


def test_numbers_are_written_without_exponent_or_idle_zeros() -> None:
    assert [plain(Decimal(text)) for text in ("1E+3", "2.500", "0.000", "-0.10", "7")] == [
        "1000",
        "2.5",
        "0",
        "-0.1",
        "7",
    ]


def test_multiplying_rounds_once_half_to_even() -> None:
    odd = Quantity(nano=5, dimension=Dimension.MASS)
    assert [odd.times(Fraction(n, 2)).nano for n in (1, 3, 5)] == [2, 8, 12]
