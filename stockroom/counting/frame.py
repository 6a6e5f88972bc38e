"""One material's counts as a normal model in its simplest coordinates."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockroom.counting.lessons import Intervals, Spreads

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Departures from the recipes, scaled so that a usual interval's use is 1.

    Notes
    -----
    ``departure = design @ (true ratio - 1, waste) + job noise + counting noise + shocks``.  A count that reads e
    too high makes the interval before it look e smaller and the one after it e larger, so counting noise has the
    covariance ``steps diag(v) steps'`` with `steps` the (n, n + 1) difference matrix.
    """

    scale: float  # base units in one unit of this frame
    rate: float  # recorded use a week, scaled
    design: Floats  # (n, p + 1), last column weeks
    departure: Floats  # (n,)
    job_noise: Floats  # (n,), for a job spread of 1
    known_noise: Floats  # (n,): variance that is known beforehand
    steps: Floats  # (n, n + 1)
    counting: Floats  # (n, n): covariance from measuring
    slab: float  # variance of a one-off, scaled


def frame(known: Intervals) -> Frame:
    """Scale one material's intervals; a material never used keeps a scale of 1."""
    usual = known.expected.sum(axis=1)
    total = float(usual.sum() or np.abs(known.observed).sum())  # with no recipe at all, the counts set the scale
    scale = total / max(usual.size, 1) or 1.0
    per_use = np.divide(known.expected, known.times, out=np.zeros_like(known.expected), where=known.times > 0)
    steps = _steps(known.observed.size)
    stated = np.zeros(known.observed.size) if known.known_variance is None else known.known_variance
    return Frame(
        scale=scale,
        rate=total / scale / (float(known.weeks.sum()) or 1.0),
        design=np.column_stack([known.expected / scale, known.weeks]),
        departure=(known.observed - usual) / scale,
        job_noise=(known.expected * per_use).sum(axis=1) / scale**2,
        known_noise=stated / scale**2,
        steps=steps,
        counting=(steps * known.count_variance) @ steps.T / scale**2,
        slab=4.0,  # a one-off of two usual intervals' use is nothing strange
    )


def _steps(n: int) -> Floats:
    steps = np.zeros((n, n + 1))
    steps[np.arange(n), np.arange(n)] = 1.0
    steps[np.arange(n), np.arange(1, n + 1)] = -1.0
    return steps


FLOOR = 1e-6  # variance no interval goes below (a thousandth of its use): keeps exact counts solvable


def prior_covariance(of: Frame, spreads: Spreads) -> Floats:
    """Prior covariance of (ratio - 1 per line, waste a week), shape (p + 1, p + 1)."""
    lines = of.design.shape[1] - 1
    made = np.zeros((lines + 1, lines + 1))
    made[:lines, :lines] = spreads.shared**2 + np.diag(np.full(lines, spreads.line**2))
    made[lines, lines] = (spreads.waste * of.rate) ** 2 or 1e-12
    return made


def noise_covariance(of: Frame, job: float) -> Floats:
    """Covariance of the departures around the true use, without shocks, shape (n, n)."""
    return of.counting + np.diag(job**2 * of.job_noise + of.known_noise + FLOOR)
