"""Smoothing of intermittent demand: sizes and intervals or chances, each updated on its own occasions.

All take (n_series, n_weeks) use and a mask of the weeks known, and return the forecast held before each week and
after the last, (n_series, n_weeks + 1); weeks unknown change nothing. Before the first demand the forecast is 0.
"""

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import Floats


def croston_levels(use: Floats, known: NDArray[np.bool_], *, alpha: float) -> Floats:
    """Croston's method: smoothed size over smoothed interval.

    Parameters
    ----------
    use, known : (n_series, n_weeks)
    alpha : float
        Smooths both. Size starts at the first demand, interval at the number of weeks up to and with it.

    Notes
    -----
    Croston (1972).
    """
    size, gap = np.zeros(len(use)), np.ones(len(use))
    waited, begun = np.zeros(len(use)), np.zeros(len(use), dtype=bool)
    held = np.zeros((len(use), use.shape[1] + 1))
    for week in range(use.shape[1]):
        waited += known[:, week]
        hit = known[:, week] & (use[:, week] > 0)
        step = np.where(begun, alpha, 1.0)
        size = np.where(hit, size + step * (use[:, week] - size), size)
        gap = np.where(hit, gap + step * (waited - gap), gap)
        waited, begun = np.where(hit, 0.0, waited), begun | hit
        held[:, week + 1] = size / gap
    return held


def sba_factor(alpha: float) -> float:
    """Give the Syntetos-Boylan correction of Croston's upward bias (Syntetos and Boylan 2005): 1 - alpha/2."""
    return 1 - alpha / 2


def tsb_levels(use: Floats, known: NDArray[np.bool_], *, alpha: float, beta: float) -> Floats:
    """Teunter-Syntetos-Babai: smoothed size times smoothed chance, the chance falling in every idle week.

    Notes
    -----
    Teunter, Syntetos and Babai (2011). `alpha` smooths the size, started at the first demand; `beta` the
    chance of a demand, started at the first week's 0 or 1.
    """
    size, chance = np.zeros(len(use)), np.zeros(len(use))
    begun, started = np.zeros(len(use), dtype=bool), np.zeros(len(use), dtype=bool)
    held = np.zeros((len(use), use.shape[1] + 1))
    for week in range(use.shape[1]):
        seen = known[:, week]
        hit = seen & (use[:, week] > 0)
        size = np.where(hit, size + np.where(begun, alpha, 1.0) * (use[:, week] - size), size)
        chance = np.where(seen, chance + np.where(started, beta, 1.0) * (hit - chance), chance)
        begun, started = begun | hit, started | seen
        held[:, week + 1] = size * chance
    return held


def classify(use: Floats) -> tuple[Floats, Floats]:
    """Mean interval between demands and squared variation of their sizes, each (n_series,).

    Parameters
    ----------
    use : (n_series, n_weeks) float, NaN where unknown

    Notes
    -----
    Syntetos, Boylan and Croston (2005) call a series smooth (interval <= 1.32, variation <= 0.49), erratic
    (only the interval is low), intermittent (only the variation is) or lumpy. The first interval counts from
    the first week; sizes' variance has n - 1 in its denominator. No demand: infinite interval, variation 0.
    """
    hit = np.nan_to_num(use) > 0
    number = hit.sum(axis=1)
    known = np.cumsum(~np.isnan(use), axis=1)
    interval = np.where(hit, known, 0).max(axis=1, initial=0) / np.maximum(number, 1)
    mean = np.where(hit, use, 0.0).sum(axis=1) / np.maximum(number, 1)
    square = np.where(hit, (use - mean[:, None]) ** 2, 0.0).sum(axis=1) / np.maximum(number - 1, 1)
    variation = square / np.maximum(mean, 1e-12) ** 2
    return np.where(number > 0, interval, np.inf), variation


def at_origins(held: Floats, origins: NDArray[np.intp], *, horizon: int) -> Floats:
    """Flat forecasts from each origin, (n_origins, n_series, horizon)."""
    return np.repeat(held[:, origins].T[:, :, None], horizon, axis=2)
