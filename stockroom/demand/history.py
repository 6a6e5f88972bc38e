"""What was used, week by week, and what is known of the weeks to come."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Dates = NDArray[np.datetime64]
WEEK = np.timedelta64(7, "D")
DAYS_IN_WEEK = 7
WEEKS_IN_YEAR = 365.25 / 7
MONTHS_IN_YEAR = 12.0
MONTH_DAYS = (28, 31)  # fewest and most
BEYOND_CHANCE = 1e-6  # a spell of idle weeks less likely than this was a pause,
LEAST_PAUSE = 3  # if it had so many weeks,
BESIDE = 13  # weeks before and after,
BUSY = 7  # of which so many were busy before
SELDOM = 1e-3  # and which after make the spell less likely than this,
SLACK = 0.5  # and brought more than this part of the usual in another year


@dataclass(frozen=True, slots=True, kw_only=True)
class Occasion:
    """A named time of year that moves demand, such as the return to school: its days, past and future.

    Where it lasts several days, `ends` holds the last of each. `groups` names those it concerns; empty: all.
    """

    name: str
    dates: tuple[np.datetime64, ...]
    ends: tuple[np.datetime64, ...] = ()
    groups: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Borrowing:
    """From which series' rates those that are new take what is usual.

    `rows` (n_young,) are the series that borrow; `weights` (n_young, n_series) make their rates of all the others'.
    """

    rows: NDArray[np.intp]
    weights: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class History:
    """Weekly use of several demand streams, in a declared and checked shape.

    Months do as well: where the days are a month apart, each column is a month, 'week' reads as 'month' everywhere, and
    the season has twelve columns.

    Parameters
    ----------
    use : (n_series, n_weeks) float
        Units used in each week. NaN where nothing can be learnt: before the series began, or the week was
        censored because the stream was out of stock. Zero is a real, idle week.
    weeks : (n_weeks,) or (n_series, n_weeks) datetime64[D]
        First day of each week, seven days apart (or of each month); NaT allowed before a series began.
    groups : sequence of str, optional
        Family of each series; patterns are shared within a family. One family by default.
    names : sequence of str, optional
        Name of each series; "0", "1", … by default.
    open_share : float array that broadcasts to (n_series, n_weeks), optional
        Part of the usual open days on which the shop was open. Weeks with share 0 become NaN in `use`.
    future_open : (n_future,) or (n_series, n_future) float, optional
        The same for the weeks after the last; weeks beyond the end count as fully open.
    occasions : sequence of Occasion, optional
        Named events, past and future.
    usual_year : (n_series, 12) float, optional
        What each month of the year is expected to bring, 1 on average, before the series' own use says anything.
    borrowing : Borrowing, optional
        From which others new series take what is usual; without it, from their family and house.

    Raises
    ------
    ValueError
        If shapes disagree, use or shares are negative or infinite, or weeks are neither seven days nor a month apart.
    """

    use: Floats
    weeks: Dates
    groups: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    open_share: Floats | None = None
    future_open: Floats | None = None
    occasions: tuple[Occasion, ...] = ()
    usual_year: Floats | None = None
    borrowing: Borrowing | None = None

    def __post_init__(self) -> None:
        use = np.array(self.use, dtype=np.float64)
        if use.ndim != 2:  # noqa: PLR2004 -- two axes
            raise ValueError(f"use must be (n_series, n_weeks), not {use.shape}")
        share = _shares(self.open_share, use.shape, "open_share")
        use[share == 0] = np.nan
        if np.any(use < 0) or np.any(np.isinf(use)):
            raise ValueError("use must be finite and not negative; NaN where unknown")
        rows = len(use)
        self._settle("use", use)
        self._settle("weeks", _checked_weeks(self.weeks, use.shape))
        self._settle("open_share", share)
        self._settle("groups", _labels(self.groups, rows, "groups") or ("all",) * rows)
        self._settle("names", _labels(self.names, rows, "names") or tuple(map(str, range(rows))))
        if self.future_open is not None:
            ahead = np.asarray(self.future_open).shape[-1]
            self._settle("future_open", _shares(self.future_open, (rows, ahead), "future_open"))

    def _settle(self, field: str, value: object) -> None:
        if isinstance(value, np.ndarray):
            value.setflags(write=False)
        object.__setattr__(self, field, value)

    @property
    def n_series(self) -> int:
        """How many demand streams."""
        return int(self.use.shape[0])

    @property
    def n_weeks(self) -> int:
        """How many weeks of history."""
        return int(self.use.shape[1])

    @property
    def season(self) -> float:
        """How many columns a year has: weeks, or months."""
        return MONTHS_IN_YEAR if self.monthly else WEEKS_IN_YEAR

    @property
    def monthly(self) -> bool:
        """Whether each column is a month."""
        return self.n_weeks > 1 and _by_months(np.diff(self.weeks[:, -2:], axis=1))

    @property
    def share(self) -> Floats:
        """Open share of each past week, (n_series, n_weeks)."""
        assert self.open_share is not None  # noqa: S101 -- set by __post_init__
        return self.open_share

    @property
    def rate(self) -> Floats:
        """Use per full open week, (n_series, n_weeks), NaN where unknown."""
        return self.use / np.where(self.share > 0, self.share, 1.0)

    def family_of(self) -> NDArray[np.intp]:
        """Index of each series' family, (n_series,): same group, same calendar."""
        groups = np.unique(np.array(self.groups, dtype=str), return_inverse=True)[1].reshape(-1)
        pairs = groups * (self.n_series + 1) + self.house_of()
        family: NDArray[np.intp] = np.unique(pairs, return_inverse=True)[1].reshape(-1)
        return family

    def house_of(self) -> NDArray[np.intp]:
        """Index of the calendar each series lives by, (n_series,): a shop's series all end in the same week."""
        if not self.n_weeks:
            return np.zeros(self.n_series, dtype=np.intp)
        return np.unique(self.weeks[:, -1], return_inverse=True)[1].reshape(-1)

    def houses(self) -> list[str]:
        """Name the calendar each series lives by."""
        return self.weeks[:, -1].astype(str).tolist() if self.n_weeks else [""] * self.n_series

    def families(self) -> list[str]:
        """Name each series' family: its group, and its calendar."""
        return [f"{group} {house}" for group, house in zip(self.groups, self.houses(), strict=True)]

    def own_names(self) -> list[str]:
        """Name each series, the second of a name as such, so that no two are called alike."""
        seen: Counter[str] = Counter()
        found = []
        for name in self.names:
            seen[name] += 1
            found.append(f"{name} ({seen[name]})" if seen[name] > 1 else name)
        return found

    def weeks_ahead(self, horizon: int) -> Dates:
        """First days of the coming weeks, (n_series, horizon)."""
        if not self.n_weeks:
            raise ValueError("a history without weeks has no coming weeks")
        return _stepped(self.weeks[:, -1:], np.arange(1, horizon + 1), monthly=self.monthly)

    def open_ahead(self, horizon: int) -> Floats:
        """Open share of the coming weeks, (n_series, horizon); unknown weeks count as fully open."""
        share = np.ones((self.n_series, horizon))
        if self.future_open is not None:
            known = min(horizon, self.future_open.shape[1])
            share[:, :known] = self.future_open[:, :known]
        return share

    def until(self, end: int) -> "History":
        """Return the history as it stood after its first `end` weeks, with what is now known of later closures."""
        later = self.share[:, end:]
        if self.future_open is not None:
            later = np.hstack([later, self.future_open])
        return History(
            use=self.use[:, :end],
            weeks=self.weeks[:, :end],
            groups=self.groups,
            names=self.names,
            open_share=self.share[:, :end],
            future_open=later,
            occasions=self.occasions,
            usual_year=self.usual_year,
            borrowing=self.borrowing,
        )


