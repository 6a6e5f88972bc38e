"""Intermittent demand against published figures."""

import numpy as np
import pytest

from stockroom.demand.intermittent import classify, croston_levels, sba_factor, tsb_levels

# Monthly scripts of class J06 (immune sera), July 1991 to June 2008, Australian Pharmaceutical Benefits Scheme: the
# series of Hyndman and Athanasopoulos, Forecasting: principles and practice, 3rd ed., 13.2
# fmt: off
J06_COUNTS = [
    1, 1, 1, 0, 0, 1, 3, 1, 1, 1, 1, 1, 2, 1, 1, 0, 0, 2, 0, 0, 1, 2, 0, 1, 0, 0, 1, 1, 1, 1, 0, 0, 2, 1, 0, 0,
    0, 1, 0, 3, 3, 2, 4, 1, 1, 3, 3, 1, 0, 4, 1, 3, 0, 1, 2, 5, 14, 2, 0, 0, 3, 6, 2, 2, 2, 5, 1, 6, 3, 3, 2, 0,
    1, 1, 0, 0, 0, 1, 4, 12, 4, 0, 7, 0, 2, 1, 4, 1, 3, 1, 0, 6, 9, 3, 1, 3, 1, 7, 1, 3, 3, 3, 5, 6, 10, 5, 1, 3,
    1, 1, 1, 2, 1, 3, 7, 11, 10, 5, 5, 2, 2, 1, 0, 3, 6, 5, 8, 9, 1, 1, 0, 0, 0, 1, 2, 2, 0, 0, 0, 0, 1, 0, 0, 0,
    2, 1, 1, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, 1, 3,
]
# fmt: on
J06 = np.array(J06_COUNTS + [0] * (204 - len(J06_COUNTS)), dtype=np.float64)[None]
# Hyndman and Athanasopoulos, 2nd ed., 12.2, product C
# fmt: off
PRODUCT_C_COUNTS = [
    0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0, 6, 3, 0, 0, 0, 0, 0, 7, 0, 0, 0, 0, 0, 0, 0, 3, 1, 0, 0, 1, 0, 1, 0, 0,
]
# fmt: on
PRODUCT_C = np.array(PRODUCT_C_COUNTS, dtype=np.float64)[None]


def known(series: np.ndarray) -> np.ndarray:
    return np.ones_like(series, dtype=bool)


@pytest.mark.parametrize(("alpha", "forecast"), [(0.05, 1.405808), (0.1, 0.8688921), (0.5, 0.6754646)])
def test_croston_as_in_r(alpha: float, forecast: float) -> None:
    """R's forecast::croston on J06; figures opened in sktime's test_croston.py. The series' sum and its table 13.2 are the book's."""
    hits = np.flatnonzero(J06[0])[:10]
    assert (J06.shape, J06.sum()) == ((1, 204), 331)
    assert J06[0, hits].tolist() == [1, 1, 1, 1, 3, 1, 1, 1, 1, 1]
    assert np.diff(hits).tolist() == [1, 1, 3, 1, 1, 1, 1, 1, 1]
    assert croston_levels(J06, known(J06), alpha=alpha)[0, -1] == pytest.approx(forecast, abs=1e-6)


def test_syntetos_boylan_correction() -> None:
    """Recomputed; another library's Croston-SBA on J06 agrees. Factor opened at pkg.robjhyndman.com, CROSTON_MODEL."""
    held = croston_levels(J06, known(J06), alpha=0.1) * sba_factor(0.1)
    assert held[0, -1] == pytest.approx(0.82544750, abs=1e-6)


@pytest.mark.parametrize(("series", "forecast"), [(PRODUCT_C, 0.8040651), (J06, 0.01519359)])
def test_tsb_with_chance_started_at_the_first_week(series: np.ndarray, forecast: float) -> None:
    """No printed example is known; another library with the same start agrees. Other starts give other figures."""
    assert tsb_levels(series, known(series), alpha=0.1, beta=0.1)[0, -1] == pytest.approx(forecast, abs=1e-6)


def test_product_c_sizes_and_intervals() -> None:
    """2nd ed., 12.2 prints sizes and intervals (from memory; they follow from the opened data)."""
    hits = np.flatnonzero(PRODUCT_C[0])
    assert PRODUCT_C[0, hits].tolist() == [2, 1, 11, 2, 6, 3, 7, 3, 1, 1, 1]
    assert np.diff(hits, prepend=-1).tolist() == [2, 2, 2, 5, 2, 1, 6, 8, 1, 3, 2]
    interval, variation = classify(PRODUCT_C)
    assert interval[0] == pytest.approx(3.090909, abs=1e-6)
    assert variation[0] == pytest.approx(0.8775623, abs=1e-6)


@pytest.mark.parametrize(
    ("interval", "sizes", "kind"),
    [
        (1, (4, 5, 6), (False, False)),
        (1, (1, 9, 2), (False, True)),
        (3, (4, 5, 6), (True, False)),
        (3, (1, 9, 2), (True, True)),
    ],
)
def test_cut_offs_of_demand_classes(interval: int, sizes: tuple[int, ...], kind: tuple[bool, bool]) -> None:
    """Syntetos, Boylan and Croston (2005), cut-offs 1.32 and 0.49 as coded in the R package tsintermittent (idclass)."""
    series = np.zeros(12 * interval)
    series[interval - 1 :: interval] = np.resize(sizes, 12)
    found, variation = classify(series[None])
    assert (bool(found[0] > 1.32), bool(variation[0] > 0.49)) == kind
