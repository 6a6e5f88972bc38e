"""The invented shop's calendar: its first and last day, closures, and days the year's work hangs on."""

from datetime import date, timedelta
from functools import cache

from stockroom.demo.dice import Dice
from stockroom.stock.calendar import Closure, Event, OpenDays, closures_of, monday
from stockroom.stock.shop import weekdays

FIRST_DAY = date(2023, 11, 21)  # a Tuesday: opening stock
LAST_DAY = date(2026, 11, 21)  # a Saturday: 'today' in the demo
SETTINGS: dict[str, str] = {
    "name": "The Wandering Welt (invented)",
    "currency": "EUR",
    "locale": "en_IE",
    "start": FIRST_DAY.isoformat(),
    "open_weekdays": "Tue Wed Thu Fri Sat",
    "open_hours": "Tue-Fri 9:00-13:00 14:00-18:00, Sat 9:00-14:00",
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


# One factor a month, January first.
MONTHS: dict[str, tuple[float, ...]] = {
    "heels": (0.95, 0.95, 1.0, 1.05, 1.15, 1.15, 0.95, 0.85, 1.0, 1.05, 1.05, 1.15),
    "soling": (1.05, 1.0, 0.95, 0.9, 0.85, 0.8, 0.75, 0.8, 1.1, 1.3, 1.35, 1.1),
    "boots": (1.2, 1.0, 0.8, 0.65, 0.5, 0.4, 0.4, 0.6, 1.2, 1.8, 1.9, 1.4),
    "sandals": (0.2, 0.2, 0.5, 1.1, 2.2, 2.4, 1.9, 1.2, 0.6, 0.3, 0.2, 0.2),
    "uppers": (1.05, 1.0, 1.0, 1.0, 0.95, 0.9, 0.85, 0.95, 1.1, 1.1, 1.1, 1.0),
    "children": (0.8, 0.8, 0.8, 0.9, 0.9, 0.8, 0.8, 1.4, 1.6, 1.0, 0.8, 0.8),
    "comfort": (1.0, 0.9, 1.0, 1.1, 1.25, 1.15, 0.9, 0.9, 1.1, 1.0, 0.95, 0.95),
    "colour": (0.8, 0.8, 1.0, 1.1, 1.35, 1.3, 1.0, 0.8, 1.0, 1.0, 1.1, 1.4),
    "bags": (0.9, 0.9, 1.0, 1.0, 1.1, 1.1, 1.1, 1.0, 1.1, 1.0, 0.95, 0.95),
    "steady": (1.0, 0.95, 1.0, 1.0, 1.0, 1.0, 0.9, 0.9, 1.05, 1.1, 1.1, 1.1),
    "wet weather": (1.3, 1.2, 1.0, 0.7, 0.5, 0.4, 0.4, 0.6, 1.2, 1.6, 1.8, 1.5),
    "gifts": (0.5, 0.6, 0.7, 0.7, 0.9, 1.0, 0.7, 0.6, 0.8, 0.9, 1.7, 5.0),
}
YEARLY_GROWTH = 1.03
OWN_GROWTH = {"LIGHT": 1.12, "WELT": 0.92, "DYE": 0.95}  # jobs with a trend of their own
_WEEKDAY = {1: 1.1, 2: 0.85, 3: 0.85, 4: 1.0, 5: 1.2}  # Tuesday to Saturday
_LONG = [shut for shut in closures_of("", closures()) if shut.last - shut.first > timedelta(days=5)]


def pace(family: str, day: date, own: str = "") -> float:
    """How busy a day is for a family of jobs: season, weekday, growth, school and closures; 1 on average."""
    years = (day - FIRST_DAY).days / 365.25
    growth: float = OWN_GROWTH.get(own, YEARLY_GROWTH) ** years
    return _season(MONTHS[family], day) * _WEEKDAY[day.weekday()] * growth * _school(family, day) * _rush(day)


def weather(dice: Dice) -> dict[tuple[str, date], float]:
    """Draw what no calendar knows: one factor a family and week, partly shared by all."""
    drawn: dict[tuple[str, date], float] = {}
    week = monday(FIRST_DAY)
    while week <= LAST_DAY:
        shared = dice.around_one(0.10)
        drawn |= {(family, week): shared * dice.around_one(0.12) for family in MONTHS}
        week += timedelta(days=7)
    return drawn


def _season(months: tuple[float, ...], day: date) -> float:
    """Slide from the middle of one month to the middle of the next."""
    place = (day.timetuple().tm_yday - 15.5) / 30.44
    low = int(place // 1)
    part = place - low
    return months[low % 12] * (1 - part) + months[(low + 1) % 12] * part


def _school(family: str, day: date) -> float:
    if family != "children":
        return 1.0
    return 2.2 if any(timedelta(days=-14) <= day - start <= timedelta(days=5) for start in SCHOOL) else 1.0


@cache
def _rush(day: date) -> float:
    """Busier in the week before and after a long closure."""
    return 1.2 if any(_near(day, closure) for closure in _LONG) else 1.0


def _near(day: date, closure: Closure) -> bool:
    week = timedelta(days=7)
    return closure.first - week <= day <= closure.last + week


def open_days() -> list[date]:
    """Every day the shop worked, first to last."""
    span = (LAST_DAY - FIRST_DAY).days + 1
    return [day for n in range(span) if OPEN.is_open(day := FIRST_DAY + timedelta(days=n))]


def working_days_on(day: date, count: int) -> date:
    """Go on a number of worked days."""
    for _ in range(count):
        day = OPEN.next_open(day + timedelta(days=1))
    return day
