"""How wrong recipes usually are in this shop, learnt from all materials together."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from stockroom.counting.frame import FLOOR, Frame
from stockroom.counting.lessons import Spreads

Floats = NDArray[np.float64]

STEPS = 12
STRIDE = 0.7  # most a log-variance may move in one step
BELIEF = 0.5  # sd of the log of each spread before looking: two times in three within a factor of 1.65


def learn_spreads(frames: Sequence[Frame], extras: Sequence[Floats], usual: Spreads) -> Spreads:
    """Find the spreads under which the counts of all materials are most likely.

    Parameters
    ----------
    frames : sequence of Frame
        One for each material.
    extras : sequence of ndarray, each (n, n)
        Covariance already set aside for one-offs.
    usual : Spreads
        Prior guess and starting point; each spread is log-normal around it.

    Returns
    -------
    Spreads
        Posterior mode.

    Notes
    -----
    Type-II maximum likelihood of a variance-components model by Fisher scoring on log variances: score ``(z'V^-1 K
    V^-1 z - tr V^-1 K) / 2``, information ``tr(V^-1 K V^-1 L) / 2`` (Searle, Casella and McCulloch 1992, ch. 6).
    """
    at = start = 2 * np.log([usual.shared, usual.line, usual.waste, usual.job])
    parts = [_components(each) for each in frames]
    for _ in range(STEPS):
        score, information = -(at - start) / (2 * BELIEF) ** 2, np.eye(4) / (2 * BELIEF) ** 2
        for each, part, extra in zip(frames, parts, extras, strict=True):
            slope, curve = _scoring(each, part * np.exp(at)[:, None, None], extra)
            score, information = score + slope, information + curve
        move = np.clip(np.linalg.solve(information, score), -STRIDE, STRIDE)
        at = at + move
        if np.abs(move).max() < 0.01:  # noqa: PLR2004 -- half a per cent of a spread
            break
    shared, line, waste, job = np.exp(at / 2).tolist()
    return Spreads(shared=shared, line=line, waste=waste, job=job)


def _components(of: Frame) -> Floats:
    """Covariance each spread brings when it is 1, shape (4, n, n)."""
    jobs, weeks = of.design[:, :-1], of.design[:, -1] * of.rate
    total = jobs.sum(axis=1)
    return np.array([np.outer(total, total), jobs @ jobs.T, np.outer(weeks, weeks), np.diag(of.job_noise)])


def _scoring(of: Frame, parts: Floats, extra: Floats) -> tuple[Floats, Floats]:
    inverse = np.linalg.inv(parts.sum(axis=0) + of.counting + extra + np.diag(of.known_noise + FLOOR))
    turned = inverse @ parts
    solved = inverse @ of.departure
    slope = 0.5 * ((parts @ solved) @ solved - np.trace(turned, axis1=1, axis2=2))
    flat = turned.reshape(len(parts), -1)
    curve = 0.5 * flat @ turned.transpose(0, 2, 1).reshape(len(parts), -1).T
    return slope, curve
