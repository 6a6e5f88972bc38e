"""Numbers, amounts, money and days as the shop's locale writes them."""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from decimal import ROUND_HALF_UP, Decimal
from functools import wraps
from typing import Concatenate, ParamSpec, cast

from stockroom.phrases import Figure, as_phrase, joined, plural
from stockroom.show.languages import language_of, locale_for, say
from stockroom.show.locale_facts import LocaleFacts, facts_of
from stockroom.stock.money import MILLI, major, milli_to_minor
from stockroom.stock.quantities import UNITS, Quantity, Unit
from stockroom.stock.shop import Shop

SHOWN_DIGITS = 4  # figures of an amount worth reading (three below one); whole numbers are never cut
FINEST = 6  # decimals at most: what is left after rounding a cut is dust
AMOUNTS = {  # units that are words rather than signs
    "piece": ("%(amount)s piece", "%(amount)s pieces"),
    "pair": ("%(amount)s pair", "%(amount)s pairs"),
    "dozen": ("%(amount)s dozen", "%(amount)s dozen"),
    "gross": ("%(amount)s gross", "%(amount)s gross"),
}
SMALLER = {"l": "ml", "kg": "g", "m": "cm", "m2": "dm2"}  # what a small part of a unit is said in
_HARD_SPACE = "\N{NO-BREAK SPACE}"


Facts = ParamSpec("Facts")
_PLAIN = timedelta(days=300)  # so far ahead a day without its year is plain


def _remembered(
    write: "Callable[Concatenate[Formats, Facts], str]",
) -> "Callable[Concatenate[Formats, Facts], Figure]":
    """Let what is written remember what it was written from, so that another reader's formats can write it anew."""

    @wraps(write)
    def figure(self: "Formats", *facts: Facts.args, **named: Facts.kwargs) -> Figure:
        return Figure(write(self, *facts, **named), write.__name__, (*facts, *named.values()))

    return cast("Callable[Concatenate[Formats, Facts], Figure]", figure)


@dataclass(frozen=True, slots=True, kw_only=True)
class Formats:
    """A shop's way of writing figures.

    Parameters
    ----------
    locale : str
        Such as 'en_IE' or 'de_DE'.
    currency : str
        ISO 4217 code.
    digits : int
        Decimals of the currency.
    """

    locale: str = "en_IE"
    currency: str = "EUR"
    digits: int = 2

    @property
    def facts(self) -> LocaleFacts:
        """How the locale writes."""
        return facts_of(self.locale)

    @property
    def language(self) -> str:
        """The shop's language, among those spoken here."""
        return language_of(self.locale)

    def for_reader(self, tongue: str) -> "Formats":
        """Give the way a reader of a language is used to: his marks and days, the shop's currency."""
        return replace(self, locale=locale_for(self.locale, tongue))

    def say(self, text: str) -> str:
        """Say a phrase, or a name of ours, in the shop's language: for what leaves the shop, or is read on paper."""
        return say(text, self.language, lambda: self)

    def anew(self, figure: Figure) -> str:
        """Write a figure that others wrote, from what it was written from."""
        written: str = getattr(self, figure.way)(*figure.facts)
        return written

    @_remembered
    def number(self, value: Decimal | float, places: int | None = None) -> str:
        """Write a number, rounded half away from zero to `places`, or to four figures."""
        exact = value if isinstance(value, Decimal) else Decimal(str(value))
        rounded = _brief(exact) if places is None else _rounded(exact, places)
        return ("-" if rounded < 0 else "") + self._digits(abs(rounded))

    @_remembered
    def bare(self, nano: int, unit: Unit) -> str:
        """Write an amount in a unit, without naming the unit."""
        return self.number(unit.count(nano))

    def amount(self, nano: int, unit: Unit) -> str:
        """Write an amount with its unit, such as '12.5 dm2' or '3 pairs'."""
        written = self.bare(nano, unit)
        if unit.name not in AMOUNTS:
            return joined([written, as_phrase(unit.name)])
        one, many = AMOUNTS[unit.name]
        return plural(one, many, 1 if written in {"1", "-1"} else 2, amount=written)

    def told(self, nano: int, unit: Unit) -> str:
        """Write an amount as people say it: a few millilitres are no thousandths of a litre."""
        smaller = UNITS.get(SMALLER.get(unit.name, ""))
        return self.amount(nano, smaller if smaller and nano and abs(nano) * 10 < unit.nano else unit)

    def quantity(self, amount: Quantity, unit: Unit) -> str:
        """Write an amount in a material's unit, or in its own kind of unit where that is another."""
        return self.amount(amount.nano, unit if unit.dimension is amount.dimension else amount.dimension.base)

    @_remembered
    def money(self, minor: int) -> str:
        """Write money given in minor units, such as '€12.50'."""
        return self._priced(major(minor, self.digits))

    @_remembered
    def round_money(self, amount: float) -> str:
        """Write money given in major units without its small coins, such as '€1,206': for pictures and averages."""
        return self._priced(_rounded(Decimal(str(amount)), 0))

    @_remembered
    def milli(self, milli: int) -> str:
        """Write money given in thousandths of the minor unit, rounded to whole minor units."""
        return self.money(milli_to_minor(milli))

    @_remembered
    def fine(self, milli: int, places: int = 2) -> str:
        """Write a small cost in thousandths of the minor unit with more decimals, such as '€0.0325'."""
        return self._priced(_rounded(major(milli, self.digits) / MILLI, self.digits + places))

    @_remembered
    def hours(self, minutes: float) -> str:
        """Write how long something takes, such as '2 h 10 min'."""
        whole = round(minutes)
        hours, rest = divmod(abs(whole), 60)
        written = " ".join(
            [*([f"{self.number(hours, 0)} h"] if hours else []), *([f"{rest} min"] if rest or not hours else [])]
        )
        return f"-{written}" if whole < 0 else written

    @_remembered
    def percent(self, share: Decimal | float, places: int = 0) -> str:
        """Write a share of one as per cent: 0.25 is '25%'."""
        exact = share if isinstance(share, Decimal) else Decimal(str(share))
        written = self.facts.percent.format(self._digits(abs(_rounded(exact * 100, places))))
        return f"-{written}" if _rounded(exact * 100, places) < 0 else written

    @_remembered
    def day(self, day: date) -> str:
        """Write a day, such as '26 Nov 2026'."""
        return self._dated(self.facts.day, datetime.combine(day, time()))

    @_remembered
    def weekday(self, day: date) -> str:
        """Write a day with its day of the week, such as 'Thu 26 Nov 2026'."""
        return self._dated(self.facts.weekday, datetime.combine(day, time()))

    @_remembered
    def short_day(self, day: date) -> str:
        """Write a day without its year, such as '26 Nov'."""
        return self._dated(self.facts.short_day, datetime.combine(day, time()))

    def near_day(self, day: date, today: date) -> str:
        """Write a day briefly; of one far off its month and year say enough."""
        return self.month(day) if day - today > _PLAIN else self.short_day(day)

    @_remembered
    def month(self, day: date) -> str:
        """Write the month of a day, such as 'Nov 2026'."""
        return self._dated(self.facts.month, datetime.combine(day, time()))

    @_remembered
    def moment(self, moment: datetime) -> str:
        """Write a day and the time, such as '26 Nov 2026 14:05'."""
        return f"{self._dated(self.facts.day, moment)} {self._dated(self.facts.time, moment)}"

    def _priced(self, amount: Decimal) -> str:
        written = self._digits(abs(amount))
        sign = self.facts.symbols.get(self.currency, self.currency)
        template = self.facts.money[amount < 0].replace("¤", sign).format(written)
        return template.replace(f"{sign}{written}", f"{sign}{_gap(sign)}{written}")

    def _digits(self, value: Decimal) -> str:
        whole, _, part = f"{value:f}".partition(".")
        grouped = _group(whole, self.facts.grouping, self.facts.group)
        return f"{grouped}{self.facts.decimal}{part}" if part else grouped

    def _dated(self, pattern: str, moment: datetime) -> str:
        return re.sub(r"'([^']*)'|(([a-zA-Z])\3*)", lambda found: self._field(found, moment), pattern)

    def _field(self, found: re.Match[str], moment: datetime) -> str:
        if found[2] is None:
            return found[1] or "'"
        return _FIELDS[found[2][0]](moment, len(found[2]), self.facts)


