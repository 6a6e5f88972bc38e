"""The shop's days: open weekdays, closures, weeks, and days to which a season hangs."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, time, timedelta

WEEK = 7
NOON = time(12)  # the time of day of what is said by the day only, such as an order in a file


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """Days on which the shop or a supplier is shut, both ends included."""

    first: date
    last: date
    who: str = ""  # supplier's code; empty for the shop itself
    reason: str = ""


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


def closures_of(who: str, closures: Iterable[Closure]) -> tuple[Closure, ...]:
    """Pick the closures of a supplier, or of the shop (empty code)."""
    return tuple(closure for closure in closures if closure.who == who)
