"""Figures written by our small formatter against babel's own, which shares its data (Unicode CLDR) and no code.

Both ask the babel that is installed, so another release of its data moves both alike.
"""

from datetime import date, datetime
from decimal import Decimal

import pytest
from babel import Locale, dates, localedata, numbers

from stockroom.show.formats import Formats

SEVERAL = ("en_IE", "en_US", "de_DE", "de_AT", "fr_FR", "nl_NL", "sv_SE", "es_ES", "pt_PT", "pl_PL", "en_IN", "hu_HU")
MINOR = (0, 1, -1, 99, 100, -123456, 123456789012)


@pytest.mark.parametrize("locale", SEVERAL)
def test_numbers_agree_with_babel(locale: str) -> None:
    for value in ("0", "12.5", "-1234.25", "1234567.5"):
        ours = Formats(locale=locale).number(Decimal(value), 2)
        assert ours == numbers.format_decimal(
            Decimal(value), "#,##0.00" if locale != "en_IN" else "#,##,##0.00", locale
        )


@pytest.mark.parametrize("locale", SEVERAL)
@pytest.mark.parametrize("currency", ["EUR", "GBP"])
def test_money_agrees_with_babel(locale: str, currency: str) -> None:
    formats = Formats(locale=locale, currency=currency, digits=2)
    for minor in MINOR:
        assert formats.money(minor) == numbers.format_currency(Decimal(minor) / 100, currency, locale=locale)


@pytest.mark.parametrize("locale", ["de_CH", "it_CH"])
def test_swiss_figures_are_grouped_by_the_mark_babel_knows(locale: str) -> None:
    """Held against babel's data: where the mark is a plain apostrophe, babel's writer takes it for a quote and drops it."""
    mark = Locale.parse(locale).number_symbols["latn"]["group"]
    formats = Formats(locale=locale, currency="CHF", digits=2)
    assert formats.number(Decimal("1234567.5"), 2) == f"1{mark}234{mark}567.50"
    assert formats.money(123456789) == f"CHF\N{NO-BREAK SPACE}1{mark}234{mark}567.89"
    assert formats.percent(Decimal(12)) == f"1{mark}200%"


@pytest.mark.parametrize("locale", SEVERAL)
def test_days_and_times_agree_with_babel(locale: str) -> None:
    formats = Formats(locale=locale)
    for moment in (datetime(2026, 1, 5, 0, 7), datetime(2026, 5, 31, 12, 0), datetime(2026, 9, 12, 23, 59)):
        day, clock = dates.format_date(moment, "medium", locale), dates.format_time(moment, "short", locale=locale)
        assert formats.day(moment.date()) == day
        assert formats.moment(moment) == f"{day} {clock}"


@pytest.mark.parametrize("locale", SEVERAL)
def test_weekdays_agree_with_babel(locale: str) -> None:
    day = date(2026, 11, 26)
    assert Formats(locale=locale).weekday(day) == dates.format_skeleton("yMMMEd", day, locale=locale)
    assert Formats(locale=locale).short_day(day) == dates.format_skeleton("MMMd", day, locale=locale)


@pytest.mark.parametrize("locale", SEVERAL)
def test_percent_agrees_with_babel(locale: str) -> None:
    for share in ("0", "0.25", "-0.4", "12"):
        assert Formats(locale=locale).percent(Decimal(share)) == numbers.format_percent(Decimal(share), locale=locale)


@pytest.mark.parametrize(
    ("currency", "digits", "written"),
    [("EUR", 2, "1,234.56"), ("JPY", 0, "123,456"), ("KWD", 3, "123.456")],
)
def test_minor_units_follow_iso_4217(currency: str, digits: int, written: str) -> None:
    """Decimals of the currencies: ISO 4217, from memory; babel's CLDR data agrees."""
    assert numbers.get_currency_precision(currency) == digits
    assert Formats(locale="en_US", currency=currency, digits=digits).money(123456).endswith(written)


@pytest.mark.parametrize("locale", [name for name in localedata.locale_identifiers() if "_" in name])
def test_every_place_babel_knows_can_write_a_figure_and_a_day(locale: str) -> None:
    """Whatever a shop may set as its locale: nothing is left of a pattern, nothing stands unwritten."""
    formats, day = Formats(locale=locale), date(2026, 3, 9)
    assert formats.number(Decimal(9)) in formats.money(900)
    assert str(day.year) in formats.day(day) or str(day.year % 100) in formats.day(day)
