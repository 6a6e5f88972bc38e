"""Levels: how fast each series is used, its season taken out, seen through kernels over its past."""

import numpy as np

from stockroom.demand.history import Floats
from stockroom.demand.view import View

PRIOR_COUNT = 0.5
FAMILY_COUNT = 20.0
DOUBT_KEEP = 0.97  # half a year's memory
TINY = 1e-9


def weighted(view: View, kernel: Floats) -> tuple[Floats, Floats]:
    """Weigh past use and exposure by age, two (n_origins, n_series) arrays; `kernel[j]` is for j weeks ago."""
    n_weeks = view.use.shape[1]
    age = view.origins[:, None] - 1 - np.arange(n_weeks)
    weights = np.where(age >= 0, kernel[np.maximum(age, 0)], 0.0)
    return weights @ view.use.T, (view.exposure @ weights[:, :, None])[:, :, 0]


def fading(view: View, keep: float) -> Floats:
    """Give the kernel that counts a week j weeks ago `keep`**j, (n_weeks,).

    Notes
    -----
    Use over exposure under this kernel is the posterior mean of a rate in the discounted gamma-Poisson model
    (Harvey and Fernandes 1989); with constant exposure it is simple exponential smoothing with constant
    1 - `keep`.
    """
    return np.power(keep, np.arange(view.use.shape[1]), dtype=np.float64)


def levels(view: View, kernel: Floats) -> Floats:
    """Weighted rate of each series, drawn a little towards its family's, (n_origins, n_series).

    The family's mean rate counts as `PRIOR_COUNT` units of use seen at that rate: next to nothing for a busy
    series, all there is for one that has just begun, and a floor under one that has fallen idle. The
    family's own is drawn to the house's in the same way.
    """
    count, exposure = weighted(view, kernel)
    house = count.sum(axis=1, keepdims=True) / np.maximum(exposure.sum(axis=1, keepdims=True), TINY)
    family = _drawn(view.by_family(count), view.by_family(exposure), house)
    return _drawn(count, exposure, family[:, view.family])


def _drawn(count: Floats, exposure: Floats, prior: Floats) -> Floats:
    return (count + PRIOR_COUNT) / (exposure + PRIOR_COUNT / np.maximum(prior, TINY))


def doubt(view: View) -> Floats:
    """Relative variance of a level's estimate, (n_origins, n_series): one over the units it rests on."""
    count, _ = weighted(view, fading(view, DOUBT_KEEP))
    return 1 / (PRIOR_COUNT + count)


def shared_levels(view: View, slow: Floats, *, kernel: Floats) -> Floats:
    """Slow levels moved by how much the whole family has lately used more than they promise, (n_origins, n_series).

    A family's movement is drawn to the house's as if it had used FAMILY_COUNT units more at that pace, and
    the house's to none: a family of few tickets follows the shop.
    """
    count, exposure = weighted(view, kernel)
    expected = slow * exposure
    house = (count.sum(axis=1) + FAMILY_COUNT) / (expected.sum(axis=1) + FAMILY_COUNT)
    used = view.by_family(count) + FAMILY_COUNT * house[:, None]
    factor = used / (view.by_family(expected) + FAMILY_COUNT)
    moved: Floats = slow * factor[:, view.family]
    return moved


def calm(view: View, origin: int) -> Floats:
    """Rates with the season as known at one origin (its index) taken out, gaps filled, (n_series, weeks known).

    For models that need unbroken series: unknown weeks take the series' mean.
    """
    weeks = int(view.origins[origin])
    exposure = view.exposure[origin, :, :weeks]
    use = view.use[:, :weeks]
    mean = use.sum(axis=1, keepdims=True) / np.maximum(exposure.sum(axis=1, keepdims=True), TINY)
    return np.where(exposure > 0, use / np.maximum(exposure, TINY), mean)
