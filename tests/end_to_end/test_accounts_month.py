"""A month's accounts through the real command line: margins, the workbook, closing, what comes too late, corrections."""

from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.end_to_end.shop import Indoors

OCT, NOV = "2026-10", "2026-11"  # the small shop's last whole month, and the one that is open
LATER = "2026-12-02T10:00:00"


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_margins_answer_people_and_programs(desk: Indoors) -> None:
    """Full soles: 85.00 with 21 % in it is 70.25 net; 6.75 dm2 of bend at 0.90, 4.2 m at 0.05, 18 ml at 0.02."""
    for _ in range(2):
        desk.facts("finish", "full", "--size", "EU 42", "--with", "sole=bend")
    found = desk.facts("margins", "--from", "2026-11-24")
    (full,) = found["groups"]
    assert (full["name"], full["count"], full["income"]) == ("FULL", 2, "140.50")
    assert float(full["materials"]) == pytest.approx(2 * (6.75 * 0.90 + 4.2 * 0.05 + 18 * 0.02))
    assert found["unpriced"] == 0
    words = desk.says("margins", OCT)
    assert "Full soles" in words
    assert "nine times in ten" in words
    assert "no price is known" not in words
    assert desk.says("margins", "--from", "2026-01-01", "--to", "2026-01-31").startswith("What jobs earned by job")
    assert "No paid job" in desk.says("margins", "2026-01")
    for words_given in (("2026-13",), (OCT, "--from", "2026-01-01"), ("--from", "2026-02-01", "--to", "2026-01-01")):
        assert desk("margins", *words_given).code == 2


def test_work_loaded_without_a_price_brought_in_what_the_price_list_says(desk: Indoors) -> None:
    """October's 23 days had a pair of each: 85.00 and 11.50 with 21 % in them are 70.25 and 9.50 net."""
    found = desk.facts("margins", OCT)
    assert {group["name"]: (group["count"], group["income"]) for group in found["groups"]} == {
        "FULL": (23, "1615.75"),
        "HEEL-L": (23, "218.50"),
    }
    assert found["unpriced"] == 0


def test_what_moved_draws_and_adds_up(desk: Indoors, tmp_path: Path) -> None:
    picture = tmp_path / "moved.svg"
    found = desk.facts("margin-changes", OCT, "--compare-with", "2026-09", "--picture", str(picture))
    assert float(found["before"]) + sum(float(part["effect"]) for part in found["parts"]) == pytest.approx(
        float(found["after"]), abs=1e-9
    )
    assert picture.read_bytes().startswith(b"<?xml")
    assert "number of jobs" in desk.says("margin-changes", OCT)
    assert desk("margin-changes", OCT, "--picture", "moved.doc").code == 2


def test_cut_or_buy_and_alerts_answer(desk: Indoors, tmp_path: Path) -> None:
    picture = tmp_path / "layout.png"
    found = desk.facts("cut-or-buy", "bend", "--sheet", "700x1600", "--picture", str(picture))
    rubber = found["jobs"][0]["against"]["SOLE-RUB"]
    assert [choice["size"] for choice in rubber] == ["EU 42"]
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert found["yield"]["low"] <= found["yield"]["share"] <= found["yield"]["high"]
    assert desk("cut-or-buy", "bend", "--sheet", "700").code == 2
    assert desk("cut-or-buy", "polish").code == 5
    assert "No job fell below the minimum margin." in desk.says("margin-alerts", "--since", "2026-10-01")


