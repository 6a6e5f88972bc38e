from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from stockroom.counting.learn import ask_after, blurred, learn, near_above, pooled, verdict
from stockroom.counting.lessons import (
    MOST_COUNTS,
    WASTE,
    Intervals,
    LessonAdvice,
    LineLesson,
    MaterialLesson,
    OutlierKind,
    Span,
)

Floats = NDArray[np.float64]


def counts(
    times: Floats,
    ratio: list[float],
    *,
    noise: float = 0.02,
    measuring: float = 1.0,
    waste: float = 0.0,
    seed: int = 5,
    recipe: float = 30.0,
) -> Intervals:
    """One material's year: true use is the recipe times a ratio."""
    rng = np.random.default_rng(seed)
    n, p = times.shape
    expected = times * recipe
    slip = rng.normal(0, measuring, n + 1)
    used = (expected * ratio).sum(axis=1) * np.exp(rng.normal(0, noise, n)) + waste
    return Intervals(
        material="CORK",
        lines=tuple(f"job {j}" for j in range(p)),
        recipe=np.full(p, recipe),
        expected=expected,
        times=times,
        observed=used - np.diff(slip),
        weeks=np.ones(n),
        count_variance=np.full(n + 1, measuring**2),
    )


def busy(n: int = 20, p: int = 2, seed: int = 1) -> Floats:
    return np.random.default_rng(seed).poisson(6.0, (n, p)).astype(float)


def one(known: Intervals) -> MaterialLesson:
    return learn([known]).materials[0]


def test_a_wrong_recipe_is_found_and_a_right_one_kept() -> None:
    found = one(counts(busy(), [1.25, 1.0]))
    wrong, right = found.lines
    assert (wrong.verdict, right.verdict) == (LessonAdvice.PROPOSE, LessonAdvice.KEEP)
    assert wrong.use.estimate == pytest.approx(37.5, rel=0.03)
    assert wrong.use.low < wrong.use.estimate < wrong.use.high
    assert right.use.estimate == pytest.approx(30, rel=0.03)
    assert wrong.uses == round(busy()[:, 0].sum())


def test_no_counts_teach_nothing() -> None:
    found = one(counts(busy(0), [1.0, 1.0]))
    assert [each.verdict for each in found.lines] == [LessonAdvice.LATER, LessonAdvice.LATER]
    assert [each.use.estimate for each in found.lines] == pytest.approx([30, 30], rel=0.02)
    assert all(each.ask_after > 0 for each in found.lines)


def test_nothing_at_all_is_no_trouble() -> None:
    assert learn([]).materials == ()


def test_exact_counts_of_exact_jobs_are_believed() -> None:
    found = one(counts(busy(), [1.2, 0.9], noise=0.0, measuring=0.0))
    assert [each.use.estimate for each in found.lines] == pytest.approx([36, 27], rel=0.02)


def test_one_lost_roll_does_not_rewrite_a_recipe() -> None:
    calm = counts(busy(), [1.0, 1.0])
    observed = calm.observed.copy()
    observed[8] += 2000
    before, after = one(calm), one(replace(calm, observed=observed))
    for was, now in zip(before.lines, after.lines, strict=True):
        assert now.use.estimate == pytest.approx(was.use.estimate, rel=0.03)
    (outlier,) = after.outliers
    assert (outlier.kind, outlier.index) == (OutlierKind.SUDDEN, 8)
    assert outlier.amount == pytest.approx(2000, rel=0.05)
    assert not before.outliers


def test_a_miscount_put_right_at_the_next_count_is_no_loss() -> None:
    calm = counts(busy(), [1.0, 1.0])
    observed = calm.observed.copy()
    observed[7] -= 1500  # counted 1500 g too high after interval 7, found out after interval 8
    observed[8] += 1500
    (outlier,) = one(replace(calm, observed=observed)).outliers
    assert (outlier.kind, outlier.index) == (OutlierKind.MISCOUNT, 8)
    assert outlier.amount == pytest.approx(1500, rel=0.05)


@pytest.mark.parametrize("at", [0, 19])
def test_a_loss_beside_the_first_or_last_count_is_called_a_loss(at: int) -> None:
    calm = counts(busy(), [1.0, 1.0])
    observed = calm.observed.copy()
    observed[at] += 1500
    (outlier,) = one(replace(calm, observed=observed)).outliers
    assert (outlier.kind, outlier.index) == (OutlierKind.SUDDEN, at)
    assert outlier.amount == pytest.approx(1500, rel=0.05)


