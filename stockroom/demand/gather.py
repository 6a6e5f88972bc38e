"""Dated facts into weekly history: sums per week, open shares, censored weeks."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stockroom.demand.history import DAYS_IN_WEEK, WEEK, Dates, Floats

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