def _shares(value: Any, shape: tuple[int, ...], name: str) -> Floats:  # noqa: ANN401 -- anything array-like
    if value is None:
        return np.ones(shape)
    try:
        share = np.array(np.broadcast_to(np.asarray(value, dtype=np.float64), shape))
    except ValueError as error:
        raise ValueError(f"{name} of shape {np.shape(value)} does not fit {shape}") from error
    if not np.all(np.isfinite(share)) or np.any(share < 0):
        raise ValueError(f"{name} must be finite and not negative")
    return share


def _checked_weeks(value: Dates, shape: tuple[int, ...]) -> Dates:
    try:
        weeks = np.array(np.broadcast_to(np.asarray(value, dtype="datetime64[D]"), shape))
    except ValueError as error:
        raise ValueError(f"weeks of shape {np.shape(value)} do not fit {shape}") from error
    steps = np.diff(weeks, axis=1)
    steps = steps[~np.isnat(steps)]
    monthly = bool(len(steps)) and _by_months(steps)
    if not monthly and np.any(steps != WEEK):
        raise ValueError("weeks must be seven days apart, or all a month")
    if shape[1]:
        # dates before a series began are filled in, so that every week has a place in the year
        weeks = _stepped(weeks[:, -1:], -np.arange(shape[1])[::-1], monthly=monthly)
    if np.any(np.isnat(weeks)):
        raise ValueError("the last week of every series needs a date")
    return weeks


