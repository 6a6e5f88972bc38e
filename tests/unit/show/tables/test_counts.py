"""Differences and the report on counts, drawn and as spreadsheets."""

from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction
from io import BytesIO

from openpyxl import load_workbook

from stockroom.counting.reconcile import Bin, Grade, compare
from stockroom.show.formats import Formats
from stockroom.show.tables.counts import (
    AccuracyRow,
    CountReport,
    DriftRow,
    ReasonRow,
    differences_table,
    differences_xlsx,
    report_tables,
    report_xlsx,
    summary,
)
from stockroom.stock.quantities import NANO, unit
from tests import build

FORMATS = Formats()
TIN = replace(
    compare(Bin(
        material=build.material("CEM-1", "l", name="=Contact cement", place="B1"), booked=2_500 * NANO, grade=Grade.A,
        line=build.counted("CEM-1", "2.4 l", "2026-11-21 17:40"), cost=Fraction(128, 100),
    )),
    why="outside the tolerance of ABC class A",
)  # fmt: skip
TOPS = replace(
    compare(Bin(material=build.material("TOP-9", "pair", name="Heel tops"), booked=0,
                line=build.counted("TOP-9", "0 pair", "2026-11-21 17:45"))),
    why="exactly as in the book",
)  # fmt: skip
REPORT = CountReport(
    since=date(2025, 11, 21), until=date(2026, 11, 21),
    periods=(AccuracyRow(period="2026-11", first=date(2026, 11, 7), last=date(2026, 11, 21), bins=56, right=46,
                         net=-128, gross=628),),
    reasons=(ReasonRow(reason="spoilt", family="cement", bins=2, net=-128, gross=128),),
    drifting=(DriftRow(material="CEM-1", name="Contact cement", unit=unit("l"), counts=9, short=9, over=0,
                       average=-46 * NANO, value=-48, chance=0.004),),
)  # fmt: skip


def test_bins_to_count_again_are_marked_in_words_and_told_apart_from_right_ones() -> None:
    drawn = differences_table("C-1", [TIN, TOPS], FORMATS, width=160)
    rows = [line for line in drawn.splitlines() if "CEM-1" in line or "TOP-9" in line]
    assert "! recount first" in rows[0]
    assert "-0.1" in rows[0]
    assert "-€1.28" in rows[0]
    assert "-4.0%" in rows[0]
    assert "!" not in rows[1]
    assert "    Outside the tolerance of ABC class A." in drawn.splitlines()


def test_the_sum_is_given_net_and_in_all() -> None:
    more = summary([TIN, TOPS], FORMATS)
    assert more == "1 of 2 items right; differences -€1.28 net, €1.28 in total. Count again first: CEM-1."
    assert summary([TOPS], FORMATS) == "1 of 1 items right; differences €0.00 net, €0.00 in total."
    assert "Nothing was counted." in differences_table("C-1", [], FORMATS)


def test_a_spreadsheet_of_differences_holds_numbers_and_no_formula() -> None:
    page = load_workbook(BytesIO(differences_xlsx("C-1", [TIN, TOPS], FORMATS)))["Differences"]
    head = [str(cell.value) for cell in page[1]]
    row = dict(zip(head, [cell.value for cell in page[2]], strict=True))
    assert (row["Counted"], row["Book"], row["Difference"], row["Value"], row["Share"]) == (
        2.4,
        2.5,
        -0.1,
        -1.28,
        -0.04,
    )
    assert row["Counted at"] == datetime(2026, 11, 21, 17, 40)
    assert {cell.data_type for cell in page["C"]} == {"s"}
    assert page.cell(3, head.index("Share") + 1).value is None


def test_the_report_reads_the_same_drawn_and_in_its_spreadsheet() -> None:
    drawn = report_tables(REPORT, FORMATS, width=100)
    assert "Stock record accuracy, 21 Nov 2025 to 21 Nov 2026" in drawn
    assert "82%" in drawn
    book = load_workbook(BytesIO(report_xlsx(REPORT, FORMATS)))
    assert book.sheetnames == ["Accuracy", "Reasons", "Drifting"]
    assert [cell.value for cell in book["Accuracy"][2]] == ["2026-11", 56, 46, 0.821429, -1.28, 6.28]
    assert [cell.value for cell in book["Reasons"][2]] == ["spoilt", "cement", 2, -1.28, 1.28]
    assert [cell.value for cell in book["Drifting"][2]] == ["CEM-1", "Contact cement", 9, 9, 0, -0.046, "l", -0.48]
