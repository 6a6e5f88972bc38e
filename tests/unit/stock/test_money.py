from decimal import Decimal
from fractions import Fraction

import pytest

from stockroom.errors import UsageError
from stockroom.stock.money import half_up, major, milli_to_minor, minor, split


def test_money_is_kept_in_whole_coins() -> None:
    assert (minor(Decimal("12.5"), 2), minor(Decimal(300), 0), minor(Decimal("-0.005"), 3)) == (1250, 300, -5)
    assert major(1250, 2) == Decimal("12.50")


def test_less_than_a_coin_is_refused() -> None:
    with pytest.raises(UsageError) as caught:
        minor(Decimal("0.125"), 2)
    assert caught.value.what == "0.125 is finer than the smallest coin of the currency (2 decimals)."
    assert caught.value.fix == "Give the price of a whole pack instead of a single part of it."


def test_halves_go_away_from_zero() -> None:
    assert [half_up(Fraction(n, 2)) for n in (-3, -1, 1, 3)] == [-2, -1, 1, 2]
    assert [milli_to_minor(n) for n in (-1500, -500, 499, 500)] == [-2, -1, 0, 1]


def test_a_split_gives_the_odd_coins_to_the_largest_remainders() -> None:
    assert split(100, [1, 1, 1]) == [34, 33, 33]
    assert split(10, [5, 0, 5]) == [5, 0, 5]
    assert split(-100, [1, 2]) == [-33, -67]
    assert split(7, [0, 0]) == [4, 3]
