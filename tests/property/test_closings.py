"""Any mix of documents and closings, entered through the flows: closed months stay, and every month opens where one closed."""

from collections.abc import Callable
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule, run_state_machine_as_test

from stockroom.errors import StockroomError
from stockroom.flows.accounts import closing
from stockroom.flows.accounts.period import make_accounts
from stockroom.flows.bench import counter, tickets
from stockroom.flows.book.opening import change_settings
from stockroom.flows.counts import settle
from stockroom.flows.ordering import place
from stockroom.flows.posting import undo
from stockroom.flows.posting.price_corrections import correct_price
from stockroom.margins.accounts import Accounts
from stockroom.margins.period import Period
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.money import milli_to_minor
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import NANO, Quantity
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book
from tests import build
from tests.conftest import Maker

FIRST = build.at("2026-01-06 08:00")
CODES = ("TIP", "CEMENT", "LACE-BROWN")  # few, so that documents meet
MATERIALS = {m.code: m for m in build.materials()}
ago, picks, tenths = st.integers(0, 45), st.integers(0, 11), st.integers(1, 400)
LEAST = 10  # days between closings


class Months(RuleBasedStateMachine):
    """A shop that enters things late, corrects prices, sends goods back, undoes documents, and closes months."""

    make: Callable[[], Book]
    method: str

    def __init__(self) -> None:
        super().__init__()
        self.book = self.make()
        self.now = FIRST
        self.turn = 0
        self.deliveries: list[int] = []
        self.closed: list[tuple[Period, Accounts]] = []

    @initialize()
    def open_the_shop(self) -> None:
        build.opened(self.book)
        change_settings(self.book, {"costing": self.method})

    def stamp(self, days: int) -> Stamp:
        self.turn += 1
        self.now += timedelta(hours=7)
        happened = max(self.now - timedelta(days=days), FIRST)
        return Stamp(key=f"document-{self.turn}", happened=happened, entered=self.now, sure=True)

    def amount(self, code: str, tenth: int) -> Quantity:
        return Quantity(nano=tenth * NANO // 10 * (100 if code == "CEMENT" else 1), dimension=MATERIALS[code].dimension)

    @rule(days=ago, pick=picks, tenth=tenths, cost=st.integers(0, 9000), carriage=st.integers(0, 700))
    def deliver(self, days: int, pick: int, tenth: int, cost: int, carriage: int) -> None:
        stamp, codes = self.stamp(days), {CODES[pick % 3], CODES[pick % 2]}
        lines = tuple(DeliveryLine(material=c, amount=self.amount(c, tenth), cost=cost) for c in sorted(codes))
        goods = Delivery(
            reference=stamp.key, supplier="NORTH", received=stamp.happened, lines=lines, carriage=carriage
        )  # fmt: skip
        self.deliveries.append(place.receive_goods(self.book, goods, stamp).document)

    @rule(days=ago, pick=picks, tenth=tenths)
    def throw_away(self, days: int, pick: int, tenth: int) -> None:
        code = CODES[pick % 3]
        counter.write_off(self.book, code, self.amount(code, tenth), self.stamp(days))

    @rule(days=ago, pairs=st.integers(1, 30))
    def finish_heels(self, days: int, pairs: int) -> None:
        tickets.finish_at_once(self.book, tickets.Wanted(job="HEELS", shoes=2 * pairs), self.stamp(days))

    @rule(days=ago, pairs=st.integers(1, 30))
    def sell_laces(self, days: int, pairs: int) -> None:
        counter.sell(self.book, "LACE-BROWN", build.amount(f"{pairs} pair"), self.stamp(days))

    @precondition(lambda self: self.deliveries)
    @rule(pick=picks, code=st.sampled_from(CODES), cost=st.integers(0, 9000))
    def correct(self, pick: int, code: str, cost: int) -> None:
        self.tried(correct_price, self.deliveries[pick % len(self.deliveries)], {code: cost}, self.stamp(0))

    @precondition(lambda self: self.deliveries)
    @rule(pick=picks, code=st.sampled_from(CODES), tenth=tenths, credit=st.integers(0, 9000))
    def send_back(self, pick: int, code: str, tenth: int, credit: int) -> None:
        named: dict[str, Any] = {"delivery": self.deliveries[pick % len(self.deliveries)]}
        goods = (code, self.amount(code, tenth), self.stamp(0))
        self.tried(counter.send_back, *goods, supplier="NORTH", credit=credit, **named)

    @rule(back=st.integers(0, 8))
    def undo_one(self, back: int) -> None:
        with self.book.reading() as session:
            last, _ = ledger.head(session)
        self.tried(undo.undo, max(last - back, 2), self.stamp(0))

    @rule(days=ago, pick=picks, tenth=tenths)
    def count(self, days: int, pick: int, tenth: int) -> None:
        stamp, code = self.stamp(days), CODES[pick % 3]
        line = CountLine(material=code, amount=self.amount(code, tenth), counted=stamp.happened)
        self.tried(settle.take_count, Count(key=stamp.key, lines=(line,)), stamp)
        self.tried(settle.settle_count, stamp.key, self.stamp(0), confirmed=True)

    @rule(cost=st.integers(1, 900))
    def change_what_things_usually_cost(self, cost: int) -> None:
        with self.book.writing() as session:
            catalogue.save_materials(
                session, [build.material(c, MATERIALS[c].unit.name, usual_cost=cost) for c in CODES[1:2]]
            )

    @rule(days=st.integers(LEAST, 40))
    def close(self, days: int) -> None:
        self.now += timedelta(days=days)
        last = self.now.date() - timedelta(days=1)
        done = closing.close_period(self.book, Period(first=last, last=last), self.stamp(0))
        self.closed.append((done.period, make_accounts(self.book, done.period)))
        assert done.value == self.closed[-1][1].closing

    def tried(self, call: Callable[..., object], *given: Any, **named: Any) -> None:
        """Do what a person may try; a refusal changes nothing."""
        try:
            call(self.book, *given, **named)
        except StockroomError:
            return

    def teardown(self) -> None:
        for period, then in self.closed:
            assert make_accounts(self.book, period) == then
        for (_, one), (_, other) in pairwise(self.closed):
            assert one.closing == other.opening
        first = self.closed[-1][0].last + timedelta(days=1) if self.closed else date(2026, 1, 1)
        made = make_accounts(self.book, Period(first=first, last=date(2031, 1, 1)))
        assert made.opening == (self.closed[-1][1].closing if self.closed else 0)
        _adds_up(made)
        with self.book.reading() as session:
            on_hand = {code: nano for code, nano in ledger.balances(session).items() if nano}
        assert {roll.material.code: roll.closing[0] for roll in made.rolls if roll.closing[0]} == on_hand
        self.book.close()


def _adds_up(made: Accounts) -> None:
    flows = [flow for roll in made.rolls for flow in roll.flows.values()]
    assert made.opening + sum(value for _, value in flows) == made.closing
    assert sum(valued.value for valued in made.valued) == made.closing
    stock = sum(line.debit - line.credit for line in made.journal if line.account == "stock")
    assert stock == milli_to_minor(made.closing) - milli_to_minor(made.opening)
    assert sum(line.debit - line.credit for line in made.journal) == 0


@pytest.mark.parametrize("method", ["fifo", "average"])
def test_any_mix_of_documents_and_closings_keeps_what_was_closed(sqlite_books: Maker, method: str) -> None:
    machine = type("Made", (Months,), {"make": staticmethod(sqlite_books), "method": method})
    some = settings(settings(), max_examples=max(settings().max_examples * 10 // 100, 4))
    run_state_machine_as_test(machine, settings=some)


def test_a_server_keeps_what_was_closed_too(server_books: Maker) -> None:
    machine = type("Made", (Months,), {"make": staticmethod(server_books), "method": "fifo"})
    run_state_machine_as_test(
        machine, settings=settings(settings(), max_examples=max(settings().max_examples // 20, 3))
    )
