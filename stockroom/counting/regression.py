"""The regression at the bottom of the room: normal noise, normal prior, one QR decomposition; many at once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """What a normal regression believes about its coefficients."""

    mean: Floats
    covariance: Floats
    residual_sum: Floats
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
    noise : ndarray, shape (..., n, n), optional
        Covariance of the noise; the identity when left out. Several are answered at once.
    prior : Prior, optional
        Normal prior; flat when left out, which makes this generalised least squares. Several covariances, shape
        (..., p, p), are answered at once; they broadcast with those of the noise.

    Returns
    -------
    Posterior
        Mean (..., p), covariance (..., p, p) for the given noise (not rescaled by the residuals), the whitened
        sum of squared residuals of the observations alone (...,), and the number of coefficients pinned down.

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
    whitened = _whiten(np.column_stack([design, observed]), noise)
    mean, covariance = _solve(whitened if prior is None else _on_prior(whitened, prior))
    misfit = whitened[..., -1] - (whitened[..., :-1] @ mean[..., None])[..., 0]
    return Posterior(mean=mean, covariance=covariance, residual_sum=(misfit**2).sum(axis=-1), rank=design.shape[1])


def _check(design: Floats, observed: Floats) -> None:
    if design.ndim != 2 or observed.shape != design.shape[:1]:  # noqa: PLR2004 -- two dimensions
        msg = f"design {design.shape} and observed {observed.shape} do not belong together"
        raise ValueError(msg)
    if not (np.isfinite(design).all() and np.isfinite(observed).all()):
        raise ValueError("design and observed must be finite")


def _whiten(both: Floats, noise: Floats | None) -> Floats:
    return both if noise is None else solve_lower(np.linalg.cholesky(noise), both)


def _on_prior(whitened: Floats, prior: Prior) -> Floats:
    """Stack the prior under the observations; the last column is the left-hand side."""
    size = prior.mean.size
    below = _whiten(np.column_stack([np.eye(size), prior.mean]), prior.covariance)
    several = np.broadcast_shapes(whitened.shape[:-2], below.shape[:-2])
    return np.concatenate([np.broadcast_to(part, several + part.shape[-2:]) for part in (whitened, below)], axis=-2)


def _solve(both: Floats) -> tuple[Floats, Floats]:
    rows, target = both[..., :-1], both[..., -1:]
    scale = np.sqrt((rows**2).sum(axis=-2))
    if rows.shape[-2] < rows.shape[-1] or not scale.all():
        raise ValueError("the observations do not determine every coefficient; give a prior")
    orthogonal, upper = np.linalg.qr(rows / scale[..., None, :])
    if np.abs(np.diagonal(upper, axis1=-2, axis2=-1)).min() < np.finfo(float).eps * rows.shape[-2]:
        raise ValueError("two columns of the design say the same; give a prior")
    mean = np.linalg.solve(upper, orthogonal.mT @ target)[..., 0] / scale
    inverse = np.linalg.solve(upper, np.eye(scale.shape[-1])) / scale[..., None]
    return mean, inverse @ inverse.mT


def solve_lower(lower: NDArray[np.floating], right: Floats) -> Floats:
    """Solve equations with lower triangles, shape (..., n, n), for a right-hand side (..., n, k), any number at once.

    Notes
    -----
    Turned about, a lower triangle is an upper one, and elimination leaves that as it is: what remains is the
    substitution of a triangular solver, for a whole stack of small matrices in one call.
    """
    turned = np.linalg.solve(lower[..., ::-1, ::-1], right[..., ::-1, :])
    return np.asarray(turned[..., ::-1, :], dtype=np.float64)