def _by_months(steps: NDArray[np.timedelta64]) -> bool:
    days = steps.astype(np.int64)
    return bool(np.all((days >= MONTH_DAYS[0]) & (days <= MONTH_DAYS[1])))


def _stepped(last: Dates, steps: NDArray[np.intp], *, monthly: bool) -> Dates:
    """Give the first days of weeks, or of months, so many steps from the last, (n_series, n_steps)."""
    if not monthly:
        weeks: Dates = last + WEEK * steps[None, :]
        return weeks
    months = last.astype("datetime64[M]") + steps[None, :].astype("timedelta64[M]")
    first: Dates = months.astype("datetime64[D]")
    return first


def _labels(value: Sequence[str], rows: int, name: str) -> tuple[str, ...]:
    labels = tuple(map(str, value))
    if labels and len(labels) != rows:
        raise ValueError(f"{len(labels)} {name} for {rows} series")
    return labels


EPOCH_WEEKDAY = 3  # 1 January 1970 was a Thursday; Monday is 0
EVERY_DAY = (0, 1, 2, 3, 4, 5, 6)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Facts:
    """Dated uses: parallel arrays of series index, day and quantity."""

    series: NDArray[np.intp]
    dates: Dates
    quantity: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "series", np.asarray(self.series, dtype=np.intp).reshape(-1))
        object.__setattr__(self, "dates", np.asarray(self.dates, dtype="datetime64[D]").reshape(-1))
        object.__setattr__(self, "quantity", np.asarray(self.quantity, dtype=np.float64).reshape(-1))
        if not len(self.series) == len(self.dates) == len(self.quantity):
            raise ValueError("series, dates and quantity must be equally long")


def weeks_until(as_of: np.datetime64, n_weeks: int) -> Dates:
    """Return first days of the `n_weeks` whole weeks that end the day before `as_of`.

    Weeks are blocks of seven days counted back from `as_of`, so the newest facts are never left out
    for want of a whole calendar week; pass a Monday to have weeks begin on Mondays.
    """
    last: Dates = np.full(n_weeks, as_of, dtype="datetime64[D]")
    return np.subtract(last, WEEK * np.arange(n_weeks, 0, -1), dtype=None)


def week_index(dates: ArrayLike, weeks: Dates) -> NDArray[np.intp]:
    """Column of the week each date falls in; negative or >= n_weeks when outside."""
    days = (np.asarray(dates, dtype="datetime64[D]") - weeks[0]).astype(np.int64)
    column: NDArray[np.intp] = np.floor_divide(days, DAYS_IN_WEEK).astype(np.intp)
    return column


