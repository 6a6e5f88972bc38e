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
    shape, wide = _weight_shape(spread), np.maximum(spread.long, LEAST_SPREAD)
    shared = np.clip(spread.shared / wide, 0.0, 1.0)
    housed = np.minimum(spread.housed / wide, shared)
    house, family = (rng.standard_normal((_number(group), n_paths)) for group in groups)
    counts = np.empty((n_paths, n_series, horizon), dtype=np.int32)
    at_once = max(BLOCK // (n_paths * padded.shape[1]), 1)
    for start in range(0, n_series, at_once):
        part = slice(start, start + at_once)
        tide = np.sqrt(housed[part, None]) * house[groups[0][part]]
        tide += np.sqrt((shared - housed)[part, None]) * family[groups[1][part]]
        factor = _factors(wide[part], np.sqrt(1 - shared[part]), tide, rng)
        rate = _shares(padded[part], shape[part], rng, n_paths)[:, :, :horizon]
        counts[:, part] = rng.poisson(rate * factor.T[:, :, None])
    return counts


def _number(group: NDArray[np.intp]) -> int:
    return int(group.max(initial=-1)) + 1


def _factors(wide: Floats, own: Floats, tide: Floats, rng: np.random.Generator) -> NDArray[np.float32]:
    """Gamma factors of mean 1 and variance `wide`, ranked by tide plus `own` chance, (n_series, n_paths)."""
    gamma = rng.standard_gamma(1 / wide[:, None], tide.shape) * wide[:, None]
    score = tide + own[:, None] * rng.standard_normal(tide.shape)
    rank = np.argsort(np.argsort(score, axis=1), axis=1)
    factor: NDArray[np.float32] = np.take_along_axis(np.sort(gamma, axis=1), rank, axis=1).astype(np.float32)
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
