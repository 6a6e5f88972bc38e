"""Dated counts, job uses and other moves of one material -> its intervals between counts."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from stockroom.counting.lessons import Intervals

Floats = NDArray[np.float64]
Moments = NDArray[np.datetime64]

WEEK = timedelta(weeks=1)
ROUNDING = 1e-9  # a billionth of a base unit: finer than the book


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """A count: what was found and one standard error of it, base units."""

    at: datetime
    amount: float
    error: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Uses:
    """What finished jobs' recipe lines took of one material, column by column: a book holds very many.

    By the recipe as it stands now, whichever version was booked at the time: lessons are about the recipe in force.
    A job undone is given again with its figures below zero, at the moment of the job it undoes.

    Attributes
    ----------
    at : ndarray of datetime64, shape (k,)
        When, in any order.
    line : ndarray of int, shape (k,)
        Which of the recipe lines, by its place among them.
    amount : ndarray, shape (k,)
        What the recipe says it took, its size and choices included, base units.
    times : ndarray, shape (k,)
        1; -1 for a job undone.
    variance : ndarray, shape (k,)
        What the recipe itself leaves open, squared base units: a line used on some jobs only, see `chance_variance`.
    """

    at: Moments
    line: NDArray[np.intp]
    amount: Floats
    times: Floats
    variance: Floats

    def since(self, moment: datetime) -> "Uses":
        """Leave out what was up to a moment."""
        return self.where(self.at > np.datetime64(moment))

    def where(self, chosen: NDArray[np.bool_] | NDArray[np.intp]) -> "Uses":
        """Choose some, by a mark for each or by their places."""
        return Uses(
            at=self.at[chosen],
            line=self.line[chosen],
            amount=self.amount[chosen],
            times=self.times[chosen],
            variance=self.variance[chosen],
        )

    def by_line(self, lines: int) -> tuple[Floats, Floats]:
        """Sum amounts, and how often, by recipe line: two arrays of shape (lines,)."""
        return _summed(self.line, self.amount, lines), _summed(self.line, self.times, lines)


def no_uses() -> Uses:
    """Give the uses of what no job ever used."""
    none = np.zeros(0)
    return Uses(at=none.astype("datetime64[s]"), line=none.astype(np.intp), amount=none, times=none, variance=none)


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherMove:
    """Any other move the book knows of: delivered and returned above zero; sold, spoilt and written off below."""

    at: datetime
    amount: float
    error: float = 0.0  # one standard error, where the amount is only roughly known


def chance_variance(amount: Floats, chance: Floats) -> Floats:
    """Variance of jobs' use of lines that are used on a share of jobs only.

    Parameters
    ----------
    amount : ndarray
        What the book draws on every job: the share of the full amount, base units.
    chance : ndarray
        The share of jobs, above 0 and at most 1.

    Returns
    -------
    ndarray
        Squared base units, >= 0.

    Notes
    -----
    Bernoulli: with the full amount a = amount / q drawn on a share q of jobs, ``q (1 - q) a^2``.
    """
    if not ((chance > 0) & (chance <= 1)).all():
        raise ValueError("a share of jobs lies above 0 and is at most 1")
    made: Floats = amount**2 * (1 - chance) / chance
    return made


def gather(
    material: str,
    recipe: Mapping[str, float],
    *,
    counts: Iterable[Counted],
    uses: Uses | None = None,
    moves: Sequence[OtherMove] = (),
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
    uses : Uses, optional
        Of the lines of `recipe`, in its order.
    moves : sequence of Moved
        In any order. Uses and moves before the first count or after the last are left out. An event at a count's own
        moment is before it, as the book compares a count with every move up to its moment.

    Returns
    -------
    Intervals
        One interval between each two counts, lines in the order of `recipe`.

    Raises
    ------
    ValueError
        If a use is of a line the recipe doesn't have.
    """
    held = sorted({each.at: each for each in counts}.values(), key=lambda each: each.at)
    starts, n = [each.at for each in held], max(len(held) - 1, 0)
    expected, times, stated = _laid(material, len(recipe), starts=starts, uses=uses or no_uses())
    moved = np.zeros(n)
    for at, move in _placed(starts, moves):
        moved[at] += move.amount
        stated[at] += move.error**2
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


def _laid(material: str, lines: int, *, starts: Sequence[datetime], uses: Uses) -> tuple[Floats, Floats, Floats]:
    """Sum uses by interval and line: amounts and how often, and the variance they bring each interval."""
    if uses.line.size and not 0 <= uses.line.min() <= uses.line.max() < lines:
        msg = f"{material} has {lines} recipe lines, and a use of another"
        raise ValueError(msg)
    n = max(len(starts) - 1, 0)
    between = np.searchsorted(np.array(starts, "datetime64[us]"), uses.at) - 1
    within = (between >= 0) & (between < n)
    used, row = uses.where(within), between[within]
    cell = row * lines + used.line
    amounts, times = (_summed(cell, each, n * lines).reshape(n, lines) for each in (used.amount, used.times))
    return _settled(amounts), _settled(times), _summed(row, used.variance, n)


def _summed(place: NDArray[np.intp], amount: Floats, places: int) -> Floats:
    made: Floats = np.bincount(place, amount, places).astype(np.float64)
    return made


def _placed(starts: Sequence[datetime], moves: Sequence[OtherMove]) -> Iterator[tuple[int, OtherMove]]:
    """Pair each move with its interval, from just after one count to the next."""
    for move in moves:
        at = bisect_left(starts, move.at) - 1
        if 0 <= at < len(starts) - 1:
            yield at, move


def _settled(sums: Floats) -> Floats:
    """Take out the rounding a job and its undoing leave."""
    made: Floats = np.where(np.abs(sums) < ROUNDING, 0.0, sums)
    return made
