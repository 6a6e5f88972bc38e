"""Counting against published figures: conjugate beliefs, count adjustments, record accuracy, coverage, thread."""

from fractions import Fraction

import numpy as np
import pytest
from scipy import stats

from stockroom.counting.aids import aid
from stockroom.counting.learn import learn
from stockroom.counting.lessons import MaterialLesson, Span
from stockroom.counting.linear_model import Prior, posterior
from stockroom.counting.reconcile import CountVerdict, Grade, Rules, compare, grades, totals
from stockroom.counting.shelf_posterior import Losses, ShelfPosterior, SinceCount, after_work
from stockroom.stock.materials import Material
from stockroom.stock.quantities import unit
from tests import build
from tests.benchmarks.counting import WORLDS, rows, shop

IDLE = MaterialLesson(
    material="X1", lines=(), waste=Span(estimate=0, low=0, high=0), outliers=(), job_spread=0.2,
    ratio_mean=np.zeros(1), ratio_covariance=np.zeros((1, 1)),
)  # fmt: skip


def losses_in(posterior: Losses, weeks: float) -> tuple[float, float]:
    """Mean and variance of the number of losses in a stretch of time."""
    work = SinceCount(expected=np.zeros(0), times=np.zeros(0), received=0.0, weeks=weeks)
    found = after_work(ShelfPosterior(mean=0, variance=0), work, IDLE, posterior)
    return -found.mean, found.variance


def test_gamma_poisson_of_bayes_rules_chapter_5() -> None:
    """Johnson, Ott and Dogucu, Bayes Rules!, ch. 5: Gamma(10, 2) and counts 6, 2, 2, 1 give Gamma(21, 6)."""
    found = Losses(shape=10, weeks=2, size=1).seen(6 + 2 + 2 + 1, 4)
    assert (found.shape, found.weeks, found.rate) == (21, 6, 3.5)
    assert losses_in(found, 1) == pytest.approx((3.5, stats.nbinom(21, 6 / 7).var()))


def test_gamma_poisson_of_blitzstein_and_hwang_chapter_9() -> None:
    """Y is NBin(r0, b0 / (b0 + t)); their r0 = 5, b0 = 1, t = 2. Mean 10 and variance 30 are our own arithmetic."""
    assert losses_in(Losses(shape=5, weeks=1, size=1), 2) == pytest.approx((10, 30))


def test_gamma_poisson_in_sequence() -> None:
    """Prior 1 / theta and counts 20, 24, 23: Gamma(20, 1), Gamma(44, 2), Gamma(67, 3) (a compendium on fliphtml5)."""
    posterior, found = Losses(shape=0, weeks=0, size=1), []
    for count in (20, 24, 23):
        posterior = posterior.seen(count, 1)
        found.append((posterior.shape, posterior.weeks, round(posterior.rate, 2)))
    assert found == [(20, 1, 20), (44, 2, 22), (67, 3, 22.33)]


def test_conjugate_normal() -> None:
    """Gelman et al., Bayesian Data Analysis, 3rd ed., eq. 2.10-2.12 (from memory): precisions add up."""
    core = posterior(
        np.ones((1, 1)), np.array([150.0]), noise=np.array([[400.0]]),
        prior=Prior(mean=np.array([180.0]), covariance=np.array([[1600.0]])),
    )  # fmt: skip
    assert (core.mean[0], core.covariance[0, 0]) == pytest.approx((156.0, 320.0))


@pytest.mark.parametrize(
    ("book", "counted", "written_off"), [(73_200, 72_980, 220), (535_500, 504_580, 30_920), (41_300, 39_800, 1_500)]
)
def test_count_adjustments_of_accounting_exercises(book: int, counted: int, written_off: int) -> None:
    """tutorialsmagnet.com; qammunity 6655017; quick study 5-14 at smartsolve: debit cost of goods sold, credit inventory."""
    nano = 10**9
    found = compare(build.counted_bin(book * nano, counted * nano, cost=Fraction(1)))
    assert found.value == -written_off


def test_classes_and_tolerances_of_a_practitioner() -> None:
    """supplychainmetric.com: A top 80 % of yearly value at 1 %, 4 a year; B next 15 % at 3 %, 2; C last 5 % at 5 %, 1."""
    rules = Rules()
    found = grades({f"m{i}": value for i, value in enumerate((500, 300, 100, 50, 30, 20))}, rules)
    assert "".join(found.values()) == "AABBCC"
    assert [rules.share[each] for each in Grade] == [Fraction(1, 100), Fraction(3, 100), Fraction(5, 100)]
    assert [rules.counts_a_year[each] for each in Grade] == [4, 2, 1]


def test_net_difference_of_nothing_hides_an_accuracy_of_nothing() -> None:
    """supplychainmetric.com: 100 against 95 and 100 against 105 net to 0, yet no record is right (at 3 %)."""
    found = totals(compare(build.counted_bin(100, each, cost=Fraction(10**9), grade=Grade.B)) for each in (95, 105))
    assert (found.net, found.gross) == (0, 10)
    assert found.accuracy == 0


def test_two_per_cent_scale_passes_three_per_cent() -> None:
    """A 2 % scale with a 3 % tolerance is a published example for weighed items (second-hand)."""
    found = compare(build.counted_bin(1000, 972, error=20, grade=Grade.A))
    assert found.verdict is CountVerdict.WITHIN


def region(n: int, share: float) -> tuple[int, int]:
    """Numbers of exceptions Kupiec's likelihood-ratio test doesn't reject at 5 %."""
    k = np.arange(n + 1)
    seen = np.clip(k / n, 1e-300, 1)
    at = k * np.log(share) + (n - k) * np.log1p(-share)
    best = k * np.log(seen) + (n - k) * np.log(np.clip(1 - k / n, 1e-300, 1))
    kept = k[-2 * (at - best) < stats.chi2(1).ppf(0.95)]
    return int(kept.min()), int(kept.max())


@pytest.mark.parametrize("world", WORLDS[:2], ids=lambda world: world.name)
def test_ninety_per_cent_intervals_miss_as_often_as_kupiec_allows(world: object) -> None:
    """One invented shop-year each, some 170 lines; lines of one material share counts, so this is a coarse net."""
    known, truth = shop(world, np.random.default_rng(11))  # type: ignore[arg-type]
    true, _, low, high, *_ = rows(known, truth, learn(known)).T
    least, most = region(true.size, 0.10)
    assert least <= int(((true < low) | (true > high)).sum()) <= most


def test_thread_length_by_weight_follows_from_tex() -> None:
    """Tex is grams per 1000 m by definition, so metres per kilogram are 1,000,000 / tex: 80 tex runs 12,500 m a kilogram."""
    thread = Material(code="X1", name="thread", family="thread", unit=unit("m"))
    found = aid("thread-weight").measure({"gross": "1 kg", "tare": "0", "metres_per_gram": str(1000 / 80)}, thread)
    assert found.amount.nano == 12_500 * 10**9
