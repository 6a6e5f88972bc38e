"""The lists as spreadsheets, opened again."""

from dataclasses import replace
from datetime import datetime
from io import BytesIO

import pytest
from openpyxl import load_workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from stockroom.show.formats import Formats
from stockroom.show.tables.files import reorder_xlsx, run_out_xlsx, shelf_xlsx
from stockroom.stock.quantities import NANO
from tests.unit.show.samples import ORDERS, RUN_OUTS, SHELF, TODAY

IRISH = Formats()


def opened(content: bytes, name: str) -> Worksheet:
    sheet = load_workbook(BytesIO(content))[name]
    assert isinstance(sheet, Worksheet)
    return sheet


def column(sheet: Worksheet, heading: str) -> int:
    return [cell.value for cell in sheet[1]].index(heading) + 1


def test_shelf_amounts_are_numbers_below_zero_too() -> None:
    sheet = opened(shelf_xlsx(SHELF, IRISH, as_of=TODAY), "Shelf")
    at = column(sheet, "On hand")
    assert [sheet.cell(row, at).value for row in (2, 3)] == [3.25, -7]
    assert [sheet.cell(row, at).data_type for row in (2, 3)] == ["n", "n"]
    assert [sheet.cell(row, at).number_format for row in (2, 3)] == ["#,##0.0##", "#,##0"]


def test_below_zero_is_said_in_words() -> None:
    sheet = opened(shelf_xlsx(SHELF, IRISH, as_of=TODAY), "Shelf")
    assert sheet.cell(3, column(sheet, "Below zero")).value == "below zero"
    assert sheet.cell(3, column(sheet, "Likely cause")).value == "the delivery for order P-14 is not entered"
    assert sheet.cell(2, column(sheet, "Below zero")).value is None


@pytest.mark.parametrize("text", ["=1+1", "+32 glue", "-5 mm", "@home", " =1", "\t=1", "plain"])
def test_text_stays_text(text: str) -> None:
    sheet = opened(shelf_xlsx([replace(SHELF[0], name=text)], IRISH, as_of=TODAY), "Shelf")
    cell = sheet.cell(2, 2)
    assert cell.data_type == "s"
    assert cell.value == text.replace("\t", "\ufffd")
    assert cell.quotePrefix is (text != "plain")


def test_text_with_control_marks_still_makes_a_file() -> None:
    sheet = opened(shelf_xlsx([replace(SHELF[0], name="a\x00b\x1bc")], IRISH, as_of=TODAY), "Shelf")
    assert sheet.cell(2, 2).value == "a\ufffdb\ufffdc"


def test_headings_stay_in_sight_and_can_be_filtered() -> None:
    for content, name in (
        (shelf_xlsx(SHELF, IRISH, as_of=TODAY), "Shelf"),
        (run_out_xlsx(RUN_OUTS, IRISH, as_of=TODAY), "Running out"),
        (reorder_xlsx(ORDERS, IRISH, as_of=TODAY), "Suggested orders"),
    ):
        sheet = opened(content, name)
        assert sheet.freeze_panes == "A2"
        assert sheet.auto_filter.ref == f"A1:{get_column_letter(sheet.max_column)}3"
        assert sheet.print_title_rows == "$1:$1"
        assert (sheet.page_setup.paperSize, sheet.page_setup.fitToWidth) == (9, 1)


def test_empty_list_makes_a_workbook_with_headings() -> None:
    sheet = opened(shelf_xlsx([], IRISH, as_of=TODAY), "Shelf")
    assert sheet.max_row == 1
    assert sheet["A1"].value == "Code"


def test_days_and_chances_are_what_they_are() -> None:
    sheet = opened(run_out_xlsx(RUN_OUTS, IRISH, as_of=TODAY), "Running out")
    assert sheet.cell(2, column(sheet, "Runs out")).value == datetime(2027, 1, 8)
    assert sheet.cell(2, column(sheet, "Runs out")).number_format == "d mmm yyyy"
    chance = sheet.cell(2, column(sheet, "Risk of running short"))
    assert (chance.value, chance.number_format) == (0.7, "0%")
    assert sheet.cell(3, column(sheet, "Runs out")).value is None


def test_reorder_names_its_currency_and_adds_up_by_supplier() -> None:
    content = reorder_xlsx(ORDERS, Formats(currency="GBP"), as_of=TODAY)
    lines, totals = opened(content, "Suggested orders"), opened(content, "Suppliers")
    cost = column(lines, "Cost before tax (GBP)")
    assert sum(float(str(lines.cell(row, cost).value)) for row in (2, 3)) == totals.cell(2, 2).value == 107.5
    assert totals.cell(2, column(totals, "Total (GBP)")).value == 116.45
    assert totals.cell(2, column(totals, "Total (GBP)")).number_format == "#,##0.00"


def test_long_fractions_are_rounded_for_the_cell() -> None:
    sheet = opened(shelf_xlsx([replace(SHELF[0], on_hand=NANO // 3)], IRISH, as_of=TODAY), "Shelf")
    assert sheet.cell(2, column(sheet, "On hand")).value == 0.000333


def test_order_without_days_or_notes_leaves_their_cells_empty() -> None:
    bare = replace(ORDERS[0], order_by=None, expected=None, notes=())
    totals = opened(reorder_xlsx([bare], IRISH, as_of=TODAY), "Suppliers")
    assert [totals.cell(2, at).value for at in (5, 6, 7)] == [None, None, None]
