from fractions import Fraction

import pytest

from stockroom.errors import UsageError
from stockroom.stock.shoe_sizes import System, scale, shoe_size


@pytest.mark.parametrize(
    ("text", "system", "number"),
    [
        ("EU 42", System.EU, Fraction(42)),
        ("eu42.5", System.EU, Fraction(85, 2)),
        ("UK 8½", System.UK, Fraction(17, 2)),
        ("UK 8 1/2", System.UK, Fraction(17, 2)),
        ("us m 9", System.US_MEN, Fraction(9)),
        ("US W 7,5", System.US_WOMEN, Fraction(15, 2)),
        ("Mondo 265", System.MONDOPOINT, Fraction(265)),
    ],
)
def test_a_size_is_read_in_its_own_system(text: str, system: System, number: Fraction) -> None:
    size = shoe_size(text)
    assert (size.system, size.number) == (system, number)
    assert shoe_size(str(size)) == size


def test_an_odd_size_is_written_whole() -> None:
    size = shoe_size("EU 42.66666667")
    assert shoe_size(str(size)) == size


@pytest.mark.parametrize("text", ["42", "", "EU", "US 9", "FR 42", "EU 42 or 43", "EU -3"])
def test_a_size_without_a_known_system_is_never_guessed(text: str) -> None:
    with pytest.raises(UsageError) as caught:
        shoe_size(text)
    assert caught.value.what == f"'{text}' is not a shoe size."
    assert caught.value.fix == "Name the system too: 'EU 42', 'UK 8.5', 'US M 9', 'US W 7' or 'Mondo 265'."


def test_a_size_nobody_wears_is_refused() -> None:
    with pytest.raises(UsageError) as caught:
        shoe_size("EU 420")
    assert caught.value.what == "EU 420 is outside EU sizes (15 to 55)."


def test_a_larger_shoe_is_longer_by_its_systems_own_step() -> None:
    assert scale(shoe_size("EU 45"), (shoe_size("EU 42"),)) == Fraction(45, 42)
    assert scale(shoe_size("UK 11"), (shoe_size("EU 42"), shoe_size("UK 8"))) == Fraction(36, 33)


def test_sizes_of_different_systems_are_never_converted() -> None:
    with pytest.raises(UsageError) as caught:
        scale(shoe_size("UK 8"), (shoe_size("EU 42"),))
    assert caught.value.what == "Size UK 8 can't be compared with the recipe's reference size (EU 42)."
    assert caught.value.fix == "State the reference size in UK too, as your own shop reads it, such as 'EU 42 = UK 8'."