def weekly_use(facts: Facts, weeks: Dates, *, n_series: int, began: Dates | None = None) -> Floats:
    """Sum dated uses by week.

    Parameters
    ----------
    facts : Facts
        Uses; those outside `weeks` are ignored, reversals may be negative.
    weeks : (n_weeks,) datetime64[D]
        First days of the weeks.
    n_series : int
        How many streams there are.
    began : (n_series,) datetime64[D], optional
        Day each stream could first be used. Without it a stream begins with the week of its first fact;
        NaT means the stream has not begun.

    Returns
    -------
    (n_series, n_weeks) float
        NaN before a stream began; a week whose reversals outweigh its uses counts as zero.
    """
    column = week_index(facts.dates, weeks)
    within = (column >= 0) & (column < len(weeks))
    cell = facts.series[within] * len(weeks) + column[within]
    if np.any((facts.series < 0) | (facts.series >= n_series)):
        raise ValueError("a fact names a series that does not exist")
    total = np.bincount(cell, facts.quantity[within], minlength=n_series * len(weeks))
    use = np.maximum(total.reshape(n_series, len(weeks)), 0.0)
    first = _first_columns(facts, weeks, n_series) if began is None else _began_columns(began, weeks)
    use[np.arange(len(weeks))[None, :] < first[:, None]] = np.nan
    return use


def _first_columns(facts: Facts, weeks: Dates, n_series: int) -> NDArray[np.intp]:
    first = np.full(n_series, len(weeks), dtype=np.intp)
    np.minimum.at(first, facts.series, week_index(facts.dates, weeks))
    return first


def _began_columns(began: Dates, weeks: Dates) -> NDArray[np.intp]:
    days = np.asarray(began, dtype="datetime64[D]")
    return np.where(np.isnat(days), len(weeks), week_index(np.where(np.isnat(days), weeks[0], days), weeks))


def open_share(weeks: Dates, closed: ArrayLike, weekdays: Sequence[int] = EVERY_DAY) -> Floats:
    """Part of the usual open days on which the shop was (or will be) open.

    Parameters
    ----------
    weeks : (n_weeks,) datetime64[D]
        First days of the weeks.
    closed : array of datetime64[D]
        Days closed; days that are not usual open days do not matter.
    weekdays : sequence of int
        Usual open weekdays, Monday = 0.

    Returns
    -------
    (n_weeks,) float in [0, 1]
    """
    usual = np.unique(np.asarray(weekdays, dtype=np.int64))
    if not len(usual):
        raise ValueError("a shop that never opens has no open share")
    shut = np.unique(np.asarray(closed, dtype="datetime64[D]").reshape(-1))
    counted = np.isin((shut.astype(np.int64) + EPOCH_WEEKDAY) % DAYS_IN_WEEK, usual)
    column = week_index(shut[counted], weeks)
    column = column[(column >= 0) & (column < len(weeks))]
    return 1.0 - np.bincount(column, minlength=len(weeks)) / len(usual)


def censor(use: Floats, short: NDArray[np.bool_]) -> Floats:
    """Replace by NaN the weeks in which a stream was out of stock, unless more was used than in its usual week.

    Parameters
    ----------
    use : (n_series, n_weeks) float
        Weekly use.
    short : (n_series, n_weeks) bool
        Whether the stream ran out during the week.

    Notes
    -----
    A short week's use is a lower bound of demand. Where the bound already exceeds the mean of the weeks not
    short it is informative and kept; dropping it would bias the level down.
    """
    whole = np.where(short, 0.0, np.nan_to_num(use))
    seen = np.maximum((~short & ~np.isnan(use)).sum(axis=1), 1)
    usual = whole.sum(axis=1) / seen
    return np.where(short & ~(use > usual[:, None]), np.nan, use)


def without_pauses(history: History) -> History:
    """Take out the weeks in which a series, or all of a shop, paused: idle ones, since over, that chance rules out."""
    year, house = round(history.season), history.house_of()
    known = ~np.isnan(history.use)
    totals = group_sums(np.where(known, history.use, 0.0).T, house).T
    shops = np.where(group_sums(known.T.astype(np.float64), house).T > 0, totals, np.nan)
    paused = (_paused(history.use, year) | _paused(shops, year)[house]) & known
    return replace(history, use=np.where(paused, np.nan, history.use)) if paused.any() else history


