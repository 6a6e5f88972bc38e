"""What counts teach: the true use of every recipe line, unrecorded waste, one-offs.

The model, for one material and the interval between two counts (decision record: the counting room)::

    left the shelf = sum over lines of expected use x ratio + waste x weeks + one-off + job noise + counting noise

A ratio is 1 plus a bias shared by the material's lines plus the line's own bias, both normal around zero; waste is
a half-normal rate, as small as is usual in the shop or, of a few materials, a large share of use: what comes by the day
(see `losses`), and how many materials suffer it is learnt from all of them. How large biases, usual waste and job
noise are is learnt from all materials together, so a line with few jobs leans on its material, and a material with
few counts on the shop; what is measured and what is counted out in pieces are learnt apart. A line that its recipe
uses on a share of jobs only brings a known variance of its own. Counting noise comes from the aids and links
neighbouring intervals. One-offs are rare and large, so that a lost roll is set aside rather than spread over the
recipes. Where work never varies, a loss by the day and use by the job can't be told apart: the interval then spans
both, and a proposal to use more says that it may be a loss.

Sources: hierarchical normal linear model, Lindley and Smith (1972), J. R. Stat. Soc. B 34; rare large one-offs, Box
and Tiao (1968), Biometrika 55; both from memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, hypot

import numpy as np
from numpy.typing import NDArray

from stockroom.counting.lessons import (
    MOST_COUNTS,
    WASTE,
    Intervals,
    LessonAdvice,
    Lessons,
    LineLesson,
    MaterialLesson,
    Outlier,
    OutlierKind,
    Reading,
    Span,
    Spreads,
)
from stockroom.counting.linear_model import LinearModel, model, noise_covariance, prior_covariance
from stockroom.counting.losses import USUAL_SHARES, learn_shares, loss_chances, loss_covariance, loss_evidence
from stockroom.counting.outliers import LIKELY, outlier_covariance, outlier_variances, ways
from stockroom.counting.spreads import learn_spreads
from stockroom.counting.use_ratios import Blend, blend, last_error, spans

Floats = NDArray[np.float64]

LEAST_USES = 5  # a line used less often is never proposed
PINNED = 0.10  # widest half interval over the estimate with which to change or confirm a recipe
SMALL = 0.5  # below half the recipe, widths are judged as at half of it
WORTH_SAYING = 0.03  # smaller corrections aren't worth a new recipe version
BLURRED = -0.5  # correlation below which two lines trade places in the belief
FAR = 3.0  # half intervals above the recipe from which on no loss is thinkable in its place
FARTHEST = 3.0  # standard errors that a count may seem out; beyond it is the model that is wrong, not the count
ROUNDS = 2  # one-offs and spreads are settled in turn


def learn(materials: Sequence[Intervals], usual: Spreads | None = None) -> Lessons:
    """Estimate what jobs really use from the counts of all materials together.

    Parameters
    ----------
    materials : sequence of Intervals
        One for each material; any number of intervals, none included.
    usual : Spreads, optional
        What spreads to expect before looking.

    Returns
    -------
    Lessons
        In the order given. Deterministic: the same counts teach the same.

    Notes
    -----
    Empirical Bayes: shop-wide spreads by marginal likelihood, for what is measured and for whole pieces apart; then
    each material's posterior on its own.
    """
    start = usual or Spreads()
    frames = [model(each) for each in materials]
    kinds = [
        _usual([of for of, each in zip(frames, materials, strict=True) if each.whole is whole], start)
        for whole in (False, True)
    ]
    posteriors = [_posterior(of, kinds[each.whole]) for each, of in zip(materials, frames, strict=True)]
    found = spans([posterior.ratios for posterior in posteriors])
    made = [_lesson(each, posterior, span) for each, posterior, span in zip(materials, posteriors, found, strict=True)]
    return Lessons(materials=tuple(made), spreads=kinds[0].spreads, whole_spreads=kinds[1].spreads)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Usual:
    """What is usual in the shop, of one kind of material."""

    spreads: Spreads
    shares: Floats  # how common each kind of steady loss is


def _usual(frames: Sequence[LinearModel], start: Spreads) -> _Usual:
    """Learn how wrong recipes usually are and how common losses; one-offs and spreads are settled in turn."""
    usual = _Usual(spreads=start, shares=USUAL_SHARES)
    for _ in range(ROUNDS):
        extras = [_set_aside(of, usual) for of in frames]
        spreads = learn_spreads(frames, [outliers + lost for outliers, lost in extras], start)
        usual = _Usual(spreads=spreads, shares=USUAL_SHARES)
        evidence = [_evidence(of, usual, outliers) for of, (outliers, _) in zip(frames, extras, strict=True)]
        usual = _Usual(spreads=spreads, shares=learn_shares(evidence))
    return usual


def _set_aside(of: LinearModel, usual: _Usual) -> tuple[Floats, Floats]:
    """Covariances of one-offs, and of what one material steadily loses beyond the usual."""
    lost = _lost(of, usual, np.zeros_like(of.counting))
    _, variances = outlier_variances(of, _reach(of, usual.spreads) + lost)
    outliers = outlier_covariance(of, variances)
    return outliers, _lost(of, usual, outliers)


def _lost(of: LinearModel, usual: _Usual, outliers: Floats) -> Floats:
    return loss_covariance(of, loss_chances(_evidence(of, usual, outliers), usual.shares), usual.spreads)


def _evidence(of: LinearModel, usual: _Usual, outliers: Floats) -> Floats:
    none = replace(usual.spreads, waste=0.0)
    return loss_evidence(of, _reach(of, none) + outliers, usual.spreads)


def _reach(of: LinearModel, spreads: Spreads) -> Floats:
    prior = prior_covariance(of, spreads)
    made: Floats = of.design @ prior @ of.design.T + noise_covariance(of, spreads.job)
    return made


@dataclass(frozen=True, slots=True, kw_only=True)
class _Belief:
    """What is believed of one material, in its frame's scale."""

    of: LinearModel
    job_spread: float
    ratios: Blend
    error: tuple[float, float, Floats]  # of the last count: mean, variance, covariance with the ratios
    chances: Floats  # of one-offs, (2 n + 1,)
    variances: Floats  # set aside for them, (2 n + 1,)
    reach: Floats  # (n, n): covariance of the departures without one-offs


