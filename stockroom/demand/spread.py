"""How far off the chosen mean has been over past windows, and hence how wide the future is.

All spreads are relative variances beyond Poisson: a sum with mean m has variance m + spread * m^2, the negative
binomial's. Measured on whole windows they hold what one-step errors miss: levels that drift, weeks that hang
together, forecasts wrong for weeks on end.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.grouping import group_sums
from stockroom.demand.history import Floats

SHORT, LONG = 3, 8  # weeks: a lead time, and a lead time with its review period
FAMILY_WINDOWS = 12.0  # the family's spread counts as much as a year of one's own windows
USUAL_SPREAD = 0.3  # believed where nothing at all has been seen,
USUAL_WINDOWS = 0.1  # with the weight of so many windows
TINY = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spread:
    """Relative variances of each series, (n_series,).

    `short` and `long` are those of sums over SHORT and LONG weeks; `shared` is the part of `long` that moves a
    whole family together, `housed` the part of `shared` that moves the whole shop.
    """

    short: Floats
    long: Floats
    shared: Floats
    housed: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Windows:
    """Sums over one span of weeks from several past origins: what came and what was forecast.

    `actual` (NaN where any week is unknown), `mean` and `doubt` are (n_windows, n_series); `doubt` is the
    relative variance of the level's estimate at each origin; `family` is (n_series,). `overlap` is the span
    over the distance between windows, at least 1: overlapping windows tell less.
    """

    actual: Floats
    mean: Floats
    doubt: Floats
    family: NDArray[np.intp]
    overlap: float


def measure(windows: Windows) -> Floats:
    """Estimate each series' relative variance beyond Poisson and beyond the level's doubt, (n_series,).

    Notes
    -----
    Moments: E(e^2) = m + (v + doubt) m^2. Each series' own v is drawn to its family's line
    v = height + slope / m (sparse streams come in batches, whose variance goes with m, not m^2) with the
    weight of FAMILY_WINDOWS windows. A spread that rests on n windows is widened by 1 + 1/n, as the variance
    of a prediction is.
    """
    known, mean, miss = _misses(windows)
    square = (mean**2).sum(axis=0)
    own = (miss**2 - mean - windows.doubt * mean**2).sum(axis=0) / np.maximum(square, TINY)
    number = known.sum(axis=0)
    rarity = np.where(number > 0, mean.sum(axis=0) / np.maximum(square, TINY), 0.0)
    line = _family_line(own, rarity, number, windows.family)
    trust = number / windows.overlap * np.minimum(1.0, square / np.maximum(number, 1))
    drawn = (trust * own + FAMILY_WINDOWS * line) / (trust + FAMILY_WINDOWS)
    drawn *= 1 + 1 / (trust + FAMILY_WINDOWS)
    drawn_up: Floats = np.maximum(drawn, 0.0)
    return drawn_up


def shared_part(windows: Windows, groups: NDArray[np.intp]) -> Floats:
    """Relative covariance common to the members of each group, (n_series,).

    Notes
    -----
    E(e_i e_j) = c m_i m_j for every pair of members, so c is the sum of the cross products of misses over
    that of means; a group of one has none.
    """
    _, mean, miss = _misses(windows)
    cross = group_sums(miss, groups) ** 2 - group_sums(miss**2, groups)
    scale = group_sums(mean, groups) ** 2 - group_sums(mean**2, groups)
    shared: Floats = np.maximum(cross.sum(axis=0) / np.maximum(scale.sum(axis=0), TINY), 0.0)
    return shared[groups]


def _misses(windows: Windows) -> tuple[NDArray[np.bool_], Floats, Floats]:
    known = ~np.isnan(windows.actual)
    mean = np.where(known, windows.mean, 0.0)
    return known, mean, np.where(known, windows.actual - mean, 0.0)


def _family_line(own: Floats, rarity: Floats, number: NDArray[np.intp], family: NDArray[np.intp]) -> Floats:
    """Weighted line of relative variance over `rarity`, one over the usual sum, never falling nor negative."""
    weight = number / (1 + rarity) ** 2
    sums = [weight, weight * rarity, weight * rarity**2, weight * own, weight * rarity * own]
    n, nx, nxx, ny, nxy = group_sums(np.stack(sums), family)
    n, nxx, ny = n + USUAL_WINDOWS, nxx + TINY, ny + USUAL_WINDOWS * USUAL_SPREAD
    free = (n * nxy - nx * ny) / np.maximum(n * nxx - nx**2, TINY)
    slope = np.clip(free, 0.0, np.maximum(nxy / nxx, 0.0))
    height = np.maximum((ny - slope * nx) / n, 0.0)
    line: Floats = height[family] + slope[family] * rarity
    return line
