from collections.abc import Callable
from fractions import Fraction

import pytest

from stockroom.counting.reconcile import CountVerdict, Grade
from stockroom.errors import RefusedError, UnknownError
from stockroom.flows.bench import counter
from stockroom.flows.book.opening import change_settings
from stockroom.flows.counts import review, settle
from stockroom.flows.counts.review import measures, rules_of
from stockroom.flows.posting import undo
from stockroom.stock.counts import Count, CountLine, CountReason
from stockroom.stock.shop import Shop, with_setting
from stockroom.store import ledger
from stockroom.store.book import Book
from tests import build

NOW = build.at("2026-01-12")
Taker = Callable[..., None]


def take(book: Book, code: str, found: str, when: str = "2026-01-10", *, sheet: str = "s", error: str = "") -> None:
    line = CountLine(
        material=code, amount=build.amount(found), counted=build.at(when),
        error=build.amount(error) if error else None,
    )  # fmt: skip
    settle.take_count(book, Count(key=sheet, lines=(line,)), build.stamp("2026-01-12"))


def verdicts(book: Book, sheet: str = "s") -> dict[str, CountVerdict]:
    return {one.bin.material.code: one.verdict for one in review.review(book, sheet, NOW)}


def on_hand(book: Book, code: str) -> int:
    with book.reading() as session:
        return ledger.balances(session).get(code, 0)


def test_class_by_a_years_use_decides_how_close_is_close_enough(open_shop: Book) -> None:
    # A year's use at the cheapest price: 1 l of cement at 7.80 a litre; 1 m of thread at 3.8 cents.
    counter.write_off(open_shop, "CEMENT", build.amount("1 l"), build.stamp("2026-01-09"))
    counter.write_off(open_shop, "THREAD", build.amount("1 m"), build.stamp("2026-01-09"))
    with open_shop.reading() as session:
        by = measures(session, NOW)
    assert (by.grade("CEMENT"), by.grade("THREAD"), by.grade("FILLER")) == (Grade.A, Grade.C, Grade.C)
    assert by.costs["CEMENT"] == Fraction(4300, 5000)  # minor units a ml: 5 l for 43.00
    take(open_shop, "CEMENT", "2.45 l")  # 2 % off 2.5 l
    take(open_shop, "THREAD", "411 m")  # 2 % off 419 m
    assert verdicts(open_shop) == {"CEMENT": CountVerdict.RECOUNT, "THREAD": CountVerdict.WITHIN}
    change_settings(open_shop, {"tolerance_a": "2.5"})
    assert verdicts(open_shop)["CEMENT"] is CountVerdict.WITHIN


def test_what_the_aid_can_not_tell_is_measuring(open_shop: Book) -> None:
    take(open_shop, "CEMENT", "3.1 l", error="0.25 l")
    [one] = review.review(open_shop, "s", NOW)
    assert (one.verdict, one.bin.line.reason) == (CountVerdict.WITHIN, CountReason.MEASURING)


def test_rules_follow_the_settings() -> None:
    rules = rules_of(with_setting(with_setting(Shop(), "cut_a", "70"), "counts_a_year_b", "3"))
    assert (rules.cut_a, rules.counts_a_year[Grade.B]) == (Fraction(7, 10), 3)


def test_a_recount_that_agrees_confirms_across_what_moved_meanwhile(open_shop: Book) -> None:
    take(open_shop, "TIP", "50 pair", "2026-01-10 09:00")
    assert verdicts(open_shop) == {"TIP": CountVerdict.RECOUNT}
    counter.write_off(open_shop, "TIP", build.amount("4 pair"), build.stamp("2026-01-10 12:00"))
    take(open_shop, "TIP", "46 pair", "2026-01-10 15:00")
    [one] = review.review(open_shop, "s", NOW)
    assert (one.verdict, one.amount) == (CountVerdict.CONFIRMED, -build.nano("10 pair"))
    done = settle.settle_count(open_shop, "s", build.stamp("2026-01-12"))
    assert (done.posted, done.held, done.corrected) == (("TIP",), (), 1)
    assert on_hand(open_shop, "TIP") == build.nano("46 pair")


def test_two_results_are_held_until_a_third_agrees_with_one(open_shop: Book) -> None:
    take(open_shop, "TIP", "50 pair", "2026-01-10 09:00")
    take(open_shop, "TIP", "55 pair", "2026-01-10 10:00")
    assert verdicts(open_shop) == {"TIP": CountVerdict.RECOUNT}
    with pytest.raises(RefusedError, match=r"^Every item of count sheet s is to be counted again first: TIP\.$"):
        settle.settle_count(open_shop, "s", build.stamp("2026-01-12"))
    take(open_shop, "TIP", "50 pair", "2026-01-10 11:00")
    assert verdicts(open_shop) == {"TIP": CountVerdict.CONFIRMED}


