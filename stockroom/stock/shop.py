"""The shop's own settings: one place, with sensible defaults."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from datetime import date
from decimal import Decimal, InvalidOperation
from itertools import pairwise
from typing import Any

from stockroom.errors import UnknownError, UsageError, nearest, shorten
from stockroom.phrases import Phrase, as_phrase, phrase
from stockroom.stock.busy_months import busy_months
from stockroom.stock.calendar import OpenHours
from stockroom.stock.typed import WEEKDAY_NAMES, YES_NO, iso, number, weekday


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """What the owner decides once. Money in major units here; figures are the owner's to change."""

    name: str = "The shop"
    currency: str = "EUR"
    currency_digits: int = 2
    locale: str = "en_IE"
    receipt_heading: str = ""  # on customers' receipts: address, tax number; lines parted by ;
    start: date | None = None  # first day of the ledger; older work is history only
    open_weekdays: str = "Tue Wed Thu Fri Sat"
    open_hours: str = ""  # of the bench, such as Tue-Fri 9:00-13:00 14:00-18:00, Sat 9:00-13:00; empty: not known
    bench_heads: int = 1  # how many work at the bench
    tax_registered: bool = True
    tax_rate: Decimal = Decimal(21)  # per cent
    prices_include_tax: bool = True
    costing: str = "fifo"  # or 'average'; kept once the first period is closed
    carriage_by: str = "value"  # or 'weight'
    held_up_job_cost: Decimal = Decimal(12)  # goodwill, a phone call, a second trip
    held_up_day_cost: Decimal = Decimal(3)
    holding_rate: Decimal = Decimal(20)  # per cent of stock value a year
    cash_limit: Decimal | None = None  # most to spend in one round of orders
    flammable_limit_l: Decimal = Decimal(50)  # litres of flammable stock on the premises: check local rules and insurer
    bench_hour_rate: Decimal = Decimal(0)
    card_fee: Decimal = Decimal(0)  # per cent
    margin_floor: Decimal = Decimal(60)  # per cent of net income left after materials
    price_step: Decimal = Decimal("0.50")  # how prices are rounded up: to every 0.50 …
    price_ending: Decimal = Decimal(0)  # … and what is added: step 1 and ending 0.95 give ….95
    idle_days: int = 365  # stock not used or sold for so long is judged idle
    idle_keeps: Decimal = Decimal(50)  # per cent of its cost still expected from idle stock
    selling_cost: Decimal = Decimal(0)  # per cent of the net price that selling takes
    outlook_weeks: int = 13
    forecast_models: str = ""  # names of the models to choose from; all everyday ones
    season: str = ""  # when all jobs are busy that don't say it themselves; by what is usual in the trade
    review_days: int = 7  # days between looks at the orders
    use_learnt: bool = True  # the outlook uses what counts say about actual usage before it is accepted
    cut_a: Decimal = Decimal(80)  # per cent of a year's use value that class A makes up; then B up to its own cut
    cut_b: Decimal = Decimal(95)
    tolerance_a: Decimal = Decimal(1)  # per cent a count may differ from the book and still be right, by class
    tolerance_b: Decimal = Decimal(3)
    tolerance_c: Decimal = Decimal(5)
    counts_a_year_a: int = 4  # fewest, by class
    counts_a_year_b: int = 2
    counts_a_year_c: int = 1


# What people read and type for settings whose names of old say too little; books, programs and older files keep those.
SHOWN = {
    "held_up_job_cost": "cost_of_delayed_job",
    "held_up_day_cost": "cost_of_delayed_day",
    "holding_rate": "holding_rate_percent",
    "card_fee": "card_fee_percent",
    "margin_floor": "minimum_margin_percent",
    "idle_days": "slow_stock_days",
    "idle_keeps": "slow_stock_value_percent",
    "selling_cost": "selling_cost_percent",
    "review_days": "order_every_days",
    "use_learnt": "use_measured_usage",
    "cut_a": "abc_limit_a",
    "cut_b": "abc_limit_b",
}
_KEPT = {shown: name for name, shown in SHOWN.items()}
_ONE_OF = {"costing": ("fifo", "average"), "carriage_by": ("value", "weight")}
_YES_NO = ("no", "yes")

