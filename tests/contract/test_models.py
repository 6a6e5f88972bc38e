"""Every file in stockroom/demand/models keeps the forecasting models' promises; a new file is picked up unasked."""

import subprocess
import sys
import warnings
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stockroom.demand import models
from stockroom.demand.history import History
from stockroom.demand.models import all_models, everyday_models
from stockroom.demand.view import Model, View, look
from stockroom.errors import StockroomError
from tests.unit.demand.views import flat_view

NAMES = sorted(all_models())
WEEKS = 80
ORIGINS = (60, 72, 80)


@pytest.fixture(scope="module")
def use() -> np.ndarray:
    rng = np.random.default_rng(11)
    found = rng.poisson([[6.0], [0.4], [2.0], [15.0]], (4, WEEKS)).astype(float)
    found[2, 70:] = 0
    found[1, :30] = np.nan
    return found


def forecast(name: str, view: View) -> np.ndarray:
    return all_models()[name].rates(view)


def test_the_folder_is_the_list() -> None:
    files = {path.stem for path in Path(models.__path__[0]).glob("*.py")} - {"__init__"}
    of = {type(model).__module__.rpartition(".")[2] for model in all_models().values()}
    assert of == files
    named = {name for name in NAMES if "-" not in name} | {"own"}  # a file of several names them 'file-which'
    assert named == files, "a model is called as its file is, in one word"
    assert {"pooled", "tsb"} <= set(everyday_models())


@pytest.mark.parametrize("name", NAMES)
def test_a_model_speaks_the_protocol(name: str) -> None:
    model = all_models()[name]
    assert isinstance(model, Model)
    assert model.name == name
    assert 1 <= model.least_weeks <= ORIGINS[0]


@pytest.mark.parametrize("name", NAMES)
def test_forecasts_are_finite_and_never_negative(name: str, use: np.ndarray) -> None:
    found = forecast(name, flat_view(use, origins=ORIGINS, horizon=5))
    assert found.shape == (3, 4, 5)
    assert np.isfinite(found).all()
    assert (found >= 0).all()


@pytest.mark.parametrize("name", NAMES)
def test_forecasts_stand_near_a_steady_level(name: str, use: np.ndarray) -> None:
    found = forecast(name, flat_view(use, origins=ORIGINS))
    assert found[:, 0].mean() == pytest.approx(6, rel=0.3)
    assert found[:, 3].mean() == pytest.approx(15, rel=0.3)


@pytest.mark.parametrize("name", NAMES)
def test_no_forecast_looks_past_its_origin(name: str, use: np.ndarray) -> None:
    later = use.copy()
    later[:, 60:] = 99
    one, two = (forecast(name, flat_view(u, origins=ORIGINS))[0] for u in (use, later))
    np.testing.assert_allclose(one, two)


@pytest.mark.parametrize("name", NAMES)
def test_the_same_view_gives_the_same_forecast(name: str, use: np.ndarray) -> None:
    one, two = (forecast(name, flat_view(use, origins=ORIGINS)) for _ in range(2))
    np.testing.assert_array_equal(one, two)


@pytest.mark.parametrize("name", NAMES)
def test_idle_series_are_forecast_quietly(name: str) -> None:
    found = forecast(name, flat_view(np.zeros((2, WEEKS)), origins=ORIGINS))
    assert np.isfinite(found).all()
    assert (found < 0.05).all()


def _gaps(kind: str, use: np.ndarray) -> np.ndarray:
    """Leave holes in what is known, as shops do: a material just taken up, one dropped, a book just begun."""
    found = use.copy()
    if kind == "one series never known":
        found[1] = np.nan
    elif kind == "one known only after the first origin":
        found[1, : ORIGINS[0]] = np.nan
    elif kind == "one known only before the first origin":
        found[1, 10:] = np.nan
    elif kind == "one known in its last week alone":
        found[1, :-1] = np.nan
    elif kind == "weeks that nobody knows":
        found[:, 20:30] = np.nan
    else:
        found[:] = np.nan
    return found


GAPS = (
    "one series never known",
    "one known only after the first origin",
    "one known only before the first origin",
    "one known in its last week alone",
    "weeks that nobody knows",
    "nothing known at all",
)


@pytest.mark.parametrize("kind", GAPS)
@pytest.mark.parametrize("name", NAMES)
def test_weeks_that_are_not_known_are_no_reason_to_fail(name: str, kind: str, use: np.ndarray) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")  # what divides by nothing has not thought of it
        found = forecast(name, flat_view(_gaps(kind, use), origins=ORIGINS, horizon=5))
    assert found.shape == (3, 4, 5)
    assert np.isfinite(found).all()
    assert (found >= 0).all()


@settings(max_examples=15, deadline=None)
@given(chance=st.floats(0, 1), seed=st.integers(0, 2**16), family=st.lists(st.integers(0, 1), min_size=3, max_size=3))
@pytest.mark.parametrize("name", [name for name in NAMES if name != "boost"])  # seconds a forecast
def test_whatever_is_known_and_closed_forecasts_are_rates(
    name: str, chance: float, seed: int, family: list[int]
) -> None:
    rng = np.random.default_rng(seed)
    found = rng.poisson(rng.choice([0.05, 1.0, 20.0], (3, 1)), (3, WEEKS)).astype(float)
    found[rng.random((3, WEEKS)) < chance] = np.nan
    share = np.where(rng.random((3, WEEKS)) < 0.1, 0.0, rng.uniform(0.2, 1, (3, WEEKS)))
    days = np.datetime64("2024-01-01") + np.timedelta64(7, "D") * np.arange(WEEKS)
    history = History(use=found, weeks=days, open_share=share, groups=tuple(f"family {each}" for each in family))
    rates = forecast(name, look(history, np.array(ORIGINS), horizon=5))
    assert rates.shape == (3, 3, 5)
    assert np.isfinite(rates).all()
    assert (rates >= 0).all()


def test_two_models_of_one_name_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    twin = SimpleNamespace(MODEL=SimpleNamespace(name="twin"))
    monkeypatch.setattr(models, "import_module", lambda _: twin)
    all_models.cache_clear()
    with pytest.raises(ValueError, match="'twin'"):
        all_models()
    monkeypatch.undo()
    all_models.cache_clear()


def test_everyday_forecasts_load_no_heavy_library() -> None:
    script = """
import sys
import warnings
import numpy as np
from stockroom.demand.history import History
from stockroom.demand.paths import sample_paths
weeks = np.datetime64("2024-01-01") + np.timedelta64(7, "D") * np.arange(60)
sample_paths(History(use=np.ones((2, 60)), weeks=weeks), 4, np.random.default_rng(0), 5)
print(sorted({"statsmodels", "sklearn", "pandas", "scipy", "matplotlib"} & set(sys.modules)))
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_boosting_without_its_library_says_what_to_install(monkeypatch: pytest.MonkeyPatch, use: np.ndarray) -> None:
    monkeypatch.setitem(sys.modules, "sklearn.ensemble", None)
    with pytest.raises(StockroomError, match="needs scikit-learn") as caught:
        forecast("boost", flat_view(use, origins=ORIGINS))
    assert "stockroom[boost]" in caught.value.fix