def _paused(use: Floats, year: int) -> NDArray[np.bool_]:
    """Say in which weeks each series stood still for a reason that was no want of demand, (n_series, n_weeks).

    Notes
    -----
    With part p of the other weeks idle, n idle weeks on end have a chance of p^n; below BEYOND_CHANCE a shop was shut,
    or goods were not to be had. It was BUSY before, and by the weeks after such a spell is SELDOM, too: what was rare
    then is not held to what it is now, nor what was busy to what it was. A spell that has not ended may be the end of
    all, and one whose weeks were slack in another year is a season; both are left as they are.
    """
    n_weeks = use.shape[1]
    known = ~np.isnan(use)
    used = known & (use > 0)
    idle = known & ~used
    week = np.arange(n_weeks)
    last = np.maximum.accumulate(np.where(used, week, -1), axis=1)  # week of use before or at each
    following = np.minimum.accumulate(np.where(used, week, n_weeks)[:, ::-1], axis=1)[:, ::-1]
    spell = last + 1 + (n_weeks + 1) * np.arange(len(use))[:, None]
    long = _by_spell(idle, spell)
    others = known.sum(axis=1, keepdims=True) - long
    part = (idle.sum(axis=1, keepdims=True) - long + 1) / (others + 2)
    pause = idle & (following < n_weeks) & (long >= LEAST_PAUSE) & (long * np.log(part) < np.log(BEYOND_CHANCE))
    before, after = ((last + 1 - BESIDE, last + 1), (following, following + BESIDE))
    pause &= _among(used, *before) >= BUSY
    rare = (_among(idle, *after) + 1) / (_among(known, *after) + 2)
    pause &= long * np.log(rare) < np.log(SELDOM)
    usual = np.nansum(use, axis=1, keepdims=True) / np.maximum(others, 1)
    for shift in (-year, year) if pause.any() else ():
        then = np.roll(use, shift, axis=1)
        then[:, slice(shift, None) if shift < 0 else slice(shift)] = np.nan
        seen = _by_spell(pause & ~np.isnan(then), spell)
        came = _by_spell(np.where(pause, np.nan_to_num(then), 0.0), spell)
        pause &= ~((seen >= long / 2) & (came < SLACK * usual * seen))
    return np.asarray(pause, dtype=np.bool_)


def _among(which: NDArray[np.bool_], start: NDArray[np.intp], end: NDArray[np.intp]) -> NDArray[np.intp]:
    """Count weeks from `start` to before `end`."""
    sums = np.pad(which.cumsum(axis=1), ((0, 0), (1, 0)))
    first, last = (np.clip(each, 0, which.shape[1]) for each in (start, end))
    number: NDArray[np.intp] = np.take_along_axis(sums, last, axis=1) - np.take_along_axis(sums, first, axis=1)
    return number


def _by_spell(values: Floats | NDArray[np.bool_], spell: NDArray[np.intp]) -> Floats:
    """Sum over each spell, laid beside its weeks."""
    if not spell.size:
        return np.zeros(spell.shape)
    sums = np.asarray(np.bincount(spell.reshape(-1), values.reshape(-1).astype(np.float64)), dtype=np.float64)
    return sums[spell]


def group_sums(values: Floats, groups: NDArray[np.intp]) -> Floats:
    """Sum the last axis by group: (..., n_series) -> (..., n_groups).

    Parameters
    ----------
    values : (..., n_series) float
    groups : (n_series,) int
        Labels 0 to n_groups - 1, each of which occurs.
    """
    order = np.argsort(groups, kind="stable")
    first = np.flatnonzero(np.diff(groups[order], prepend=-1))
    if not len(first):
        return np.zeros((*values.shape[:-1], 0))
    total: Floats = np.add.reduceat(values[..., order], first, axis=-1)
    return total