WEEKDAYS = tuple(day[:3].capitalize() for day in WEEKDAY_NAMES)


def weekdays(text: str) -> frozenset[int]:
    """Read weekdays such as 'Tue Wed Sat' (Monday is 0)."""
    words = text.replace(",", " ").replace(";", " ").split()
    return frozenset(weekday(word) for word in words)


_HOURS = re.compile(r"(\d{1,2})(?:[:.](\d{2}))?-(\d{1,2})(?:[:.](\d{2}))?")
_FULL_DAY = 24 * 60  # minutes


def open_hours(text: str) -> OpenHours:
    """Read hours by weekday, such as 'Tue-Fri 9:00-13:00 14:00-18:00, Sat 9:00-13:00'.

    Raises
    ------
    UsageError
        If a part is neither weekdays nor hours, or hours overlap.
    """
    found: dict[int, list[tuple[int, int]]] = {}
    days: list[int] = []
    spans = 0
    for part in re.sub(r"\s*[-–]\s*", "-", text).replace(",", " ").replace(";", " ").split():
        hours = _HOURS.fullmatch(part)
        if hours is None:
            days = [*([] if spans else days), *_named_days(part)]
            spans = 0
            continue
        spans += 1
        begins, ends = (int(hours[n]) * 60 + int(hours[n + 1] or 0) for n in (1, 3))
        if not days or not begins < ends <= _FULL_DAY:
            raise _no_hours(part)
        for day in days:
            found.setdefault(day, []).append((begins, ends))
    if days and not spans:
        raise _no_hours(text)
    for each in found.values():
        each.sort()
        if any(after[0] < before[1] for before, after in pairwise(each)):
            raise _no_hours(text)
    return OpenHours({day: tuple(each) for day, each in sorted(found.items())})


def _named_days(part: str) -> list[int]:
    first, dash, last = part.rstrip(":").partition("-")
    if not dash:
        return [weekday(first)]
    begins, ends = weekday(first), weekday(last)
    return [(begins + n) % 7 for n in range((ends - begins) % 7 + 1)]


def _no_hours(text: str) -> UsageError:
    return UsageError(
        phrase("'%(text)s' are no opening hours.", text=shorten(text)),
        fix="Write weekdays, then their hours: Tue-Fri 9:00-13:00 14:00-18:00, Sat 9:00-13:00.",
    )


def write_weekdays(days: frozenset[int]) -> str:
    """Write weekdays as `weekdays` reads them."""
    return " ".join(WEEKDAYS[day] for day in sorted(days))


_KINDS = {f.name: str(f.type) for f in fields(Shop)}
SETTINGS = tuple(_KINDS)  # their names, as books keep them


def with_setting(shop: Shop, name: str, text: str) -> Shop:
    """Change one setting from its text; says what is wrong with a bad one."""
    return with_settings(shop, {name: text})


def with_settings(shop: Shop, texts: Mapping[str, str]) -> Shop:
    """Change settings from their texts; the shop is checked once, with all of them."""
    named = {_KEPT.get(name, name): text for name, text in texts.items()}
    changes: dict[str, Any] = {name: _value(name, text) for name, text in named.items()}
    return _checked(replace(shop, **changes))


def _value(name: str, text: str) -> object:
    if name not in _KINDS:
        known = [SHOWN.get(each, each) for each in _KINDS]
        raise UnknownError(
            phrase("No setting is called '%(name)s'.", name=shorten(name)),
            fix=nearest(name, known) or "To list them: stockroom settings",
        )
    try:
        return _read(_KINDS[name], text.strip())
    except (ValueError, KeyError, InvalidOperation) as wrong:
        raise UsageError(_cannot_be(shorten(text), name), fix=_wanted(_KINDS[name])) from wrong


def setting_name(typed: str) -> str:
    """Give the name that books keep a setting by, whichever of its names was typed."""
    name = typed.strip().replace(" ", "_")
    return _KEPT.get(name, name)


def setting_texts(shop: Shop) -> dict[str, str]:
    """Write every setting as text that `with_settings` reads back."""
    values = {name: getattr(shop, name) for name in _KINDS}
    return {name: "" if value is None else str(value) for name, value in values.items()}


