"""How far off the chosen mean has been over past windows, and hence how wide the future is.

All spreads are relative variances beyond Poisson: a sum with mean m has variance m + spread * m^2, the negative
binomial's. Measured on whole windows they hold what one-step errors miss: levels that drift, weeks that hang
together, forecasts wrong for weeks on end.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import Floats

SHORT, LONG = 3, 8  # weeks: a lead time, and a lead time with its review period
FAMILY_WINDOWS = 4.0  # the family's spread counts as much as this many windows of one's own
USUAL_SPREAD = 0.3  # believed where nothing at all has been seen, with the weight of one window


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spread:
    """Relative variances of each series, (n_series,).

    `short` and `long` are those of sums over SHORT and LONG weeks; `shared` is the part that moves a whole
    family together.
    """

    short: Floats
    long: Floats
    shared: Floats


def window_sums(use: Floats, known: NDArray[np.bool_], starts: NDArray[np.intp], span: int) -> Floats:
    """Use over `span` weeks from each start, (n_starts, n_series), NaN where any week is unknown."""
    sums = np.full((len(starts), len(use)), np.nan)
    for row, start in enumerate(starts):
        part = slice(start, start + span)
        sums[row] = np.where(known[:, part].all(axis=1), use[:, part].sum(axis=1), np.nan)
    return sums


def measure(actual: Floats, mean: Floats, family: NDArray[np.intp], step: float) -> tuple[Floats, Floats]:
    """Estimate own and family-shared relative variance from past windows.

    Parameters
    ----------
    actual : (n_windows, n_series) float
        Sums that came, NaN where unknown.
    mean : (n_windows, n_series) float
        Sums forecast.
    family : (n_series,) int
    step : float
        Span of a window over distance between windows, at least 1: overlapping windows count for less.

    Returns
    -------
    own, shared : (n_series,) float

    Notes
    -----
    Moments: E(e^2) = m + v m^2, and E(e_i e_j) = c m_i m_j between members of a family. Each series' own
    v is drawn to the family's with weight `FAMILY_WINDOWS`.
    """
    known = ~np.isnan(actual)
    mean = np.where(known, mean, 0.0)
    miss = np.where(known, actual - mean, 0.0)
    surplus, square = (miss**2 - mean).sum(axis=0), (mean**2).sum(axis=0)
    own = surplus / np.maximum(square, 1e-9)
    weight = np.sqrt(square)
    pooled = (_family_sum(own * weight, family) + USUAL_SPREAD) / (_family_sum(weight, family) + 1)
    windows = known.sum(axis=0)
    trust = windows / step * np.minimum(1.0, square / np.maximum(windows, 1))
    drawn = (trust * own + FAMILY_WINDOWS * pooled[family]) / (trust + FAMILY_WINDOWS)
    return np.maximum(drawn, 0.0), _shared(miss, mean, family)[family]


def _family_sum(values: Floats, family: NDArray[np.intp]) -> Floats:
    return np.bincount(family, values, minlength=int(family.max()) + 1).astype(np.float64)


def _shared(miss: Floats, mean: Floats, family: NDArray[np.intp]) -> Floats:
    member = (family[:, None] == np.arange(family.max() + 1)).astype(np.float64)
    cross = (miss @ member) ** 2 - miss**2 @ member
    scale = (mean @ member) ** 2 - mean**2 @ member
    shared: Floats = np.maximum(cross.sum(axis=0) / np.maximum(scale.sum(axis=0), 1e-9), 0.0)
    return shared
