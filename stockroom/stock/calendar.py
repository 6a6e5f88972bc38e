"""The shop's days: open weekdays, closures, weeks, and days to which a season hangs."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

WEEK = 7
_HOUR = 60  # minutes
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


@dataclass(frozen=True, slots=True)
class OpenHours:
    """The hours open on each weekday (Monday is 0), in minutes of the day, earliest first."""

    spans: Mapping[int, tuple[tuple[int, int], ...]]

    def minutes(self, day: date, after: datetime | None = None) -> int:
        """Give the minutes open on a day; only those after a moment of it where one is given."""
        start = after.hour * _HOUR + after.minute if after is not None else 0
        return sum(max(ends - max(begins, start), 0) for begins, ends in self.spans.get(day.weekday(), ()))

    def closes(self, day: date) -> datetime | None:
        """Give the moment of closing on a day; None where it isn't open."""
        spans = self.spans.get(day.weekday(), ())
        return datetime.combine(day, time(0)) + timedelta(minutes=spans[-1][1]) if spans else None
