"""What was used, week by week, and what is known of the weeks to come."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Dates = NDArray[np.datetime64]
WEEK = np.timedelta64(7, "D")
DAYS_IN_WEEK = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Occasion:
    """A named time of year that moves demand, such as the return to school: its first days, past and future."""

    name: str
    dates: tuple[np.datetime64, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class History:
    """Weekly use of several demand streams, in a declared and checked shape.

    Parameters
    ----------
    use : (n_series, n_weeks) float
        Units used in each week. NaN where nothing can be learnt: before the series began, or the week was
        censored because the stream was out of stock. Zero is a real, idle week.
    weeks : (n_weeks,) or (n_series, n_weeks) datetime64[D]
        First day of each week, seven days apart; NaT allowed before a series began.
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

    Raises
    ------
    ValueError
        If shapes disagree, use or shares are negative or infinite, or weeks are not seven days apart.
    """

    use: Floats
    weeks: Dates
    groups: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    open_share: Floats | None = None
    future_open: Floats | None = None
    occasions: tuple[Occasion, ...] = ()

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

    def weeks_ahead(self, horizon: int) -> Dates:
        """First days of the coming weeks, (n_series, horizon)."""
        if not self.n_weeks:
            raise ValueError("a history without weeks has no coming weeks")
        return self.weeks[:, -1:] + WEEK * np.arange(1, horizon + 1)[None, :]

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
    if np.any((steps != WEEK) & ~np.isnat(steps)):
        raise ValueError("weeks must be seven days apart")
    if shape[1]:
        # dates before a series began are filled in, so that every week has a place in the year
        weeks = weeks[:, -1:] - WEEK * np.arange(shape[1])[::-1][None, :]
    if np.any(np.isnat(weeks)):
        raise ValueError("the last week of every series needs a date")
    return weeks


def _labels(value: Sequence[str], rows: int, name: str) -> tuple[str, ...]:
    labels = tuple(map(str, value))
    if labels and len(labels) != rows:
        raise ValueError(f"{len(labels)} {name} for {rows} series")
    return labels
