"""The shop's total: what all series of one calendar do together, smoothed, for the forecasts of each to follow.

One series has much to say of chance and little of the tide that moves all; their total has little chance in it.
"""

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import Floats, group_sums
from stockroom.demand.spread import LONG
from stockroom.demand.view import TINY, View, levels

PACES = np.array([0.02, 0.05, 0.1, 0.2, 0.3, 0.45, 0.6])  # of smoothing, of which each total takes its best
SETTLE = 13  # weeks before misses count
LEAST_WEEKS = 26  # of a whole total, below which nothing is followed
FOLLOWED = 0.5  # power of the total's movement that is followed
FURTHEST = 2.0  # times up or down, at most


def smoothed(series: Floats, paces: Floats = PACES, *, weight: Floats | float = 1.0) -> tuple[Floats, Floats]:
    """Smooth series exponentially, each at the pace that missed least, and give the levels after the last week.

    Parameters
    ----------
    series : (..., n_weeks) float, NaN where unknown
    paces : (n_paces,) float
        To choose from.
    weight : (..., n_weeks) float, optional
        How much each week says, 0 to 1.

    Returns
    -------
    (..., ) levels and paces
    """
    known = ~np.isnan(series)
    says = np.broadcast_to(weight, series.shape)
    level = np.take_along_axis(series, known.argmax(axis=-1)[..., None], axis=-1)[..., 0]
    held = np.repeat(np.nan_to_num(level)[..., None], len(paces), axis=-1)
    missed, count = np.zeros_like(held), np.zeros(held.shape[:-1])
    for week in range(series.shape[-1]):
        miss = np.where(known[..., week, None], series[..., week, None] - held, 0.0)
        much = says[..., week, None]
        missed += np.where(count[..., None] > SETTLE, much * miss**2, 0.0)
        count += known[..., week]
        held += paces * much * miss
    best = missed.argmin(axis=-1)
    return np.take_along_axis(held, best[..., None], axis=-1)[..., 0], paces[best]


def half_drift(series: Floats, pace: Floats) -> Floats:
    """Give what half the straight trend of each series adds to its level, on average over the LONG weeks ahead.

    Notes
    -----
    The theta method is simple smoothing with half the slope as its drift (Hyndman and Billah 2003).
    """
    known = ~np.isnan(series)
    number = np.maximum(known.sum(axis=-1), 2)
    age = np.where(known, known.cumsum(axis=-1) - 1.0, 0.0)
    value = np.where(known, series, 0.0)
    middle = age.sum(axis=-1) / number
    away = np.where(known, age - middle[..., None], 0.0)
    slope = (away * value).sum(axis=-1) / np.maximum((away**2).sum(axis=-1), TINY)
    ahead = (LONG + 1) / 2 - 1 + (1 - (1 - pace) ** number) / pace
    drift: Floats = slope / 2 * ahead
    return drift


def followed(view: View, mean: Floats, house: NDArray[np.intp], *, drift: bool) -> Floats:
    """Say by what to multiply forecasts so that they go half the way to their total's, (n_origins, n_series, 1).

    Parameters
    ----------
    view : View
    mean : (n_origins, n_series, horizon) float
        Forecasts per full open week.
    house : (n_series,) int
        Which total each belongs to.
    drift : bool
        Whether the total goes on by half its trend, or stays level.
    """
    year = (np.arange(view.use.shape[1]) < round(view.season)).astype(np.float64)
    usual = levels(view, year)
    used = group_sums(view.use.T, house).T
    member = (house == np.arange(len(used))[:, None]).astype(np.float64)
    expected = (member * usual[:, None]) @ view.exposure
    past = np.arange(view.use.shape[1]) < view.origins[:, None, None]
    total = np.where((expected > TINY) & past, used / np.maximum(expected, TINY), np.nan)
    there = np.where(past, expected, 0.0)
    weight = there / np.maximum(there.max(axis=-1, keepdims=True), TINY)  # a week of few series says little
    level, pace = smoothed(total, weight=weight)
    if drift:
        level = level + half_drift(total, pace)
    said = group_sums(mean[:, :, :LONG].sum(axis=2), house) / np.maximum(
        group_sums((usual[:, :, None] * view.ahead[:, :, :LONG]).sum(axis=2), house), TINY
    )
    enough = (weight.sum(axis=-1) >= LEAST_WEEKS) & (said > TINY)
    moved = np.where(enough, np.clip(level / np.maximum(said, TINY), 1 / FURTHEST, FURTHEST), 1.0)
    factor: Floats = (moved**FOLLOWED)[:, house, None]
    return factor
