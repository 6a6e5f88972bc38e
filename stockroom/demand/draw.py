"""From means and spreads to whole-number futures."""

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import Floats
from stockroom.demand.spread import LONG, SHORT, Spread

Groups = tuple[NDArray[np.intp], NDArray[np.intp]]
LEAST_SPREAD = 1e-6
BLOCK = 500_000  # numbers drawn at once: few enough to stay near the processor
LEAST_SHAPE = 0.02  # all of a block's use in one of its weeks, nearly always


def draw_counts(
    mean: Floats, spread: Spread, *, groups: Groups, rng: np.random.Generator, n_paths: int
) -> NDArray[np.int32]:
    """Sample weekly counts whose window sums have the spreads measured.

    Parameters
    ----------
    mean : (n_series, horizon) float
    spread : Spread
    groups : (house, family)
        Index of each series' calendar and family, two (n_series,) arrays.
    rng : numpy.random.Generator
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
    factor = _factors(spread, groups, rng, n_paths).astype(np.float32)
    shape = _weight_shape(spread)
    counts = np.empty((n_paths, n_series, horizon), dtype=np.int32)
    at_once = max(BLOCK // (n_paths * padded.shape[1]), 1)
    for start in range(0, n_series, at_once):
        part = slice(start, start + at_once)
        rate = _shares(padded[part], shape[part], rng, n_paths)[:, :, :horizon]
        counts[:, part] = rng.poisson(rate * factor[:, part, None])
    return counts


def _factors(spread: Spread, groups: Groups, rng: np.random.Generator, n_paths: int) -> Floats:
    wide = np.maximum(spread.long, LEAST_SPREAD)
    gamma = np.sort(rng.standard_gamma(1 / wide, (n_paths, len(wide))) * wide, axis=0)
    shared = np.clip(spread.shared / wide, 0.0, 1.0)
    housed = np.minimum(np.clip(spread.housed / wide, 0.0, 1.0), shared)
    house, family = (rng.standard_normal((n_paths, int(group.max()) + 1))[:, group] for group in groups)
    score = np.sqrt(housed) * house + np.sqrt(shared - housed) * family
    score += np.sqrt(1 - shared) * rng.standard_normal(gamma.shape)
    rank = np.argsort(np.argsort(score, axis=0), axis=0)
    factor: Floats = np.take_along_axis(gamma, rank, axis=0)
    return factor


def _weight_shape(spread: Spread) -> Floats:
    """Shape of the weeks' gamma weights: a share of SHORT in LONG such weeks is a beta variable."""
    excess = np.maximum((1 + spread.short) / (1 + spread.long) - 1, LEAST_SPREAD)
    shape: Floats = np.maximum(((LONG - SHORT) / (SHORT * excess) - 1) / LONG, LEAST_SHAPE)
    return shape


def _shares(mean: Floats, shape: Floats, rng: np.random.Generator, n_paths: int) -> NDArray[np.float32]:
    """Rates whose sum over each block of LONG weeks is the mean's, (n_paths, n_series, padded horizon)."""
    n_series, horizon = mean.shape
    size = (n_paths, n_series, horizon // LONG, LONG)
    rate = rng.standard_gamma(shape[:, None, None].astype(np.float32), size, dtype=np.float32)
    blocks = mean.reshape(size[1:]).astype(np.float32)
    rate *= blocks
    rate *= blocks.sum(axis=2, keepdims=True) / np.maximum(rate.sum(axis=3, keepdims=True), np.float32(1e-30))
    return rate.reshape(n_paths, n_series, horizon)
