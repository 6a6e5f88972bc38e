"""What is believed of a supplier, against published results and another library's distributions."""

from collections.abc import Iterator
from datetime import date, timedelta

import numpy as np
import pytest
from scipy import stats

from stockroom.buying import lead_times
from stockroom.buying.lead_times import LeadTime, PastOrder, Terms, learn

DAY = date(2031, 3, 3)


def taught(*took: int, stated: float) -> LeadTime:
    past = [PastOrder(ordered=DAY, received=DAY + timedelta(days=each)) for each in took]
    return learn(past, Terms(stated_days=stated), DAY + timedelta(days=400))


@pytest.fixture(autouse=True)
def _laid_out_anew() -> Iterator[None]:
    """What is laid out once is laid out again for a test that asks of fewer suppliers."""
    lead_times._suppliers.cache_clear()
    yield
    lead_times._suppliers.cache_clear()


def test_usual_times_and_delays_are_those_of_the_library() -> None:
    """Log-normal and, added to it, geometric (scipy.stats.lognorm, geom): the sum by its definition."""
    usual, late = lead_times._suppliers()
    day = np.arange(1, 40)
    for m, s, d in ((40, 3, 1), (60, 5, 3), (20, 0, 5)):
        law = stats.lognorm(lead_times.SPREADS[s], scale=np.exp(lead_times.USUAL_LOGS[m]))
        np.testing.assert_allclose(usual[day, m, s], law.sf(day - 0.5), atol=1e-12)
        delay = stats.geom(1 / lead_times.DELAYS[d])
        without = [1.0, *law.sf(np.arange(1, 40) - 0.5)]
        summed = [sum(delay.pmf(e) * without[n - e] for e in range(1, n + 1)) + delay.sf(n) for n in day]
        np.testing.assert_allclose(late[day, m, s, d], summed, atol=1e-12)


def test_usual_time_is_the_conjugate_one_where_nothing_else_is_in_doubt(monkeypatch: pytest.MonkeyPatch) -> None:
    """A normal mean with known variance: precisions add up (Gelman et al., *Bayesian Data Analysis*, 3rd ed., 2.5).

    Long times, so that whole days hide nothing; the predictive has both variances.
    """
    spread, took, stated = 0.2, (60, 70, 75, 80, 66), 50.0
    monkeypatch.setattr(lead_times, "SPREADS", np.array([spread]))
    monkeypatch.setattr(lead_times, "LATE_SHARES", np.array([1e-12]))
    belief = taught(*took, stated=stated)
    precision = 1 / lead_times.WORD_SPREAD**2 + len(took) / spread**2
    centre = (np.log(stated) / lead_times.WORD_SPREAD**2 + np.log(took).sum() / spread**2) / precision
    assert np.log(belief.usual_days) == pytest.approx(centre, abs=1e-3)
    law = stats.lognorm(np.sqrt(spread**2 + 1 / precision), scale=np.exp(centre))
    days = np.array([45.5, 60.5, 70.5, 90.5])
    np.testing.assert_allclose(belief.beyond(days), law.sf(days), atol=2e-3)


@pytest.mark.parametrize(("prompt", "late"), [(0, 0), (20, 0), (20, 4), (60, 3)])
def test_share_of_late_deliveries_is_the_beta_binomial_one(
    prompt: int, late: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where late ones can't be mistaken: (a + late) / (a + b + n), for a Beta(a, b) (the same, 2.4)."""
    monkeypatch.setattr(lead_times, "TWO_SPEEDS", 1e-12)
    monkeypatch.setattr(lead_times, "DELAYS", np.array([1.0, 40.0]))
    monkeypatch.setattr(lead_times, "SPREADS", np.array([0.1]))
    monkeypatch.setattr(lead_times, "DELAY", (0.0, 40.0))
    monkeypatch.setattr(lead_times, "DELAY_SPREAD", 0.1)
    monkeypatch.setattr(lead_times, "STRAY_DELAY", 1)
    monkeypatch.setattr(lead_times, "WORD_SPREAD", 0.1)
    belief = taught(*[5] * prompt, *[60] * late, stated=5.0)
    share = (1 + late) / (1 + lead_times.LATE_WEIGHT + prompt + late)
    still = (1 - 1 / 40) ** 8  # of those late, who wait eight days and more beyond five
    assert belief.beyond(np.array([12.5]))[0] == pytest.approx(share * (1 - 1 / 40) ** 7, rel=0.06)
    assert share * still < belief.beyond(np.array([12.5]))[0]
