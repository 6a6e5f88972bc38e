"""Forecasts follow the shop's total, by no more than has come in."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.demand.choose import Trial, forecast, origins_of, with_total
from stockroom.demand.history import History
from stockroom.demand.totals import FURTHEST, followed, half_drift, smoothed
from stockroom.demand.view import look

WEEKS = np.datetime64("2023-01-02") + np.timedelta64(7, "D") * np.arange(120)


def shop(use: np.ndarray) -> History:
    return History(use=use, weeks=WEEKS[: use.shape[1]])


def test_unknown_weeks_change_no_level() -> None:
    series = np.array([4.0, 6.0, 5.0, 8.0, 2.0] * 8)
    gaps = np.insert(series, [3, 10, 10, 25], np.nan)
    assert smoothed(series)[0] == pytest.approx(smoothed(gaps)[0])


def test_a_straight_line_is_followed_half_the_way() -> None:
    line = np.arange(100.0)
    level, pace = smoothed(line)
    assert pace == pytest.approx(0.6)
    behind = 99 - level
    assert half_drift(line, pace) == pytest.approx(3.5 / 2 + (behind + 1) / 2, rel=0.01)


@given(seed=st.integers(0, 999), scale=st.floats(0.1, 50))
def test_nothing_after_an_origin_says_how_the_total_went(seed: int, scale: float) -> None:
    rng = np.random.default_rng(seed)
    use = rng.poisson(scale, (6, 100)).astype(float)
    later = use.copy()
    later[:, 92:] = rng.poisson(4 * scale, (6, 8))
    origins, house = np.array([60, 92]), np.zeros(6, dtype=np.intp)
    factors = []
    for each in (use, later):
        view = look(shop(each), np.array([60, 92]), horizon=8)
        flat = type(view)(
            **{f: getattr(view, f) for f in view.__dataclass_fields__}
            | {"exposure": np.ones((2, 6, 100)), "ahead": np.ones((2, 6, 8))}
        )
        factors.append(followed(flat, np.full((len(origins), 6, 8), scale), house, drift=True))
    assert np.array_equal(factors[0], factors[1])
    assert np.all((factors[0] <= FURTHEST**0.5) & (factors[0] >= FURTHEST**-0.5))


def test_a_tide_that_lifts_all_lifts_the_rare_as_well() -> None:
    """Forty rare series of a shop whose work doubled half a year ago, and has been there since."""
    rng = np.random.default_rng(5)
    use = rng.poisson(np.where(np.arange(120) < 90, 0.4, 0.8), (40, 120)).astype(float)
    said = forecast(shop(use), 8).mean.sum()
    assert said == pytest.approx(40 * 8 * 0.8, rel=0.12)


def test_without_past_windows_nothing_is_followed() -> None:
    use = np.ones((3, 9))
    history = shop(use)
    view = look(history, origins_of(9)[-1:], horizon=8)
    mean = np.ones((1, 3, 8))
    assert with_total(Trial.of(history, view), view, mean) is mean