def _posterior(of: LinearModel, usual: _Usual) -> _Belief:
    reach = _reach(of, usual.spreads) + _lost(of, usual, np.zeros_like(of.counting))
    chances, variances = outlier_variances(of, reach)
    set_aside = outlier_covariance(of, variances)
    ratios = blend(of, usual.spreads, set_aside, usual.shares)
    return _Belief(
        of=of,
        job_spread=usual.spreads.job,
        ratios=ratios,
        error=last_error(of, ratios, usual.spreads, set_aside),
        chances=chances,
        variances=variances,
        reach=reach,
    )


def _lesson(known: Intervals, posterior: _Belief, found: Sequence[Span]) -> MaterialLesson:
    scale, covariance = posterior.of.scale, posterior.ratios.covariance
    units = np.append(np.ones(len(known.lines)), scale)
    return MaterialLesson(
        material=known.material,
        lines=tuple(_line(known, j, span, covariance=covariance) for j, span in enumerate(found[:-1])),
        waste=_scaled(found[-1], scale),
        outliers=_outliers(posterior),
        job_spread=posterior.job_spread,
        ratio_mean=np.maximum(posterior.ratios.mean, 0.0) * units,  # use is never below nothing
        ratio_covariance=covariance * np.outer(units, units),
        reading=_reading(posterior, units) if known.observed.size else None,
    )


def _reading(posterior: _Belief, units: Floats) -> Reading | None:
    """Say what the last count read too high; nothing where that is more than any count can be out."""
    (mean, variance, with_ratios), scale = posterior.error, posterior.of.scale
    if mean**2 > FARTHEST**2 * posterior.of.last:
        return None
    return Reading(mean=mean * scale, variance=variance * scale**2, with_ratios=with_ratios * scale * units)


def _scaled(span: Span, by: float) -> Span:
    return Span(estimate=span.estimate * by, low=span.low * by, high=span.high * by)


def _line(known: Intervals, j: int, ratio: Span, *, covariance: Floats) -> LineLesson:
    uses = round(float(known.times[:, j].sum()))
    found = verdict(ratio, uses)
    later, others = found is LessonAdvice.LATER, blurred(known.lines, j, covariance)
    return LineLesson(
        line=known.lines[j],
        recipe=float(known.recipe[j]),
        use=_scaled(ratio, float(known.recipe[j])),
        uses=uses,
        verdict=found,
        ask_after=ask_after(ratio, known.observed.size) if later else 0,
        blurred_with=others if later else (),
        may_be_loss=found is LessonAdvice.PROPOSE and WASTE in others and near_above(ratio),
    )


