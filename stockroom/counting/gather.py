"""Dated counts, job uses and other moves of one material -> its intervals between counts."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from stockroom.counting.lessons import Intervals

Floats = NDArray[np.float64]

WEEK = timedelta(weeks=1)
ROUNDING = 1e-9  # a billionth of a base unit: finer than the book
Event = TypeVar("Event", "Used", "Moved")


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """A count: what was found and one standard error of it, base units."""

    at: datetime
    amount: float
    error: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """One finished job's recipe line: what the recipe says it took, its size and choices included, base units.

    By the recipe as it stands now, whichever version was booked at the time: lessons are about the recipe in force.
    A job undone is given again with its figures below zero, at the moment of the job it undoes.
    """

    at: datetime
    line: str
    amount: float
    times: int = 1
    variance: float = 0.0  # what the recipe itself leaves open: a line used on some jobs only, see `chance_variance`


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """Any other move the book knows of: delivered and returned above zero; sold, spoilt and written off below."""

    at: datetime
    amount: float
    error: float = 0.0  # one standard error, where the amount is only roughly known


def chance_variance(amount: float, chance: float) -> float:
    """Variance of one job's use of a line that is used on a share of jobs only.

    Parameters
    ----------
    amount : float
        What the book draws on every job: the share of the full amount, base units.
    chance : float
        The share of jobs, above 0 and at most 1.

    Returns
    -------
    float
        Squared base units, >= 0.

    Notes
    -----
    Bernoulli: with the full amount a = amount / q drawn on a share q of jobs, ``q (1 - q) a^2``.
    """
    if not 0 < chance <= 1:
        raise ValueError("a share of jobs lies above 0 and is at most 1")
    return amount**2 * (1 - chance) / chance


def gather(
    material: str,
    recipe: Mapping[str, float],
    *,
    counts: Iterable[Counted],
    uses: Sequence[Used] = (),
    moves: Sequence[Moved] = (),
) -> Intervals:
    """Lay one material's events between its counts.

    Parameters
    ----------
    material : str
        Its code.
    recipe : mapping of str to float
        Recipe figure of each line for one usual job, base units, > 0.
    counts : iterable of Counted
        In any order; of two at the same moment the later given holds. Fewer than two make no interval.
    uses, moves : sequence
        In any order; what lies before the first count or after the last is left out. An event at a count's own
        moment is before it, as the book compares a count with every move up to its moment.

    Returns
    -------
    Intervals
        One interval between each two counts, lines in the order of `recipe`.

    Raises
    ------
    ValueError
        If a use names a line the recipe doesn't have.
    """
    held = sorted({each.at: each for each in counts}.values(), key=lambda each: each.at)
    starts, n = [each.at for each in held], max(len(held) - 1, 0)
    expected, times = _laid(material, tuple(recipe), starts=starts, uses=uses)
    moved, stated = np.zeros((2, n))
    for at, move in _placed(starts, moves):
        moved[at] += move.amount
        stated[at] += move.error**2
    for at, use in _placed(starts, uses):
        stated[at] += use.variance
    found = np.array([each.amount for each in held])
    return Intervals(
        material=material,
        lines=tuple(recipe),
        recipe=np.array(list(recipe.values()), float),
        expected=expected,
        times=times,
        observed=moved - np.diff(found) if n else np.zeros(0),
        weeks=np.array([(late - early) / WEEK for early, late in pairwise(starts)], float),
        count_variance=np.array([each.error**2 for each in held]) if n else np.zeros(1),
        known_variance=np.maximum(_settled(stated), 0.0),
    )


def _laid(
    material: str, lines: Sequence[str], *, starts: Sequence[datetime], uses: Sequence[Used]
) -> tuple[Floats, Floats]:
    """Sum uses by interval and line: amounts, and how often."""
    column = {line: j for j, line in enumerate(lines)}
    if strange := {use.line for use in uses} - set(column):
        msg = f"{material} has no recipe line '{min(strange)}'"
        raise ValueError(msg)
    amounts, times = np.zeros((2, max(len(starts) - 1, 0), len(lines)))
    for at, use in _placed(starts, uses):
        amounts[at, column[use.line]] += use.amount
        times[at, column[use.line]] += use.times
    return _settled(amounts), _settled(times)


def _placed(starts: Sequence[datetime], events: Sequence[Event]) -> Iterator[tuple[int, Event]]:
    """Pair each event with its interval, from just after one count to the next."""
    for event in events:
        at = bisect_left(starts, event.at) - 1
        if 0 <= at < len(starts) - 1:
            yield at, event


def _settled(sums: Floats) -> Floats:
    """Take out the rounding a job and its undoing leave."""
    made: Floats = np.where(np.abs(sums) < ROUNDING, 0.0, sums)
    return made
