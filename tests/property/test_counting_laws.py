"""Laws of counting that hold whatever is counted."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from stockroom.counting.aids import aid
from stockroom.counting.learn import learn
from stockroom.counting.lessons import Intervals
from stockroom.counting.next_count import Candidate, choose
from stockroom.counting.reconcile import Bin, Grade, compare, totals
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


@given(intervals())
def test_the_order_of_recipe_lines_does_not_matter(known: Intervals) -> None:
    turned = replace(
        known, lines=known.lines[::-1], recipe=known.recipe[::-1], expected=known.expected[:, ::-1],
        times=known.times[:, ::-1],
    )  # fmt: skip
    (first,), (second,) = learn([known]).materials, learn([turned]).materials
    for line, same in zip(first.lines, reversed(second.lines), strict=True):
        assert np.isclose(line.use.estimate, same.use.estimate, rtol=1e-6)
