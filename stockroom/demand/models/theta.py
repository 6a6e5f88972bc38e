"""Theta: smoothing with half the long trend's drift, the season taken out; for long, busy histories.

Fits every series at every origin, one by one, so it is asked only by name.
"""

import warnings
from dataclasses import dataclass

import numpy as np

from stockroom.demand.history import Floats
from stockroom.demand.view import View, calm


@dataclass(frozen=True, slots=True, kw_only=True)
class Theta:
    """The theta method (Assimakopoulos and Nikolopoulos 2000), fitted by statsmodels."""

    name: str = "theta"
    least_weeks: int = 52
    everyday: bool = False

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week."""
        level = np.empty_like(view.ahead)
        for origin in range(len(view.origins)):
            for row, series in enumerate(calm(view, origin)):
                level[origin, row] = _line(series, view.horizon)
        return np.maximum(level, 0.0) * view.ahead


def _line(series: Floats, horizon: int) -> Floats:
    if np.ptp(series) == 0:
        return np.full(horizon, series[-1])
    from statsmodels.tsa.forecasting.theta import ThetaModel  # noqa: PLC0415 -- slow import

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a fit that stops early still forecasts; the backtest judges it
        fitted = ThetaModel(series, period=1, deseasonalize=False).fit()
        return np.asarray(fitted.forecast(horizon), dtype=np.float64)


MODEL = Theta()
