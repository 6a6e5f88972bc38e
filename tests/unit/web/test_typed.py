"""What people type into fields."""

from datetime import date
from decimal import Decimal

import pytest

from stockroom.errors import StockroomError
from stockroom.stock.quantities import quantity, unit
from stockroom.stock.shop import Shop
from stockroom.web import typed


@pytest.mark.parametrize(("text", "read"), [("2.5", "2.5"), ("2,5", "2.5"), (" 12 ", "12"), ("0.125", "0.125")])
def test_numbers_take_a_point_or_a_comma(text: str, read: str) -> None:
    assert typed.number(text) == Decimal(read)


@pytest.mark.parametrize("text", ["", "abc", "1e5", "1.234", "12,345", "١٢", "1 2", "--3", "NaN", "9" * 40])
def test_what_is_no_number_or_two_numbers_is_refused(text: str) -> None:
    with pytest.raises(StockroomError):
        typed.number(text)


@pytest.mark.parametrize(("text", "read"), [("3", "3 l"), ("3 l", "3 l"), ("250 ml", "0.25 l"), ("0,5l", "0.5 l")])
def test_amounts_are_in_their_own_unit_unless_named(text: str, read: str) -> None:
    assert typed.amount(text, unit("l")) == quantity(read)


@pytest.mark.parametrize("text", ["", "l", "3 furlongs", "-", "3 l 5"])
def test_what_is_no_amount_is_refused(text: str) -> None:
    with pytest.raises(StockroomError):
        typed.amount(text, unit("l"))


@pytest.mark.parametrize(("text", "minor"), [("4.30", 430), ("€4,30", 430), ("4.3 EUR", 430), ("€ 12", 1200)])
def test_money_may_carry_its_sign(text: str, minor: int) -> None:
    assert typed.money(text, Shop()) == minor


@pytest.mark.parametrize("text", ["alert(1)", "4.305", "$4", "4 €uros"])
def test_what_is_no_money_is_refused(text: str) -> None:
    with pytest.raises(StockroomError):
        typed.money(text, Shop())


def test_days_are_as_date_fields_send_them() -> None:
    assert typed.day("2026-03-31") == date(2026, 3, 31)
    assert typed.day("") is None
    with pytest.raises(StockroomError):
        typed.day("31.3.26")
