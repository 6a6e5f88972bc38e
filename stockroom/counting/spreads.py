"""How wrong recipes usually are in this shop, learnt from all materials together."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockroom.counting.lessons import Spreads
from stockroom.counting.linear_model import FLOOR, LinearModel

Floats = NDArray[np.float64]

STEPS = 12
STRIDE = 0.7  # most a log-variance may move in one step
TOGETHER = 50_000  # numbers in a stack of matrices: what is worked on stays near the processor
BELIEF = 0.5  # sd of the log of each spread before looking: two times in three within a factor of 1.65


def learn_spreads(frames: Sequence[LinearModel], extras: Sequence[Floats], usual: Spreads) -> Spreads:
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
    Matrices of a few rows cost more in calls than in sums, so materials counted equally often share the calls.
    """
    at = start = 2 * np.log([usual.shared, usual.line, usual.waste, usual.job])
    stacks = [_stack(some) for some in _alike(frames, extras)]
    for _ in range(STEPS):
        found = [_scoring(stack, np.exp(at)) for stack in stacks]
        score = -(at - start) / (2 * BELIEF) ** 2 + sum(slope for slope, _ in found)
        information = np.eye(4) / (2 * BELIEF) ** 2 + sum(curve for _, curve in found)
        move = np.clip(np.linalg.solve(information, score), -STRIDE, STRIDE)
        at = at + move
        if np.abs(move).max() < 0.01:  # noqa: PLR2004 -- half a per cent of a spread
            break
    shared, line, waste, job = np.exp(at / 2).tolist()
    return Spreads(shared=shared, line=line, waste=waste, job=job)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stack:
    """Materials with the same number of intervals, n, one under another: one call of numpy serves all m of them."""

    departure: Floats  # (m, n, 1)
    parts: Floats  # (m, 4, n, n): covariance each spread brings when it is 1
    rest: Floats  # (m, n, n): covariance from all else


def _alike(frames: Sequence[LinearModel], extras: Sequence[Floats]) -> list[list[tuple[LinearModel, Floats]]]:
    """Put materials with the same number of intervals together, a stack's worth at a time."""
    by_size: dict[int, list[tuple[LinearModel, Floats]]] = {}
    for each, extra in zip(frames, extras, strict=True):
        by_size.setdefault(each.departure.size, []).append((each, extra))
    made = []
    for n, group in by_size.items():
        most = max(TOGETHER // max(n, 1) ** 2, 1)
        made += [group[at : at + most] for at in range(0, len(group), most)]
    return made


def _stack(some: Sequence[tuple[LinearModel, Floats]]) -> _Stack:
    return _Stack(
        departure=np.array([of.departure for of, _ in some])[..., None],
        parts=np.array([_components(of) for of, _ in some]),
        rest=np.array([of.counting + extra + np.diag(of.known_noise + FLOOR) for of, extra in some]),
    )


def _components(of: LinearModel) -> Floats:
    """Covariance each spread brings when it is 1, shape (4, n, n)."""
    jobs, weeks = of.design[:, :-1], of.design[:, -1] * of.rate
    total = jobs.sum(axis=1)
    return np.array([np.outer(total, total), jobs @ jobs.T, np.outer(weeks, weeks), np.diag(of.job_noise)])


def _scoring(of: _Stack, spreads: Floats) -> tuple[Floats, Floats]:
    parts = of.parts * spreads[:, None, None]
    inverse = np.linalg.inv(parts.sum(axis=1) + of.rest)
    turned = inverse[:, None] @ parts
    solved = inverse @ of.departure
    across = parts @ solved[:, None]
    slope = 0.5 * ((across * solved[:, None]).sum(axis=(2, 3)) - np.trace(turned, axis1=2, axis2=3))
    flat = turned.reshape(*turned.shape[:2], -1)
    curve = 0.5 * flat @ turned.mT.reshape(flat.shape).mT
    return slope.sum(axis=0), curve.sum(axis=0)