def ask_after(ratio: Span, counts: int) -> int:
    """Guess the counts still needed: an interval narrows with the root of their number."""
    if not counts:
        return LEAST_USES
    short_by = (ratio.half_width / (PINNED * max(ratio.estimate, SMALL))) ** 2
    return max(1, min(ceil(counts * (short_by - 1)), MOST_COUNTS))


def verdict(ratio: Span, uses: int) -> LessonAdvice:
    """Say whether a line's true use over its recipe is known well enough, and lies off it far enough, to change it."""
    width = ratio.half_width / max(ratio.estimate, SMALL)
    wrong = not ratio.low <= 1 <= ratio.high and abs(ratio.estimate - 1) >= WORTH_SAYING
    if uses < LEAST_USES or width > PINNED:
        return LessonAdvice.LATER
    return LessonAdvice.PROPOSE if wrong else LessonAdvice.KEEP


def near_above(ratio: Span) -> bool:
    """Say whether more is used than the recipe says, but not by so much that no loss could stand in its place."""
    return 0 < ratio.estimate - 1 < FAR * ratio.half_width


def blurred(lines: Sequence[str], j: int, covariance: Floats) -> tuple[str, ...]:
    """Name the lines, or the waste, whose estimates fall as this one's rises: the counts see only their sum."""
    sds = np.sqrt(np.diag(covariance))
    trade = covariance[j] / (sds[j] * sds)
    return tuple(name for name, share in zip((*lines, WASTE), trade, strict=True) if share < BLURRED)


def _outliers(posterior: _Belief) -> tuple[Outlier, ...]:
    """Size the likely one-offs by their posterior means."""
    of, n = posterior.of, posterior.of.departure.size
    likely = np.flatnonzero(posterior.chances > LIKELY)
    if not likely.size:
        return ()
    variances = np.where(posterior.chances > LIKELY, posterior.variances, 0.0)
    solved = np.linalg.solve(posterior.reach + outlier_covariance(of, variances), of.departure)
    amounts = variances * (ways(of).T @ solved) * of.scale
    return tuple(
        Outlier(
            kind=OutlierKind.SUDDEN if at < n else OutlierKind.MISCOUNT,
            index=int(at if at < n else at - n),
            amount=float(amounts[at]),
            chance=float(posterior.chances[at]),
        )
        for at in likely
    )


NINETY = 1.645  # standard errors in half a 90 % interval of a normal


def pooled(variants: Sequence[LineLesson], counts: int, *, line: str, recipe: float) -> LineLesson:
    """Put the lessons of a line's variants (colours, sizes) together.

    Parameters
    ----------
    variants : sequence of LineLesson
        One for each material the line draws; at least one.
    counts : int
        How often all of them were counted together.
    line : str
        What to call the line.
    recipe : float
        What the recipe card says of it, in the unit the result is wanted in, > 0.

    Returns
    -------
    LineLesson
        The true use of the line over its recipe, each variant weighing by how often it was used, times `recipe`.

    Raises
    ------
    ValueError
        If there is no variant.

    Notes
    -----
    A new card changes all variants alike, so what is wanted is the ratio that makes their sum right: the mean weighed
    by use. Its variance is the weighed sum of independent variances, whether or not the variants agree.
    """
    if not variants:
        raise ValueError("a line needs at least one variant")
    ratio = _ratio(variants)
    uses = sum(each.uses for each in variants)
    found = verdict(ratio, uses)
    later = found is LessonAdvice.LATER
    return LineLesson(
        line=line,
        recipe=recipe,
        use=Span(estimate=ratio.estimate * recipe, low=ratio.low * recipe, high=ratio.high * recipe),
        uses=uses,
        verdict=found,
        ask_after=ask_after(ratio, counts) if later else 0,
        blurred_with=tuple(dict.fromkeys(name for each in variants for name in each.blurred_with)) if later else (),
        may_be_loss=found is LessonAdvice.PROPOSE and ratio.estimate > 1 and any(each.may_be_loss for each in variants),
    )


def _ratio(variants: Sequence[LineLesson]) -> Span:
    if len(variants) == 1:
        use, recipe = variants[0].use, variants[0].recipe
        return Span(estimate=use.estimate / recipe, low=use.low / recipe, high=use.high / recipe)
    total = sum(max(each.uses, 1) for each in variants)
    weights = [max(each.uses, 1) / total for each in variants]
    middle = sum(w * each.use.estimate / each.recipe for w, each in zip(weights, variants, strict=True))
    errors = (w * each.use.half_width / NINETY / each.recipe for w, each in zip(weights, variants, strict=True))
    half = NINETY * hypot(*errors)
    return Span(estimate=middle, low=max(middle - half, 0.0), high=middle + half)
