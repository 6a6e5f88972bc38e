"""Laws of counting that hold whatever is counted."""

from dataclasses import replace
from fractions import Fraction
from random import Random

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from stockroom.counting.aids import aid
from stockroom.counting.learn import learn
from stockroom.counting.lessons import Intervals, MaterialLesson
from stockroom.counting.next_count import Candidate, choose
from stockroom.counting.reconcile import Bin, Grade, compare, totals
from stockroom.counting.shelf_posterior import ShelfPosterior, SinceCount, after_work, counted, samples
from stockroom.demand.paths import around_one
from stockroom.stock.materials import Material
from stockroom.stock.quantities import unit
from tests import build

NANO = 10**9
AMOUNTS = st.integers(0, 10**15)
GRADES = st.sampled_from(list(Grade))
TIN = Material(code="X1", name="tin", family="cement", unit=unit("g"), extra={"tare": "100", "container": "1 kg"})

bins = st.builds(
    build.counted_bin, AMOUNTS, AMOUNTS, error=st.integers(0, 10**12), grade=GRADES,
    cost=st.fractions(0, 1000, max_denominator=1000),
)  # fmt: skip


@given(bins)
def test_posting_the_difference_brings_the_book_to_the_shelf(one: Bin) -> None:
    found = compare(one)
    assert one.booked + found.amount == one.found
    assert compare(replace(one, booked=one.booked + found.amount)).amount == 0


@given(st.lists(bins, max_size=8))
def test_gross_is_never_less_than_net_and_sheets_add_up(many: list[Bin]) -> None:
    lines = [compare(one) for one in many]
    found = totals(lines)
    assert found.gross >= abs(found.net)
    assert found.net == sum(line.value for line in lines)
    assert found.accuracy is None or 0 <= found.accuracy <= 1


@given(bins, st.integers(1, 1000))
def test_a_finer_unit_changes_no_verdict_by_more_than_rounding(one: Bin, times: int) -> None:
    cent, fine = (
        build.counted_bin(one.booked * n, one.found * n, error=one.error * of, grade=one.grade, cost=one.cost)
        for n, of in ((100, 1), (100 * times, times))
    )
    assert compare(fine).verdict is compare(cent).verdict


@given(st.integers(0, 900), st.integers(0, 900))
def test_more_weight_is_more_material(first: int, second: int) -> None:
    light, heavy = sorted((first, second))
    weigh = aid("tin-weight").measure
    less, more = weigh({"gross": 100 + light}, TIN).amount, weigh({"gross": 100 + heavy}, TIN).amount
    assert more.nano - less.nano == (heavy - light) * NANO


@given(st.integers(0, 20), st.integers(0, 10))
def test_sealed_and_open_add_up_exactly(sealed: int, tenths: int) -> None:
    found = aid("sealed-open").measure({"sealed": sealed, "tenths": tenths}, TIN)
    assert Fraction(found.amount.nano, NANO) == 1000 * sealed + 100 * tenths
    assert found.error.nano >= 0


spreads = st.floats(0.1, 50)


candidates = st.builds(
    Candidate, material=st.text("ABC", min_size=1, max_size=3), mean=st.floats(0, 1e4), spread=st.floats(0, 1e3),
    booked=st.floats(-1e4, 1e4), weekly=st.floats(0, 1e3), cost=st.floats(0, 100),
    aid_error=st.floats(0, 100), weeks_since=st.floats(0, 100), full=st.floats(1, 1e4), cover=st.floats(0, 1e4),
    cover_spread=st.floats(0, 1e3), short_cost=st.floats(0, 100), over_cost=st.floats(0, 10), grade=GRADES,
)  # fmt: skip


@given(st.lists(candidates, max_size=8, unique_by=lambda one: one.material), st.floats(0, 15), st.integers(0, 8))
def test_choices_fit_and_are_never_taken_twice(many: list[Candidate], minutes: float, most: int) -> None:
    found = choose(many, minutes=minutes, bins=most)
    assert sum(each.minutes for each in found) <= minutes
    assert len(found) <= most
    assert len({each.candidate.material for each in found}) == len(found)
    assert all(each.saves >= 0 and each.corrects >= 0 for each in found)
    overdue = [each.overdue for each in found]
    assert overdue == sorted(overdue, reverse=True)


