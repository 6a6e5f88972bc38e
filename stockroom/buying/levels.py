"""Stock levels by the textbook: what a plain order-up-to rule would order, to compare with."""

from statistics import NormalDist

import numpy as np

from stockroom.buying.problem import FloatArray


def order_up_to(mean: FloatArray, spread: FloatArray, periods: FloatArray, service: float) -> FloatArray:
    """Level that lasts `periods` with chance `service` when demand is normal, per item."""
    level: FloatArray = mean * periods + NormalDist().inv_cdf(service) * spread * np.sqrt(periods)
    return level


def packs_to(position: FloatArray, low: FloatArray, high: FloatArray, pack: FloatArray) -> FloatArray:
    """Whole packs up to `high` for items whose position is below `low`: the (s, S) family of rules."""
    packs = np.ceil(np.maximum(high - position, 0.0) / pack - 1e-9)
    return np.where(position < low, np.maximum(packs, 1.0), 0.0)
