from datetime import date
from decimal import Decimal

import pytest

from stockroom.errors import RefusedError
from stockroom.flows.bench import counter
from stockroom.flows.counts import settle
from stockroom.flows.posting import undo
from stockroom.flows.posting.post import CLOSED_THROUGH, post, post_one
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.layers import replay
from stockroom.stock.moves import DocumentKind, MoveKind
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book
from tests import build


def on_hand(book: Book, code: str, at: str = "") -> Decimal:
    with book.reading() as session:
        found = ledger.balances(session, at=build.at(at) if at else None, material=code)
    return Decimal(found.get(code, 0)) / 10**9


def count(book: Book, found: str, when: str, key: str = "sheet", code: str = "CEMENT") -> int:
    line = CountLine(material=code, amount=build.amount(found), counted=build.at(when))
    settle.take_count(book, Count(key=key, lines=(line,)), build.stamp(when))
    return settle.settle_count(book, key, build.stamp(when, f"settle-{key}"), confirmed=True).document


def waste(book: Book, amount: str, when: str, key: str = "") -> int:
    return counter.write_off(
        book, "CEMENT", build.amount(amount), build.stamp(when, key, entered="2026-02-20")
    ).document


def kinds(book: Book) -> list[str]:
    with book.reading() as session:
        return [str(document.kind) for document in ledger.read_documents(session)]


def test_a_known_key_is_posted_once(open_shop: Book) -> None:
    stamp = build.stamp("2026-01-06", "waste-1")
    first = counter.write_off(open_shop, "TIP", build.amount("1 pair"), stamp)
    again = counter.write_off(open_shop, "TIP", build.amount("1 pair"), stamp)
    assert (first.fresh, again.fresh, again.document) == (True, False, first.document)
    assert on_hand(open_shop, "TIP") == 118


def test_the_same_key_twice_in_one_load_is_posted_once(shop: Book) -> None:
    with shop.writing() as session:
        posted = post(session, [build.document(build.move("TIP", "1 piece"), key="k") for _ in range(2)])
    assert [(p.number, p.fresh) for p in posted] == [(2, True), (2, False)]
    assert on_hand(shop, "TIP") == 1


def test_a_document_from_a_closed_period_is_booked_on_the_first_open_day(shop: Book) -> None:
    with shop.writing() as session:
        catalogue.save_note(session, CLOSED_THROUGH, "2026-01-31")
        post_one(session, build.document(build.move("TIP", "1 piece"), happened="2026-01-20"))
        post_one(session, build.document(build.move("TIP", "1 piece"), happened="2026-02-03"))
        documents = ledger.read_documents(session, kinds=[DocumentKind.OPENING])
    assert [(p.happened, p.booked_on) for p in documents] == [
        (build.at("2026-01-20"), date(2026, 2, 1)),
        (build.at("2026-02-03"), date(2026, 2, 3)),
    ]


def test_work_before_a_count_entered_after_it_leaves_the_count_true(open_shop: Book) -> None:
    count(open_shop, "3 l", "2026-01-10")
    waste(open_shop, "200 ml", "2026-01-08")
    assert on_hand(open_shop, "CEMENT", "2026-01-09") == 3300
    assert on_hand(open_shop, "CEMENT", "2026-01-10") == on_hand(open_shop, "CEMENT") == 3000
    assert kinds(open_shop) == ["opening", "change", "count", "waste", "count kept"]


def test_work_of_a_counts_own_moment_entered_after_it_leaves_the_count_true(open_shop: Book) -> None:
    count(open_shop, "3 l", "2026-01-10 10:00")
    waste(open_shop, "200 ml", "2026-01-10 10:00")
    assert on_hand(open_shop, "CEMENT", "2026-01-10 10:00") == on_hand(open_shop, "CEMENT") == 3000


@pytest.mark.parametrize("order", [1, -1])
def test_work_of_both_sides_of_a_count_entered_together_leaves_it_true(open_shop: Book, order: int) -> None:
    """As a load does: the earliest of them says from when on counts are held."""
    count(open_shop, "3 l", "2026-01-10")
    used = [
        build.document(build.move("CEMENT", "-200 ml", happened=day), happened=day, key=day)
        for day in ("2026-01-08", "2026-01-12")
    ]
    with open_shop.writing() as session:
        post(session, used[::order])
    assert on_hand(open_shop, "CEMENT", "2026-01-10") == 3000
    assert on_hand(open_shop, "CEMENT") == 2800


