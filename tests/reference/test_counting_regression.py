"""The regression core on certified sets: NIST Statistical Reference Datasets, Norris and Longley (linear least squares).

Certified values: https://www.itl.nist.gov/div898/strd/lls/. The 36 Norris pairs are from memory; that they meet all certified
values to twelve digits shows them right. Tolerances: Norris 1e-11, Longley 1e-9 (its columns are nearly dependent; double
precision keeps about eleven digits by QR).
"""

import numpy as np
import pytest
from numpy.typing import NDArray

from stockroom.counting.linear_model import Prior, posterior

Floats = NDArray[np.float64]

NORRIS = (
    "0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3 449.1 448.6 778.9 777.0 "
    "559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5 10.8 11.6 557.7 556.0 228.3 228.1 "
    "998.0 995.8 888.8 887.6 119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1 888.0 887.2 998.5 999.0 778.9 779.0 "
    "10.2 11.1 117.6 118.3 228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5"
)
LONGLEY = """
60323 83.0 234289 2356 1590 107608 1947
61122 88.5 259426 2325 1456 108632 1948
60171 88.2 258054 3682 1616 109773 1949
61187 89.5 284599 3351 1650 110929 1950
63221 96.2 328975 2099 3099 112075 1951
63639 98.1 346999 1932 3594 113270 1952
64989 99.0 365385 1870 3547 115094 1953
63761 100.0 363112 3578 3350 116219 1954
66019 101.2 397469 2904 3048 117388 1955
67857 104.6 419180 2822 2857 118734 1956
68169 108.4 442769 2936 2798 120445 1957
66513 110.8 444546 4681 2637 121950 1958
68655 112.6 482704 3813 2552 123366 1959
69564 114.2 502601 3931 2514 125368 1960
69331 115.7 518173 4806 2572 127852 1961
70551 116.9 554894 4007 2827 130081 1962
"""


def read(text: str, columns: int) -> tuple[Floats, Floats]:
    table = np.array(text.split(), float).reshape(-1, columns)
    return np.column_stack([np.ones(len(table)), table[:, 1:]]), table[:, 0]


def standard_errors(design: Floats, observed: Floats) -> tuple[float, Floats]:
    found = posterior(design, observed)
    residual = float(found.residual_sum / (observed.size - found.rank)) ** 0.5
    return residual, residual * np.sqrt(np.diag(found.covariance))


def test_norris() -> None:
    design, observed = read(NORRIS, 2)
    found = posterior(design, observed)
    residual, errors = standard_errors(design, observed)
    assert found.mean == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-11)
    assert found.residual_sum == pytest.approx(26.6173985294224, rel=1e-11)
    assert residual == pytest.approx(0.884796396144373, rel=1e-11)
    assert errors == pytest.approx([0.232818234301152, 0.000429796848199937], rel=1e-11)


def test_longley() -> None:
    design, observed = read(LONGLEY, 7)
    found = posterior(design, observed)
    residual, errors = standard_errors(design, observed)
    assert found.mean == pytest.approx(
        [-3482258.63459582, 15.0618722713733, -0.0358191792925910, -2.02022980381683, -1.03322686717359,
         -0.0511041056535807, 1829.15146461355], rel=1e-9,
    )  # fmt: skip
    assert errors == pytest.approx(
        [890420.383607373, 84.9149257747669, 0.0334910077722432, 0.488399681651699, 0.214274163161675,
         0.226073200069370, 455.478499142212], rel=1e-9,
    )  # fmt: skip
    assert residual == pytest.approx(304.854073561965, rel=1e-9)
    assert found.residual_sum == pytest.approx(836424.055505915, rel=1e-9)


def test_a_very_wide_prior_leaves_the_certified_values_standing() -> None:
    design, observed = read(NORRIS, 2)
    wide = posterior(design, observed, prior=Prior(mean=np.zeros(2), covariance=1e12 * np.eye(2)))
    assert wide.mean == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-9)
