from dataclasses import replace

import numpy as np
import pytest

from stockroom.counting.lessons import WASTE, LessonAdvice, LineLesson, MaterialLesson, Outlier, OutlierKind, Span
from stockroom.counting.proposals import Voice, outlier_sentence, proposals, sentence, waste_sentence

LINE = LineLesson(
    line="full resole", recipe=30.0, use=Span(estimate=37.0, low=33.0, high=41.0), uses=42, verdict=LessonAdvice.PROPOSE
)
VOICE = Voice(
    material=lambda code: {"CORK": "Cork filler"}[code],
    amount=lambda _, grams: f"{grams:.0f} g",
    money=lambda minor: f"{minor / 100:.2f}",
)


def lesson(*lines: LineLesson) -> MaterialLesson:
    return MaterialLesson(
        material="CORK", lines=lines, waste=Span(estimate=0, low=0, high=1), outliers=(), job_spread=0.2,
        ratio_mean=np.ones(len(lines) + 1), ratio_covariance=np.eye(len(lines) + 1),
    )  # fmt: skip


def said(line: LineLesson) -> str:
    (one,) = proposals([lesson(line)], {"CORK": 6.0})
    return sentence(one, VOICE)


def test_a_proposal_speaks_of_amounts_and_money() -> None:
    assert said(LINE) == (
        "Cork filler in 'full resole': recipe 30 g, counts say 37 g (33 g to 41 g, 90% sure); 0.42 more per job. "
        "Accept, keep, or ask again after more counts?"
    )


def test_a_saving_is_less_per_job() -> None:
    less = replace(LINE, use=Span(estimate=25, low=23, high=27))
    assert "; 0.30 less per job." in said(less)


def test_a_confirmed_recipe_holds() -> None:
    assert said(replace(LINE, verdict=LessonAdvice.KEEP)).endswith("; the recipe holds.")


def test_asking_later_says_when_and_why() -> None:
    later = replace(LINE, verdict=LessonAdvice.LATER, ask_after=3)
    assert said(later).endswith("; not sure enough yet; ask again after 3 more counts.")
    assert said(replace(later, ask_after=1)).endswith("; not sure enough yet; ask again after 1 more count.")
    blurred = replace(later, blurred_with=("heel block", "half sole"), ask_after=26)
    assert said(blurred).endswith(
        "; the counts can't tell it from 'heel block' and 'half sole' yet; it may never be clear from counts alone."
    )


def test_changes_come_first_and_by_what_they_are_worth() -> None:
    small = replace(LINE, line="small", use=Span(estimate=31, low=30.5, high=31.5))
    keep = replace(LINE, line="keep", verdict=LessonAdvice.KEEP)
    later = replace(LINE, line="later", verdict=LessonAdvice.LATER)
    found = proposals([lesson(keep, later, small, LINE)], {"CORK": 6.0})
    assert [each.line for each in found] == ["full resole", "small", "later", "keep"]


def test_a_material_of_unknown_cost_still_proposes() -> None:
    (found,) = proposals([lesson(LINE)], {})
    assert found.extra == 0
    assert found.uses == 42


def test_waste_is_named_only_when_there_surely_is_some() -> None:
    clear = replace(lesson(), waste=Span(estimate=12, low=5, high=20))
    assert waste_sentence(clear, 6.0, VOICE) == (
        "Cork filler: about 12 g a week is used up on no ticket (5 g to 20 g, 90% sure), 0.72 a week."
    )
    assert waste_sentence(lesson(), 6.0, VOICE) == ""


@pytest.mark.parametrize(
    ("kind", "amount", "text"),
    [
        (
            OutlierKind.SUDDEN,
            400,
            "400 g more went between 10 March and 17 March than the work explains. Lost, spoilt, or work not written down?",
        ),
        (
            OutlierKind.SUDDEN,
            -90,
            (
                "90 g more was there between 10 March and 17 March than the book explains. "
                "A delivery or a return not written down?"
            ),
        ),
        (OutlierKind.MISCOUNT, 250, "the count of 10 March looks 250 g too high, going by those before and after it."),
        (OutlierKind.MISCOUNT, -250, "the count of 10 March looks 250 g too low, going by those before and after it."),
    ],
)
def test_one_offs_are_told_in_plain_words(kind: OutlierKind, amount: float, text: str) -> None:
    outlier = Outlier(kind=kind, index=1, amount=amount, chance=0.99)
    moments = ["3 March", "10 March", "17 March"]
    assert outlier_sentence("CORK", outlier, moments, VOICE) == f"Cork filler: {text}"


def test_a_coat_is_named_once_small_change_is_not_nothing_and_a_year_is_told() -> None:
    cheap = replace(LINE, use=Span(estimate=30.9, low=30.1, high=31.7))
    (found,) = proposals([lesson(cheap)], {"CORK": 0.5})
    assert sentence(found, replace(VOICE, per="a coat"), yearly=61.0) == (
        "Cork filler in 'full resole': recipe 30 g a coat, counts say 31 g (30 g to 32 g, 90% sure); "
        "under 0.01 more per job, about 0.61 a year. Accept, keep, or ask again after more counts?"
    )


def test_waste_is_named_without_quotes() -> None:
    later = replace(LINE, verdict=LessonAdvice.LATER, ask_after=3, blurred_with=(WASTE, "welt"))
    assert said(later).endswith(
        "; the counts can't tell it from waste on no ticket and 'welt' yet; ask again after 3 more counts."
    )
