from dataclasses import replace

import numpy as np

from stockroom.counting.lessons import LineLesson, MaterialLesson, Span, Verdict
from stockroom.counting.proposals import Voice, proposals, sentence

LINE = LineLesson(
    line="full resole", recipe=30.0, use=Span(estimate=37.0, low=33.0, high=41.0), uses=42, verdict=Verdict.PROPOSE
)
VOICE = Voice(
    material=lambda code: {"CORK": "Cork filler"}[code],
    amount=lambda _, grams: f"{grams:.0f} g",
    money=lambda minor: f"{minor / 100:.2f}",
)


def lesson(*lines: LineLesson) -> MaterialLesson:
    return MaterialLesson(
        material="CORK", lines=lines, waste=Span(estimate=0, low=0, high=1), shocks=(), job_spread=0.2,
        ratio_mean=np.ones(len(lines) + 1), ratio_covariance=np.eye(len(lines) + 1),
    )  # fmt: skip


def said(line: LineLesson) -> str:
    (one,) = proposals([lesson(line)], {"CORK": 6.0})
    return sentence(one, VOICE)


def test_a_proposal_speaks_of_amounts_and_money() -> None:
    assert said(LINE) == (
        "Cork filler in 'full resole': recipe 30 g, counts say 37 g (33 g to 41 g, 90 % sure); 0.42 more per job. "
        "Accept, keep, or ask again after more counts?"
    )


def test_a_saving_is_less_per_job() -> None:
    less = replace(LINE, use=Span(estimate=25, low=23, high=27))
    assert "; 0.30 less per job." in said(less)


def test_a_confirmed_recipe_holds() -> None:
    assert said(replace(LINE, verdict=Verdict.KEEP)).endswith("; the recipe holds.")


def test_asking_later_says_when_and_why() -> None:
    later = replace(LINE, verdict=Verdict.LATER, ask_after=3)
    assert said(later).endswith("; not sure enough yet; ask again after 3 more counts.")
    assert said(replace(later, ask_after=1)).endswith("; not sure enough yet; ask again after 1 more count.")
    blurred = replace(later, blurred_with=("heel block", "half sole"), ask_after=26)
    assert said(blurred).endswith(
        "; the counts can't tell it from 'heel block' and 'half sole' yet; it may never be clear from counts alone."
    )


def test_changes_come_first_and_by_what_they_are_worth() -> None:
    small = replace(LINE, line="small", use=Span(estimate=31, low=30.5, high=31.5))
    keep = replace(LINE, line="keep", verdict=Verdict.KEEP)
    later = replace(LINE, line="later", verdict=Verdict.LATER)
    found = proposals([lesson(keep, later, small, LINE)], {"CORK": 6.0})
    assert [each.line for each in found] == ["full resole", "small", "later", "keep"]


def test_a_material_of_unknown_cost_still_proposes() -> None:
    (found,) = proposals([lesson(LINE)], {})
    assert found.extra == 0
    assert found.uses == 42
