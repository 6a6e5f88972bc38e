"""Sums over groups of series, at a cost that grows with the series alone."""

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import Floats


def group_sums(values: Floats, groups: NDArray[np.intp]) -> Floats:
    """Sum the last axis by group: (..., n_series) -> (..., n_groups).

    Parameters
    ----------
    values : (..., n_series) float
    groups : (n_series,) int
        Labels 0 to n_groups - 1, each of which occurs.
    """
    order = np.argsort(groups, kind="stable")
    first = np.flatnonzero(np.diff(groups[order], prepend=-1))
    if not len(first):
        return np.zeros((*values.shape[:-1], 0))
    total: Floats = np.add.reduceat(values[..., order], first, axis=-1)
    return total
