"""The regression at the bottom of the room: normal noise, normal prior, one QR decomposition."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """What a normal regression believes about its coefficients."""

    mean: Floats
    covariance: Floats
    residual_sum: float
    rank: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """Belief about the coefficients before looking."""

    mean: Floats
    covariance: Floats


def posterior(
    design: Floats, observed: Floats, *, noise: Floats | None = None, prior: Prior | None = None
) -> Posterior:
    """Posterior of the coefficients of ``observed = design @ coefficients + noise``.

    Parameters
    ----------
    design : ndarray, shape (n, p)
        Any units; columns may differ in scale by many powers of ten.
    observed : ndarray, shape (n,)
        The left-hand side.
    noise : ndarray, shape (n, n), optional
        Covariance of the noise; the identity when left out.
    prior : Prior, optional
        Normal prior; flat when left out, which makes this generalised least squares.

    Returns
    -------
    Posterior
        Mean (p,), covariance (p, p) for the given noise (not rescaled by the residuals), the whitened
        sum of squared residuals of the observations alone, and the number of coefficients pinned down.

    Raises
    ------
    ValueError
        If shapes disagree, anything is not finite, or a flat prior leaves the coefficients undetermined.

    Notes
    -----
    Mixed estimation (Theil and Goldberger 1961): the prior is stacked under the whitened observations as p more
    rows, and the whole solved by QR with columns scaled to unit length, which keeps ten digits on badly conditioned
    sets.
    """
    _check(design, observed)
    rows, left = _whiten(design, observed, noise)
    stacked, target = _stack(rows, left, prior)
    mean, covariance = _solve(stacked, target)
    misfit = left - rows @ mean
    return Posterior(mean=mean, covariance=covariance, residual_sum=float(misfit @ misfit), rank=mean.size)


def _check(design: Floats, observed: Floats) -> None:
    if design.ndim != 2 or observed.shape != design.shape[:1]:  # noqa: PLR2004 -- two dimensions
        msg = f"design {design.shape} and observed {observed.shape} do not belong together"
        raise ValueError(msg)
    if not (np.isfinite(design).all() and np.isfinite(observed).all()):
        raise ValueError("design and observed must be finite")


def _whiten(design: Floats, observed: Floats, noise: Floats | None) -> tuple[Floats, Floats]:
    if noise is None:
        return design, observed
    root = np.linalg.cholesky(noise)
    both = solve_triangular(root, np.column_stack([design, observed]), lower=True)
    return both[:, :-1], both[:, -1]


def _stack(rows: Floats, left: Floats, prior: Prior | None) -> tuple[Floats, Floats]:
    if prior is None:
        return rows, left
    root = np.linalg.cholesky(prior.covariance)
    both = solve_triangular(root, np.column_stack([np.eye(prior.mean.size), prior.mean]), lower=True)
    return np.vstack([rows, both[:, :-1]]), np.concatenate([left, both[:, -1]])


def _solve(stacked: Floats, target: Floats) -> tuple[Floats, Floats]:
    scale = np.sqrt((stacked**2).sum(axis=0))
    if stacked.shape[0] < stacked.shape[1] or not scale.all():
        raise ValueError("the observations do not determine every coefficient; give a prior")
    orthogonal, upper = np.linalg.qr(stacked / scale)
    if np.abs(np.diag(upper)).min() < np.finfo(float).eps * stacked.shape[0]:
        raise ValueError("two columns of the design say the same; give a prior")
    mean = solve_triangular(upper, orthogonal.T @ target) / scale
    inverse = solve_triangular(upper, np.eye(scale.size)) / scale[:, None]
    return mean, inverse @ inverse.T
