"""A period's accounts as a whole, and their lists."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from stockroom.margins.accounts import Accounts, accounts
from stockroom.margins.journal import AGAINST
from stockroom.margins.period import Period
from stockroom.margins.valuation import COLUMNS
from stockroom.stock.moves import MOVES, Document, DocumentKind, MoveKind
from stockroom.stock.shop import Shop
from tests.unit.margins.book import YEAR, Pen, line, sources, year_of_documents

JAN = Period(first=date(2026, 1, 1), last=date(2026, 1, 31))
DAY = datetime(2026, 1, 10)
LATER = datetime(2026, 1, 11)


@pytest.fixture(scope="module")
def year() -> Accounts:
    return accounts(sources(year_of_documents()), YEAR, against=Period(first=date(2025, 1, 1), last=date(2025, 12, 31)))


def made(pen: Pen, period: Period = JAN) -> Accounts:
    return accounts(sources(pen.documents), period)


def test_opening_and_columns_come_to_closing(year: Accounts) -> None:
    for roll in year.rolls:
        for part in (0, 1):
            assert roll.opening[part] + sum(flow[part] for flow in roll.flows.values()) == roll.closing[part]
    assert year.closing == sum(roll.closing[1] for roll in year.rolls)


def test_next_period_opens_where_this_one_closed() -> None:
    documents = year_of_documents()
    halves = [Period(first=date(2026, 1, 1), last=date(2026, 6, 30)), Period(first=date(2026, 7, 1), last=YEAR.last)]
    first, second = (accounts(sources(documents), half) for half in halves)
    assert second.opening == first.closing


@pytest.mark.parametrize("costing", ["fifo", "average"])
def test_closed_period_comes_out_the_same_whatever_is_entered_later(costing: str) -> None:
    documents = year_of_documents(300)
    shop = Shop(costing=costing)
    half = Period(first=date(2025, 1, 1), last=date(2025, 12, 31), closed=True)
    early = [document for document in documents if document.happened.date() <= half.last]
    pen = Pen()
    pen.documents = list(documents)
    for original in early[-3:]:
        late = pen.undo(datetime(2025, 12, 31), original)
        pen.documents[-1] = replace(late, booked_on=date(2027, 1, 1))
    facts = {"shop": shop, "tickets": sources(documents).tickets}
    assert accounts(sources(early, **facts), half) == accounts(sources(pen.documents, **facts), half)


def test_purchases_list_sums_to_the_ledger(year: Accounts) -> None:
    ledger = sum(roll.flows.get(c, (0, 0))[1] for roll in year.rolls for c in ("purchases", "returned to suppliers"))
    assert sum(each.net for each in year.purchases) * 1000 == ledger
    assert {each.supplier for each in year.purchases} == {"north"}


def test_delivery_lists_goods_then_carriage_with_tax_by_line() -> None:
    pen = Pen()
    pen.deliver(DAY, [("HEEL", 10, 903), ("GLUE", 1000, 1000)], carriage=650)
    lines = [(each.item, each.net, each.tax) for each in made(pen).purchases]
    assert lines == [("HEEL", 903, 190), ("GLUE", 1000, 210), ("carriage", 650, 137)]


def test_price_correction_and_undone_delivery_show_as_documents_of_the_supplier() -> None:
    pen = Pen()
    first = pen.deliver(DAY, [("HEEL", 10, 900)], carriage=100)
    content = {"delivery": 1, "lines": [{"material": "HEEL", "new_cost": 800}]}
    pen.write(DocumentKind.PRICE_CORRECTION, DAY, [], content=content)
    assert [(each.what, each.item, each.net) for each in made(pen).purchases] == [
        ("delivery", "HEEL", 900),
        ("delivery", "carriage", 100),
        ("price correction", "HEEL", -100),
    ]
    pen.undo(DAY + timedelta(days=1), first)
    shown = [(each.what, each.supplier, each.item, each.net) for each in made(pen).purchases]
    assert shown == [
        ("delivery", "north", "HEEL", 900),
        ("delivery", "north", "carriage", 100),
        ("price correction", "north", "HEEL", -100),
        ("undo", "north", "HEEL", -900),
    ]
    assert made(pen).closing == 0


def test_journal_balances_and_moves_stock_by_its_change(year: Accounts) -> None:
    lines = year.journal
    assert sum(each.debit for each in lines) == sum(each.credit for each in lines) > 0
    stock = sum(each.debit - each.credit for each in lines if each.account == "stock")
    assert stock == round(year.closing / 1000) - round(year.opening / 1000)
    assert {each.day for each in lines} <= {_month_end(n) for n in range(1, 13)}


def _month_end(month: int) -> date:
    return date(2026 + month // 12, month % 12 + 1, 1) - timedelta(days=1)


def test_journal_speaks_the_shops_account_numbers() -> None:
    pen = Pen()
    pen.deliver(DAY, [("HEEL", 10, 900)])
    found = accounts(sources(pen.documents, account_numbers={"stock": "1310"}), JAN).journal
    assert [(each.account, each.debit, each.credit) for each in found] == [
        ("1310", 900, 0),
        ("goods received, not invoiced", 0, 900),
    ]


def test_differences_carry_their_reasons() -> None:
    pen = Pen()
    pen.deliver(DAY, [("GLUE", 1000, 1000), ("HEEL", 10, 900)])
    reasons = {"reasons": {"GLUE": "measuring", "HEEL": "loss"}}
    found = [line("GLUE", 20, MoveKind.COUNT), line("HEEL", -1, MoveKind.COUNT)]
    pen.write(DocumentKind.COUNT, DAY, found, content=reasons)
    pen.write(DocumentKind.WASTE, DAY, [line("GLUE", -50, MoveKind.WASTE)], content={"reason": "dried out"})
    pen.write(DocumentKind.COUNT_KEPT, LATER, [line("HEEL", 1, MoveKind.COUNT)], content={"because": 1})
    shown = [(each.material, each.value, each.reason) for each in made(pen).write_offs]
    assert shown == [
        ("GLUE", 20_000, "measuring"),
        ("HEEL", -90_000, "loss"),
        ("GLUE", -50_000, "dried out"),
        ("HEEL", 90_000, "keeps a settled count true after a late document"),
    ]


def test_late_documents_are_listed_in_the_period_that_books_them() -> None:
    pen = Pen()
    pen.deliver(DAY, [("GLUE", 1000, 1000)])
    pen.documents[-1] = replace(pen.documents[-1], happened=datetime(2025, 12, 30), booked_on=date(2026, 1, 1))
    assert [document.id for document in made(pen).late] == [1]
    assert (
        dict(made(pen).notes)["Documents"]
        == "In the period: 1 document, numbers 1 to 1. Late documents, of earlier days: 1."
    )


def test_key_materials_are_followed_from_delivery_to_delivery(year: Accounts) -> None:
    dearest = year.prices[0]
    assert dearest.material.code == "BEND"
    assert dearest.points[0][1] < dearest.points[-1][1]
    assert [day for day, _ in dearest.points] == sorted(day for day, _ in dearest.points)


def test_key_prices_leave_out_carriage_and_what_was_taken_back() -> None:
    pen = Pen()
    pen.deliver(DAY, [("GLUE", 1000, 1000)], carriage=500)
    pen.undo(DAY, pen.deliver(DAY, [("GLUE", 1000, 9000)]))
    pen.finish(DAY, "T1", "HEELS")
    (followed,) = made(pen).prices
    assert followed.points == ((DAY.date(), 1000),)  # 0.01 a millilitre


def test_work_in_the_period_is_what_the_ledger_used(year: Accounts) -> None:
    used = sum(roll.flows.get(c, (0, 0))[1] for roll in year.rolls for c in ("used on jobs", "guarantee work"))
    assert sum(each.materials for each in year.work.lines) + year.work.earlier == -used


def test_every_kind_of_move_has_its_column() -> None:
    assert set(MOVES) == set(MoveKind)
    assert COLUMNS[:3] == ("opening stock entered", "purchases", "returned to suppliers")
    assert set(AGAINST) == {*COLUMNS, "rounding"}
    assert {(facts.column, facts.account) for facts in MOVES.values()} <= set(AGAINST.items()), (
        "a column has one account"
    )


def test_shop_that_did_nothing_has_empty_accounts() -> None:
    empty: list[Document] = []
    found = accounts(sources(empty), JAN, against=JAN)
    assert (found.opening, found.closing, found.rolls, found.journal) == (0, 0, (), ())


def test_period_ends_after_it_begins() -> None:
    with pytest.raises(ValueError, match="can't end"):
        Period(first=date(2026, 2, 1), last=date(2026, 1, 1))
