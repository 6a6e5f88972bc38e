"""Steady losses: told from use by when they come, and as common as this shop's counts say."""

from math import log

import numpy as np
import pytest
from scipy import integrate, stats

from stockroom.counting.learn import learn
from stockroom.counting.lessons import Intervals, Spreads
from stockroom.counting.linear_model import LinearModel, loss_noise, model
from stockroom.counting.losses import (
    LARGER,
    USUAL_SHARES,
    kinds,
    learn_shares,
    loss_chances,
    loss_covariance,
    loss_evidence,
)

USUAL = Spreads(waste=0.05)


def thread(loss: float, *, seed: int = 3, weeks: int = 52, name: str = "THREAD") -> Intervals:
    """Count every other week a thread that jobs take 4.5 m of, as the card says; so many metres go each day besides."""
    rng = np.random.default_rng(seed)
    n = weeks // 2
    times = rng.poisson(10.0 * (1 + 0.8 * np.sin(np.arange(n))))[:, None].astype(float)
    used = 4.5 * times[:, 0] + rng.normal(0, 0.7 * np.sqrt(times[:, 0]))
    gone = rng.exponential(loss, (n, 10)).sum(axis=1)
    slip = rng.normal(0, 2.0, n + 1)
    return Intervals(
        material=name, lines=("stitching",), recipe=np.array([4.5]), expected=4.5 * times, times=times,
        observed=used + gone - np.diff(slip), weeks=np.full(n, 2.0), count_variance=np.full(n + 1, 4.0),
    )  # fmt: skip


def test_thread_that_walks_by_the_day_is_not_put_on_the_card() -> None:
    """Two metres a day pilfered: the card's 4.50 m are right, and writing 5.80 would hide the thief for good."""
    shop = [thread(0.02, seed=seed, name=str(seed)) for seed in range(12)]
    found = learn([thread(2.0), *shop]).materials[0]
    use = found.lines[0].use
    assert use.low <= 4.5 <= use.high
    assert use.estimate == pytest.approx(4.5, rel=0.05)
    assert found.waste.low > 0
    assert found.waste.estimate == pytest.approx(10, rel=0.3)


def test_what_can_be_a_loss_as_well_as_use_says_so() -> None:
    """Work that never varies can't tell the two apart: the proposal must not pretend to."""
    rng = np.random.default_rng(1)
    times = np.full((40, 1), 10.0)
    known = Intervals(
        material="THREAD", lines=("stitching",), recipe=np.array([4.5]), expected=4.5 * times, times=times,
        observed=4.5 * times[:, 0] + 6 + rng.normal(0, 1, 40), weeks=np.ones(40), count_variance=np.full(41, 0.5),
    )  # fmt: skip
    line = learn([known]).materials[0].lines[0]
    assert line.may_be_loss or "waste on no ticket" in line.blurred_with


def a_frame(loss: float = 1.0) -> LinearModel:
    return model(thread(loss, weeks=16))


def test_evidence_is_the_counts_density_with_the_loss_integrated_out() -> None:
    of = a_frame()
    covariance = np.diag(np.linspace(0.02, 0.05, of.departure.size))
    found = loss_evidence(of, covariance, USUAL)
    for got, loss in zip(found, kinds(USUAL), strict=True):
        noise = covariance + np.diag((loss.size * loss.uneven) ** 2 * loss_noise(of))

        def density(share: float, noise: np.ndarray = noise, size: float = loss.size) -> float:
            mean = share * of.rate * of.design[:, -1]
            return float(stats.multivariate_normal(mean, noise).pdf(of.departure) * stats.halfnorm(0, size).pdf(share))

        exact, _ = integrate.quad(density, 0, 8 * loss.size, points=[0.1 * loss.size, loss.size])
        same_for_all = log(2) - 0.5 * of.departure.size * log(2 * np.pi)
        assert got + same_for_all == pytest.approx(log(exact), rel=1e-6)


def test_a_shop_where_things_walk_expects_it_of_the_next_material_too() -> None:
    calm = [loss_evidence(a_frame(0.01), np.diag(np.full(8, 0.02)), USUAL)] * 20
    leaky = [np.array([-30.0, -5.0, 0.0, -1.0, -2.0])] * 20
    assert learn_shares([]) == pytest.approx(USUAL_SHARES)
    assert learn_shares(calm)[0] > USUAL_SHARES[0]
    assert learn_shares(leaky)[2] > 10 * USUAL_SHARES[2]
    for each in (learn_shares(calm), learn_shares(leaky)):
        assert each.sum() == pytest.approx(1)


def test_a_kind_of_loss_is_weighed_by_how_common_and_how_fitting_it_is() -> None:
    evidence = np.log([1.0, 2.0, 1.0, 0.5, 0.5])
    assert loss_chances(evidence, np.full(5, 0.2)) == pytest.approx([0.2, 0.4, 0.2, 0.1, 0.1])


def test_only_what_goes_beyond_the_usual_is_set_aside() -> None:
    of = a_frame()
    assert not loss_covariance(of, np.array([1.0, 0, 0, 0, 0]), USUAL).any()
    weeks = of.rate * of.design[:, -1]
    smooth, uneven = (loss_covariance(of, chances, USUAL) for chances in np.eye(5)[3:])
    assert smooth == pytest.approx((LARGER[-1] ** 2 - 0.05**2) * np.outer(weeks, weeks))
    assert uneven - smooth == pytest.approx(LARGER[-1] ** 2 * np.diag(loss_noise(of)))
    assert loss_noise(of) == pytest.approx(of.rate**2 * 2 / 5)  # two weeks of five days, each as uneven as it is large
