"""Student's t: our own few lines against published tables and scipy's, which take longer to load than to use."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import stdtr, stdtrit

from stockroom.demand.student import student_cdf, student_quantile
from stockroom.margins.income import mean_interval

# NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, critical values of Student's t: degrees of freedom by
# 1 - alpha .95 and .975 (as many digits as it prints).
NIST = {
    1: (6.314, 12.706), 2: (2.920, 4.303), 5: (2.015, 2.571), 10: (1.812, 2.228), 30: (1.697, 2.042), 100: (1.660, 1.984),
}  # fmt: skip


@pytest.mark.parametrize("freedom", NIST)
def test_critical_values_are_nists(freedom: int) -> None:
    assert (round(student_quantile(freedom, 0.95), 3), round(student_quantile(freedom, 0.975), 3)) == NIST[freedom]


@given(st.floats(0.5, 20_000), st.floats(-60, 60))
def test_distribution_is_scipys(freedom: float, t: float) -> None:
    assert student_cdf(freedom, t) == pytest.approx(float(stdtr(freedom, t)), abs=1e-9)


@given(st.floats(0.5, 20_000), st.floats(0.5, 0.999))
def test_quantile_is_scipys(freedom: float, chance: float) -> None:
    assert student_quantile(freedom, chance) == pytest.approx(float(stdtrit(freedom, chance)), rel=1e-7, abs=1e-7)


def test_interval_of_the_mean_is_the_tables() -> None:
    """Eleven values 1 to 11: mean 6, s = sqrt(11), so 6 -/+ 1.812 * sqrt(11) / sqrt(11) (in thousands, as rounded)."""
    assert mean_interval([1000 * n for n in range(1, 12)]) == (6000 - 1812, 6000 + 1812)
