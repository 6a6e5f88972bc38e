"""The invented shop's calendar: its first and last day, closures, and days the year's work hangs on."""

from datetime import date, timedelta

from stockroom.stock.calendar import Closure, Event, OpenDays
from stockroom.stock.shop import weekdays

FIRST_DAY = date(2023, 11, 21)  # a Tuesday: opening stock
LAST_DAY = date(2026, 11, 21)  # a Saturday: 'today' in the demo
SETTINGS: dict[str, str] = {
    "name": "The Wandering Welt (invented)",
    "currency": "EUR",
    "locale": "en_IE",
    "start": FIRST_DAY.isoformat(),
    "open_weekdays": "Tue Wed Thu Fri Sat",
    "tax_rate": "21",
    "bench_hour_rate": "24",
    "card_fee": "1.4",
    "flammable_limit_l": "50",
}

_EASTER = (date(2024, 3, 31), date(2025, 4, 20), date(2026, 4, 5), date(2027, 3, 28))
_AUGUST = (date(2024, 8, 6), date(2025, 8, 5), date(2026, 8, 4), date(2027, 8, 3))
SCHOOL = (date(2024, 8, 28), date(2025, 8, 27), date(2026, 8, 31), date(2027, 8, 30))


def closures() -> tuple[Closure, ...]:
    """Give every closure of the shop and its suppliers, three years back and a few months on."""
    return (*_shop(), *_suppliers())


def events() -> tuple[Event, ...]:
    """Give the days the year's work hangs on."""
    return (
        *(Event(name="back to school", day=day) for day in SCHOOL),
        *(Event(name="Easter", day=day) for day in _EASTER),
        *(Event(name="Christmas", day=date(year, 12, 25)) for year in range(2023, 2027)),
        *(Event(name="town fair", day=date(year, 6, 20)) for year in range(2024, 2028)),
    )


def _shop() -> list[Closure]:
    shut = [Closure(first=date(y, 12, 24), last=date(y + 1, 1, 1), reason="Christmas") for y in range(2023, 2027)]
    shut += [Closure(first=day, last=day + timedelta(days=11), reason="summer") for day in _AUGUST]
    shut += [Closure(first=date(y, 5, 1), last=date(y, 5, 1), reason="holiday") for y in range(2024, 2028)]
    shut.append(Closure(first=date(2025, 2, 12), last=date(2025, 2, 14), reason="burst pipe"))
    return sorted(shut, key=lambda closure: closure.first)


def _suppliers() -> list[Closure]:
    tannery = [
        Closure(first=date(y, 8, 1), last=date(y, 8, 23), who="BRIN", reason="summer") for y in range(2024, 2028)
    ]
    winter = [
        Closure(first=date(y, 12, 22), last=date(y + 1, 1, 4), who=who, reason="Christmas")
        for y in range(2023, 2027)
        for who in ("BRIN", "TOCK", "ODDM")
    ]
    short = [
        Closure(first=date(y, 12, 24), last=date(y, 12, 28), who="QUIL", reason="Christmas") for y in range(2023, 2027)
    ]
    return [*tannery, *winter, *short]


OPEN = OpenDays(weekdays=weekdays(SETTINGS["open_weekdays"]), closures=tuple(_shop()))