def test_work_after_a_count_counts(open_shop: Book) -> None:
    count(open_shop, "3 l", "2026-01-10")
    waste(open_shop, "200 ml", "2026-01-11")
    assert on_hand(open_shop, "CEMENT") == 2800


def test_a_count_settled_after_a_later_one_leaves_both_true(open_shop: Book) -> None:
    count(open_shop, "3 l", "2026-01-20", "late")
    count(open_shop, "3.4 l", "2026-01-10", "early")
    assert on_hand(open_shop, "CEMENT", "2026-01-10") == 3400
    assert on_hand(open_shop, "CEMENT", "2026-01-20") == on_hand(open_shop, "CEMENT") == 3000


def test_a_count_taken_back_takes_along_what_later_documents_did_for_its_sake(open_shop: Book) -> None:
    number = count(open_shop, "3 l", "2026-01-10")
    waste(open_shop, "200 ml", "2026-01-08")
    undo.undo(open_shop, number, build.stamp("2026-02-21"))
    assert on_hand(open_shop, "CEMENT", "2026-01-10") == on_hand(open_shop, "CEMENT") == 3300


def test_a_count_put_in_force_again_holds_the_book_again(open_shop: Book) -> None:
    number = count(open_shop, "3 l", "2026-01-10")
    back = undo.undo(open_shop, number, build.stamp("2026-02-21")).number
    waste(open_shop, "200 ml", "2026-01-08")
    undo.undo(open_shop, back, build.stamp("2026-02-22"))
    assert on_hand(open_shop, "CEMENT", "2026-01-10") == on_hand(open_shop, "CEMENT") == 3000


def test_work_before_a_count_can_be_taken_back_and_the_costs_still_add_up(open_shop: Book) -> None:
    number = waste(open_shop, "200 ml", "2026-01-08")
    count(open_shop, "3 l", "2026-01-10")
    undo.undo(open_shop, number, build.stamp("2026-02-21"))
    assert on_hand(open_shop, "CEMENT", "2026-01-09") == 3500
    assert on_hand(open_shop, "CEMENT") == 3000
    with open_shop.reading() as session:
        documents = ledger.read_documents(session)
    costing = replay(documents, {m.code: m for m in build.materials()})
    assert sum(e.nano for e in costing.entries if e.move.material == "CEMENT") == build.nano("3 l")


def test_a_document_that_only_keeps_a_count_true_is_not_taken_back_alone(open_shop: Book) -> None:
    count(open_shop, "3 l", "2026-01-10")
    number = waste(open_shop, "200 ml", "2026-01-08")
    assert build.last(open_shop) == number
    with pytest.raises(RefusedError) as caught:
        undo.undo(open_shop, number + 1, build.stamp("2026-02-21"))
    assert caught.value.what == f"Document {number + 1} is an automatic count adjustment."
    assert caught.value.fix == f"Undo document {number}, or the count."


def test_two_counts_of_one_bin_at_one_moment_must_agree(open_shop: Book) -> None:
    count(open_shop, "3 l", "2026-01-10", "hers")
    count(open_shop, "3 l", "2026-01-10", "hers too")
    with pytest.raises(RefusedError) as caught:
        count(open_shop, "2 l", "2026-01-10", "his")
    assert caught.value.what == "CEMENT was counted twice at 2026-01-10 12:00, with different results."
    assert on_hand(open_shop, "CEMENT") == 3000


def test_seconds_decide_what_lay_before_a_count(open_shop: Book) -> None:
    count(open_shop, "3 l", "2026-01-10 10:00")
    late = build.stamp(build.at("2026-01-10 10:00").replace(microsecond=900))
    counter.write_off(open_shop, "CEMENT", build.amount("200 ml"), late)
    assert on_hand(open_shop, "CEMENT") == 3000  # the book keeps seconds: it happened at the count's own


def test_differences_are_booked_as_such(open_shop: Book) -> None:
    number = count(open_shop, "3 l", "2026-01-10")
    with open_shop.reading() as session:
        document = ledger.read_documents(session, numbers=[number])[0]
    assert (document.kind, document.subject) == (DocumentKind.COUNT, "sheet")
    assert [(m.kind, m.nano) for m in document.moves] == [(MoveKind.COUNT, -build.nano("500 ml"))]
