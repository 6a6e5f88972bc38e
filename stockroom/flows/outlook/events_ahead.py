"""Events as the forecast takes them: so many jobs more, so many per cent of the usual, or what past ones alike brought.

One with a number of jobs, or of pieces sold, adds just these to its weeks, and what a past one brought is no part of
the usual. Per cent of the usual are like open days: weeks at 130 say as much of the usual pace as others. One without a
size is learnt from past ones of its name: their sizes where they had any, else by the regression of the season.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from stockroom.demand.history import DAYS_IN_WEEK, Dates, Floats, Occasion, week_index
from stockroom.demand.paths import Paths
from stockroom.demand.streams import Streams
from stockroom.stock.calendar import Event, OpenDays
from stockroom.stock.recipes import Job


@dataclass(frozen=True, slots=True, kw_only=True)
class EventSize:
    """What an event is taken to bring."""

    event: Event
    jobs: float | None = None
    share: float | None = None  # of the usual
    alike: int = 0  # past ones it is learnt from
    occasion: bool = False  # what comes of it is for the season's regression to say
    pieces: float | None = None  # sold of the event's material, in the unit it is shown in

    @property
    def nothing(self) -> bool:
        """Whether nothing is known of what it brings."""
        return self.jobs is None and self.share is None and self.pieces is None and not self.occasion


def event_sizes(events: Sequence[Event], ahead: date, since: date) -> tuple[EventSize, ...]:
    """Say what each event brings; `ahead` is the first day of the weeks to come, `since` that of the past known.

    Notes
    -----
    A size that is learnt from k past ones is drawn to none as if one more had brought nothing.
    """
    by_name: dict[str, list[Event]] = {}
    for event in events:
        if since <= event.day and event.end < ahead:
            by_name.setdefault(event.name.casefold(), []).append(event)
    return tuple(_size(event, by_name.get(event.name.casefold(), ()), ahead) for event in events)


def _size(event: Event, past: Sequence[Event], ahead: date) -> EventSize:
    share = event.share if event.usual else None
    if event.sized:
        jobs, pieces = (None if said is None else float(said) for said in (event.jobs, event.pieces))
        return EventSize(event=event, jobs=jobs, share=share, pieces=pieces)
    alike = [each for each in past if event.job in ("", each.job)]
    counted = [each.jobs for each in alike if each.jobs is not None]
    shares = [each.share - 1 for each in alike if each.usual]
    sold = [each for each in alike if each.pieces is not None]
    job = event.job or next((each.job for each in reversed(alike)), "")
    like = replace(event, job=job)
    if event.end >= ahead and counted:
        return EventSize(event=like, jobs=sum(counted) / (len(counted) + 1), alike=len(counted))
    if event.end >= ahead and shares:
        return EventSize(event=like, share=1 + sum(shares) / (len(shares) + 1), alike=len(shares))
    if event.end >= ahead and sold:
        like = replace(event, material=sold[-1].material)
        mine = [each.pieces or 0 for each in sold if each.material == like.material]
        return EventSize(event=like, pieces=sum(mine) / (len(mine) + 1), alike=len(mine))
    return EventSize(event=event, alike=len(alike), occasion=bool(alike))


def as_sales(sizes: Iterable[EventSize]) -> tuple[EventSize, ...]:
    """Give the events that sell pieces, as sizes of what is sold: the material stands for the job."""
    return tuple(
        EventSize(event=replace(size.event, job=size.event.material, jobs=size.event.pieces), jobs=size.pieces)
        for size in sizes
        if size.event.material
    )


def occasions(sizes: Iterable[EventSize], families: Mapping[str, frozenset[str]]) -> tuple[Occasion, ...]:
    """Give the events whose effect the regression finds; `families` gives the groups that a family stands for."""
    found: dict[tuple[str, str], list[Event]] = {}
    for size in sizes:
        if size.occasion:
            found.setdefault((size.event.name, size.event.job), []).append(size.event)
    return tuple(
        Occasion(
            name=name,
            dates=tuple(np.datetime64(each.day, "D") for each in events),
            ends=tuple(np.datetime64(each.end, "D") for each in events),
            groups=families.get(job, frozenset({job})) if job else frozenset(),
        )
        for (name, job), events in found.items()
    )


def families_of(jobs: Iterable[Job]) -> dict[str, frozenset[str]]:
    """Give the codes of each family of jobs."""
    found: dict[str, set[str]] = {}
    for job in jobs:
        if job.family:
            found.setdefault(job.family, set()).add(job.code)
    return {name: frozenset(codes) for name, codes in found.items()}


def usual_shares(
    sizes: Iterable[EventSize],
    groups: Sequence[str],
    families: Mapping[str, frozenset[str]],
    weeks: Dates,
    open_days: OpenDays,
) -> Floats:
    """Part of the usual that events let come in each week, (n_series, n_weeks); `groups` are the series' jobs."""
    factor = np.ones((len(groups), len(weeks)))
    for size in sizes:
        if size.share is None:
            continue
        job = size.event.job
        concerned = families.get(job, {job}) if job else set(groups)
        rows = [row for row, group in enumerate(groups) if group in concerned]
        part = _by_week(size.event, weeks, open_days) / np.maximum(_worked(weeks, open_days), 1)
        factor[rows] *= 1 + part * (size.share - 1)
    return factor


