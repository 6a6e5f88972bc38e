"""Sudden losses and miscounts, told apart from steady bias."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from stockroom.counting.linear_model import LinearModel

Floats = NDArray[np.float64]

LOSS = 0.01  # prior chance that any one interval hides a one-off
MISCOUNT = 0.005  # and that any one count is wrong; less, so that what can only be guessed is called a loss
ENOUGH = 0.02  # a change of chance too small to follow
ROUNDS = 30
TINY = 1e-12  # keeps rounding from turning a certainty into a contradiction
LIKELY = 0.5
RIVAL = 3.0  # log odds: an explanation up to 20 times less likely than the best is kept in mind


def outlier_variances(of: LinearModel, covariance: Floats) -> tuple[Floats, Floats]:
    """Find one-offs and the extra variance that gives them no weight.

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
    and 1 / (s2 + slab) by the chance of each, the E-step of the scale mixture (West 1984). Doubts are dropped
    first, then the likeliest direction is taken in, so that a large loss is out before its neighbours are judged.
    """
    each = ways(of)
    variances = np.zeros(each.shape[1])
    chances = np.zeros(each.shape[1])
    inverse = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
    for _ in range(ROUNDS):
        score, weight = _left_out(inverse, each, of.departure, variances)
        odds = _log_odds(score, weight, of.slab)
        fresh = expit(odds)
        moved = np.abs(fresh - chances) > ENOUGH
        if not moved.any():
            break
        first = int(np.where(moved, np.where(fresh < chances, np.inf, odds), -np.inf).argmax())
        wanted = _variance(fresh[first], weight[first], of.slab)
        inverse = _add(inverse, each[:, first], wanted - variances[first])
        variances[first], chances[first] = wanted, fresh[first]
    return chances, _rivals_too(of, inverse, chances, variances)


def _rivals_too(of: LinearModel, inverse: Floats, chances: Floats, variances: Floats) -> Floats:
    """Set aside what explains a one-off nearly as well: a loss and a miscount beside it can't always be told apart."""
    each, made = ways(of), variances.copy()
    for way in np.flatnonzero(chances > LIKELY):
        others = variances.copy()
        others[way] = 0.0
        score, weight = _left_out(_add(inverse, each[:, way], -variances[way]), each, of.departure, others)
        odds = _log_odds(score, weight, of.slab)
        rivals = (each.T @ each[:, way] != 0) & (odds > odds[way] - RIVAL)
        made[rivals] = np.maximum(made[rivals], of.slab)
    return made


def ways(of: LinearModel) -> Floats:
    """Directions one-offs can take: n intervals, then n + 1 counts; shape (n, 2 n + 1)."""
    return np.hstack([np.eye(of.departure.size), of.steps])


def _left_out(inverse: Floats, each: Floats, departure: Floats, variances: Floats) -> tuple[Floats, Floats]:
    """Score and weight of each direction as if it had no extra variance yet."""
    turned = inverse @ each
    weight = (each * turned).sum(axis=0)
    kept = 1.0 / np.maximum(1.0 - variances * weight, TINY)
    return (departure @ turned) * kept, np.maximum(weight * kept, TINY)


def _log_odds(score: Floats, weight: Floats, slab: float) -> Floats:
    grown = 1.0 + slab * weight
    intervals = score.size // 2
    chance = np.repeat([LOSS, MISCOUNT], [intervals, intervals + 1])
    made: Floats = np.log(chance / (1 - chance)) - 0.5 * np.log(grown) + 0.5 * score**2 * slab / grown
    return made


def _variance(chance: float, weight: float, slab: float) -> float:
    alone = 1.0 / weight
    return float(1.0 / ((1 - chance) / alone + chance / (alone + slab)) - alone)


def _add(inverse: Floats, way: Floats, change: float) -> Floats:
    """Rank-one update of an inverse (Sherman and Morrison 1950)."""
    turned = inverse @ way
    made: Floats = inverse - np.outer(turned, turned) * (change / (1.0 + change * float(way @ turned)))
    return made


def outlier_covariance(of: LinearModel, variances: Floats) -> Floats:
    """Covariance the one-offs add to the departures, shape (n, n)."""
    each = ways(of)
    made: Floats = (each * variances) @ each.T
    return made
