"""Steady losses: what leaves the shelf by the day rather than by the job, and how common that is in this shop."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, logsumexp

from stockroom.counting.lessons import Spreads
from stockroom.counting.linear_model import LinearModel, loss_noise, solve_lower

Floats = NDArray[np.float64]

LARGER = (0.12, 0.5)  # of use: solvents that dry up, thread that walks
UNEVEN = (0.0, 1.0)  # the same every day, or now nothing and now much


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """A kind of steady loss."""

    size: float  # usual size, as a share of use
    uneven: float  # one day's loss: its standard deviation over its mean


# A material loses what is usual in the shop, or a larger share of its use.
USUAL_SHARES = np.array([0.88, 0.04, 0.04, 0.02, 0.02])  # of materials, before looking
WEIGHT = 12.0  # how many materials the prior counts for
STEPS = 8


def kinds(spreads: Spreads) -> tuple[Loss, ...]:
    """Give each kind of steady loss; the first is what is usual in the shop."""
    larger = [Loss(size=max(size, spreads.waste), uneven=uneven) for size in LARGER for uneven in UNEVEN]
    return (Loss(size=spreads.waste, uneven=0.0), *larger)


def loss_evidence(of: LinearModel, covariance: Floats, spreads: Spreads) -> Floats:
    """How well each kind of steady loss explains one material's counts.

    Parameters
    ----------
    of : Frame
        n intervals.
    covariance : ndarray, shape (n, n)
        Of the departures without any steady loss.
    spreads : Spreads
        What is usual in the shop.

    Returns
    -------
    ndarray, shape (k,)
        Log likelihood by kind, but for a term that is the same for all.

    Notes
    -----
    A half-normal rate r on the weeks w: with ``s = w' V^-1 w`` and ``t = w' V^-1 z`` its posterior before cutting is
    normal with variance ``v = 1 / (1 / size^2 + s)`` and mean ``v t``, and the evidence ``2 Phi(mean / sd) exp(v t^2
    / 2) sqrt(v) / size`` (completing the square).
    """
    if not of.departure.size:
        return np.zeros(USUAL_SHARES.size)
    return np.array([_evidence(of, covariance, each) for each in kinds(spreads)])


def _evidence(of: LinearModel, covariance: Floats, loss: Loss) -> float:
    weeks, size = of.design[:, -1] * of.rate, loss.size
    root = np.linalg.cholesky(covariance + np.diag((size * loss.uneven) ** 2 * loss_noise(of)))
    turned = solve_lower(root, np.column_stack([weeks, of.departure]))
    s, t, rest = (float(turned[:, a] @ turned[:, b]) for a, b in ((0, 0), (0, 1), (1, 1)))
    variance = 1.0 / (1.0 / size**2 + s)
    fit = float(log_ndtr(np.sqrt(variance) * t)) + 0.5 * (variance * t**2 - rest)
    return fit + 0.5 * float(np.log(variance)) - float(np.log(size) + np.log(np.diag(root)).sum())


def learn_shares(evidence: Sequence[Floats]) -> Floats:
    """Learn how common each kind of steady loss is, from all materials together: shape (k,).

    Notes
    -----
    EM for the shares of a finite mixture under a Dirichlet prior (Dempster, Laird and Rubin 1977).
    """
    shares = USUAL_SHARES
    for _ in range(STEPS if len(evidence) else 0):
        seen = np.sum([loss_chances(each, shares) for each in evidence], axis=0)
        shares = (WEIGHT * USUAL_SHARES + seen) / (WEIGHT + len(evidence))
    return shares


def loss_chances(evidence: Floats, shares: Floats) -> Floats:
    """Chance that one material loses in each way: shape (k,)."""
    logs = evidence + np.log(shares)
    made: Floats = np.exp(logs - logsumexp(logs))
    return made


def loss_covariance(of: LinearModel, chances: Floats, spreads: Spreads) -> Floats:
    """Covariance of what goes beyond the loss usual in the shop, by the chances of each kind, shape (n, n)."""
    each = kinds(spreads)
    beyond = max(float(chances @ np.square([one.size for one in each])) - spreads.waste**2, 0.0)
    uneven = float(chances @ np.square([one.size * one.uneven for one in each]))
    weeks = of.design[:, -1] * of.rate
    made: Floats = beyond * np.outer(weeks, weeks) + np.diag(uneven * loss_noise(of))
    return made
