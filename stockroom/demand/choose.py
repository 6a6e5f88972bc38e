"""Which models to believe: judged from past origins on sums over lead times, combined, and their misses measured."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import Floats, History, group_sums, without_pauses
from stockroom.demand.intermittent import classify
from stockroom.demand.models import all_models, everyday_models
from stockroom.demand.spread import LONG, SHORT, TINY, SpanSums, Spread, measure, shared_part
from stockroom.demand.totals import followed
from stockroom.demand.view import Model, View, doubt, look, season_doubt

PAST_ORIGINS = 13  # a year of them,
STEP = 4  # up to four weeks apart
FIRST_ORIGIN = 26  # weeks of history before the first forecast is judged; half of a shorter history
PATIENCE = 0.01  # a model whose loss is this part above the best's has 1/e of its weight
POOL = 100.0  # a class's own losses count fully from about this many windows on
OWN_WINDOWS = 12.0  # a series' own losses are half believed after a year of windows,
LEAST_WINDOWS = 4  # and not at all before so many
PLAIN = "average"  # the model that everyone has
PLAINLY = 0.95  # of our loss: below it, a plain average serves a family better
PLAIN_WINDOWS = 26  # seen at least, over the family's series
IDLE_WEEKS = 13  # without use, of a series that was used before: idle
KINDS = 5  # of demand: smooth, erratic, intermittent, lumpy; and idle


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Forecast:
    """Means per week, the spread around them, and how much each model was believed.

    `mean` is (n_series, horizon); `weights` maps model names to (n_series,); `by_average` (n_series,) says for which a
    plain average has been better, and is believed instead.
    """

    mean: Floats
    spread: Spread
    weights: Mapping[str, Floats]
    by_average: NDArray[np.bool_]


def origins_of(n_weeks: int) -> NDArray[np.intp]:
    """Past origins whose LONG weeks have come in, oldest first, and today's, the last."""
    first = min(FIRST_ORIGIN, n_weeks // 2)
    room = n_weeks - LONG - first
    step = int(np.clip(room // (PAST_ORIGINS - 1), 1, STEP))
    past = n_weeks - LONG - step * np.arange(PAST_ORIGINS)[::-1]
    return np.append(past[past >= first], n_weeks).astype(np.intp)


def forecast(history: History, horizon: int, *, models: Sequence[str] | None = None) -> Forecast:
    """Forecast by the models that have earned it.

    Parameters
    ----------
    history : History
    horizon : int
    models : sequence of str, optional
        Names of the models to ask; all everyday ones by default.

    Returns
    -------
    Forecast

    Notes
    -----
    Rolling origin: PAST_ORIGINS origins, up to STEP weeks apart. Each model is judged by the pinball loss of its
    3- and 8-week sums, pooled within classes of demand (smooth, erratic, intermittent, lumpy; idle, whatever it was
    before), then by what each series' own windows add to that, and weighted exp(-excess / PATIENCE), excess being its
    loss relative to the best's. The usual combination then goes half the way to the shop's smoothed total, as far as
    that has paid over the same windows. The spread is that of what comes of it, over them too.
    """
    history = without_pauses(history)
    origins = origins_of(history.n_weeks)
    view = look(history, origins, horizon=max(horizon, LONG))
    asked = _asked(models, int(origins[0]))
    rates = [model.rates(view) for model in asked]
    trial = Trial.of(history, view)
    losses = np.stack([trial.losses(rate) for rate in rates])
    weights = _weights(losses, kinds_of(history, view), overlap=max(LONG / trial.step, 1.0))
    mean = np.zeros_like(rates[0])
    for weight, rate in zip(weights, rates, strict=True):
        mean += weight[:, :, None] * rate
    if models is None:
        mean = with_total(trial, view, mean)
    believed = {model.name: weight[-1] for model, weight in zip(asked, weights, strict=True)}
    by_average = np.zeros(history.n_series, dtype=bool)
    if models is None or PLAIN in models:
        plain = all_models()[PLAIN].rates(view)
        by_average = plain_is_better(trial, trial.losses(plain), mean)
        mean[:, by_average] = plain[:, by_average]
        believed = {name: np.where(by_average, 0.0, weight) for name, weight in believed.items()}
        believed[PLAIN] = np.where(by_average, 1.0, believed.get(PLAIN, np.zeros(history.n_series)))
    return Forecast(
        mean=mean[-1, :, :horizon] * history.open_ahead(horizon),
        spread=trial.spread(mean, season_doubt(view)),
        weights=believed,
        by_average=by_average,
    )


def _asked(names: Sequence[str] | None, weeks: int) -> list[Model]:
    known = everyday_models() if names is None else all_models()
    chosen = list(known) if names is None else list(names)
    missing = sorted(set(chosen) - set(known))
    if missing or not chosen:
        raise ValueError(f"no forecasting model called {', '.join(missing)}; there are {', '.join(known)}")
    return [known[name] for name in chosen if known[name].least_weeks <= max(weeks, 1)] or [known["pooled"]]


def with_total(trial: "Trial", view: View, mean: Floats) -> Floats:
    """Let forecasts follow the shop's total, level or with its drift, as far as that has lost less than not to."""
    ways = [mean, *(mean * followed(view, mean, trial.house, drift=drift) for drift in (False, True))]
    losses = np.stack([trial.losses(way) for way in ways])
    known = ~np.isnan(losses[0])
    if not known.any():
        return mean
    loss = np.maximum(losses[:, known].mean(axis=1), TINY)
    weight = np.exp(-(loss / loss.min() - 1) / PATIENCE)
    mixed: Floats = np.einsum("m,mosw->osw", weight / weight.sum(), np.stack(ways))
    return mixed


def plain_is_better(trial: "Trial", plain: Floats, mean: Floats) -> NDArray[np.bool_]:
    """Say for which series a plain average would have been better: those of families for which it was, (n_series,)."""
    gap = trial.losses(mean)
    known = ~np.isnan(gap) & ~np.isnan(plain)
    ours, theirs = (group_sums(np.where(known, loss, 0.0).sum(axis=0), trial.family) for loss in (gap, plain))
    windows = group_sums(known.sum(axis=0).astype(np.float64), trial.family)
    better: NDArray[np.bool_] = ((theirs < PLAINLY * ours) & (windows >= PLAIN_WINDOWS))[trial.family]
    return better


def kinds_of(history: History, view: View) -> NDArray[np.intp]:
    """Class of demand of each series as seen at each origin, (n_origins, n_series).

    The four by Syntetos, Boylan and Croston are those of the whole history: they say how a series behaves. Idle is what
    it was at the origin: what has just stopped goes by other rules, whatever it was.
    """
    interval, variation = classify(history.use)
    usual = 2 * (interval > 1.32) + (variation > 0.49)  # noqa: PLR2004 -- see classify
    used, opened = (
        np.pad(part.cumsum(axis=1), ((0, 0), (1, 0)))[:, [view.origins, np.maximum(view.origins - IDLE_WEEKS, 0)]]
        for part in (view.use, (view.open_weeks > 0).astype(np.float64))
    )
    idle = (used[:, 0] > 0) & (used[:, 0] == used[:, 1]) & (opened[:, 0] - opened[:, 1] >= IDLE_WEEKS - LONG / 2)
    return np.where(idle, KINDS - 1, usual[:, None]).T.astype(np.intp)


def _weights(losses: Floats, kinds: NDArray[np.intp], *, overlap: float) -> Floats:
    """Weight of each model for each series at each origin, (n_models, n_origins, n_series).

    Parameters
    ----------
    losses : (n_models, n_origins - 1, n_series) float
        Loss of each model in the window after each past origin, NaN where unknown.
    kinds : (n_origins, n_series) int
        Class of each series at each origin.
    overlap : float
        How many windows tell as much as one would by itself.

    Notes
    -----
    A model's loss on one series, relative to its class's, is drawn to what the class says of it. How far, is learnt
    (empirical Bayes, Efron and Morris 1975): by how much more the series of a class differ than the chance of their few
    windows makes them.
    """
    known = ~np.isnan(losses[0])
    loss = np.where(known, losses, 0.0)
    usual = loss.sum(axis=(1, 2)) / max(int(known.sum()), 1)
    seen = [known & (kinds[:-1] == kind) for kind in range(KINDS)]
    total = np.stack([loss[:, mine].sum(axis=1) for mine in seen], axis=1)
    windows = np.array([mine.sum() for mine in seen])
    level = np.maximum((total + POOL * usual[:, None]) / (windows + POOL), TINY)
    excess = level / level.min(axis=0) - 1
    now = kinds[-1]
    gap = (loss - loss.mean(axis=0)) / level.mean(axis=0)[now]
    own = _own_excess(gap, known, group_of=now, overlap=overlap)
    weight = np.exp(-(excess[:, kinds] + own[:, None]) / PATIENCE)
    shared: Floats = weight / weight.sum(axis=0)
    return shared


def _own_excess(gap: Floats, known: NDArray[np.bool_], *, group_of: NDArray[np.intp], overlap: float) -> Floats:
    """By how much a series departs from its class in each model's relative loss, as far as that is to be believed.

    `gap` is (n_models, n_windows, n_series), 0 where unknown; the answer is (n_models, n_series).
    """
    seen = known.sum(axis=0)
    number = np.maximum(seen, 1)
    mean = gap.sum(axis=1) / number
    square = np.where(known, (gap - mean[:, None]) ** 2, 0.0).sum(axis=1)
    noise = square / np.maximum(number - 1, 1) * overlap / number
    enough = (seen >= LEAST_WINDOWS).astype(np.float64)
    member = (group_of[:, None] == np.arange(KINDS)) * enough[:, None]
    count = np.maximum(member.sum(axis=0), 1)
    away = enough * (mean - (mean @ member / count)[:, group_of])
    real = np.maximum((away**2 - noise) @ member / count, 0.0)[:, group_of]
    trust = number / (number + OWN_WINDOWS * overlap) * real / np.maximum(real + noise, TINY)
    believed: Floats = trust * away
    return believed


LEVELS = np.array([0.5, 0.8, 0.9, 0.95, 0.98])
NORMAL_SCORES = np.array([0.0, 0.84162, 1.28155, 1.64485, 2.05375])  # of LEVELS
LEAST_SCALE = 0.05  # units a week; a series that never moves must not outweigh the rest


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """Weeks after each past origin, and what is needed to judge forecasts of them.

    `actual` and `share` are (n_origins, n_series, LONG), use and open share of the weeks after each past
    origin; `doubt` (n_origins + 1, n_series) holds today's in its last row; `scale` (n_series,) is the mean
    change from week to week; `step` the weeks between origins.
    """

    actual: Floats
    share: Floats
    doubt: Floats
    scale: Floats
    family: NDArray[np.intp]
    house: NDArray[np.intp]
    step: int

    @classmethod
    def of(cls, history: History, view: View) -> "Trial":
        """Lay out the weeks after a view's past origins; closed weeks are known to use nothing."""
        past = view.origins[:-1]
        columns = past[:, None] + np.arange(LONG)
        use = np.where(history.share == 0, 0.0, history.use)
        begun = np.cumsum(view.open_weeks > 0, axis=1)[:, past - 1].T > 0  # before, a forecast is of nothing seen
        jump = np.abs(np.diff(history.use, axis=1))
        number = (~np.isnan(jump)).sum(axis=1)
        return cls(
            actual=np.where(begun[..., None], use[:, columns].transpose(1, 0, 2), np.nan),
            share=history.share[:, columns].transpose(1, 0, 2),
            doubt=doubt(view),
            scale=np.maximum(np.nansum(jump, axis=1) / np.maximum(number, 1), LEAST_SCALE),
            family=view.family,
            house=history.house_of(),
            step=int(past[1] - past[0]) if len(past) > 1 else LONG,
        )

    def windows(self, rates: Floats, span: int) -> SpanSums:
        """Sum what came and what was promised over `span` weeks; `rates` is (n_origins + 1, n_series, >= LONG)."""
        return SpanSums(
            actual=self.actual[:, :, :span].sum(axis=2),
            mean=(rates[:-1, :, :span] * self.share[:, :, :span]).sum(axis=2),
            doubt=self.doubt[:-1],
            family=self.family,
            overlap=max(span / self.step, 1.0),
        )

    def losses(self, rates: Floats) -> Floats:
        """Scaled pinball loss in each window, mean over the spans known, (n_windows, n_series); NaN where none is."""
        total, number = np.zeros(self.actual.shape[:2]), np.zeros(self.actual.shape[:2])
        for span in (SHORT, LONG):
            windows = self.windows(rates, span)
            spread = measure(windows) + windows.doubt
            loss = pinball(windows.actual, gamma_quantiles(windows.mean, spread)) / span / self.scale
            total += np.nan_to_num(loss)
            number += ~np.isnan(loss)
        return np.where(number > 0, total / np.maximum(number, 1), np.nan)

    def spread(self, rates: Floats, unseen: Floats | float = 0.0) -> Spread:
        """Spread of the future around forecasts that have missed like these; `unseen` is what no miss can show yet."""
        short, long = self.windows(rates, SHORT), self.windows(rates, LONG)
        housed = shared_part(long, self.house)
        return Spread(
            short=np.maximum(measure(short) + self.doubt[-1], 0.0) + unseen,
            long=np.maximum(measure(long) + self.doubt[-1], 0.0) + unseen,
            shared=np.maximum(shared_part(long, self.family), housed) + unseen,
            housed=housed,
        )


def gamma_quantiles(mean: Floats, spread: Floats) -> Floats:
    """Quantiles LEVELS of sums, approximately, with a new last axis.

    Notes
    -----
    Wilson and Hilferty's (1931) cube-root approximation of the gamma distribution with the negative
    binomial's mean and variance: near enough, and quick enough, for judging models.
    """
    shape = np.maximum(mean / (1 + spread * mean), TINY)[..., None]
    cube = np.maximum(1 - 1 / (9 * shape) + NORMAL_SCORES / (3 * np.sqrt(shape)), 0.0) ** 3
    quantiles: Floats = mean[..., None] * cube
    return quantiles


def pinball(actual: Floats, quantiles: Floats) -> Floats:
    """Mean pinball loss over LEVELS; NaN where `actual` is."""
    gap = actual[..., None] - quantiles
    loss: Floats = np.maximum(LEVELS * gap, (LEVELS - 1) * gap).mean(axis=-1)
    return loss