def formats_of(shop: Shop) -> Formats:
    """Give the way a shop writes figures."""
    return Formats(locale=shop.locale, currency=shop.currency, digits=shop.currency_digits)


def unit_word(unit: Unit) -> str:
    """Name a unit after a figure, or over many: 'pieces'."""
    return unit.many


def _rounded(value: Decimal, places: int) -> Decimal:
    return value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


def _brief(value: Decimal) -> Decimal:
    figures = SHOWN_DIGITS - (abs(value) < 1)
    places = min(max(figures - 1 - value.adjusted(), 0), FINEST) if value else 0
    rounded = _rounded(value, places)
    return rounded.normalize() if rounded != rounded.to_integral_value() else _rounded(rounded, 0)


def _group(whole: str, grouping: tuple[int, int], mark: str) -> str:
    last, others = grouping
    head, parts = whole[:-last], [whole[-last:]]
    while head:
        head, part = head[:-others], head[-others:]
        parts.append(part)
    return mark.join(reversed(parts))


def _gap(sign: str) -> str:
    """Letters and figures don't touch: 'CHF 12.50' (CLDR's currency spacing)."""
    return _HARD_SPACE if sign[-1:].isalpha() else ""


def _month(moment: datetime, width: int, facts: LocaleFacts) -> str:
    if width <= 2:  # noqa: PLR2004 -- M and MM are figures, longer ones names
        return f"{moment.month:0{width}d}"
    return (facts.months if width == 3 else facts.long_months)[moment.month - 1]  # noqa: PLR2004 -- MMM is the short name


def _year(moment: datetime, width: int, _facts: LocaleFacts) -> str:
    return f"{moment.year % 100:02d}" if width == 2 else str(moment.year)  # noqa: PLR2004 -- yy is the short year


_FIELDS: dict[str, Callable[[datetime, int, LocaleFacts], str]] = {
    "y": _year,
    "M": _month,
    "L": _month,
    "d": lambda moment, width, _: f"{moment.day:0{width}d}",
    "E": lambda moment, _, facts: facts.days[moment.weekday()],
    "c": lambda moment, _, facts: facts.days[moment.weekday()],
    "H": lambda moment, width, _: f"{moment.hour:0{width}d}",
    "h": lambda moment, width, _: f"{(moment.hour - 1) % 12 + 1:0{width}d}",
    "m": lambda moment, width, _: f"{moment.minute:0{width}d}",
    "a": lambda moment, _, facts: facts.halves[moment.hour >= 12],  # noqa: PLR2004 -- noon
    "B": lambda moment, _, facts: facts.halves[moment.hour >= 12],  # noqa: PLR2004 -- noon
}
