"""The shop's days: open weekdays, closures, weeks, and days to which a season hangs."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from stockroom.errors import UsageError
from stockroom.phrases import phrase

WEEK = 7
_HOUR = 60  # minutes
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
    """A day, or days, that the year's work hangs on: the return to school, an order for forty pairs, a promotion.

    What it comes to may be known: so many jobs or pieces sold more, or so many per cent of the usual.
    """

    name: str
    day: date
    last: date | None = None  # its last day; None: the first
    job: str = ""  # a job's code, or a family of jobs; empty: all of the shop's work and sales
    jobs: int | None = None  # that come beside the usual work
    usual: str = ""  # per cent of the usual while it lasts
    material: str = ""  # something sold over the counter, by code
    pieces: int | None = None  # that are sold of it beside the usual sales, in the unit it is shown in

    @property
    def end(self) -> date:
        """Its last day."""
        return self.last or self.day

    @property
    def sized(self) -> bool:
        """Whether it is said how much comes of it."""
        return self.jobs is not None or self.pieces is not None or bool(self.usual)

    @property
    def share(self) -> float:
        """Part of the usual that comes while it lasts."""
        return float(Decimal(self.usual)) / 100 if self.usual else 1.0


MOST_USUAL = 1000  # per cent
LONGEST_EVENT = timedelta(days=366)


def event_fault(event: Event, *, job: bool) -> tuple[str, UsageError] | None:
    """Say what is wrong with an event, and with which of its columns; `job` says whether it concerns a single job."""
    plain = _wrong_span(event) or _wrong_pieces(event)
    if plain is not None:
        return plain
    if event.jobs is not None and event.usual:
        return "usual", UsageError("It says both a number of jobs and per cent.", fix="Leave one of them blank.")
    if event.jobs is not None and not job:
        return "job", UsageError("Jobs that come beside the usual ones are of one job.", fix="Give its code.")
    if event.usual and Decimal(event.usual) > MOST_USUAL:
        wrong = phrase("More than %(most)s per cent of the usual is not likely.", most=MOST_USUAL)
        return "usual", UsageError(wrong, fix="Give per cent of the usual, such as 130.")
    return None


def _wrong_span(event: Event) -> tuple[str, UsageError] | None:
    if event.end < event.day:
        return "last", UsageError("The last day comes before the first.", fix="Swap them.")
    if event.end - event.day > LONGEST_EVENT:
        return "last", UsageError("An event lasts a year at most.", fix="Let it end once things are as usual again.")
    return None


def _wrong_pieces(event: Event) -> tuple[str, UsageError] | None:
    if event.pieces is not None and (event.jobs is not None or event.usual or event.job):
        return "pieces", UsageError("It says pieces and something else.", fix="Enter an event for each.")
    if (event.pieces is None) != (not event.material):
        missing = "pieces" if event.material else "material"
        return missing, UsageError(
            "Pieces sold beside the usual ones are of one material.", fix="Give both: the material, and how many."
        )
    return None


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
