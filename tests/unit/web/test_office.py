"""What the owner does at the desk in the evening: closing, lists to sign, backups, forgetting, prices, reports."""

import re
import sqlite3
from dataclasses import replace
from datetime import datetime
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

import pytest
from flask import Flask

from stockroom.flows.accounts.closing import state_of_periods
from stockroom.flows.bench.shelf import shelf_rows
from stockroom.flows.bench.tickets import Wanted, take_in
from stockroom.flows.book.opening import add_site
from stockroom.flows.ordering.place import receive_goods
from stockroom.flows.posting.undo import newest
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.store.book import open_book
from stockroom.web.app import make_app
from stockroom.web.background import Beside
from stockroom.web.result_cache import Keeper
from stockroom.web.site import Site
from tests import build
from tests.unit.web.conftest import NOON, Visitor, visitor

LATER = datetime(2026, 3, 3, 9, 0)  # January and February are over


@pytest.fixture
def later(site: Site) -> Visitor:
    """The owner, some weeks on."""
    return Visitor(make_app(replace(site, now=lambda: LATER)).test_client())


def on_hand(site: Site, code: str, at: str = "main") -> int:
    return next(row.on_hand for row in shelf_rows(site.book, site=at) if row.material == code)


def test_a_month_is_closed_only_once_it_is_over_and_known_to_be_final(later: Visitor, site: Site) -> None:
    assert 'value="2026-02"' in later.reads("/periods"), "the last month that is over is proposed"
    for fields, says in (
        ({"period": "2026-01"}, "never reopened"),
        ({"period": "2026-03", "final": "1"}, "is not over"),
        ({"period": "soon", "final": "1"}, "is not a period"),
    ):
        answer = later.post("/periods/close", **fields)
        assert answer.status_code == 400
        assert says in answer.text
    assert not state_of_periods(site.book).closings
    page = later.does("/periods/close", period="2026-01", final="1")
    assert "Closed through" in page
    assert [str(each.through) for each in state_of_periods(site.book).closings] == ["2026-01-31"]
    assert " – 31 Jan 2026" in later.reads("/documents"), "its days are written as the shop writes days"
    assert 'value="2026-02"' in page, "the month after it is next"


def test_only_months_that_are_over_and_not_closed_are_offered_to_be_closed(later: Visitor) -> None:
    def offered() -> list[str]:
        return re.findall(r'<option value="([^"]+)"', later.reads("/periods"))

    assert {"2026-01", "2026-02"} <= set(offered())
    assert not {"2026-03", "2026-Q1", "2026"} & set(offered())
    later.does("/periods/close", period="2026-01", final="1")
    assert "2026-01" not in offered()
    assert "2026-02" in offered()


def test_the_list_of_stock_is_given_to_print_and_as_a_spreadsheet(later: Visitor) -> None:
    page = later.get("/periods/stock-list?day=2026-01-31")
    assert page.mimetype == "text/html"
    assert "Counted" in page.text
    sheet = later.get("/periods/stock-list?day=2026-01-31&as=xlsx")
    assert "xl/workbook.xml" in ZipFile(BytesIO(sheet.data)).namelist()


def test_a_backup_from_the_page_is_a_whole_book(owner: Visitor, site: Site, tmp_path: Path) -> None:
    owner.reads("/safekeeping")
    answer = owner.post("/safekeeping/backup")
    assert answer.headers["Content-Length"] == str(len(answer.data))
    taken = tmp_path / "taken.sqlite"
    taken.write_bytes(answer.data)
    assert sqlite3.connect(taken).execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert shelf_rows(open_book(str(taken))) == shelf_rows(site.book)


def test_all_tables_come_in_one_archive_with_what_each_column_holds(owner: Visitor) -> None:
    archive = ZipFile(BytesIO(owner.post("/safekeeping/export").data))
    assert {"columns.md", "document.csv", "material.csv"} <= set(archive.namelist())


def test_the_check_says_whether_everything_agrees(site: Site) -> None:
    at_once = Beside(threaded=False)
    there = replace(site, beside=at_once, keeper=Keeper(site.book, at_once))
    owner = Visitor(make_app(there).test_client())
    assert "Everything agrees." in owner.does("/safekeeping/check")


