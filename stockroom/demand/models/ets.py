"""Exponential smoothing in state-space form, with or without a damped trend; for long, busy histories.

Fits every series twice, at the first origin and at the last, so it is asked only by name.
"""

import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np

from stockroom.demand.history import Floats
from stockroom.demand.view import View, calm

LEVEL: dict[str, Any] = {"error": "add", "trend": None}
DAMPED: dict[str, Any] = {"error": "add", "trend": "add", "damped_trend": True}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ets:
    """ETS(A,N,N) or ETS(A,Ad,N), by Akaike's criterion (Hyndman et al. 2008), fitted by statsmodels."""

    name: str = "ets"
    least_weeks: int = 26
    everyday: bool = False

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week."""
        level = np.empty_like(view.ahead)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a fit that stops early still forecasts; the backtest judges it
            past = [calm(view, origin) for origin in range(len(view.origins))]
            for row in range(len(view.use)):
                level[:, row] = _lines([series[row] for series in past], view.horizon)
        return np.maximum(level, 0.0) * view.ahead


def _lines(past: list[Floats], horizon: int) -> Floats:
    """Forecast one series from each origin: parameters of the first serve until the last, which has its own."""
    early = _fit(past[0])
    lines = [smoothed(series, early, horizon) for series in past[:-1]]
    return np.stack([*lines, smoothed(past[-1], _fit(past[-1]), horizon)])


def _ets_model() -> Any:  # noqa: ANN401 -- statsmodels carries no types
    from statsmodels.tsa.exponential_smoothing.ets import ETSModel  # noqa: PLC0415 -- slow import

    return ETSModel


def _fit(series: Floats) -> tuple[dict[str, Any], Floats] | None:
    if np.ptp(series) == 0:
        return None
    ets_model = _ets_model()
    fits = [(form, ets_model(series, **form).fit(disp=False)) for form in (LEVEL, DAMPED)]
    form, best = min(fits, key=lambda pair: float(pair[1].aicc))
    return form, np.asarray(best.params, dtype=np.float64)


def smoothed(series: Floats, found: tuple[dict[str, Any], Floats] | None, horizon: int) -> Floats:
    """Smooth a series with a form and its parameters (constants first, then the start), and forecast."""
    if found is None:
        return np.full(horizon, series.mean())
    form, parameters = found
    return np.asarray(_ets_model()(series, **form).smooth(parameters).forecast(horizon), dtype=np.float64)


MODEL = Ets()
