"""The shop's days: open weekdays, closures, weeks, and days to which a season hangs."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, time, timedelta

WEEK = 7
YEARS_AHEAD = 2  # looked ahead at most: an outlook and the orders after it
NOON = time(12)  # the time of day of what is said by the day only, such as an order in a file


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """Days on which the shop or a supplier is shut, both ends included."""

    first: date
    last: date
    who: str = ""  # supplier's code; empty for the shop itself
    reason: str = ""
    yearly: bool = False  # each year from then on, on the same days

    def upcoming(self, day: date) -> "tuple[Closure, ...]":
        """Give it as it stands, and again in each year until two after a day where it comes every year."""
        years = range(1, day.year + YEARS_AHEAD - self.first.year + 1) if self.yearly else ()
        later = (replace(self, first=in_later_year(self.first, n), last=in_later_year(self.last, n)) for n in years)
        return (self, *later)


def in_later_year(day: date, years: int) -> date:
    """Give the same day so many years later; the 28th where there is no 29 February."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """A day the year's work hangs on, such as the return to school."""

    name: str
    day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenDays:
    """Which days the shop or a supplier works."""

    weekdays: frozenset[int]  # Monday is 0
    closures: tuple[Closure, ...] = ()

    def is_open(self, day: date) -> bool:
        """Say whether a day is worked."""
        return day.weekday() in self.weekdays and not any(c.first <= day <= c.last for c in self.closures)

    def next_open(self, day: date) -> date:
        """Find the first worked day on or after a day; gives up after two years of closure."""
        for ahead in range(731):
            if self.is_open(later := day + timedelta(days=ahead)):
                return later
        return day

    def share(self, monday: date) -> float:
        """Part of a week's usual days that is worked, 0 to 1."""
        worked = sum(self.is_open(monday + timedelta(days=d)) for d in range(WEEK))
        return worked / len(self.weekdays) if self.weekdays else 0.0


def monday(day: date) -> date:
    """Give the Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def closures_of(who: str, closures: Iterable[Closure], day: date | None = None) -> tuple[Closure, ...]:
    """Pick the closures of a supplier, or of the shop (empty code); as of a day, those of every year ahead too."""
    mine = [closure for closure in closures if closure.who == who]
    return tuple(mine) if day is None else tuple(each for closure in mine for each in closure.upcoming(day))
