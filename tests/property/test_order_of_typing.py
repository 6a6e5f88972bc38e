"""The same dated facts, entered through the flows in any order, give the same accounts to the cent."""

import csv
from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from io import StringIO

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

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
from stockroom.show.accounts_csv import csv_files
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import NANO, Quantity
from stockroom.store.book import Book
from tests import build
from tests.conftest import Maker

FIRST = build.at("2026-01-06 08:00")
CODES = ("TIP", "CEMENT", "LACE-BROWN")  # few, so that facts meet
MATERIALS = {m.code: m for m in build.materials()}
JANUARY = Period(first=date(2026, 1, 1), last=date(2026, 1, 31))
OPEN = Period(first=date(2026, 2, 1), last=date(2026, 12, 31))
WHOLE = Period(first=date(2026, 1, 1), last=date(2026, 12, 31))

FACTS = st.lists(
    st.tuples(
        st.sampled_from(["deliver", "deliver", "price", "heels", "heels", "sell", "waste", "move", "count", "slip"]),
        st.integers(0, 2),  # material
        st.integers(1, 300),  # tenths of its unit
        st.integers(0, 9000),  # money
        st.integers(0, 40),  # half days after the first
    ),
    max_size=9,
)


@dataclass
class Shop:
    """A book that facts are entered into, one by one."""

    book: Book
    turn: int = 0

    def stamp(self, key: str, happened: datetime, site: str = "main") -> Stamp:
        self.turn += 1
        entered = FIRST + timedelta(days=90, minutes=self.turn)
        return Stamp(key=key, happened=happened, entered=entered, site=site, sure=True)

    def enter(self, number: int, fact: tuple[str, int, int, int, int]) -> None:
        what, pick, tenths, money, halves = fact
        code = "LACE-BROWN" if what == "sell" else CODES[pick]
        happened = FIRST + timedelta(hours=12 * halves, minutes=number if what == "count" else 0)
        nano = tenths * NANO // 10 * (100 if code == "CEMENT" else 1)
        amount = Quantity(nano=nano, dimension=MATERIALS[code].dimension)
        getattr(self, what)(code, amount, money, self.stamp(f"fact-{number}", happened))

    def deliver(self, code: str, amount: Quantity, money: int, stamp: Stamp) -> int:
        lines = (DeliveryLine(material=code, amount=amount, cost=money),)
        goods = Delivery(
            reference=stamp.key, supplier="NORTH", received=stamp.happened, lines=lines, carriage=money % 7
        )
        return place.receive_goods(self.book, goods, stamp).document

    def price(self, code: str, amount: Quantity, money: int, stamp: Stamp) -> None:
        number = self.deliver(code, amount, money, stamp)
        correct_price(self.book, number, {code: money + 130}, self.stamp(f"{stamp.key}-price", stamp.happened))

    def heels(self, _code: str, _amount: Quantity, money: int, stamp: Stamp) -> None:
        tickets.finish_at_once(self.book, tickets.Wanted(job="HEELS", shoes=2, number=stamp.key, price=money), stamp)

    def sell(self, code: str, amount: Quantity, money: int, stamp: Stamp) -> None:
        counter.sell(self.book, code, amount, stamp, price=money)

    def waste(self, code: str, amount: Quantity, _money: int, stamp: Stamp) -> None:
        counter.write_off(self.book, code, amount, stamp)

    def move(self, code: str, amount: Quantity, _money: int, stamp: Stamp) -> None:
        counter.transfer(self.book, code, amount, stamp, to_site="second")

    def count(self, code: str, amount: Quantity, _money: int, stamp: Stamp) -> None:
        line = CountLine(material=code, amount=amount, counted=stamp.happened)
        settle.take_count(self.book, Count(key=stamp.key, lines=(line,)), stamp)
        settle.settle_count(self.book, stamp.key, stamp, confirmed=True)

    def slip(self, code: str, amount: Quantity, money: int, stamp: Stamp) -> None:
        """Enter something that never was, and take it back."""
        number = self.deliver(code, amount, money, stamp)
        undo.undo(self.book, number, self.stamp(f"{stamp.key}-undo", stamp.happened))


def told(book: Book) -> list[Counter[tuple[str, ...]]]:
    """Say everything the plain files of the workbook say, but for what counts documents."""
    made = [make_accounts(book, period) for period in (JANUARY, OPEN, WHOLE)]
    return [_rows(name, content) for each in made for name, content in _files(each)]


def _files(made: Accounts) -> list[tuple[str, bytes]]:
    """Give the plain files, but for the list of what was entered late."""
    return [(name, content) for name, content in sorted(csv_files(made).items()) if name != "late-papers.csv"]


def _rows(name: str, content: bytes) -> Counter[tuple[str, ...]]:
    titles, *rows = csv.reader(StringIO(content.decode()))
    kept = [n for n, title in enumerate(titles) if title not in NUMBERED]
    return Counter((name, *(row[n] for n in kept)) for row in rows if row[0] not in ("Check figure", "Documents"))


NUMBERED = ("Document", "Layer", "Entered", "Reason", "Row")  # what follows the order of typing


@pytest.mark.parametrize("method", ["fifo", "average"])
@pytest.mark.parametrize("closed", [False, True])
@given(facts=FACTS, data=st.data())
@settings(max_examples=3, deadline=None, phases=[Phase.generate])
def test_the_workbook_does_not_depend_on_the_order_of_typing(
    sqlite_books: Maker, method: str, closed: bool, facts: list[tuple[str, int, int, int, int]], data: st.DataObject
) -> None:
    order = data.draw(st.permutations(range(len(facts))))
    shops = [Shop(sqlite_books(build.opened)) for _ in range(2)]
    for shop, turn in zip(shops, (range(len(facts)), order), strict=True):
        change_settings(shop.book, {"costing": method})
        if closed:
            shop.enter(99, ("deliver", 0, 100, 2000, 0))
            shop.enter(98, ("heels", 0, 1, 1500, 3))
            closing.close_period(shop.book, JANUARY, shop.stamp("close", FIRST + timedelta(days=40)))
        for number in turn:
            shop.enter(number, facts[number])
    one, other = (told(shop.book) for shop in shops)
    for shop in shops:
        shop.book.close()
    assert one == other