def test_a_recipe_ten_times_too_large_is_proposed_down() -> None:
    found = one(counts(busy(), [0.1, 1.0]))
    assert [each.verdict for each in found.lines] == [LessonAdvice.PROPOSE, LessonAdvice.KEEP]
    assert found.lines[0].use.estimate == pytest.approx(3, abs=0.6)


def test_steady_bias_is_not_taken_for_losses() -> None:
    found = one(counts(busy(), [1.6, 1.6]))
    assert not found.outliers
    assert [each.verdict for each in found.lines] == [LessonAdvice.PROPOSE, LessonAdvice.PROPOSE]


def test_jobs_always_done_together_cannot_be_told_apart() -> None:
    together = np.repeat(busy(20, 1), 2, axis=1)
    found = one(counts(together, [1.3, 1.0]))
    first, second = found.lines
    assert first.verdict is second.verdict is LessonAdvice.LATER
    assert (first.blurred_with, second.blurred_with) == (("job 1",), ("job 0",))
    assert first.use.estimate + second.use.estimate == pytest.approx(69, rel=0.04)


def test_waste_shows_when_little_work_is_done() -> None:
    times = busy(30, 1)
    times[::3] = 0
    found = one(counts(times, [1.0], waste=12.0))
    assert found.waste.low < 12 < found.waste.high
    assert found.waste.estimate == pytest.approx(12, rel=0.3)
    assert found.lines[0].verdict is LessonAdvice.KEEP


def test_no_waste_is_believed_possible() -> None:
    assert one(counts(busy(), [1.0, 1.0])).waste.low == 0


def test_a_material_no_job_uses_only_wastes() -> None:
    nothing = counts(np.zeros((12, 0)), [])
    found = one(replace(nothing, observed=np.full(12, 5.0)))
    assert found.lines == ()
    assert found.waste.low <= 5 <= found.waste.high


def test_a_line_hardly_used_leans_on_its_materials_bias() -> None:
    times = busy()
    times[:, 1] = 0
    times[3, 1] = 1
    shops = [counts(times, [1.3, 1.3], seed=each) for each in range(8)]
    lean = learn(shops).materials[0].lines[1]
    assert lean.verdict is LessonAdvice.LATER
    assert lean.use.estimate > 31


def test_the_same_counts_teach_the_same() -> None:
    known = [counts(busy(), [1.1, 0.9], seed=each) for each in range(3)]
    first, second = learn(known), learn(known)
    assert first.spreads == second.spreads
    assert first.materials[2].lines == second.materials[2].lines


def test_units_do_not_matter() -> None:
    small = counts(busy(), [1.2, 1.0])
    large = replace(
        small,
        recipe=small.recipe * 1000,
        expected=small.expected * 1000,
        observed=small.observed * 1000,
        count_variance=small.count_variance * 1e6,
    )
    pairs = zip(one(small).lines, one(large).lines, strict=True)
    assert all(b.use.estimate == pytest.approx(1000 * a.use.estimate, rel=1e-6) for a, b in pairs)


def test_more_counts_narrow_the_interval() -> None:
    long = counts(busy(60), [1.2, 1.0])
    short = replace(
        long, expected=long.expected[:8], times=long.times[:8], observed=long.observed[:8], weeks=long.weeks[:8],
        count_variance=long.count_variance[:9],
    )  # fmt: skip
    assert one(long).lines[0].use.half_width < 0.7 * one(short).lines[0].use.half_width


