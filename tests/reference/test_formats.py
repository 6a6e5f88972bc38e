"""Figures written by our small formatter against babel (Unicode CLDR), which shares no code with it."""

import json
from dataclasses import asdict
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from babel import dates, numbers
from babel.core import get_cldr_version

from stockroom.show import locale_facts
from stockroom.show.formats import Formats

SEVERAL = ("en_IE", "en_US", "de_DE", "de_CH", "fr_FR", "nl_NL", "sv_SE", "es_ES", "pt_PT", "pl_PL", "en_IN", "hu_HU")
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


def test_kept_table_is_what_babel_says() -> None:
    kept = json.loads(Path(locale_facts.__file__).with_suffix(".json").read_text(encoding="utf-8"))
    if kept["cldr"] != get_cldr_version():
        pytest.skip("babel carries another release of CLDR than the table was made from")
    assert kept == json.loads(locale_facts.write_table())


def test_every_listed_locale_writes_a_day_without_leaving_pattern_letters() -> None:
    for name in locale_facts.LOCALES:
        facts = locale_facts.facts_of(name)
        assert set(asdict(facts)) == set(asdict(locale_facts.facts_of("en_IE")))
        assert dates.format_date(date(2026, 3, 9), "medium", name) == Formats(locale=name).day(date(2026, 3, 9))
