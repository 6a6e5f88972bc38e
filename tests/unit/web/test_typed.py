"""What people type into fields."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from flask import Flask, g
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stockroom.errors import StockroomError
from stockroom.show.languages import LANGUAGES
from stockroom.stock.quantities import quantity, unit
from stockroom.stock.shop import Shop
from stockroom.web import typed
from stockroom.web.site import formats


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


LOCALES = ("en_IE", "en_GB", "en_US", "de_DE", "de_AT", "de_CH", "fr_FR", "nl_NL", "sv_SE", "en_IN")
FIGURES = st.decimals(min_value=-(10**9), max_value=10**9, allow_nan=False, places=6).map(
    Decimal.normalize
) | st.builds(Decimal, st.from_regex(r"[1-9]\d{0,2}\.\d{3}", fullmatch=True))


@given(figure=FIGURES, locale=st.sampled_from(LOCALES), tongue=st.sampled_from(sorted(LANGUAGES)))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_what_a_page_shows_in_a_field_it_reads_back_as_the_same(
    app: Flask, figure: Decimal, locale: str, tongue: str
) -> None:
    """In every pair of a shop's country and a reader's language; nor is what could be thousands ever read as either."""
    with app.test_request_context("/"):
        g.shop, g.language = Shop(locale=locale), tongue
        assert typed.number(typed.shown(figure)) == figure
        assert typed.money(typed.shown(round(figure, 2)), g.shop) == round(figure, 2) * 100
        assert typed.number(typed.figures(f"{abs(figure):f}")) == abs(figure)
        for mark in ".,":
            with pytest.raises(StockroomError):
                typed.number(f"1{mark}500")


@given(
    day=st.dates(date(2000, 1, 1), date(2100, 1, 1)), locale=st.sampled_from(LOCALES), tongue=st.sampled_from(["de"])
)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_day_written_in_figures_is_read_back_as_the_same(app: Flask, day: date, locale: str, tongue: str) -> None:
    with app.test_request_context("/"):
        g.shop, g.language = Shop(locale=locale), tongue
        assert typed.day(formats().day(day)) == day
        assert typed.day(day.isoformat()) == day


TUESDAY = date(2026, 11, 24)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("today", 24), ("tomorrow", 25), ("morgen", 25), ("Freitag", 27), ("friday", 27), ("fr", 27), ("Tue", 31),
        ("Di.", 31), ("2026-11-30", 30), ("30.11.2026", 30),
    ],
)  # fmt: skip
def test_a_day_ahead_may_be_said_in_words(app: Flask, text: str, day: int) -> None:
    with app.test_request_context("/"):
        assert typed.day_ahead(text, TUESDAY) == date(2026, 11, 1) + timedelta(days=day - 1)


@pytest.mark.parametrize("text", ["someday", "32.11.2026", "f", "monday 5"])
def test_what_is_no_day_ahead_is_refused(app: Flask, text: str) -> None:
    with app.test_request_context("/"), pytest.raises(StockroomError):
        typed.day_ahead(text, TUESDAY)