def shown_settings(shop: Shop) -> dict[str, str]:
    """Write every setting as people read and type it, by the name they read."""
    return {
        SHOWN.get(name, name): _YES_NO[getattr(shop, name)] if "bool" in _KINDS[name] else text
        for name, text in setting_texts(shop).items()
    }


def setting_options(name: str) -> tuple[str, ...]:
    """Give the values a setting is one of; none where it is typed freely."""
    kept = setting_name(name)
    return _YES_NO if "bool" in _KINDS[kept] else _ONE_OF.get(kept, ())


def is_figure(name: str) -> bool:
    """Say whether a setting is a number that may have decimals."""
    return "Decimal" in _KINDS[setting_name(name)]


def _read(kind: str, text: str) -> object:
    if "None" in kind and not text:
        return None
    if "bool" in kind:
        return YES_NO[text.casefold()] if text else False
    if "date" in kind:
        return date.fromisoformat(iso(text))
    if "Decimal" in kind:
        read = number(text) if "," in text else Decimal(text)
        if not read.is_finite():
            raise ValueError("not a number")
        return read
    return int(text) if "int" in kind else text


def _wanted(kind: str) -> str:
    wanted = {
        "bool": phrase("It must be yes or no."),
        "date": phrase("It must be a day such as 2026-01-31."),
        "Decimal": phrase("It must be a number."),
        "int": phrase("It must be a whole number."),
    }
    return next((words for key, words in wanted.items() if key in kind), phrase("It must be a text."))


def _cannot_be(text: object, name: str) -> str:
    return phrase("'%(text)s' can't be %(name)s.", text=text, name=in_words(name))


def in_words(name: str) -> Phrase:
    """Name a setting in words, such as 'tax rate'."""
    return as_phrase(SHOWN.get(name, name).replace("_", " "))


_BOUNDS = (
    ("currency_digits", 0, 3), ("tax_rate", 0, 100), ("held_up_job_cost", 0, 10**6), ("held_up_day_cost", 0, 10**6),
    ("holding_rate", 0, 1000), ("cash_limit", 0, 10**9), ("flammable_limit_l", 0, 10**6), ("bench_hour_rate", 0, 10**6),
    ("card_fee", 0, 100), ("margin_floor", 0, 99), ("outlook_weeks", 1, 104), ("review_days", 1, 366),
    ("cut_a", 1, 100), ("cut_b", 1, 100), ("tolerance_a", 0, 100), ("tolerance_b", 0, 100), ("tolerance_c", 0, 100),
    ("price_step", Decimal("0.001"), 10**6), ("price_ending", 0, 10**6), ("idle_days", 1, 36500),
    ("idle_keeps", 0, 100), ("selling_cost", 0, 100),
    ("bench_heads", 1, 50), ("counts_a_year_a", 1, 366), ("counts_a_year_b", 1, 366), ("counts_a_year_c", 1, 366),
)  # fmt: skip


def _checked(asked: Shop) -> Shop:
    shop = replace(asked, open_weekdays=write_weekdays(weekdays(asked.open_weekdays)))
    open_hours(shop.open_hours)
    busy_months(shop.season)
    for name, allowed in _ONE_OF.items():
        if getattr(shop, name) not in allowed:
            fix = phrase("It must be %(one)s or %(other)s.", one=allowed[0], other=allowed[1])
            raise UsageError(_cannot_be(getattr(shop, name), name), fix=fix)
    for name, least, most in _BOUNDS:
        value = getattr(shop, name)
        if value is not None and not least <= value <= most:
            fix = phrase("It must be from %(least)s to %(most)s.", least=least, most=most)
            raise UsageError(phrase("%(value)s can't be %(name)s.", value=value, name=in_words(name)), fix=fix)
    if shop.price_ending >= shop.price_step:
        raise UsageError(
            phrase(
                "price_ending (%(ending)s) must lie below price_step (%(step)s).",
                ending=shop.price_ending,
                step=shop.price_step,
            ),
            fix="For prices that end in .95: price_step=1 price_ending=0.95",
        )
    if shop.cut_a > shop.cut_b:
        raise UsageError(
            phrase("abc_limit_a (%(a)s) can't lie above abc_limit_b (%(b)s).", a=shop.cut_a, b=shop.cut_b),
            fix="Change the other one first, or less.",
        )
    return shop
