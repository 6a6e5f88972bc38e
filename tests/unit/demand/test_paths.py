import numpy as np
import pytest
from scipy import sparse

from stockroom.demand.chance import Chance
from stockroom.demand.history import History, Occasion
from stockroom.demand.paths import ChanceLine, Paths, around_one, explode, explode_chances, sample_paths, together
from tests.unit.demand.views import quantiles

MONDAY = np.datetime64("2023-01-02")


def weeks(n: int) -> np.ndarray:
    return MONDAY + np.timedelta64(7, "D") * np.arange(n)


def steady(n_series: int = 4, n_weeks: int = 120, mean: float = 3.0) -> History:
    use = np.random.default_rng(5).poisson(mean, (n_series, n_weeks)).astype(float)
    return History(use=use, weeks=weeks(n_weeks))


def test_paths_have_the_promised_shape_dates_and_whole_numbers() -> None:
    paths = sample_paths(steady(), 6, np.random.default_rng(1), 50)
    assert paths.counts.shape == (50, 4, 6)
    assert paths.mean.shape == (4, 6)
    assert paths.counts.dtype == np.int32
    assert paths.weeks[0, 0] == weeks(121)[-1]
    assert (paths.horizon, paths.n_paths) == (6, 50)


def test_the_same_seed_gives_the_same_paths() -> None:
    one = sample_paths(steady(), 8, np.random.default_rng(3), 40)
    two = sample_paths(steady(), 8, np.random.default_rng(3), 40)
    np.testing.assert_array_equal(one.counts, two.counts)


def test_paths_agree_with_their_mean() -> None:
    paths = sample_paths(steady(), 8, np.random.default_rng(3), 4000)
    np.testing.assert_allclose(paths.counts.mean(axis=0).sum(axis=1), paths.mean.sum(axis=1), rtol=0.03)


def test_a_steady_stream_is_forecast_at_its_rate() -> None:
    paths = sample_paths(steady(mean=5.0), 8, np.random.default_rng(3))
    np.testing.assert_allclose(paths.mean, 5.0, rtol=0.2)


@pytest.mark.parametrize(("horizon", "n_paths"), [(0, 5), (3, 0)])
def test_nothing_to_sample_is_refused(horizon: int, n_paths: int) -> None:
    with pytest.raises(ValueError, match="at least 1"):
        sample_paths(steady(), horizon, np.random.default_rng(0), n_paths)


def two_jobs() -> Paths:
    counts = np.array([[[1, 2], [0, 3]], [[4, 0], [1, 1]]])
    return Paths(names=("heel", "sole"), weeks=np.stack([weeks(2)] * 2), mean=counts.mean(axis=0), counts=counts)


@pytest.mark.parametrize("kind", [np.asarray, sparse.csr_matrix, sparse.csr_array])
def test_explode_uses_each_job_recipe_week_by_week(kind: object) -> None:
    recipes = kind([[2.0, 0.5, 0.0], [0.0, 1.0, 3.0]])  # type: ignore[operator]
    used = explode(two_jobs(), recipes, names=("rubber", "glue", "thread"))
    np.testing.assert_allclose(used.counts[0], np.array([[2, 4], [0.5, 4], [0, 9]]))
    np.testing.assert_allclose(used.counts[1], [[8, 0], [3, 1], [3, 3]])
    np.testing.assert_allclose(used.mean, used.counts.mean(axis=0))


def test_explode_refuses_recipes_of_another_shop() -> None:
    with pytest.raises(ValueError, match="2 streams"):
        explode(two_jobs(), np.ones((3, 1)), names=("glue",))


def seasonal(weeks_known: int = 156, n_series: int = 6) -> tuple[History, np.ndarray]:
    when = weeks(weeks_known + 26)
    shape = np.exp(0.6 * np.cos(2 * np.pi * np.arange(len(when)) / 52.18))
    use = np.random.default_rng(8).poisson(6 * shape[:weeks_known], (n_series, weeks_known)).astype(float)
    return History(use=use, weeks=when[:weeks_known]), 6 * shape


def test_the_season_is_carried_forward() -> None:
    history, true = seasonal()
    paths = sample_paths(history, 26, np.random.default_rng(1))
    assert np.corrcoef(paths.mean.mean(axis=0), true[156:])[0, 1] > 0.95


def test_a_new_series_borrows_the_pattern_of_its_family() -> None:
    history, _ = seasonal()
    use = np.vstack([history.use, np.full((1, 156), np.nan)])
    use[-1, -3:] = [4, 6, 5]
    paths = sample_paths(History(use=use, weeks=weeks(156)), 26, np.random.default_rng(1))
    assert np.corrcoef(paths.mean[-1], paths.mean[0])[0, 1] > 0.95
    wide = quantiles(paths, [0.1, 0.9], 8)
    assert np.ptp(wide[-1]) / paths.mean[-1, :8].sum() > np.ptp(wide[0]) / paths.mean[0, :8].sum()


