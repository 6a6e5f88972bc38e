import numpy as np
import pytest
from scipy import sparse

from stockroom.demand.history import History
from stockroom.demand.paths import Paths, explode, sample_paths

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
