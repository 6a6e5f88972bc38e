"""Counts in parts, recounts, held bins, dropped lines and documents taken back, in any order: what was settled holds."""

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from stockroom.errors import RefusedError, UnknownError
from stockroom.flows.bench import counter
from stockroom.flows.counts import review, settle
from stockroom.flows.posting import undo
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import NANO, Dimension, Quantity
from stockroom.store import counts, integrity, ledger
from stockroom.store.book import Book
from tests import build
from tests.conftest import Maker

FIRST = build.at("2026-01-06 08:00")
NOW = FIRST + timedelta(days=40)
CODES = ("TIP", "CEMENT")
DIMENSIONS = {"TIP": Dimension.COUNT, "CEMENT": Dimension.VOLUME}
SHEETS = ("one", "two")
hours = st.integers(0, 60)
picks = st.integers(0, 1)


class Counting(RuleBasedStateMachine):
    """Two bins, two sheets, a few days."""

    make: Callable[[], Book]

    def __init__(self) -> None:
        super().__init__()
        self.book = self.make()
        self.turn = 0
        self.documents: list[int] = []

    def teardown(self) -> None:
        with self.book.reading() as session:
            assert integrity.audit(session).faults == ()
        self.book.close()

    def stamp(self, when: int) -> Stamp:
        self.turn += 1
        return Stamp(key=f"document-{self.turn}", happened=FIRST + timedelta(hours=when), entered=NOW, sure=True)

    @initialize()
    def open_the_shop(self) -> None:
        build.opened(self.book)

    @rule(when=hours, code=picks, sheet=picks, tens=st.integers(0, 4))
    def count(self, when: int, code: int, sheet: int, tens: int) -> None:
        amount = Quantity(nano=tens * 10 * NANO, dimension=DIMENSIONS[CODES[code]])
        line = CountLine(material=CODES[code], amount=amount, counted=FIRST + timedelta(hours=when))
        try:
            settle.take_count(self.book, Count(key=SHEETS[sheet], lines=(line,)), self.stamp(when), sure=True)
        except RefusedError as refused:
            assert "is on count sheet" in refused.what  # noqa: PT017 -- refusing is one of two fair ends

    @rule(when=hours, code=picks, tenths=st.integers(1, 300))
    def back_dated_waste(self, when: int, code: int, tenths: int) -> None:
        amount = Quantity(nano=tenths * NANO // 10, dimension=DIMENSIONS[CODES[code]])
        self.documents.append(counter.write_off(self.book, CODES[code], amount, self.stamp(when)).document)

    @rule(sheet=picks, confirmed=st.booleans())
    def settle(self, sheet: int, confirmed: bool) -> None:
        before = self.lines("settled")
        try:
            done = settle.settle_count(self.book, SHEETS[sheet], self.stamp(0), confirmed=confirmed)
        except (RefusedError, UnknownError):
            assert self.lines("settled") == before
            return
        self.documents.append(done.document)
        fresh = self.lines("settled") - before
        assert {material for material, *_ in fresh} == set(done.posted)
        assert len(fresh) == len(done.posted), "of several counts of a bin the last holds"
        assert {material for material, *_ in self.lines("open")} >= set(done.held)

    @rule(sheet=picks, code=picks)
    def drop(self, sheet: int, code: int) -> None:
        settled = self.lines("settled")
        try:
            settle.drop_lines(self.book, SHEETS[sheet], [CODES[code]])
        except RefusedError:
            return
        assert self.lines("settled") == settled

    @precondition(lambda self: self.documents)
    @rule(pick=st.integers(0, 99))
    def take_back(self, pick: int) -> None:
        try:
            self.documents.append(
                undo.undo(self.book, self.documents[pick % len(self.documents)], self.stamp(0)).number
            )
        except RefusedError as refused:
            fair = ("undone already", "settled again", "counted twice")
            assert any(words in refused.what for words in fair)  # noqa: PT017 -- as above

    def lines(self, state: str) -> set[tuple[str, datetime, int]]:
        with self.book.reading() as session:
            kept = counts.read_lines(session, dict.fromkeys(build.OPENING, Dimension.COUNT), state=state)
        return {(k.line.material, k.line.counted, k.line.amount.nano) for k in kept}

    @invariant()
    def the_book_says_what_was_counted_at_its_moment(self) -> None:
        with self.book.reading() as session:
            for anchor in counts.anchors(session):
                assert ledger.bin_balance(session, anchor.material, "main", anchor.counted) == anchor.nano

    @invariant()
    def every_open_line_is_judged_and_judging_changes_nothing(self) -> None:
        with self.book.reading() as session:
            before = ledger.head(session)
        for sheet, waiting in review.open_sheets(self.book).items():
            judged = [one for one in review.review(self.book, sheet, NOW) if not one.settled]
            assert 1 <= len(judged) <= waiting
        with self.book.reading() as session:
            assert ledger.head(session) == before


@pytest.mark.slow
def test_recounts_and_held_bins_in_any_order_leave_every_settled_count_true(sqlite_books: Maker) -> None:
    made = type("Counted", (Counting,), {"make": staticmethod(sqlite_books)})
    run_state_machine_as_test(made, settings=settings(settings(), max_examples=max(settings().max_examples // 2, 5)))


def test_recounts_and_held_bins_on_a_server_leave_every_settled_count_true(server_books: Maker) -> None:
    made = type("Counted", (Counting,), {"make": staticmethod(server_books)})
    run_state_machine_as_test(made, settings=settings(settings(), max_examples=max(settings().max_examples // 8, 5)))
