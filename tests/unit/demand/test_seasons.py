import numpy as np
import pytest

from stockroom.demand.choose import forecast
from stockroom.demand.history import History, Occasion
from stockroom.demand.seasons import Design, borne_out, fit_patterns, month_factors, occasion_bumps, year_waves

WEEK = np.timedelta64(7, "D")
WEEKS = np.datetime64("2021-01-04") + WEEK * np.arange(164)
TRUE = np.exp(0.5 * np.cos(2 * np.pi * np.arange(164) / 52.18))


def fit(totals: np.ndarray, n_waves: int = 3, origins: tuple[int, ...] = (156,), usual: float = 20.0) -> np.ndarray:
    design = Design.of(np.broadcast_to(WEEKS, (len(totals), 164)), (), n_waves=n_waves)
    found = fit_patterns(totals, np.full(totals.shape, usual), design=design, origins=np.array(origins))
    return np.exp(found)


def test_waves_return_every_year() -> None:
    days = np.array(["2023-03-06", "2024-03-06", "2025-03-06"], dtype="datetime64[D]")
    np.testing.assert_allclose(np.ptp(year_waves(days, 2), axis=0), 0, atol=0.05)


def test_a_strong_season_is_found_and_carried_forward() -> None:
    totals = np.random.default_rng(1).poisson(20 * TRUE[None, :156]).astype(float)
    index = fit(totals)[0, 0]
    expected = TRUE / TRUE[:156].mean()
    assert np.abs(index[156:] / expected[156:] - 1).max() < 0.15


def test_noise_alone_gives_a_nearly_flat_pattern() -> None:
    totals = np.random.default_rng(2).negative_binomial(4, 4 / 24, (6, 156)).astype(float)
    assert np.abs(np.log(fit(totals, n_waves=10))).mean() < 0.06


def test_index_averages_one_over_a_year() -> None:
    totals = np.random.default_rng(1).poisson(20 * TRUE[None, :156]).astype(float)
    assert fit(totals)[0, 0, 52:104].mean() == pytest.approx(1, abs=0.01)


def test_no_season_is_believed_before_it_has_returned() -> None:
    totals = np.random.default_rng(1).poisson(20 * TRUE[None, :156]).astype(float)
    index = fit(totals, origins=(50, 156))
    assert np.all(index[0] == 1)
    assert np.ptp(index[1]) > 0.5


def test_earlier_patterns_come_from_earlier_weeks() -> None:
    turned = np.where(np.arange(156) < 104, TRUE[:156], 1 / TRUE[:156])
    totals = np.random.default_rng(3).poisson(20 * turned[None]).astype(float)
    early = fit(totals, origins=(104,))[0, 0]
    assert np.corrcoef(early[:104], TRUE[:104])[0, 1] > 0.95


def test_a_slow_trend_is_not_taken_for_a_season() -> None:
    growth = np.linspace(0.5, 2, 156)
    totals = np.random.default_rng(4).poisson(20 * growth[None]).astype(float)
    assert np.ptp(fit(totals)[0, 0]) < 0.2


def test_bumps_lead_up_to_an_occasion_and_away_from_it() -> None:
    school = Occasion(name="school", dates=(WEEKS[10] + np.timedelta64(2, "D"),))
    before, after = occasion_bumps(WEEKS[:20], (school,)).T
    np.testing.assert_allclose(before[6:11], [0, 0.25, 0.5, 0.75, 1])
    np.testing.assert_allclose(after[10:15], [0, 0.75, 0.5, 0.25, 0])


def test_no_occasions_no_columns() -> None:
    assert occasion_bumps(WEEKS, ()).shape == (164, 0)


def _usual_year(seed: int, power: float, weeks: int = 52) -> float:
    """How far an expected year is borne out by a year that followed a power of it."""
    months = np.exp(0.6 * np.cos(2 * np.pi * np.arange(12) / 12))[None]
    shape = np.log(month_factors(WEEKS[None], months / months.mean()))
    rng = np.random.default_rng(seed)
    totals = rng.poisson(20 * np.exp(power * shape[:, :weeks])).astype(float)
    usual = np.full(totals.shape, totals.mean())
    found = borne_out(totals, usual, shape, season=365.25 / 7, origins=np.array([weeks]))
    return float(found[0, 0])


def test_an_expected_year_is_kept_as_far_as_use_bears_it_out() -> None:
    assert np.mean([_usual_year(seed, 1.0) for seed in range(10)]) == pytest.approx(1, abs=0.15)
    assert np.mean([_usual_year(seed, 0.0) for seed in range(10)]) < 0.35
    assert np.mean([_usual_year(seed, -1.0) for seed in range(10)]) < 0.1


def test_before_anything_is_seen_an_expected_year_is_believed() -> None:
    assert _usual_year(1, -1.0, weeks=2) > 0.8


def test_a_wrong_year_fades_and_a_right_one_serves_from_the_start() -> None:
    """Forecasts of a family in its first and fourth year, expected right, wrong and not at all."""
    weeks = np.datetime64("2021-01-04") + WEEK * np.arange(190)
    right = np.exp(0.7 * np.cos(2 * np.pi * np.arange(12) / 12))[None]
    right /= right.mean()
    season = month_factors(weeks[None], right)[0]
    use = np.random.default_rng(8).poisson(8 * season, (6, 190)).astype(float)

    def miss(end: int, year: np.ndarray | None) -> float:
        rows = None if year is None else np.repeat(year, 6, axis=0)
        history = History(use=use[:, :end], weeks=weeks[:end], groups=("a",) * 6, usual_year=rows)
        mean = forecast(history, 8).mean
        return float(np.abs(mean.sum(axis=0) / 6 - 8 * season[end : end + 8]).mean())

    wrong = np.roll(right, 6, axis=1)
    early = range(16, 44, 4)
    assert sum(miss(end, right) for end in early) < 0.5 * sum(miss(end, None) for end in early)
    assert miss(170, wrong) < 1.25 * miss(170, None)


def test_a_year_without_highs_and_lows_changes_nothing() -> None:
    use = np.random.default_rng(5).poisson(4, (3, 60)).astype(float)
    histories = [
        History(use=use, weeks=WEEKS[:60], groups=("a", "a", "b"), usual_year=year) for year in (None, np.ones((3, 12)))
    ]
    bare, flat = (forecast(history, 8).mean for history in histories)
    np.testing.assert_allclose(flat, bare, rtol=1e-9)
