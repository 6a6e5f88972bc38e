"""How far off the chosen mean has been over past windows, and hence how wide the future is.

All spreads are relative variances beyond Poisson: a sum with mean m has variance m + spread * m^2, the negative
binomial's. Measured on whole windows they hold what one-step errors miss: levels that drift, weeks that hang
together, forecasts wrong for weeks on end.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.chance import Chance
from stockroom.demand.history import Floats, group_sums

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
class SpanSums:
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


def measure(windows: SpanSums) -> Floats:
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
    least: Floats = np.maximum(drawn, -windows.doubt.min(axis=0, initial=np.inf))
    return least


def shared_part(windows: SpanSums, groups: NDArray[np.intp]) -> Floats:
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


def _misses(windows: SpanSums) -> tuple[NDArray[np.bool_], Floats, Floats]:
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


LEAST_SPREAD = 1e-6
BLOCK = 500_000  # numbers drawn at once: few enough to stay near the processor
LEAST_SHAPE = 0.02  # all of a block's use in one of its weeks, nearly always


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawer(Chance):
    """Sources of chance of each series, family and house.

    `names` (n_series,) are different from each other; `houses` and `families` (n_series,) say with which others it
    moves.
    """

    names: Sequence[str]
    families: Sequence[str]
    houses: Sequence[str]

    def tides(self, kind: str, names: Sequence[str], n_paths: int) -> Floats:
        """Draw standard normals, one to a future, that all of a family or house have in common, (n_names, n_paths)."""
        found = {name: self.of(kind, name).standard_normal(n_paths) for name in dict.fromkeys(names)}
        return np.stack([found[name] for name in names])


def draw_counts(mean: Floats, spread: Spread, *, by: Drawer, n_paths: int) -> NDArray[np.int32]:
    """Sample weekly counts whose window sums have the spreads measured.

    Parameters
    ----------
    mean : (n_series, horizon) float
    spread : Spread
    by : Drawer
        Source of chance of each series and of what it moves with.
    n_paths : int

    Returns
    -------
    (n_paths, n_series, horizon) int32

    Notes
    -----
    A gamma factor with variance `long` scales a path's whole future; within each block of LONG weeks, gamma
    weights share the block's use out so that the sum over SHORT weeks has variance `short`; counts given
    their rates are Poisson. Factors of one shop and of one family are drawn together (normal copula by rank
    reordering, Iman and Conover 1982), leaving each series' own distribution as it is.
    """
    n_series, horizon = mean.shape
    padded = np.pad(mean, ((0, 0), (0, -horizon % LONG)), mode="edge")
    shape, wide = _weight_shape(spread), np.maximum(spread.long, LEAST_SPREAD)
    shared = np.clip(spread.shared / wide, 0.0, 1.0)
    housed = np.minimum(spread.housed / wide, shared)
    counts = np.empty((n_paths, n_series, horizon), dtype=np.int32)
    at_once = max(BLOCK // (n_paths * padded.shape[1]), 1)
    for start in range(0, n_series, at_once):
        part = slice(start, start + at_once)
        chance = [by.of("series", name) for name in by.names[part]]
        tide = np.sqrt(housed[part, None]) * by.tides("house", by.houses[part], n_paths)
        tide += np.sqrt((shared - housed)[part, None]) * by.tides("family", by.families[part], n_paths)
        factor = _factors(wide[part], np.sqrt(1 - shared[part]), tide, chance)
        rate = _shares(padded[part], shape[part], chance, n_paths)[:, :, :horizon]
        rate *= factor[:, :, None]
        for row, (one, expected) in enumerate(zip(chance, rate, strict=True), start=start):
            counts[:, row] = one.poisson(expected)
    return counts


def _factors(wide: Floats, own: Floats, tide: Floats, chance: Sequence[np.random.Generator]) -> NDArray[np.float32]:
    """Gamma factors of mean 1 and variance `wide`, ranked by tide plus `own` chance, (n_series, n_paths)."""
    n_paths = tide.shape[1]
    gamma = np.stack([one.standard_gamma(1 / each, n_paths) * each for one, each in zip(chance, wide, strict=True)])
    score = tide + own[:, None] * np.stack([one.standard_normal(n_paths) for one in chance])
    rank = np.argsort(np.argsort(score, axis=1), axis=1)
    factor: NDArray[np.float32] = np.take_along_axis(np.sort(gamma, axis=1), rank, axis=1).astype(np.float32)
    return factor


def _weight_shape(spread: Spread) -> Floats:
    """Shape of the weeks' gamma weights: a share of SHORT in LONG such weeks is a beta variable."""
    excess = np.maximum((1 + spread.short) / (1 + spread.long) - 1, LEAST_SPREAD)
    shape: Floats = np.maximum(((LONG - SHORT) / (SHORT * excess) - 1) / LONG, LEAST_SHAPE)
    return shape


def _shares(mean: Floats, shape: Floats, chance: Sequence[np.random.Generator], n_paths: int) -> NDArray[np.float32]:
    """Rates whose sum over each block of LONG weeks is the mean's, (n_series, n_paths, padded horizon)."""
    n_series, horizon = mean.shape
    size = (n_paths, horizon // LONG, LONG)
    rate = np.stack(
        [one.standard_gamma(np.float32(each), size, dtype=np.float32) for one, each in zip(chance, shape, strict=True)]
    )
    blocks = mean.reshape(n_series, 1, *size[1:]).astype(np.float32)
    rate *= blocks
    rate *= blocks.sum(axis=3, keepdims=True) / np.maximum(rate.sum(axis=3, keepdims=True), np.float32(1e-30))
    return rate.reshape(n_series, n_paths, horizon)
