"""How sure of the shelf: on-hand as a distribution that widens with work and narrows at a count."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stockroom.counting.lessons import Intervals, Lessons, MaterialLesson, OutlierKind

Floats = NDArray[np.float64]

NINE_IN_TEN = 1.645  # standard deviations each side of the middle: how far out a shelf is said to be
LEAST_RATIO = 0.1  # a smaller ratio is the noise of wild counts; the doubt is then a share of this
USUAL_WEEKS = 4.0  # a lost roll or spilt tin, in weeks of use; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfPosterior:
    """A normal belief about what lies on the shelf, base units.

    `with_use` says how it hangs together with use to come: were use twice what is believed, so much less would lie
    there, for then jobs have taken more since the count as well. It is a part of the variance, not beside it.
    """

    mean: float
    variance: float
    with_use: float = 0.0

    def __post_init__(self) -> None:
        if not (np.isfinite(self.mean) and np.isfinite(self.variance)) or self.variance < 0:
            raise ValueError("a belief needs a finite mean and a variance of at least zero")

    @property
    def spread(self) -> float:
        """One standard deviation, base units."""
        return float(np.sqrt(self.variance))


@dataclass(frozen=True, slots=True, kw_only=True)
class SinceCount:
    """What happened to one material since it was last counted.

    Attributes
    ----------
    expected, times : ndarray, shape (p,)
        What the recipes say was used, base units, and how often, by line in the lesson's order.
    received : float
        Deliveries less sales and other exact moves, base units.
    weeks : float
        Time since.
    variance : float
        What the recipes themselves leave open (a line used on one job in four), squared base units.
    usual : ndarray, shape (p,), optional
        What the recipes say was ever used, by which the doubt of use to come is weighed; nothing is said of that
        without it.
    """

    expected: Floats
    times: Floats
    received: float
    weeks: float
    variance: float = 0.0
    usual: Floats | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Losses:
    """Sudden losses of one-offs: how often, and how large.

    Attributes
    ----------
    shape, weeks : float
        Gamma belief about losses a material a week: `shape` losses seen in `weeks` material-weeks.
    size : float
        Usual size of one, base units (weeks of use from `learn_losses` until `sized`).
    """

    shape: float = 0.5
    weeks: float = 400.0
    size: float = 0.0

    @property
    def rate(self) -> float:
        """Losses expected a week."""
        return self.shape / self.weeks

    def seen(self, count: int, weeks: float) -> "Losses":
        """Learn from a number of losses in a number of material-weeks (gamma prior, Poisson count)."""
        return replace(self, shape=self.shape + count, weeks=self.weeks + weeks)

    def sized(self, weekly_use: float) -> "Losses":
        """Turn a size in weeks of use into base units of a material used so much a week."""
        return replace(self, size=self.size * weekly_use)


def learn_losses(known: Sequence[Intervals], lessons: Lessons, usual: Losses | None = None) -> Losses:
    """Learn how often something is lost, and how many weeks' use of it, from all materials together.

    Parameters
    ----------
    known : sequence of Intervals
        What was learnt from, for the time watched and the usual use.
    lessons : Lessons
        Their lessons, in the same order.
    usual : Losses, optional
        Belief before looking; its size, in weeks of use, weighs as much as one loss.

    Returns
    -------
    Losses
        Size in weeks of use; `sized` turns it into base units of one material.
    """
    before = usual or Losses(size=USUAL_WEEKS)
    sizes = [
        outlier.amount * float(each.weeks.sum()) / float(each.expected.sum())
        for each, lesson in zip(known, lessons.materials, strict=True)
        for outlier in lesson.outliers
        if outlier.kind is OutlierKind.SUDDEN and outlier.amount > 0 and each.expected.sum() > 0
    ]
    after = before.seen(len(sizes), sum(float(each.weeks.sum()) for each in known))
    return replace(after, size=(before.size + sum(sizes)) / (1 + len(sizes)))


def after_work(
    posterior: ShelfPosterior, work: SinceCount, lesson: MaterialLesson, losses: Losses | None = None
) -> ShelfPosterior:
    """Carry a belief over the work done since.

    Parameters
    ----------
    belief : Belief
        At the last count, as `counted` says.
    work : Work
        p recipe lines.
    lesson : MaterialLesson
        What counts say is actually used of this material: true ratios, waste and their covariance.
    losses : Losses, optional
        Chance of sudden losses; they pull the mean down by what is expected and widen the belief.

    Returns
    -------
    Belief
        The mean moves by learnt use; the variance grows by not knowing the ratios (with the square of the work), by
        jobs differing from each other (with the work), and by losses (with time). Where the last count may have read
        too high, jobs have taken more than it seemed, and both make the belief wider.

    Raises
    ------
    ValueError
        If the work doesn't have the lesson's lines.

    Notes
    -----
    Mean and variance of a sum of independent parts; losses a gamma-Poisson number of one size each, with mean ``r
    t`` and variance ``r t + r t^2 / weeks``. What lies there for a share u of use, w'r / w'm for ratios r of mean m
    weighed by usual use w, follows by regression: ``- cov(shelf, u) / var(u)`` less for each part of u above 1.
    """
    if work.expected.shape != (len(lesson.lines),) or work.times.shape != work.expected.shape:
        raise ValueError("work and lesson must have the same recipe lines")
    drawn = np.append(work.expected, work.weeks)
    per_use = np.divide(work.expected, work.times, out=np.zeros_like(work.expected), where=work.times > 0)
    jobs = lesson.job_spread**2 * float(work.expected @ per_use)
    lost, lost_variance = _lost(losses or Losses(), work.weeks)
    read = lesson.reading.with_ratios if lesson.reading else np.zeros(len(drawn))
    gone = lesson.ratio_covariance @ drawn  # covariance of what was used since with each ratio
    return ShelfPosterior(
        mean=posterior.mean + work.received - float(drawn @ lesson.ratio_mean) - lost,
        variance=max(posterior.variance + float(drawn @ (gone + 2 * read)), 0.0) + jobs + work.variance + lost_variance,
        with_use=0.0 if work.usual is None else _with_use(lesson, work.usual, (gone + read)[:-1]),
    )


def _with_use(lesson: MaterialLesson, usual: Floats, tied: Floats) -> float:
    mean, variance = use_doubt(lesson, usual)
    return float(usual @ tied) / float(usual.sum()) * mean / variance if variance > 0 else 0.0


def use_doubt(lesson: MaterialLesson, usual: Floats) -> tuple[float, float]:
    """Give mean and variance of a material's true use over recipe use, its lines weighed by their usual use, (p,).

    Notes
    -----
    With weights w that add up to 1, ratios r and their covariance C: ``w' r`` and ``w' C w``.
    """
    if not usual.any():
        return 1.0, 0.0
    weights = usual / usual.sum()
    mean = max(float(weights @ lesson.ratio_mean[:-1]), LEAST_RATIO)
    return mean, max(float(weights @ lesson.ratio_covariance[:-1, :-1] @ weights), 0.0)


def counted(amount: float, error: float, lesson: MaterialLesson | None) -> ShelfPosterior:
    """Say what is believed of a shelf at its last count.

    Parameters
    ----------
    amount, error : float
        What was found, and one standard error of it as its aid states, base units.
    lesson : MaterialLesson or None
        What all counts teach, this one the last of them.
    """
    if lesson is None or lesson.reading is None:
        return ShelfPosterior(mean=amount, variance=error**2)
    return ShelfPosterior(mean=max(amount - lesson.reading.mean, 0.0), variance=lesson.reading.variance)


def _lost(losses: Losses, weeks: float) -> tuple[float, float]:
    number = losses.rate * weeks
    variance = number + number * weeks / losses.weeks
    return losses.size * number, losses.size**2 * variance


def samples(
    posterior: ShelfPosterior, rng: np.random.Generator, n: int, *, pieces: bool = False, use: Floats | None = None
) -> Floats:
    """Draw shelves from a belief, shape (n,), base units; a shelf is never below zero.

    Where `use` gives each future's use over what is believed, (n,), a future that uses more has less there.
    What is counted in pieces lies there whole: two that are believed nearly for certain are enough for a job that takes
    two, and not in half of all futures a hundredth too few.
    """
    tied = np.zeros(n) if use is None else posterior.with_use * (use - 1)
    rest = np.sqrt(max(posterior.variance - float(tied.var()), 0.0))
    drawn: Floats = np.maximum(posterior.mean - tied + rest * rng.standard_normal(n), 0.0)
    return drawn.round() if pieces else drawn


def roughly(amount: float) -> float:
    """Round to two figures: an estimate of uncertainty isn't more exact than that."""
    return float(f"{amount:.1e}")
