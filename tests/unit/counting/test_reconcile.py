from fractions import Fraction
from typing import Any

import pytest

from stockroom.counting.reconcile import (
    Bin,
    CountVerdict,
    Grade,
    Rules,
    agree,
    by_reason,
    compare,
    drifts,
    grades,
    over_time,
    totals,
)
from stockroom.stock.counts import CountReason
from tests import build

N = 10**9


def a_bin(booked: int, counted: int, **more: Any) -> Bin:
    return build.counted_bin(booked * N, counted * N, cost=Fraction(5, 2), **more)


def test_shortage_in_amount_money_and_share() -> None:
    found = compare(a_bin(200, 190))
    assert (found.amount, found.value, found.share) == (-10 * N, -25, Fraction(-1, 20))
    assert found.verdict is CountVerdict.WITHIN


def test_money_rounds_half_away_from_zero_like_the_rest_of_the_book() -> None:
    assert compare(a_bin(1, 0)).value == -3
    assert compare(a_bin(0, 1)).value == 3


@pytest.mark.parametrize(
    ("grade", "counted", "verdict"),
    [
        (Grade.A, 100, CountVerdict.AGREES),
        (Grade.A, 99, CountVerdict.WITHIN),
        (Grade.A, 98, CountVerdict.RECOUNT),
        (Grade.B, 103, CountVerdict.WITHIN),
        (Grade.B, 104, CountVerdict.RECOUNT),
        (Grade.C, 95, CountVerdict.WITHIN),
        (Grade.C, 94, CountVerdict.RECOUNT),
    ],
)
def test_tolerance_by_class(grade: Grade, counted: int, verdict: CountVerdict) -> None:
    assert compare(a_bin(100, counted, grade=grade)).verdict is verdict


def test_what_the_aid_cannot_see_is_no_difference() -> None:
    assert compare(a_bin(100, 92, grade=Grade.A, error=4 * N)).verdict is CountVerdict.WITHIN
    assert compare(a_bin(100, 91, grade=Grade.A, error=4 * N)).verdict is CountVerdict.RECOUNT


def test_something_where_the_book_says_nothing_has_no_share() -> None:
    found = compare(a_bin(0, 3))
    assert found.share is None
    assert found.verdict is CountVerdict.RECOUNT
    assert compare(a_bin(0, 0)).verdict is CountVerdict.AGREES


def test_book_below_zero_is_judged_by_its_size() -> None:
    assert compare(a_bin(-100, -96)).verdict is CountVerdict.WITHIN


def test_recount_that_agrees_with_the_count_confirms_it() -> None:
    found = compare(a_bin(100, 61), others=[a_bin(100, 60)])
    assert (found.verdict, found.amount) == (CountVerdict.CONFIRMED, -39 * N)
    assert found.postable
    assert not found.right


def test_recount_that_agrees_with_the_book_after_a_miscount_asks_for_no_third() -> None:
    assert compare(a_bin(100, 100), others=[a_bin(100, 60)]).verdict is CountVerdict.AGREES
    assert compare(a_bin(100, 101), others=[a_bin(100, 60)]).verdict is CountVerdict.WITHIN


def test_recount_that_agrees_with_neither_asks_again() -> None:
    found = compare(a_bin(100, 80), others=[a_bin(100, 60)])
    assert found.verdict is CountVerdict.RECOUNT
    assert not found.postable


def test_two_people_agree_when_their_differences_do() -> None:
    morning = a_bin(100, 90)
    evening = a_bin(60, 49)  # forty were used in between
    assert agree(morning, evening)
    assert not agree(morning, a_bin(60, 60))
    assert agree(morning, a_bin(60, 60, error=5 * N))


def test_classes_by_yearly_value() -> None:
    found = grades({"a": 700, "b": 150, "c": 100, "d": 40, "e": 10, "idle": 0})
    assert found == {"a": Grade.A, "b": Grade.A, "c": Grade.B, "d": Grade.C, "e": Grade.C, "idle": Grade.C}


def test_one_material_worth_nearly_all_is_still_a() -> None:
    assert grades({"a": 99, "b": 1}) == {"a": Grade.A, "b": Grade.C}
    assert grades({}) == {}
    assert grades({"a": 0}) == {"a": Grade.C}


def test_cut_offs_can_be_set() -> None:
    rules = Rules(cut_a=Fraction(1, 2), cut_b=Fraction(6, 10))
    assert grades({"a": 60, "b": 30, "c": 10}, rules) == {"a": Grade.A, "b": Grade.C, "c": Grade.C}


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="less than nothing"):
        grades({"a": -1})
    with pytest.raises(ValueError, match="cut-offs"):
        Rules(cut_a=Fraction(9, 10), cut_b=Fraction(8, 10))


def test_reasons_by_value() -> None:
    lines = [
        compare(a_bin(100, 90, reason=CountReason.LOSS, family="cement")),
        compare(a_bin(100, 99, reason=CountReason.MEASURING, family="cement")),
        compare(a_bin(100, 120, reason=CountReason.LOSS, family="thread")),
    ]
    found = by_reason(lines)
    assert list(found) == [
        (CountReason.LOSS, "thread"),
        (CountReason.LOSS, "cement"),
        (CountReason.MEASURING, "cement"),
    ]
    assert [each.net for each in found.values()] == [50, -25, -3]


def test_accuracy_over_time() -> None:
    found = over_time(
        [("2031-03", compare(a_bin(10, 10))), ("2031-02", compare(a_bin(10, 5))), ("2031-03", compare(a_bin(10, 2)))]
    )
    assert {period: each.accuracy for period, each in found.items()} == {"2031-02": 0, "2031-03": Fraction(1, 2)}
    assert totals([]).accuracy is None


def test_bin_that_drifts_is_named_and_one_that_wanders_is_not() -> None:
    found = drifts(
        {"drifts": [-4, -6, 0, -5, -3, -7, -5], "wanders": [4, -6, 5, -3, 7, -5], "new": [-9, -9, -9], "true": [0, 0]}
    )
    assert [(each.material, each.short, each.over, each.average) for each in found] == [
        ("drifts", 6, 0, Fraction(-30, 7))
    ]
    assert found[0].chance == Fraction(1, 32)
