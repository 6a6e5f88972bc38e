"""Views without seasons, for tests of what stands on them."""

from collections.abc import Sequence

import numpy as np

from stockroom.demand.paths import Paths
from stockroom.demand.view import View


def flat_view(use: np.ndarray, *, origins: tuple[int, ...] = (), horizon: int = 8) -> View:
    known = ~np.isnan(use)
    at = np.array(origins or (use.shape[1],))
    return View(
        use=np.where(known, use, 0.0),
        exposure=np.broadcast_to(known.astype(float), (len(at), *use.shape)),
        ahead=np.ones((len(at), len(use), horizon)),
        family=np.zeros(len(use), dtype=np.intp),
        origins=at,
        open_weeks=known.astype(float),
    )


def quantiles(paths: Paths, levels: Sequence[float] | np.ndarray, span: int | None = None) -> np.ndarray:
    """Quantiles of the use over the first weeks, (n_series, n_levels)."""
    found: np.ndarray = np.quantile(paths.counts[:, :, :span].sum(axis=2), levels, axis=0).T
    return found