def test_worse_aids_teach_less() -> None:
    sharp = one(counts(busy(), [1.2, 1.0], measuring=1.0)).lines[0].use.half_width
    blunt = one(counts(busy(), [1.2, 1.0], measuring=100.0)).lines[0].use.half_width
    assert blunt > 1.3 * sharp


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"recipe": np.array([30.0])}, "recipe has shape"),
        ({"recipe": np.array([30.0, 0.0])}, "above zero"),
        ({"weeks": np.zeros(20)}, "above zero"),
        ({"observed": np.full(20, np.nan)}, "observed must be finite"),
        ({"expected": np.full((20, 2), -1.0)}, "expected must be finite and not negative"),
        ({"count_variance": np.ones(20)}, "count_variance has shape"),
    ],
)
def test_malformed_intervals_are_a_fault(change: dict[str, Floats], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        replace(counts(busy(), [1.0, 1.0]), **change)  # type: ignore[arg-type]


def test_returns_of_material_do_not_upset_it() -> None:
    calm = counts(busy(), [1.0, 1.0])
    observed = calm.observed.copy()
    observed[4] = -900.0
    found = one(replace(calm, observed=observed))
    assert found.outliers[0].amount < 0
    assert [each.verdict for each in found.lines] == [LessonAdvice.KEEP, LessonAdvice.KEEP]


def test_a_line_used_by_chance_is_neither_a_loss_nor_a_wrong_recipe() -> None:
    rng = np.random.default_rng(11)
    jobs = rng.poisson(3.0, (40, 1)).astype(float)
    used: Floats = 2.0 * rng.binomial(jobs[:, 0].astype(int), 0.25).astype(
        np.float64
    )  # a pair on one job in four; half a piece booked on each
    known = replace(
        counts(jobs, [1.0], recipe=0.5, measuring=0.0), observed=used, known_variance=0.75 * jobs[:, 0], whole=True
    )
    found = one(known)
    assert found.outliers == ()
    assert found.lines[0].use.low < 0.5 < found.lines[0].use.high
    blind = one(replace(known, known_variance=None))
    assert blind.lines[0].use.half_width < found.lines[0].use.half_width


def test_what_is_poured_is_not_judged_by_what_is_counted_out() -> None:
    exact = [replace(counts(busy(seed=n), [1.0, 1.0], noise=0.0, measuring=0.0, seed=n), whole=True) for n in range(12)]
    poured = [counts(busy(seed=n), [1.0, 1.0], noise=0.12, seed=n) for n in range(12, 18)]
    found = learn([*exact, *poured])
    assert found.whole_spreads is not None
    assert found.whole_spreads.job < 0.5 * found.spreads.job
    assert found.spreads == learn(poured).spreads


def test_what_evaporates_is_waste_and_not_use() -> None:
    shop = [counts(busy(30, seed=n), [1.0, 1.0], seed=n) for n in range(8)]
    times = busy(30, seed=9)
    weekly = float(times.sum(axis=1).mean()) * 30
    thinner = counts(times, [1.0, 1.0], waste=0.6 * weekly, seed=9)
    found = learn([*shop, thinner]).materials[-1]
    assert found.waste.low > 0.3 * weekly
    assert found.waste.estimate == pytest.approx(0.6 * weekly, rel=0.2)
    assert all(line.use.low <= 30 <= line.use.high for line in found.lines)


def test_waste_and_use_that_rise_together_are_said_to_be_blurred() -> None:
    steady = np.full((20, 1), 6.0)  # the same work every week: counts can't tell a larger brush from an open pot
    shop = [counts(busy(seed=n), [1.0, 1.0], seed=n) for n in range(4)]
    found = learn([*shop, counts(steady, [1.0], waste=60.0, seed=3)]).materials[-1].lines[0]
    assert found.verdict is LessonAdvice.LATER
    assert found.blurred_with == (WASTE,)


def test_wild_counts_never_make_use_negative() -> None:
    calm = counts(busy(), [1.0, 1.0])
    wild = replace(calm, observed=-30 * calm.expected[:, 0] + 5 * calm.expected[:, 1])
    found = one(wild)
    assert (found.ratio_mean >= 0).all()
    assert all(0 <= line.use.low <= line.use.estimate <= line.use.high for line in found.lines)


def ratio(estimate: float, half: float) -> Span:
    return Span(estimate=estimate, low=estimate - half, high=estimate + half)


@pytest.mark.parametrize(
    ("span", "uses", "wanted"),
    [
        (ratio(1.25, 0.05), 5, LessonAdvice.PROPOSE),
        (ratio(1.25, 0.05), 4, LessonAdvice.LATER),  # hardly used: no card is rewritten for four jobs
        (ratio(1.2, 0.119), 50, LessonAdvice.PROPOSE),  # a tenth of what is used is the widest doubt
        (ratio(1.2, 0.121), 50, LessonAdvice.LATER),
        (ratio(1.0, 0.099), 50, LessonAdvice.KEEP),
        (ratio(1.0, 0.101), 50, LessonAdvice.LATER),
        (ratio(0.3, 0.049), 50, LessonAdvice.PROPOSE),  # below half the card, doubt is judged as at half of it
        (ratio(0.3, 0.051), 50, LessonAdvice.LATER),
        (ratio(0.6, 0.061), 50, LessonAdvice.LATER),
        (ratio(1.031, 0.01), 50, LessonAdvice.PROPOSE),  # three hundredths are worth a new card
        (ratio(1.029, 0.01), 50, LessonAdvice.KEEP),
        (ratio(0.969, 0.01), 50, LessonAdvice.PROPOSE),
        (ratio(0.971, 0.01), 50, LessonAdvice.KEEP),
        (ratio(1.08, 0.081), 50, LessonAdvice.KEEP),  # the card's figure lies within
        (ratio(1.08, 0.079), 50, LessonAdvice.PROPOSE),
    ],
)
def test_a_card_is_changed_only_for_what_is_sure_and_worth_it(span: Span, uses: int, wanted: LessonAdvice) -> None:
    assert verdict(span, uses) is wanted


def test_the_counts_still_to_be_taken_are_guessed_from_how_far_the_doubt_must_shrink() -> None:
    assert ask_after(ratio(1.0, 0.2), 4) == 12  # half the doubt takes four times the counts
    assert ask_after(ratio(0.25, 0.1), 4) == 12
    assert ask_after(ratio(1.0, 0.1001), 4) == 1
    assert ask_after(ratio(1.0, 0.9), 10) == MOST_COUNTS == 26
    assert ask_after(ratio(1.0, 0.9), 0) == 5


def test_a_line_is_called_blurred_from_half_a_trade_on() -> None:
    """Named where one's estimate falls by more than half of what the other's rises, and only then."""
    covariance = np.array([[4.0, -3.02, -2.98], [-3.02, 9.0, 1.0], [-2.98, 1.0, 9.0]])
    assert blurred(("sole", "heel"), 0, covariance) == ("heel",)
    assert blurred(("sole", "heel"), 0, -covariance + 2 * np.diag(np.diag(covariance))) == ()


def test_only_what_lies_near_above_the_card_may_be_a_loss() -> None:
    assert near_above(ratio(1.29, 0.1))
    assert not near_above(ratio(1.31, 0.1))  # three half intervals off: no loss explains that
    assert not near_above(ratio(0.8, 0.1))  # less used than the card says


def variant(ratio: float, half: float, uses: int, *, recipe: float = 30.0) -> LineLesson:
    use = Span(estimate=ratio * recipe, low=(ratio - half) * recipe, high=(ratio + half) * recipe)
    return LineLesson(line="black", recipe=recipe, use=use, uses=uses, verdict=LessonAdvice.KEEP)


def test_variants_weigh_by_use_and_are_given_in_the_cards_own_unit() -> None:
    found = pooled([variant(1.2, 0.08, 30), variant(1.1, 0.06, 10, recipe=12.0)], 40, line="JOB: dye", recipe=5.0)
    assert found.use.estimate == pytest.approx(5.0 * 1.175)
    # Independent errors: three quarters of 0.08 and one quarter of 0.06, added as squares.
    assert found.use.half_width == pytest.approx(5.0 * (0.06**2 + 0.015**2) ** 0.5)
    assert (found.line, found.recipe, found.uses, found.verdict) == ("JOB: dye", 5.0, 40, LessonAdvice.PROPOSE)


def test_one_variant_keeps_its_own_interval() -> None:
    lopsided = LineLesson(
        line="black", recipe=2.0, use=Span(estimate=2.4, low=2.3, high=2.7), uses=30, verdict=LessonAdvice.PROPOSE
    )
    found = pooled([lopsided], 12, line="x", recipe=1.0)
    assert found.use.low == pytest.approx(1.15)
    assert found.use.high == pytest.approx(1.35)


def test_too_unsure_together_is_asked_later_and_says_what_it_may_be() -> None:
    from dataclasses import replace

    unsure = replace(variant(1.3, 0.4, 20), blurred_with=("A", "B"))
    found = pooled([unsure, replace(unsure, blurred_with=("B", "C"))], 10, line="x", recipe=1.0)
    assert found.verdict is LessonAdvice.LATER
    assert found.blurred_with == ("A", "B", "C")
    assert found.ask_after > 0


def test_no_variant_is_a_fault() -> None:
    with pytest.raises(ValueError, match="at least one variant"):
        pooled([], 0, line="x", recipe=1.0)
