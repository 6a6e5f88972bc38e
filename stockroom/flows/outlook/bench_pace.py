"""How soon the bench comes to its tickets: learnt from those finished, for those open and those to come."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import DAYS_IN_WEEK, Floats
from stockroom.demand.lags import Ints, waiting_chances
from stockroom.stock.calendar import OpenDays
from stockroom.stock.tickets import Ticket, TicketState

RECENT = timedelta(days=365)  # tickets taken in since then say how long work waits now
ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BenchPace:
    """How long work waits at the bench, in days worked.

    `waits` and `early`, shape (n_kinds, LONGEST + 1), are chances of being done so many worked days after taking in,
    and before the day promised; row 0 is for jobs without tickets. `week_of` holds the week of each coming worked day.
    """

    kinds: Mapping[str, int]
    waits: Floats
    early: Floats
    week_of: Ints
    worked: "WorkedBy"
    first: date

    def kind(self, job: str) -> int:
        """Give the row of a job."""
        return self.kinds.get(job, 0)

    def weeks(self, ticket: Ticket, rng: np.random.Generator, n_paths: int) -> Ints:
        """Draw the week in which an open ticket is worked in each future, shape (n_paths,); beyond the last, never.

        One whose day has passed is for the next day worked: all it waits for may be a part.
        """
        kind, passed = self.kind(ticket.job), self.worked.before(self.first)
        if ticket.promised is not None:
            until = self.worked.by(ticket.promised) - passed - 1
            place = until - _drawn(self.early[kind, : max(until, 0) + 1], rng, n_paths) if until > 0 else np.zeros(1)
        else:
            waited = max(passed + 1 - self.worked.by(ticket.taken_in.date()), 0)
            place = _drawn(self.waits[kind, waited:], rng, n_paths)
        found = np.broadcast_to(place, n_paths).astype(np.intp)
        beyond = np.append(self.week_of, np.iinfo(np.intp).max)
        weeks: Ints = beyond[np.minimum(found, len(self.week_of))]
        return weeks


def _drawn(chances: Floats, rng: np.random.Generator, n: int) -> Ints:
    """Draw places by their chances; the first where none has any."""
    sums = chances.cumsum()
    if not sums.size or sums[-1] <= 0:
        return np.zeros(n, dtype=np.intp)
    places: Ints = np.searchsorted(sums, rng.random(n) * sums[-1], side="right")
    return places


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WorkedBy:
    """Counts of days worked since a day long ago."""

    since: date
    counts: NDArray[np.intp]  # by the end of each day

    def by(self, day: date) -> int:
        """Count those by the end of a day."""
        place = (day - self.since).days
        return int(self.counts[min(place, len(self.counts) - 1)]) if place >= 0 else 0

    def before(self, day: date) -> int:
        """Count those before a day."""
        return self.by(day - ONE_DAY)


def worked_by(open_days: OpenDays, since: date, until: date) -> WorkedBy:
    """Count the days worked of a span, both ends included."""
    n_days = (until - since).days + 1
    works = np.isin((since.weekday() + np.arange(n_days)) % DAYS_IN_WEEK, list(open_days.weekdays))
    for closed in open_days.closures:
        first, last = (closed.first - since).days, (closed.last - since).days + 1
        works[max(first, 0) : max(last, 0)] = False
    return WorkedBy(since=since, counts=works.cumsum())


def _come_to(ticket: Ticket, first: date, span: WorkedBy) -> int:
    """Count to the day on which the bench came to a ticket, -1 where it has not: finished, or should have been.

    What was finished after its day waited for a part, not for the bench; were that learnt, a shelf once empty would be
    filled later ever after.
    """
    days = [ticket.finished.date()] if ticket.finished else []
    days += [ticket.promised] if ticket.promised and (days or ticket.promised < first) else []
    return span.by(min(days)) if days else -1


def bench_day(ticket: Ticket) -> date:
    """Give the day the bench comes to a ticket: when it was finished, or should have been."""
    days = [ticket.promised] if ticket.promised else []
    days += [ticket.finished.date()] if ticket.finished else []
    return max(min(days, default=ticket.taken_in.date()), ticket.taken_in.date())


def bench_pace(tickets: Sequence[Ticket], open_days: OpenDays, first: date, weeks: int) -> BenchPace:
    """Learn the bench's pace from the tickets known.

    Parameters
    ----------
    tickets : sequence of Ticket
        As they stand: open, finished or cancelled.
    open_days : OpenDays
        When the shop works.
    first : date
        The first day that is ahead.
    weeks : int
        How far to look.
    """
    recent = [t for t in tickets if t.state is not TicketState.CANCELLED and t.taken_in.date() >= first - RECENT]
    kinds = {job: n for n, job in enumerate(sorted({t.job for t in recent}), start=1)}
    last = max((t.promised for t in recent if t.promised), default=first)
    last = max(last, first + timedelta(days=DAYS_IN_WEEK * weeks))
    span = worked_by(open_days, min((t.taken_in.date() for t in recent), default=first) - ONE_DAY, last)
    passed = span.before(first)
    taken = np.array([span.by(t.taken_in.date()) for t in recent], dtype=np.intp)
    ended = np.array([_come_to(t, first, span) for t in recent], dtype=np.intp)
    known = np.array([bool(t.finished) or t.state is TicketState.BOOKED for t in recent], dtype=np.bool_)
    kind = np.array([kinds[t.job] for t in recent], dtype=np.intp)
    done = ended >= 0
    days = np.maximum(np.where(done, ended, passed + 1) - taken, 0)
    due = np.array([span.by(t.promised) if t.promised else -1 for t in recent], dtype=np.intp)
    kept = done & (due >= 0)
    every, n_kinds = np.ones(int(kept.sum()), dtype=np.bool_), len(kinds) + 1
    ahead = (first + timedelta(days=n) for n in range(DAYS_IN_WEEK * weeks))
    return BenchPace(
        kinds=kinds,
        waits=waiting_chances(kind[known], days[known], done[known], n_kinds=n_kinds),
        early=waiting_chances(kind[kept], np.maximum(due - ended, 0)[kept], every, n_kinds=n_kinds),
        week_of=np.array([n // DAYS_IN_WEEK for n, day in enumerate(ahead) if open_days.is_open(day)], dtype=np.intp),
        worked=span,
        first=first,
    )