def test_a_recount_that_finds_what_is_booked_settles_a_slip(open_shop: Book) -> None:
    take(open_shop, "TIP", "50 pair", "2026-01-10 09:00")
    take(open_shop, "TIP", "60 pair", "2026-01-10 10:00")
    assert verdicts(open_shop) == {"TIP": CountVerdict.AGREES}
    done = settle.settle_count(open_shop, "s", build.stamp("2026-01-12"))
    assert (done.posted, done.held, done.corrected) == (("TIP",), (), 0)


def test_counts_of_different_days_on_different_sheets_stand_for_themselves(open_shop: Book) -> None:
    take(open_shop, "TIP", "60 pair", "2026-01-08", sheet="first")
    take(open_shop, "TIP", "50 pair", "2026-01-10", sheet="second")
    assert verdicts(open_shop, "first") == {"TIP": CountVerdict.AGREES}
    assert verdicts(open_shop, "second") == {"TIP": CountVerdict.RECOUNT}


def test_held_bins_can_be_accepted_one_by_one_or_all(open_shop: Book) -> None:
    take(open_shop, "TIP", "50 pair")
    take(open_shop, "CEMENT", "2 l")
    take(open_shop, "FILLER", "1 kg")
    first = settle.settle_count(open_shop, "s", build.stamp("2026-01-12"), accept=["TIP"])
    assert (first.posted, set(first.held)) == (("TIP",), {"CEMENT", "FILLER"})
    second = settle.settle_count(
        open_shop, "s", build.stamp("2026-01-12"), confirmed=True, reasons={"CEMENT": "spoilt"}
    )
    assert set(second.posted) == {"CEMENT", "FILLER"}
    assert {one.bin.material.code: one.bin.line.reason for one in review.review(open_shop, "s", NOW)} == {
        "TIP": CountReason.OTHER, "CEMENT": CountReason.SPOILT, "FILLER": CountReason.OTHER,
    }  # fmt: skip
    assert all(one.settled for one in review.review(open_shop, "s", NOW))


def test_one_document_is_taken_back_whole_and_the_rest_stays(open_shop: Book) -> None:
    take(open_shop, "TIP", "50 pair")
    take(open_shop, "CEMENT", "2 l")
    first = settle.settle_count(open_shop, "s", build.stamp("2026-01-12"), accept=["TIP"])
    settle.settle_count(open_shop, "s", build.stamp("2026-01-12"), confirmed=True)
    undo.undo(open_shop, first.document, build.stamp("2026-01-13"))
    assert on_hand(open_shop, "TIP") == build.nano("60 pair")
    assert on_hand(open_shop, "CEMENT") == build.nano("2 l")
    assert review.open_sheets(open_shop) == {"s": 1}


def test_settling_names_what_is_not_there(open_shop: Book) -> None:
    take(open_shop, "TIP", "60 pair")
    before = on_hand(open_shop, "TIP")
    with pytest.raises(UnknownError, match=r"^CEMENT is not waiting on count sheet s\.$"):
        settle.settle_count(open_shop, "s", build.stamp("2026-01-12"), reasons={"CEMENT": "gift"})
    with pytest.raises(UnknownError, match=r"^'stolen' is not a reason\.$"):
        settle.settle_count(open_shop, "s", build.stamp("2026-01-12"), reasons={"TIP": "stolen"})
    with pytest.raises(UnknownError, match=r"^Nothing was counted on sheet 'ss'\.$") as caught:
        review.review(open_shop, "ss", NOW)
    assert caught.value.fix == "Sheets not posted yet: s."
    assert on_hand(open_shop, "TIP") == before
    assert review.open_sheets(open_shop) == {"s": 1}


def test_a_bin_entered_wrongly_can_be_left_out_until_it_is_settled(open_shop: Book) -> None:
    take(open_shop, "TIP", "50 pair")
    assert settle.drop_lines(open_shop, "s", ["TIP"]) == 1
    with pytest.raises(UnknownError):
        review.review(open_shop, "s", NOW)
    take(open_shop, "TIP", "60 pair")  # the same moment, another result: the wrong one is gone
    assert verdicts(open_shop) == {"TIP": CountVerdict.AGREES}
    settle.settle_count(open_shop, "s", build.stamp("2026-01-12"))
    with pytest.raises(RefusedError, match="Nothing of TIP is waiting"):
        settle.drop_lines(open_shop, "s", ["TIP"])


def test_late_documents_move_what_a_settled_count_differed_by_not_what_was_found(open_shop: Book) -> None:
    take(open_shop, "TIP", "50 pair")
    settle.settle_count(open_shop, "s", build.stamp("2026-01-12"), confirmed=True)
    counter.write_off(open_shop, "TIP", build.amount("10 pair"), build.stamp("2026-01-09", entered="2026-01-13"))
    [one] = review.review(open_shop, "s", NOW)
    assert (one.amount, one.bin.found) == (0, build.nano("50 pair"))
    assert on_hand(open_shop, "TIP") == build.nano("50 pair")
