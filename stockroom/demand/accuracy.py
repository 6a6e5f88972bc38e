"""How true forecasts were: what was said held against what came, beside what plain averages would have said.

Everything is for sums over a span of weeks, said on several past days. Losses are pinball losses over LEVELS in
parts of what a thing usually uses, so that litres and pieces weigh alike.
"""

import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stockroom.demand.choose import LEVELS, NORMAL_SCORES, PLAINLY, pinball
from stockroom.demand.history import Floats

MONTHS_BACK = 8  # weeks of the moving average
OVERLAP = 2.0  # spans of eight weeks, four weeks apart, tell half as much as they would by themselves
SURE = 1.645  # standard errors beyond which a difference is not chance, nineteen times in twenty
CHANCE = 0.01  # a change as large as seen is held to be real when chance alone makes it this seldom
STEPPED = 1.5  # by which factor a level must have changed to be named
LUMPY = 0.35  # part of a year's use that came in its largest week
RARE = 13  # weeks of a year with use, or fewer: which ones is chance
FEW_WEEKS = 20  # share of use; a smaller change is not reported


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SaidAndCame:
    """Forecasts of one thing, or of several put one after the other, and what came; arrays have an entry a forecast.

    Parameters
    ----------
    mean, came : (n,) float
        In parts of what the thing usually uses over the span.
    quantiles, average, moving : (n, n_levels) float
        Quantiles LEVELS said, and those of a year's average and of a moving one.
    """

    mean: Floats
    came: Floats
    quantiles: Floats
    average: Floats
    moving: Floats

    @classmethod
    def joined(cls, parts: "Sequence[SaidAndCame]") -> "SaidAndCame":
        """Put several things' forecasts together."""
        names = ("mean", "came", "quantiles", "average", "moving")
        return cls(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in names})


@dataclass(frozen=True, slots=True, kw_only=True)
class Trueness:
    """What comes of holding forecasts against what came.

    Parameters
    ----------
    forecasts : int
    bias : float
        By what part more was said than came; below zero less.
    error : float
        Mean distance between the two, as a part of what came.
    coverage : tuple of float
        How often what came stayed within each of the quantiles LEVELS.
    loss, average, moving : float
        Pinball loss of what was said, of a year's average, of a moving one.
    doubt : float
        Standard error of the loss less the year's average's.
    """

    forecasts: int
    bias: float
    error: float
    coverage: tuple[float, ...]
    loss: float
    average: float
    moving: float
    doubt: float

    @property
    def gain(self) -> float:
        """By what part the forecast lost less than the better of the two averages; below zero it lost more."""
        best = min(self.average, self.moving)
        return 1 - self.loss / best if best > 0 else 0.0

    @property
    def plain_better(self) -> bool:
        """Whether a year's average would have been better, by more than a twentieth and by more than chance."""
        return self.average < PLAINLY * self.loss and self.loss - self.average > SURE * self.doubt


def trueness(held: SaidAndCame) -> Trueness:
    """Hold forecasts against what came."""
    total = max(float(held.came.sum()), 1e-9)
    each_loss = [pinball(held.came, each) for each in (held.quantiles, held.average, held.moving)]
    losses = [float(loss.mean()) for loss in each_loss]
    apart = each_loss[0] - each_loss[1]
    return Trueness(
        forecasts=len(held.came),
        bias=float(held.mean.sum()) / total - 1,
        error=float(np.abs(held.mean - held.came).sum()) / total,
        coverage=tuple(float(share) for share in (held.came[:, None] <= held.quantiles + 1e-9).mean(axis=0)),
        loss=losses[0],
        average=losses[1],
        moving=losses[2],
        doubt=float(apart.std() * np.sqrt(OVERLAP / max(len(apart), 1))),
    )


def plain_quantiles(weekly: Floats, *, span: int) -> Floats:
    """Quantiles LEVELS of a sum over `span` weeks as a plain average has them, (n_levels,): mean and normal spread.

    Notes
    -----
    Common practice: the mean of past weeks times the span, and the weeks' standard deviation times its root.
    """
    spread = float(weekly.std(ddof=1)) if len(weekly) > 1 else float(weekly.mean())
    quantiles: Floats = np.maximum(span * float(weekly.mean()) + np.sqrt(span) * spread * NORMAL_SCORES, 0.0)
    return quantiles


@dataclass(frozen=True, slots=True, kw_only=True)
class MissCause:
    """Why a thing was hard to forecast: a word for it, and its figures.

    `kind` is 'step' (the level changed after week `week`, from `before` to `after` a week), 'stopped', 'lumps'
    (`share` of a year's use in its largest week), 'rare' (used in `week` weeks of the last year), 'young', 'together'
    (misses in one direction hang together) or 'chance'.
    """

    kind: str
    week: int = 0
    before: float = 0.0
    after: float = 0.0
    share: float = 0.0


def why_missed(weekly: Floats, misses: Floats) -> MissCause:
    """Say why a thing was missed, from its weekly use (oldest first) and its misses on past days (oldest first).

    Notes
    -----
    A change of level by the cumulated sum of the deviations from the mean (Ploberger and Kraemer 1992), misses that
    hang together by Ljung and Box (1978), both by statsmodels; the rest by counting.
    """
    used = np.flatnonzero(weekly > 0)
    if len(weekly) < FEW_WEEKS:
        return MissCause(kind="young")
    step = _step(weekly) if len(used) >= FEW_WEEKS // 2 else None
    return step or _lumps(weekly) or _rare(weekly) or _together(misses) or MissCause(kind="chance")


def _step(weekly: Floats) -> MissCause | None:
    from statsmodels.stats.diagnostic import breaks_cusumolsresid

    away = weekly - weekly.mean()
    if not away.any() or breaks_cusumolsresid(away, ddof=1)[1] > CHANCE:
        return None
    week = int(np.abs(away.cumsum()).argmax()) + 1
    before, after = float(weekly[:week].mean()), float(weekly[week:].mean()) if week < len(weekly) else 0.0
    if max(before, after) < STEPPED * min(before, after):
        return None
    kind = "stopped" if not weekly[week:].any() else "step"
    return MissCause(kind=kind, week=week, before=before, after=after)


def _rare(weekly: Floats) -> MissCause | None:
    weeks = int((weekly[-52:] > 0).sum())
    return MissCause(kind="rare", week=weeks) if weeks <= RARE else None


def _lumps(weekly: Floats) -> MissCause | None:
    year = weekly[-52:]
    share = float(year.max() / year.sum()) if year.sum() > 0 else 0.0
    return MissCause(kind="lumps", share=share) if share >= LUMPY else None


def _together(misses: Floats) -> MissCause | None:
    if len(misses) < FEW_WEEKS // 2 or np.ptp(misses) == 0:
        return None
    from statsmodels.stats.diagnostic import acorr_ljungbox

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of few misses, which is why CHANCE is small
        chance = float(acorr_ljungbox(misses, lags=[2])["lb_pvalue"].iloc[0])
    return MissCause(kind="together", share=float(np.mean(misses > 0))) if chance < CHANCE else None


__all__ = ["LEVELS", "MONTHS_BACK", "MissCause", "SaidAndCame", "Trueness", "plain_quantiles", "trueness", "why_missed"]