def test_a_customers_name_leaves_the_tickets(owner: Visitor, site: Site) -> None:
    take_in(site.book, Wanted(job="HEEL", customer="Ada Example"), build.stamp("2026-01-06 09:00"))
    assert "Removed from 1 ticket." in owner.does("/safekeeping/forget", name="ada example")
    assert "Removed from 0 tickets." in owner.does("/safekeeping/forget", name="ada example")
    assert owner.post("/safekeeping/forget", name=" ").status_code == 400


def test_goods_of_a_delivery_go_back_for_a_credit(owner: Visitor, site: Site) -> None:
    goods = Delivery(
        reference="N-1", supplier="NORTH", received=build.at("2026-01-06 09:00"),
        lines=(DeliveryLine(material="SOLE-S", amount=build.amount("10 pair"), cost=6200),),
    )  # fmt: skip
    number = receive_goods(site.book, goods, build.stamp("2026-01-06 09:00")).document
    before = on_hand(site, "SOLE-S")
    assert "Send goods back" in owner.reads(f"/documents/delivery?number={number}")
    fields = {"number": str(number), "material": "SOLE-S"}
    owner.does("/documents/send-back", amount="2 pair", credit="12,40", **fields)
    assert before - on_hand(site, "SOLE-S") == build.amount("2 pair").nano
    assert owner.post("/documents/send-back", amount="2 g", credit="1", **fields).status_code == 400, (
        "units are checked"
    )


def test_stock_moves_between_sites_only_where_there_are_some(owner: Visitor, site: Site) -> None:
    assert "Move to another site" not in owner.reads("/shelf/material?code=CEMENT")
    add_site(site.book, "branch")
    assert "Move to another site" in owner.reads("/shelf/material?code=CEMENT")
    before = on_hand(site, "CEMENT")
    owner.does("/counter/move", **{"material": "CEMENT", "amount": "100 ml", "from": "main", "to": "branch"})
    assert before - on_hand(site, "CEMENT") == on_hand(site, "CEMENT", "branch") == build.amount("100 ml").nano
    strange = owner.post("/counter/move", **{"material": "CEMENT", "amount": "1 ml", "from": "main", "to": "moon"})
    assert strange.status_code in {400, 404}


def test_what_happened_earlier_is_entered_on_its_day_and_never_ahead(owner: Visitor, site: Site) -> None:
    sent = {"material": "CEMENT", "amount": "10 ml", "kind": "waste"}
    owner.does("/counter/write-off", on="2026-01-05", **sent)
    assert newest(site.book, 1)[0][0].happened == datetime(2026, 1, 5, 12, 0), "a day alone means its noon"
    owner.does("/counter/write-off", on="2026-01-06", **sent)
    assert newest(site.book, 1)[0][0].happened == NOON, "today is now"
    for day in ("2026-01-07", "soon"):
        assert owner.post("/counter/write-off", on=day, **sent).status_code == 400


def test_reports_are_there_and_say_so_where_nothing_is_known(owner: Visitor) -> None:
    assert "Nothing was counted and posted" in owner.reads("/count/report")
    assert "No job fell below" in owner.reads("/margins/alerts")
    assert "<option" in owner.reads("/margins/cut-or-buy")
    assert re.search(r"<b>\d+</b>", owner.reads("/run-outs/jobs")), "how many more of a job"


def test_a_count_sheet_to_print_lists_a_location_with_room_to_write(owner: Visitor, site: Site) -> None:
    place = next(row.place for row in shelf_rows(site.book) if row.place)
    inside = [row.name for row in shelf_rows(site.book) if row.place == place]
    answer = owner.post("/count/print", which=place)
    assert answer.status_code == 200
    assert all(name in answer.text for name in inside)


@pytest.mark.parametrize("role", ["bench", "accountant"])
def test_only_the_owner_closes_and_takes_the_book_away(guarded: Flask, site: Site, role: str) -> None:
    other = visitor(guarded, role)
    posts = {"/periods/close": {"period": "2025-12", "final": "1"}, "/safekeeping/backup": {}, "/safekeeping/export": {},
             "/safekeeping/forget": {"name": "x"}, "/safekeeping/check": {}, "/documents/send-back": {"number": "1"}}  # fmt: skip
    assert {other.post(address, **fields).status_code for address, fields in posts.items()} == {403}
    assert not state_of_periods(site.book).closings
