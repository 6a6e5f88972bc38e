"""Sudden losses and miscounts, told apart from steady bias."""

import numpy as np
from numpy.typing import NDArray

from stockroom.counting.frame import Frame

Floats = NDArray[np.float64]

CHANCE = 0.01  # prior chance that any one interval hides a one-off, or any one count is wrong
ENOUGH = 0.02  # a change of chance too small to follow
ROUNDS = 30


def shock_variances(of: Frame, covariance: Floats) -> tuple[Floats, Floats]:
    """Find one-offs and the extra variance that takes them out of the argument.

    Parameters
    ----------
    of : Frame
        n intervals.
    covariance : ndarray, shape (n, n)
        Marginal covariance of the departures: noise plus what the prior of the ratios and waste allows.

    Returns
    -------
    chances : ndarray, shape (2 n + 1,)
        Chance of a one-off in each interval (n), then of a miscount in each count (n + 1).
    variances : ndarray, shape (2 n + 1,)
        Variance to add along each of those directions.

    Notes
    -----
    Each direction's one-off is 0 or normal with the frame's `slab` variance (Box and Tiao 1968). Leaving the
    direction out, its departure has leave-one-out variance s2 = 1 / (d' K d); its weight is the average of 1 / s2
    and 1 / (s2 + slab) by the chance of each, the E-step of the scale mixture (West 1984). The direction whose
    chance moves most is updated first, so a large loss is taken out before its neighbours are judged by it.
    """
    each = ways(of)
    variances = np.zeros(each.shape[1])
    chances = np.zeros(each.shape[1])
    inverse = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
    for _ in range(ROUNDS):
        score, weight = _left_out(inverse, each, of.departure, variances)
        fresh = _chance(score, weight, of.slab)
        widest = int(np.abs(fresh - chances).argmax())
        if abs(fresh[widest] - chances[widest]) < ENOUGH:
            break
        wanted = _variance(fresh[widest], weight[widest], of.slab)
        inverse = _add(inverse, each[:, widest], wanted - variances[widest])
        variances[widest], chances[widest] = wanted, fresh[widest]
    return chances, variances


def ways(of: Frame) -> Floats:
    """Directions one-offs can take: n intervals, then n + 1 counts; shape (n, 2 n + 1)."""
    return np.hstack([np.eye(of.departure.size), of.steps])


def _left_out(inverse: Floats, each: Floats, departure: Floats, variances: Floats) -> tuple[Floats, Floats]:
    """Score and weight of each direction as if it had no extra variance yet."""
    turned = inverse @ each
    weight = (each * turned).sum(axis=0)
    kept = 1.0 / (1.0 - variances * weight)
    return (departure @ turned) * kept, weight * kept


def _chance(score: Floats, weight: Floats, slab: float) -> Floats:
    grown = 1.0 + slab * weight
    log_odds = np.log(CHANCE / (1 - CHANCE)) - 0.5 * np.log(grown) + 0.5 * score**2 * slab / grown
    made: Floats = 1.0 / (1.0 + np.exp(-np.clip(log_odds, -700, 700)))
    return made


def _variance(chance: float, weight: float, slab: float) -> float:
    alone = 1.0 / weight
    return float(1.0 / ((1 - chance) / alone + chance / (alone + slab)) - alone)


def _add(inverse: Floats, way: Floats, change: float) -> Floats:
    """Rank-one update of an inverse (Sherman and Morrison 1950)."""
    turned = inverse @ way
    made: Floats = inverse - np.outer(turned, turned) * (change / (1.0 + change * float(way @ turned)))
    return made


def shock_covariance(of: Frame, variances: Floats) -> Floats:
    """Covariance the one-offs add to the departures, shape (n, n)."""
    each = ways(of)
    made: Floats = (each * variances) @ each.T
    return made
