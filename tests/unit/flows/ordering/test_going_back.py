"""Goods that may go back, from the offer to the supplier: received, reminded of, sent back, undone, in the accounts."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from stockroom.buying.basket import basket
from stockroom.buying.problem import GoingBack
from stockroom.errors import DoubtError
from stockroom.flows.accounts.period import make_accounts
from stockroom.flows.bench import counter, shelf
from stockroom.flows.book.opening import new_book
from stockroom.flows.loading.lists import list_kind, save
from stockroom.flows.loading.load import load_files
from stockroom.flows.ordering.place import OrderedPacks, by_their_code, place_order, receive_goods, receive_order
from stockroom.flows.ordering.plan import only_with_approval
from stockroom.flows.ordering.receive import Arrived
from stockroom.flows.posting.price_corrections import correct_price
from stockroom.flows.posting.undo import undo
from stockroom.margins.period import Period
from stockroom.show.stock_list import stock_list_html
from stockroom.show.workbook.going_back import SHEET
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.store import ledger
from stockroom.store.book import Book
from tests import build
from tests.unit.buying.problems import small_ask

NOW = datetime(2026, 3, 2, 8)
FILES = {
    "shop": "setting,value\nstart,2026-03-02\n",
    "materials": (
        "code,name,family,unit,purpose,sell price\n"
        "CREAM,Shoe cream,care,piece,counter,9.00\nTREE,Shoe trees,care,pair,counter,24.00\n"
    ),
    "jobs": "code,name,price\nCLEAN,Clean,8.00\n",
    "suppliers": "code,name,lead days\nNORTH,North Row (invented),7\n",
    "offers": (
        "supplier,material,supplier code,pack,price,valid from,return weeks,return until,return cost of a pack,"
        "on approval\n"
        "NORTH,CREAM,C1,6,24.00,2026-01-01,8,,1.50,\nNORTH,TREE,T1,2,20.00,2026-01-01,,2026-04-15,,yes\n"
    ),
}  # fmt: skip


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """A shop whose two counter goods may go back."""
    for name, text in FILES.items():
        (tmp_path / f"{name}.csv").write_text(text)
    made = new_book(str(tmp_path / "shop.sqlite"))
    load_files(made, [tmp_path / f"{name}.csv" for name in FILES], NOW)
    yield made
    made.close()


def _received(book: Book) -> int:
    asked = [OrderedPacks(material="CREAM", packs=3), OrderedPacks(material="TREE", packs=4)]
    order = place_order(book, "NORTH", asked, build.stamp("2026-03-02", "o"))
    came = receive_order(book, order.number, [], build.stamp("2026-03-09 10:00", "r"))
    assert [str(said) for said in came.remarks] == [
        "CREAM: what is not used may go back until 4 May 2026",
        "TREE: only what is used is paid for; the rest may go back until 15 Apr 2026",
    ]
    return came.document


def _back(book: Book, day: str) -> dict[str, tuple[int, int, str]]:
    """By material: pieces that may go back, what is credited for them, and until when."""
    found = counter.may_go_back(book, date.fromisoformat(day))
    return {x.material: (x.nano // m.unit.nano, x.credit, x.until.isoformat()) for x, m in found}


def test_what_is_left_in_whole_packs_may_go_back_until_its_day(book: Book) -> None:
    _received(book)
    whole = {"TREE": (8, 8000, "2026-04-15"), "CREAM": (18, 7200, "2026-05-04")}
    assert _back(book, "2026-03-10") == whole
    counter.sell(book, "CREAM", build.amount("1 piece"), build.stamp("2026-03-11"))
    assert _back(book, "2026-04-15") == whole | {"CREAM": (12, 4800, "2026-05-04")}
    assert list(_back(book, "2026-04-16")) == ["CREAM"]
    assert _back(book, "2026-05-05") == {}


def test_it_stands_on_today_in_its_last_fortnight(book: Book) -> None:
    _received(book)
    assert shelf.today(book, build.at("2026-03-31 18:00")).going_back == ()
    ((goods, material),) = shelf.today(book, build.at("2026-04-01 09:00")).going_back
    assert (goods.material, material.name, goods.packs) == ("TREE", "Shoe trees", 4)


def test_sending_it_back_credits_what_it_cost_and_can_be_undone(book: Book) -> None:
    number = _received(book)
    stamp = build.stamp("2026-03-20", "b")
    done = counter.send_back(book, "CREAM", build.amount("6 piece"), stamp, delivery=number)
    assert (done.price, done.left) == (2400, build.nano("12 piece"))
    again = counter.send_back(book, "CREAM", build.amount("6 piece"), stamp, delivery=number)
    assert (again.document, again.fresh) == (done.document, False)
    assert _back(book, "2026-03-20")["CREAM"][0] == 12
    with pytest.raises(DoubtError, match="12 pieces of CREAM may still go back"):
        counter.send_back(book, "CREAM", build.amount("13 piece"), build.stamp("2026-03-21"), delivery=number)
    with pytest.raises(DoubtError, match="0 pairs of TREE may still go back"):
        counter.send_back(book, "TREE", build.amount("2 pair"), build.stamp("2026-04-16"), delivery=number)
    undo(book, done.document, build.stamp("2026-03-22"))
    assert _back(book, "2026-03-22")["CREAM"] == (18, 7200, "2026-05-04")
    with book.reading() as session:
        assert ledger.balances(session)["CREAM"] == build.nano("18 piece")


def test_a_corrected_price_and_later_goods_without_the_right_are_minded(book: Book) -> None:
    number = _received(book)
    correct_price(book, number, {"CREAM": 9000}, build.stamp("2026-03-12"))
    assert _back(book, "2026-03-12")["CREAM"] == (18, 9000, "2026-05-04")
    save(book, list_kind("offers"), [
        {"supplier": "NORTH", "material": "CREAM", "supplier code": "C1", "pack": "6", "price": "24.00",
         "valid from": "2026-03-15"},
    ], NOW)  # fmt: skip
    goods = DeliveryLine(material="CREAM", amount=build.amount("10 piece"), cost=4000)
    note = Delivery(reference="N-7", supplier="NORTH", received=datetime(2026, 3, 16, 9), lines=(goods,))
    receive_goods(book, note, build.stamp("2026-03-16 09:00", "N-7"))
    counter.sell(book, "CREAM", build.amount("8 piece"), build.stamp("2026-03-17"))
    assert _back(book, "2026-03-17")["CREAM"] == (6, 3000, "2026-05-04"), "the oldest went first: ten of it are left"


def test_goods_on_approval_are_in_the_value_and_shown_apart(book: Book) -> None:
    _received(book)
    counter.sell(book, "TREE", build.amount("2 pair"), build.stamp("2026-03-20"))
    month = Period(first=date(2026, 3, 1), last=date(2026, 3, 31))
    made = make_accounts(book, month)
    assert (made.closing, made.on_approval) == (13200 * 1000, 6000)
    (tree, cream) = SHEET.fill(made).rows
    assert (tree[3], str(tree[8]), tree[9], tree[10]) == ("TREE", "on approval: not bought yet", 60, 60)
    assert (cream[3], cream[9], cream[10]) == ("CREAM", 72, None)
    assert "Of it on approval, not bought yet" in stock_list_html(made)
    later = make_accounts(book, Period(first=date(2026, 4, 1), last=date(2026, 4, 30)))
    assert (later.on_approval, [each.material for each in later.going_back]) == (0, ["CREAM"]), "it is bought by then"


@pytest.mark.parametrize("said", [{"on approval": "yes"}, {"return cost": "2.00"}])
def test_a_right_without_an_end_is_refused(book: Book, said: dict[str, str]) -> None:
    row = {"supplier": "NORTH", "material": "CREAM", "supplier code": "C9", "pack": "6", "price": "24.00"}
    with pytest.raises(Exception, match="1 problem"):
        save(book, list_kind("offers"), [{**row, "valid from": "2026-03-15", **said}], NOW)


def test_goods_are_received_by_the_suppliers_own_code(book: Book) -> None:
    asked = [OrderedPacks(material="CREAM", packs=3), OrderedPacks(material="TREE", packs=4)]
    order = place_order(book, "NORTH", asked, build.stamp("2026-03-02", "o"))
    lines = [Arrived(material="c1", packs=2)]
    receive_order(book, order.number, lines, build.stamp("2026-03-09 10:00", "r"))
    with book.reading() as session:
        assert ledger.balances(session) == {"CREAM": build.nano("12 piece")}
    found = by_their_code(book, "NORTH", "t1", date(2026, 3, 9))
    assert found is not None
    assert (found.material, by_their_code(book, "NORTH", "T9", date(2026, 3, 9))) == ("TREE", None)


def test_it_is_said_where_only_goods_on_approval_reach_free_carriage_or_the_minimum() -> None:
    plain = small_ask(5)
    (order, *_) = [each for each in basket(plain).orders if each.value > 0]
    number = order.supplier
    words: Any = SimpleNamespace(money=lambda value: f"{value:.2f}")

    def said(share: float, *, approval: bool) -> list[str]:
        back = GoingBack(until=60.0, on_approval=approval)
        offers = tuple(replace(each, back=back) for each in plain.offers)
        terms = replace(
            plain.suppliers[number], carriage=4.0, free_over=order.value * share, least_order=order.value / 9
        )
        firms = tuple(terms if n == number else each for n, each in enumerate(plain.suppliers))
        problem = replace(plain, offers=offers, suppliers=firms)
        found = only_with_approval(problem, basket(plain), words)
        return [str(each) for each in found if each.startswith(terms.name)]

    least, free = said(0.5, approval=True)
    assert "only with goods on approval is the minimum order" in least
    assert "If they don't count, it costs 4.00." in free
    assert len(said(1.5, approval=True)) == 1, "carriage is paid in any case"
    assert said(0.5, approval=False) == []