@st.composite
def intervals(draw: st.DrawFn) -> Intervals:
    n, p = draw(st.integers(0, 8)), draw(st.integers(0, 4))
    rng = np.random.default_rng(draw(st.integers(0, 10**6)))
    times = rng.poisson(draw(st.sampled_from([0.0, 0.3, 5.0])), (n, p)).astype(float)
    recipe = np.exp(rng.normal(0, 3, p))
    wild = draw(st.sampled_from([0.0, 0.1, 10.0]))
    observed = (times * recipe).sum(axis=1) * np.exp(rng.normal(0, wild, n)) + wild * rng.normal(size=n)
    return Intervals(
        material="X1", lines=tuple(f"job {j}" for j in range(p)), recipe=recipe, expected=times * recipe, times=times,
        observed=observed, weeks=rng.uniform(0.2, 5, n), count_variance=draw(st.sampled_from([0.0, 1.0])) * rng.random(n + 1),
    )  # fmt: skip


@given(st.lists(intervals(), max_size=3))
def test_whatever_is_counted_estimates_are_sane(many: list[Intervals]) -> None:
    for lesson in learn(many).materials:
        assert 0 <= lesson.waste.low <= lesson.waste.estimate <= lesson.waste.high
        for line in lesson.lines:
            assert 0 <= line.use.low <= line.use.estimate <= line.use.high < np.inf
        assert np.linalg.eigvalsh(lesson.ratio_covariance).min() >= -1e-9 * np.abs(lesson.ratio_covariance).max()


def believed(known: Intervals, lesson: MaterialLesson, work: float) -> ShelfPosterior:
    """The shelf so many usual intervals' work after the last count."""
    usual = known.expected.sum(axis=0) / max(known.weeks.size, 1)
    times = known.times.sum(axis=0) / max(known.weeks.size, 1)
    since = SinceCount(
        expected=work * usual, times=work * times, received=0.0, weeks=work * float(known.weeks.mean()), usual=usual
    )
    return after_work(counted(100.0, float(np.sqrt(known.count_variance[-1])), lesson), since, lesson)


@given(intervals().filter(lambda known: known.weeks.size > 0), st.floats(0, 10), st.floats(0, 10))
def test_more_of_the_usual_work_never_makes_a_shelf_surer(known: Intervals, one: float, other: float) -> None:
    (lesson,) = learn([known]).materials
    less, more = (believed(known, lesson, work).variance for work in sorted((one, other)))
    assert less <= more * (1 + 1e-9)


@given(st.lists(intervals(), max_size=3))
def test_a_shelf_is_never_believed_farther_from_its_count_than_a_count_can_be_out(many: list[Intervals]) -> None:
    for known, lesson in zip(many, learn(many).materials, strict=True):
        error = float(np.sqrt(known.count_variance[-1]))
        at_once = counted(1e9, error, lesson)
        assert abs(at_once.mean - 1e9) <= 3 * error + 1e-3
        assert at_once.spread <= 3 * error + 1e-3


@given(st.lists(intervals(), min_size=2, max_size=4), st.randoms(use_true_random=False))
def test_the_order_of_materials_does_not_matter(many: list[Intervals], dice: Random) -> None:
    named = [replace(each, material=f"X{n}") for n, each in enumerate(many)]
    turned = dice.sample(named, len(named))
    found, same = ({each.material: each for each in learn(some).materials} for some in (named, turned))
    for known in named:
        if known.weeks.size:
            one, other = (believed(known, of[known.material], 1.0) for of in (found, same))
            assert np.allclose(
                [one.mean, one.spread, one.with_use], [other.mean, other.spread, other.with_use], rtol=1e-4, atol=1e-6
            )


@given(st.floats(0, 100), st.floats(0.01, 20), st.floats(-1, 1), st.floats(0.01, 0.5))
def test_a_belief_is_no_wider_for_hanging_together_with_use(
    mean: float, spread: float, tie: float, doubt: float
) -> None:
    use = around_one(np.array([doubt**2]), [np.random.default_rng(1)], 2000)[:, 0]
    belief = ShelfPosterior(mean=200 + mean, variance=spread**2, with_use=tie * spread / float(use.std()))
    drawn = samples(belief, np.random.default_rng(2), 2000, use=use)
    assert np.isclose(drawn.mean(), belief.mean, atol=spread / 8)
    assert np.isclose(drawn.std(), spread, rtol=0.1)
    assert np.isclose(np.corrcoef(drawn, use)[0, 1], -tie, atol=0.1)


@given(intervals())
def test_the_order_of_recipe_lines_does_not_matter(known: Intervals) -> None:
    turned = replace(
        known, lines=known.lines[::-1], recipe=known.recipe[::-1], expected=known.expected[:, ::-1],
        times=known.times[:, ::-1],
    )  # fmt: skip
    (first,), (second,) = learn([known]).materials, learn([turned]).materials
    for line, same in zip(first.lines, reversed(second.lines), strict=True):
        assert np.isclose(line.use.estimate, same.use.estimate, rtol=1e-6)
