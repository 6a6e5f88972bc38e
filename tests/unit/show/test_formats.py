"""Figures as a shop owner reads them."""

import subprocess
import sys
from datetime import date, datetime
from decimal import Decimal

import pytest

from stockroom.show.formats import Formats, formats_of, unit_word
from stockroom.stock.quantities import NANO, UNITS
from stockroom.stock.shop import Shop

IRISH = Formats(locale="en_IE", currency="EUR", digits=2)
GERMAN = Formats(locale="de_DE", currency="EUR", digits=2)


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (0, "0"),
        (12, "12"),
        (12.345678, "12.35"),
        (1234.5678, "1,235"),
        (-1234567, "-1,234,567"),
        (Decimal("0.333333"), "0.333"),
        (0.012345, "0.0123"),
        (0.0000004, "0"),
        (-0.0000004, "0"),
        (9.9996, "10"),
        (100, "100"),
    ],
)
def test_number_keeps_the_figures_worth_reading(value: Decimal | float, written: str) -> None:
    assert IRISH.number(value) == written


def test_number_with_stated_places_rounds_half_away_from_zero() -> None:
    assert [IRISH.number(Decimal(v), 1) for v in ("0.25", "-0.25", "2")] == ["0.3", "-0.3", "2.0"]


@pytest.mark.parametrize(
    ("nano", "unit", "written"),
    [
        (1250 * NANO, "l", "1.25 l"),
        (2 * NANO, "pair", "1 pair"),
        (-2 * NANO, "pair", "-1 pair"),
        (3 * NANO, "pair", "1.5 pairs"),
        (NANO, "piece", "1 piece"),
        (0, "piece", "0 pieces"),
        (144 * NANO, "dozen", "12 dozen"),
    ],
)
def test_amount_names_its_unit(nano: int, unit: str, written: str) -> None:
    assert IRISH.amount(nano, UNITS[unit]) == written


def test_unit_word_is_plural_after_more_than_one() -> None:
    assert (unit_word(UNITS["pair"]), unit_word(UNITS["dm2"])) == (
        "pairs",
        "dm2",
    )


def test_money_follows_the_locale() -> None:
    assert IRISH.money(-123456) == "-€1,234.56"
    assert GERMAN.money(123456) == "1.234,56\N{NO-BREAK SPACE}€"


def test_money_without_decimals() -> None:
    assert Formats(locale="ja_JP", currency="JPY", digits=0).money(1200) == "\N{FULLWIDTH YEN SIGN}1,200"


def test_money_named_by_letters_keeps_its_distance() -> None:
    assert Formats(locale="en_IE", currency="CHF").money(150) == "CHF\N{NO-BREAK SPACE}1.50"


def test_costs_in_thousandths_are_rounded_to_coins_or_shown_finer() -> None:
    assert IRISH.milli(12_345) == "€0.12"
    assert IRISH.milli(500) == "€0.01"
    assert IRISH.fine(3_251) == "€0.0325"


def test_money_for_pictures_leaves_the_small_coins_out() -> None:
    assert [IRISH.round_money(amount) for amount in (1206.4, -0.5, 0)] == ["€1,206", "-€1", "€0"]


def test_percent() -> None:
    assert [IRISH.percent(share) for share in (0.256, -0.5, -0.001)] == ["26%", "-50%", "0%"]
    assert GERMAN.percent(Decimal("0.1234"), 1) == "12,3\N{NO-BREAK SPACE}%"


def test_days_and_moments() -> None:
    assert IRISH.day(date(2026, 11, 6)) == "6 Nov 2026"
    assert IRISH.weekday(date(2026, 11, 26)) == "Thu 26 Nov 2026"
    assert GERMAN.moment(datetime(2026, 11, 6, 9, 5)) == "06.11.2026 09:05"


def test_words_in_a_locales_date_pattern_are_kept() -> None:
    assert Formats(locale="lv_LV").day(date(2026, 11, 6)) == "2026. gada 6. nov."


@pytest.mark.parametrize(("hour", "written"), [(0, "12"), (9, "9"), (12, "12"), (13, "1")])
def test_twelve_hour_clock(hour: int, written: str) -> None:
    moment = Formats(locale="en_US").moment(datetime(2026, 11, 6, hour, 5))
    assert moment == f"Nov 6, 2026 {written}:05\N{NARROW NO-BREAK SPACE}{'AM' if hour < 12 else 'PM'}"


def test_formats_come_from_the_shop() -> None:
    assert formats_of(Shop(locale="de_DE", currency="CHF")) == Formats(locale="de_DE", currency="CHF", digits=2)


def test_the_locale_is_looked_up_when_a_figure_is_written_and_not_before() -> None:
    code = (
        "import sys; from datetime import date; from stockroom.show.formats import Formats; f = Formats()\n"
        "print('babel' in sys.modules); f.day(date(2026, 1, 2)); print('babel' in sys.modules)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.split() == ["False", "True"]


@pytest.mark.parametrize(
    ("nano", "unit", "told"),
    [(4_540_000_000, "l", "4.54 ml"), (100 * 10**9, "l", "0.1 l"), (18 * 10**9, "kg", "18 g"), (0, "l", "0 l"), (-5 * 10**9, "l", "-5 ml"), (2 * 10**9, "pair", "1 pair")],
)  # fmt: skip
def test_small_amounts_are_told_in_the_smaller_unit(nano: int, unit: str, told: str) -> None:
    assert str(Formats().told(nano, UNITS[unit])) == told
