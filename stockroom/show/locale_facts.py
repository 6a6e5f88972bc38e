"""How a locale writes numbers, money and days: a small table made from babel's, read without loading babel.

Importing babel and its locale data costs 25 to 55 ms, more than most commands take; this table costs about one.
Locales outside it are read from babel itself.
"""

import json
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any

from stockroom.errors import UsageError
from stockroom.phrases import phrase

LOCALES = (
    "en_IE", "en_GB", "en_US", "en_AU", "en_CA", "en_NZ", "en_ZA", "en_IN", "bg_BG", "ca_ES", "cs_CZ", "da_DK", "de_AT",
    "de_CH", "de_DE", "el_GR", "es_ES", "es_MX", "et_EE", "fi_FI", "fr_BE", "fr_CA", "fr_CH", "fr_FR", "hr_HR", "hu_HU",
    "is_IS", "it_CH", "it_IT", "ja_JP", "lt_LT", "lv_LV", "nb_NO", "nl_BE", "nl_NL", "pl_PL", "pt_BR", "pt_PT", "ro_RO",
    "sk_SK", "sl_SI", "sv_SE", "tr_TR",
)  # fmt: skip
CURRENCIES = (
    "AUD", "BGN", "BRL", "CAD", "CHF", "CZK", "DKK", "EUR", "GBP", "HUF", "INR", "ISK", "JPY", "MXN", "NOK", "NZD",
    "PLN", "RON", "SEK", "TRY", "USD", "ZAR",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class LocaleFacts:
    """What is needed to write figures the way a place does (CLDR, by way of babel)."""

    decimal: str
    group: str
    grouping: tuple[int, int]  # digits in the last group, and in the others
    money: tuple[str, str]  # templates for zero and above, and below: {} is the figure, ¤ the currency
    percent: str
    symbols: dict[str, str]  # currency code -> sign, where it differs from the code
    day: str  # date pattern
    weekday: str  # date pattern with the day of the week
    short_day: str  # date pattern without the year
    time: str
    months: tuple[str, ...]  # short names, January first
    long_months: tuple[str, ...]
    days: tuple[str, ...]  # short names, Monday first
    halves: tuple[str, str]  # before and after noon


@cache
def facts_of(locale: str) -> LocaleFacts:
    """Give the facts of a locale such as 'en_IE'."""
    name = locale.replace("-", "_")
    known = _table().get(name)
    return _thaw(known) if known else from_babel(name)


def from_babel(name: str) -> LocaleFacts:
    """Read the facts of a locale from babel."""
    from babel import Locale, UnknownLocaleError  # noqa: PLC0415 -- slow import

    try:
        place = Locale.parse(name)
    except (ValueError, UnknownLocaleError) as wrong:
        raise UsageError(
            phrase("'%(name)s' is not a known locale.", name=name), fix="Use one such as en_IE, de_DE or fr_FR."
        ) from wrong
    signs = place.number_symbols["latn"]
    money, share = place.currency_formats["standard"], place.percent_formats[None]
    names = place.months["format"]
    noon = place.day_periods["format"]["abbreviated"]
    return LocaleFacts(
        decimal=signs["decimal"],
        group=signs["group"],
        grouping=money.grouping,
        money=(_template(money, 0), _template(money, 1)),
        percent=_template(share, 0),
        symbols={code: sign for code, sign in place.currency_symbols.items() if code in CURRENCIES and sign != code},
        day=place.date_formats["medium"].pattern,
        weekday=place.datetime_skeletons["yMMMEd"].pattern,
        short_day=place.datetime_skeletons["MMMd"].pattern,
        time=place.time_formats["short"].pattern,
        months=tuple(names["abbreviated"][n] for n in range(1, 13)),
        long_months=tuple(names["wide"][n] for n in range(1, 13)),
        days=tuple(place.days["format"]["abbreviated"][n] for n in range(7)),
        halves=(noon["am"], noon["pm"]),
    )


def write_table() -> str:
    """Write the table anew from babel, as `locale_facts.json` keeps it."""
    from babel.core import get_cldr_version  # noqa: PLC0415 -- slow import

    table = {"cldr": get_cldr_version(), "locales": {name: asdict(from_babel(name)) for name in LOCALES}}
    return json.dumps(table, ensure_ascii=False, indent=1) + "\n"


def _template(pattern: Any, below: int) -> str:  # noqa: ANN401 -- babel has no types
    return f"{pattern.prefix[below]}{{}}{pattern.suffix[below]}"


def _table() -> dict[str, dict[str, Any]]:
    table: dict[str, dict[str, Any]] = _read()["locales"]
    return table


@cache
def _read() -> dict[str, Any]:
    kept: dict[str, Any] = json.loads(Path(__file__).with_suffix(".json").read_text(encoding="utf-8"))
    return kept


def _thaw(kept: dict[str, Any]) -> LocaleFacts:
    thawed: dict[str, Any] = {key: tuple(value) if isinstance(value, list) else value for key, value in kept.items()}
    return LocaleFacts(**thawed)
