"""Which models to believe: judged from past origins on sums over lead times, combined, and their misses measured."""

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import Floats, History
from stockroom.demand.models import light_models
from stockroom.demand.spread import LONG, SHORT, Spread, measure, window_sums
from stockroom.demand.view import look

PAST_ORIGINS = 13  # a year of them,
STEP = 4  # four weeks apart
FIRST_ORIGIN = 20  # weeks of history before the first forecast is judged


def origins_of(n_weeks: int) -> NDArray[np.intp]:
    """Past origins whose LONG weeks have come in, oldest first, and today's, the last."""
    past = n_weeks - LONG - STEP * np.arange(PAST_ORIGINS)[::-1]
    return np.append(past[past >= FIRST_ORIGIN], n_weeks).astype(np.intp)


def forecast(history: History, horizon: int) -> tuple[Floats, Spread]:
    """Forecast means, (n_series, horizon), and the spread around them."""
    origins = origins_of(history.n_weeks)
    view = look(history, origins, max(horizon, LONG))
    means = np.mean([model.rates(view) for model in light_models().values()], axis=0)
    spread = _spread(history, means[:-1], origins[:-1])
    return means[-1, :, :horizon] * history.open_ahead(horizon), spread


def _spread(history: History, means: Floats, origins: NDArray[np.intp]) -> Spread:
    family = history.family_of()
    known = ~np.isnan(history.use)
    found = {}
    for span in (SHORT, LONG):
        actual = window_sums(history.use, known, origins, span)
        opened = [history.share[:, o : o + span] for o in origins]
        expected = (means[:, :, :span] * np.stack(opened)).sum(axis=2) if opened else np.zeros((0, len(family)))
        found[span] = measure(actual, expected, family, max(span / STEP, 1.0))
    return Spread(short=found[SHORT][0], long=found[LONG][0], shared=found[LONG][1])
