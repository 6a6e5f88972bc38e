"""Minutes at the bench: added up from when work was begun and paused, and learnt for each job."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from fractions import Fraction
from itertools import pairwise
from math import exp, log, sqrt
from statistics import median

from stockroom.demand.student import student_quantile
from stockroom.stock.calendar import OpenHours
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.shop import Shop, open_hours

UNKNOWN_END = timedelta(hours=4)  # what a forgotten stretch counts at most, where closing time isn't known
STRENGTH = 8  # the minutes stated on the price list count like so many measured tickets
CONFIDENCE = 0.90  # of the range of a mean
REACH = 3.0  # spreads from the middle, in logarithms: beyond it a time is pulled in
LEAST_SPREAD = 0.3  # of logarithms: work of one kind differs by so much at least
NORMAL = 1.4826  # makes a median deviation a standard one, for normal errors
USUAL_SCALE = 4.0  # minutes: variance over mean, where nothing was measured; half an hour strays by eleven minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Work on one ticket without a pause."""

    ticket: str
    began: datetime
    ended: datetime
    stated: int | None = None  # minutes as said by whoever worked: then the clock doesn't count
    forgotten: bool = False  # nobody said on the day that it ended: it is cut off


def minutes_worked(stretches: Sequence[Stretch], heads: int) -> dict[str, Fraction]:
    """Add up the minutes of each ticket; where more run at once than there are heads, they share them.

    Notes
    -----
    Of any minute on which k tickets run, each gets min(1, heads / k): the sum is never more than the heads worked.
    """
    found = {each.ticket: Fraction(0) for each in stretches}
    for each in stretches:
        found[each.ticket] += each.stated or 0
    timed = [each for each in stretches if each.stated is None and each.ended > each.began]
    edges = sorted({moment for each in timed for moment in (each.began, each.ended)})
    starts = sorted(timed, key=lambda each: each.began)
    running: list[Stretch] = []
    place = 0
    for begins, ends in pairwise(edges):
        running = [each for each in running if each.ended > begins]
        while place < len(starts) and starts[place].began <= begins:
            running.append(starts[place])
            place += 1
        if running:
            length = Fraction((ends - begins) // timedelta(seconds=1), 60)
            each_gets = length * min(Fraction(1), Fraction(heads, len(running)))
            for one in running:
                found[one.ticket] += each_gets
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """What was worked on tickets, as far as it was entered."""

    stretches: tuple[Stretch, ...]
    running: Mapping[str, datetime]  # since when, by ticket
    minutes: Mapping[str, int]  # worked, by ticket
    done: frozenset[str]  # tickets that are finished or cancelled

    def of(self, number: str) -> list[Stretch]:
        """Give the stretches of a ticket."""
        return [each for each in self.stretches if each.ticket == number]

    def only(self, numbers: Collection[str]) -> "Clock":
        """Give what it says of some tickets."""
        return Clock(
            stretches=tuple(each for each in self.stretches if each.ticket in numbers),
            running={number: since for number, since in self.running.items() if number in numbers},
            minutes={number: much for number, much in self.minutes.items() if number in numbers},
            done=self.done & frozenset(numbers),
        )

    @property
    def whole(self) -> dict[str, int]:
        """Give the minutes of tickets that are done and of which no stretch was forgotten."""
        doubtful = {each.ticket for each in self.stretches if each.forgotten}
        return {n: much for n, much in self.minutes.items() if n in self.done and n not in doubtful and much > 0}


def clock_of(documents: Iterable[Document], ends: Mapping[str, datetime], shop: Shop, now: datetime) -> Clock:
    """Add up what was worked until a moment.

    Parameters
    ----------
    documents : iterable of Document
        By which work was begun and paused, those that stand.
    ends : mapping of str to datetime
        When tickets were finished or cancelled, until that moment.
    shop : Shop
        Its hours, and how many work at the bench.
    now : datetime
        The moment.
    """
    about: dict[str, list[Document]] = {}
    for document in sorted(documents, key=lambda d: (d.happened, d.id or 0)):
        if document.happened <= now and document.kind in (DocumentKind.BEGUN, DocumentKind.PAUSED):
            about.setdefault(document.subject, []).append(document)
    hours = open_hours(shop.open_hours)
    stretches: list[Stretch] = []
    running: dict[str, datetime] = {}
    for number, mine in sorted(about.items()):
        found, since = _stretches(mine, ends.get(number), now, hours)
        stretches += found
        if since is not None:
            running[number] = since
    minutes = {number: round(much) for number, much in minutes_worked(stretches, shop.bench_heads).items()}
    return Clock(
        stretches=tuple(stretches), running=running, minutes=minutes, done=frozenset(about.keys() & ends.keys())
    )


def _stretches(
    mine: Sequence[Document], ended: datetime | None, now: datetime, hours: OpenHours
) -> tuple[list[Stretch], datetime | None]:
    """Put the stretches of a ticket together; gives since when it runs, too, if it does."""
    found: list[Stretch] = []
    since: datetime | None = None
    for document in mine:
        ticket, when, stated = document.subject, document.happened, document.content.get("minutes")
        if document.kind is DocumentKind.BEGUN:
            if since is not None and since.date() < when.date():  # nobody ended it on its day
                found.append(_stretch(ticket, since, when, hours))
                since = None
            since = since or when
        elif isinstance(stated, int):
            found.append(Stretch(ticket=ticket, began=since or when, ended=when, stated=stated))
            since = None
        elif since is not None:
            found.append(_stretch(ticket, since, when, hours))
            since = None
    if since is None:
        return found, None
    over = ended is not None and ended >= since
    found.append(_stretch(mine[0].subject, since, ended if over and ended else now, hours))
    return found, None if over else since


def _stretch(ticket: str, began: datetime, ended: datetime, hours: OpenHours) -> Stretch:
    """Give a stretch; one that was not ended on its day is cut off where the shop closed."""
    if ended.date() == began.date():
        return Stretch(ticket=ticket, began=began, ended=ended)
    closes = hours.closes(began.date())
    latest = min(began + UNKNOWN_END, datetime.combine(began.date(), time.max.replace(microsecond=0)))
    end = closes if closes is not None and closes > began else latest
    return Stretch(ticket=ticket, began=began, ended=end, forgotten=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobMinutes:
    """How long a pair of a job takes."""

    job: str
    stated: int | None  # minutes on the price list; None: none
    tickets: int  # measured
    mean: float | None = None  # of those, far ones pulled in
    least: float | None = None  # the mean lies between them, nine times in ten
    most: float | None = None

    @property
    def believed(self) -> float | None:
        """Give the minutes to reckon with: the mean, drawn to those stated; None where nobody knows."""
        if self.mean is None:
            return None if self.stated is None else float(self.stated)
        if self.stated is None:
            return self.mean
        return (STRENGTH * self.stated + self.tickets * self.mean) / (STRENGTH + self.tickets)


def learn_minutes(job: str, measured: Iterable[float], stated: int | None) -> JobMinutes:
    """Learn the minutes of a pair of a job from tickets measured.

    Parameters
    ----------
    job : str
        The job.
    measured : iterable of float
        Minutes for a pair, of each ticket; those of nothing are left out.
    stated : int, optional
        Minutes on the price list.

    Notes
    -----
    Times that lie more than three spreads from the middle, in logarithms, are pulled in to that bound, the spread being
    1.4826 times the median deviation; the minutes stated count as one more time for middle and spread. The range is
    Student's t, two-sided 90 %, of the times so pulled in.
    """
    times = sorted(time for time in measured if time > 0)
    if not times:
        return JobMinutes(job=job, stated=stated, tickets=0)
    near = pulled_in(times, stated)
    mean = sum(near) / len(near)
    if len(near) == 1:
        return JobMinutes(job=job, stated=stated, tickets=1, mean=mean)
    spread = sqrt(sum((time - mean) ** 2 for time in near) / (len(near) - 1))
    reach = student_quantile(len(near) - 1, (1 + CONFIDENCE) / 2) * spread / sqrt(len(near))
    return JobMinutes(
        job=job, stated=stated, tickets=len(near), mean=mean, least=max(mean - reach, 0.0), most=mean + reach
    )


def pulled_in(times: Sequence[float], stated: int | None) -> list[float]:
    """Pull times that lie far from the others in, so that a pause nobody entered does not move the mean."""
    logs = [log(time) for time in (*times, *([stated] if stated else []))]
    middle = median(logs)
    spread = max(NORMAL * median(abs(each - middle) for each in logs), LEAST_SPREAD)
    low, high = exp(middle - REACH * spread), exp(middle + REACH * spread)
    return [min(max(time, low), high) for time in times]


def scale_of(measured: Mapping[str, Sequence[float]], stated: Mapping[str, int | None]) -> float:
    """Say how widely minutes stray: variance over mean, of all jobs together; drawn to a usual one by eight tickets."""
    squares, means, n = STRENGTH * USUAL_SCALE, float(STRENGTH), STRENGTH
    for job, times in measured.items():
        near = pulled_in(sorted(time for time in times if time > 0) or [1.0], stated.get(job))
        if len(near) > 1:
            mean = sum(near) / len(near)
            freedom = len(near) - 1
            squares += sum((time - mean) ** 2 for time in near) / mean
            means += freedom
            n += freedom
    return squares / means