def test_closed_months_files_come_out_the_same_byte_for_byte(desk: Indoors, tmp_path: Path) -> None:
    closed = desk.facts("close-period", OCT)
    assert (closed["through"], closed["new"]) == ("2026-10-31", True)
    desk.says("workbook", OCT, "--into", str(tmp_path / "first"))
    late = desk.facts("write-off", "POLISH-BLK", "2", "--at", "2026-10-20", "--reason", "found late")
    desk.says("settings", "tax_rate=10", "name=Renamed", "margin_floor=90")
    desk.says("finish", "heel", "--with", "top=pin", "--at", "2026-10-21")
    again = desk.facts("workbook", OCT, "--into", str(tmp_path / "second"))
    assert again["closed"] is True
    first = files(tmp_path / "first")
    assert len(first) > 15
    assert files(tmp_path / "second") == first
    following = desk.facts("workbook", NOV, "--into", str(tmp_path / "third"), now=LATER)
    assert following["opening"] == again["closing"]
    book = load_workbook(tmp_path / "third" / "accounts-2026-11-01-to-2026-11-30.xlsx")
    rows = [row[0] for row in book["Late documents"].iter_rows(min_row=5, values_only=True)]
    assert late["document"] in rows
    assert late["document"] in [document["document"] for document in desk.facts("periods")["late"]]
    assert "late: document" in desk.says("periods")


def test_closing_says_plainly_what_it_refuses(desk: Indoors) -> None:
    assert "is not over" in desk("close-period", NOV).err
    assert desk.says("periods") == "No period is closed yet.\n"
    done = desk.facts("close-period", OCT)
    assert "closed through 2026-10-31" in desk("close-period", "2026-09").err
    undone = desk("undo", str(done["document"]))
    assert undone.code == 5
    assert "stays closed" in undone.err
    assert "a period is closed by it" in desk("settings", "costing=average").err
    assert "closed, stock" in desk.says("periods")
    assert desk.facts("check")["faults"] == []


def test_corrected_price_and_return_name_their_delivery(desk: Indoors) -> None:
    brought = desk.facts("receive", "TOP-PIN=2 pairs:36.00", "--from", "HIDE", "--reference", "L1")
    number = brought["document"]
    fixed = desk.facts("correct-price", str(number), "TOP-PIN=40")
    assert fixed["changes"]["TOP-PIN"]["is"] == "40.00"
    assert "-> €38.00" in desk.says("correct-price", str(number), "TOP-PIN=38")
    sent = desk.facts(
        "send-back", "TOP-PIN", "5", "--supplier", "HIDE", "--credit", "9.50", "--delivery", str(number)
    )  # fmt: skip
    assert sent["new"] is True
    assert desk("correct-price", "1", "TOP-PIN=1").code == 5


def test_stock_list_is_written_to_be_signed(desk: Indoors, tmp_path: Path) -> None:
    page, sheet = tmp_path / "list.html", tmp_path / "list.xlsx"
    found = desk.facts("stock-list", str(page), "--as-of", "2026-10-31")
    said = page.read_text("utf-8")
    assert found["lines"] == said.count('<tr><th scope="row">')
    assert "Signature" in said
    assert "http" not in said
    desk.says("stock-list", str(sheet), "--as-of", "2026-10-31")
    cells = [cell for row in load_workbook(sheet).worksheets[0].iter_rows(values_only=True) for cell in row]
    assert "BEND" in cells
    assert any("Signature" in str(cell) for cell in cells)
    assert desk("stock-list", "list.doc").code == 2


def test_accountants_numbers_and_dated_rates_are_shown(desk: Indoors) -> None:
    assert desk.facts("account-numbers", "stock=1200")["stock"] == "1200"
    assert desk("account-numbers", "stok=1").code == 3
    assert desk.facts("tax-rates", "2027-01-01", "23") == [{"from": "2027-01-01", "per_cent": "23", "item": None}]
    assert desk("tax-rates", "2027-01-01").code == 2
    assert "23 % from 1 Jan 2027" in desk.says("tax-rates")


def test_the_figure_on_the_workbook_tells_a_ledger_written_anew(desk: Indoors, empty: Indoors, tmp_path: Path) -> None:
    desk.says("workbook", OCT, "--into", str(tmp_path))
    notes = load_workbook(next(tmp_path.glob("*.xlsx")))
    printed = [
        str(row[1]) for sheet in notes for row in sheet.iter_rows(values_only=True) if row and row[0] == "Check figure"
    ]
    assert len(printed) == 1
    desk.says("sell", "polish", "1 piece")
    assert desk.facts("check", "--figure", printed[0])["faults"] == []
    anew = empty("check", "--figure", printed[0])
    assert (anew.code, printed[0][:16] in anew.out) == (8, True), anew