def test_a_series_that_never_was_used_is_believed_possible() -> None:
    history, _ = seasonal()
    use = np.vstack([history.use, np.full((1, 156), np.nan)])
    paths = sample_paths(History(use=use, weeks=weeks(156)), 8, np.random.default_rng(1))
    assert quantiles(paths, [0.8])[-1, 0] > 0


def test_eight_idle_weeks_do_not_end_a_busy_year() -> None:
    use = np.random.default_rng(6).poisson(1.0, (8, 120)).astype(float)
    use[0, -8:] = 0
    paths = sample_paths(History(use=use, weeks=weeks(120)), 8, np.random.default_rng(2))
    assert quantiles(paths, [0.5, 0.95])[0].min() >= 1


def test_weeks_known_to_be_closed_sell_nothing_and_half_weeks_half() -> None:
    closing = History(use=steady(mean=8.0).use, weeks=weeks(120), future_open=np.array([1.0, 0.0, 0.5]))
    paths = sample_paths(closing, 3, np.random.default_rng(2))
    assert paths.counts[:, :, 1].max() == 0
    np.testing.assert_allclose(paths.mean[:, 2] / paths.mean[:, 0], 0.5, rtol=0.2)


def test_past_closures_are_not_low_demand() -> None:
    use = np.random.default_rng(5).poisson(8.0, (4, 120)).astype(float)
    use[:, -3:] = 0
    share = np.ones(120)
    share[-3:] = 0
    closed = sample_paths(History(use=use, weeks=weeks(120), open_share=share), 4, np.random.default_rng(2))
    np.testing.assert_allclose(closed.mean, 8, rtol=0.15)


def test_a_named_occasion_is_expected_again_on_its_new_date() -> None:
    when = weeks(170)
    starts = [30, 84, 134, 161]  # moves about in the year
    lift = np.ones(170)
    for start in starts:
        lift[start : start + 1] = 4
        lift[start - 1], lift[start + 1] = 2.5, 2.5
    use = np.random.default_rng(9).poisson(5 * lift[:156], (8, 156)).astype(float)
    fair = Occasion(name="fair", dates=tuple(when[s] for s in starts))
    paths = sample_paths(History(use=use, weeks=when[:156], occasions=(fair,)), 10, np.random.default_rng(2))
    expected = paths.mean.mean(axis=0)
    assert expected[5] > 2 * expected[0]
    assert int(expected.argmax()) == 5


def test_a_short_history_still_gives_paths() -> None:
    for n_weeks in (1, 2, 9, 20):
        history = History(use=np.full((2, n_weeks), 3.0), weeks=weeks(n_weeks))
        paths = sample_paths(history, 4, np.random.default_rng(2))
        assert 1 < paths.mean.mean() < 6
        assert np.isfinite(paths.mean).all()


def test_no_series_no_paths() -> None:
    paths = sample_paths(History(use=np.zeros((0, 5)), weeks=weeks(5)), 4, np.random.default_rng(2), 7)
    assert paths.counts.shape == (7, 0, 4)
    used = explode(paths, np.zeros((0, 2)), names=("a", "b"))
    assert used.counts.shape == (7, 2, 4)


def test_chance_lines_are_drawn_job_by_job() -> None:
    jobs = Paths(names=("sole",), weeks=weeks(2)[None], mean=np.full((1, 2), 30.0), counts=np.full((4000, 1, 2), 30))
    line = ChanceLine(stream=0, material=1, amount=2.0, chance=1 / 3)
    used = explode_chances(jobs, [line], names=("glue", "filler"), chance=Chance(seed=1))
    np.testing.assert_allclose(used.mean, np.array([[0, 0], [20, 20]]))
    assert used.counts[:, 1].mean() == pytest.approx(20, rel=0.02)
    assert used.counts[:, 1, 0].var() == pytest.approx(4 * 30 * 2 / 9, rel=0.1)


def test_sources_of_demand_are_added_path_by_path() -> None:
    jobs = two_jobs()
    both = together(jobs, jobs)
    np.testing.assert_array_equal(both.counts, 2 * jobs.counts)
    np.testing.assert_array_equal(both.mean, 2 * jobs.mean)
    with pytest.raises(ValueError, match="same names"):
        together(jobs, explode(jobs, np.eye(2), names=("x", "y")))


def test_a_correction_scales_use_and_widens_it() -> None:
    used = explode(sample_paths(steady(), 4, np.random.default_rng(1), 3000), np.eye(4), names=tuple("abcd"))
    by = around_one(np.array([0.0, 0.0, 0.2, 0.0]), np.random.default_rng(2).spawn(4), 3000)
    assert by.mean(axis=0) == pytest.approx(np.ones(4), abs=0.03)
    total, truer = used.counts.sum(axis=2), (used.counts * by[:, :, None]).sum(axis=2)
    np.testing.assert_allclose(truer[:, 0], total[:, 0], rtol=0.02)
    assert truer[:, 2].std() > 1.3 * total[:, 2].std()
