"""How the invented shop's work swings over the weeks and years. All figures are our own."""

from datetime import date, timedelta
from functools import cache

from stockroom.demo.diary import FIRST_DAY, LAST_DAY, OPEN, SCHOOL, closures
from stockroom.demo.dice import Dice
from stockroom.stock.calendar import Closure, closures_of, monday

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
