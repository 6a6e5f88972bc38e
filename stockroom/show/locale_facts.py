"""How a locale writes numbers, money and days, asked of babel (Unicode CLDR) when a figure is first written."""

from dataclasses import dataclass
from functools import cache
from typing import Any

from stockroom.errors import UsageError
from stockroom.phrases import phrase


@dataclass(frozen=True, slots=True, kw_only=True)
class LocaleFacts:
    """What is needed to write figures the way a place does."""

    decimal: str
    group: str
    grouping: tuple[int, int]  # digits in the last group, and in the others
    money: tuple[str, str]  # templates for zero and above, and below: {} is the figure, ¤ the currency
    percent: str
    symbols: dict[str, str]  # currency code -> sign, where it differs from the code
    day: str  # date pattern
    weekday: str  # date pattern with the day of the week
    short_day: str  # date pattern without the year
    month: str  # date pattern of a month with its year
    time: str
    months: tuple[str, ...]  # short names, January first
    long_months: tuple[str, ...]
    days: tuple[str, ...]  # short names, Monday first
    halves: tuple[str, str]  # before and after noon


@cache
def facts_of(locale: str) -> LocaleFacts:
    """Give the facts of a locale such as 'en_IE'.

    Raises
    ------
    UsageError
        Where babel knows no such locale.
    """
    from babel import Locale, UnknownLocaleError  # noqa: PLC0415 -- ten milliseconds, for those who write figures

    try:
        place = Locale.parse(locale.replace("-", "_"))
    except (ValueError, UnknownLocaleError) as wrong:
        raise UsageError(
            phrase("'%(name)s' is not a known locale.", name=locale), fix="Use one such as en_IE, de_DE or fr_FR."
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
        symbols={code: sign for code, sign in place.currency_symbols.items() if sign != code},
        day=place.date_formats["medium"].pattern.replace(" G", ""),  # no shop dates by the era
        weekday=place.datetime_skeletons["yMMMEd"].pattern,
        short_day=place.datetime_skeletons["MMMd"].pattern,
        month=place.datetime_skeletons["yMMM"].pattern,
        time=place.time_formats["short"].pattern,
        months=tuple(names["abbreviated"][n] for n in range(1, 13)),
        long_months=tuple(names["wide"][n] for n in range(1, 13)),
        days=tuple(place.days["format"]["abbreviated"][n] for n in range(7)),
        halves=(noon["am"], noon["pm"]),
    )


def _template(pattern: Any, below: int) -> str:  # noqa: ANN401 -- babel has no types
    return f"{pattern.prefix[below]}{{}}{pattern.suffix[below]}"
