import pytest

from stockroom.counting.lessons import LineLesson, Span, Verdict
from stockroom.counting.pooling import pooled


def variant(ratio: float, half: float, uses: int, *, recipe: float = 30.0) -> LineLesson:
    use = Span(estimate=ratio * recipe, low=(ratio - half) * recipe, high=(ratio + half) * recipe)
    return LineLesson(line="black", recipe=recipe, use=use, uses=uses, verdict=Verdict.KEEP)


def test_variants_weigh_by_use_and_are_given_in_the_cards_own_unit() -> None:
    found = pooled([variant(1.2, 0.08, 30), variant(1.1, 0.06, 10, recipe=12.0)], 40, line="JOB: dye", recipe=5.0)
    assert found.use.estimate == pytest.approx(5.0 * 1.175)
    # Independent errors: three quarters of 0.08 and one quarter of 0.06, added as squares.
    assert found.use.half_width == pytest.approx(5.0 * (0.06**2 + 0.015**2) ** 0.5)
    assert (found.line, found.recipe, found.uses, found.verdict) == ("JOB: dye", 5.0, 40, Verdict.PROPOSE)


def test_one_variant_keeps_its_own_interval() -> None:
    lopsided = LineLesson(
        line="black", recipe=2.0, use=Span(estimate=2.4, low=2.3, high=2.7), uses=30, verdict=Verdict.PROPOSE
    )
    found = pooled([lopsided], 12, line="x", recipe=1.0)
    assert found.use.low == pytest.approx(1.15)
    assert found.use.high == pytest.approx(1.35)


def test_too_unsure_together_is_asked_later_and_says_what_it_may_be() -> None:
    from dataclasses import replace

    unsure = replace(variant(1.3, 0.4, 20), blurred_with=("A", "B"))
    found = pooled([unsure, replace(unsure, blurred_with=("B", "C"))], 10, line="x", recipe=1.0)
    assert found.verdict is Verdict.LATER
    assert found.blurred_with == ("A", "B", "C")
    assert found.ask_after > 0


def test_no_variant_is_a_fault() -> None:
    with pytest.raises(ValueError, match="at least one variant"):
        pooled([], 0, line="x", recipe=1.0)
