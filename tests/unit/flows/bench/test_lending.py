"""Lent out and given back: nothing moves, a count knows, what is overdue is said."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.errors import DoubtError, RefusedError, UnknownError
from stockroom.flows.bench import lending, shelf, tickets
from stockroom.flows.bench.shelf import shelf_rows
from stockroom.flows.counts import review, settle
from stockroom.flows.counts.sheets import make_sheet
from stockroom.flows.posting import undo
from stockroom.stock.counts import Count, CountLine
from stockroom.store import ledger
from stockroom.store.book import Book
from tests import build
from tests.conftest import Maker


def out(book: Book) -> dict[int, int]:
    return {loan.document: loan.nano for loan, _ in lending.loans(book)}


def test_what_is_lent_stays_in_the_book_until_it_is_back(open_shop: Book) -> None:
    with open_shop.reading() as session:
        before = ledger.balances(session)
    done = lending.lend(open_shop, "TIP", build.amount("2 pair"), build.stamp("2026-01-08", "l"), days=7)
    again = lending.lend(open_shop, "TIP", build.amount("2 pair"), build.stamp("2026-01-08", "l"), days=7)
    assert (done.due, done.fresh, again.fresh, again.document) == (date(2026, 1, 15), True, False, done.document)
    assert out(open_shop) == {done.document: build.nano("2 pair")}
    with open_shop.reading() as session:
        assert ledger.balances(session) == before
    row = next(each for each in shelf_rows(open_shop) if each.material == "TIP")
    assert (row.lent, row.free) == (build.nano("2 pair"), row.on_hand - row.set_aside - row.lent), "it isn't there"
    part = lending.lent_back(open_shop, done.document, build.stamp("2026-01-10"), amount="1 pair")
    assert part.out == build.nano("1 pair")
    with pytest.raises(RefusedError, match="1 pair of that is out"):
        lending.lent_back(open_shop, done.document, build.stamp("2026-01-10"), amount="2 pair")
    with pytest.raises(RefusedError, match="was given back"):
        undo.undo(open_shop, done.document, build.stamp("2026-01-10"))
    lost = lending.lent_back(open_shop, done.document, build.stamp("2026-01-20"), lost=True)
    assert (out(open_shop), lost.out) == ({}, 0)
    with open_shop.reading() as session:
        assert ledger.balances(session)["TIP"] == before["TIP"] - build.nano("1 pair")
    with pytest.raises(UnknownError, match="is lent out"):
        lending.lent_back(open_shop, done.document, build.stamp("2026-01-21"))


def test_what_is_overdue_is_said_on_today(open_shop: Book) -> None:
    wanted = tickets.Wanted(job="HEELS", promised=date(2026, 1, 12))
    ticket = tickets.take_in(open_shop, wanted, build.stamp("2026-01-08"))
    lending.lend(open_shop, "TIP", build.amount("1 pair"), build.stamp("2026-01-08"), ticket=ticket.number)
    assert shelf.today(open_shop, build.at("2026-01-12 18:00")).not_back == ()
    ((loan, material),) = shelf.today(open_shop, build.at("2026-01-15")).not_back
    assert (material.code, loan.ticket, loan.overdue(date(2026, 1, 15))) == ("TIP", ticket.number, 3)


def test_more_than_there_is_and_lent_to_nobody_are_refused(open_shop: Book) -> None:
    with pytest.raises(DoubtError, match="would be lent out"):
        lending.lend(open_shop, "TIP", build.amount("5000 pair"), build.stamp("2026-01-08"), days=1)
    with pytest.raises(RefusedError, match="To whom"):
        lending.lend(open_shop, "TIP", build.amount("1 pair"), build.stamp("2026-01-08"))
    assert out(open_shop) == {}


@given(lent=st.integers(0, 4), back=st.integers(0, 4), missing=st.integers(0, 3))
def test_a_count_is_short_only_of_what_is_missing(lent: int, back: int, missing: int, books: Maker) -> None:
    """On the shelf lie the book's pairs less what is out; whatever is lent, the count finds what is gone."""
    book = books(build.opened)
    with book.reading() as session:
        there = ledger.balances(session)["TIP"] // build.nano("1 pair")
    loans = [lending.lend(book, "TIP", build.amount("1 pair"), build.stamp("2026-01-08"), days=3) for _ in range(lent)]
    for loan in loans[:back]:
        lending.lent_back(book, loan.document, build.stamp("2026-01-09"))
    still = lent - min(back, lent)
    hint = next(line.hint for line in make_sheet(book, build.at("2026-01-10")).lines if line.material == "TIP")
    assert ("lent out" in hint) is bool(still)
    found = build.amount(f"{there - still - missing} pair")
    line = CountLine(material="TIP", amount=found, counted=build.at("2026-01-10"))
    settle.take_count(book, Count(key="c", lines=(line,)), build.stamp("2026-01-10"))
    (one,) = review.review(book, "c", build.at("2026-01-10"))
    assert one.amount == -missing * build.nano("1 pair")
    assert one.bin.line.note == (f"with {still} pair{'s' * (still > 1)} lent out" if still else "")
    book.close()