def taken_out(
    use: Floats, sizes: Iterable[EventSize], jobs: Sequence[str], weeks: Dates, open_days: OpenDays
) -> Floats:
    """Take jobs that past events brought out of the weekly use of their streams: they are no part of the usual work."""
    left = use.copy()
    for size in sizes:
        if size.event.jobs is None:
            continue
        rows = [row for row, job in enumerate(jobs) if job == size.event.job]
        brought = size.event.jobs * _shares(size.event, weeks, open_days)
        there = np.nansum(left[rows], axis=0)
        left[rows] *= np.maximum(1 - brought / np.maximum(there, 1e-9), 0.0)
    return left


def with_events(
    paths: Paths,
    made: Streams,
    sizes: Iterable[EventSize],
    weeks: Dates,
    open_days: OpenDays,
    rng: np.random.Generator,
) -> Paths:
    """Add the jobs that events bring to the futures of their streams: as many as are said, on every path."""
    asked = np.bincount(made.facts.series, minlength=len(made.jobs))
    return with_more(paths, (made.jobs, asked), sizes, (weeks, open_days), rng)


def with_more(
    paths: Paths,
    series: tuple[Sequence[str], np.ndarray],
    sizes: Iterable[EventSize],
    calendar: tuple[Dates, OpenDays],
    rng: np.random.Generator,
) -> Paths:
    """Add what events bring to the futures of series, named by their jobs and shared out as they were asked for."""
    (jobs, asked), (weeks, open_days) = series, calendar
    mean, counts = paths.mean.copy(), paths.counts.copy()
    for size in sizes:
        rows = np.array([row for row, job in enumerate(jobs) if job == size.event.job], dtype=np.intp)
        if size.jobs is None or not len(rows):
            continue
        part = (asked[rows] + 1e-9) / (asked[rows] + 1e-9).sum()
        by_week = size.jobs * _shares(size.event, weeks, open_days)
        mean[rows] += part[:, None] * by_week
        for week, more in enumerate(_drawn(size, by_week, paths.n_paths, rng).T):
            if more.any():
                counts[:, rows, week] += rng.multinomial(more, part)
    return replace(paths, mean=mean, counts=counts)


def _drawn(size: EventSize, by_week: Floats, n_paths: int, rng: np.random.Generator) -> np.ndarray:
    """Draw how many jobs come in each week, (n_paths, n_weeks): what is said just so, what is learnt by chance."""
    if size.event.jobs is None:
        return rng.poisson(by_week, (n_paths, len(by_week)))
    # whole jobs each week, so shared out that each week's mean is its part of all, and their sum is always the same
    start = rng.random((n_paths, 1))
    steps = np.floor(np.concatenate([start, start + by_week.cumsum()], axis=1) + 1e-9)
    return np.diff(steps, axis=1).astype(np.int64)


def _shares(event: Event, weeks: Dates, open_days: OpenDays) -> Floats:
    """Part of an event that falls in each week, by the days worked; all on its first day where none is."""
    days = _worked_on(event, open_days) or [event.day]
    return _counted(days, weeks) / len(days)


def _by_week(event: Event, weeks: Dates, open_days: OpenDays) -> Floats:
    """Days worked of an event, by week."""
    return _counted(_worked_on(event, open_days), weeks)


def _worked_on(event: Event, open_days: OpenDays) -> list[date]:
    span = (event.end - event.day).days + 1
    return [day for n in range(span) if open_days.is_open(day := event.day + timedelta(days=n))]


def _counted(days: Sequence[date], weeks: Dates) -> Floats:
    columns = week_index(np.array(days, dtype="datetime64[D]"), weeks)
    within = columns[(columns >= 0) & (columns < len(weeks))]
    number: Floats = np.bincount(within, minlength=len(weeks)).astype(np.float64)
    return number


def _worked(weeks: Dates, open_days: OpenDays) -> Floats:
    """Days worked in each week."""
    first = weeks[0].astype(object)
    works = [open_days.is_open(first + timedelta(days=n)) for n in range(len(weeks) * DAYS_IN_WEEK)]
    worked: Floats = np.array(works).reshape(-1, DAYS_IN_WEEK).sum(axis=1).astype(np.float64)
    return worked
