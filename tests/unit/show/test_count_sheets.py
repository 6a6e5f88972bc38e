"""Count sheets to print."""

from dataclasses import replace
from datetime import datetime
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

from openpyxl import Workbook, load_workbook

from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_files
from stockroom.show.count_sheets import SPARE_ROWS, sheet_html, sheet_xlsx
from stockroom.show.formats import Formats
from stockroom.stock.counts import CountReason
from stockroom.stock.lists import CountSheet
from stockroom.stock.materials import Material
from stockroom.stock.quantities import NANO
from tests.unit.show.samples import SHEET

IRISH = Formats()
VOID = {"meta", "br", "link", "img"}


class Page(HTMLParser):
    """Tags in balance, headings and outside references of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.words: dict[str, list[str]] = {}
        self.outside: list[str] = []
        self.count = 0
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.outside += [str(value) for name, value in attrs if name in {"src", "href"}]
        self.count += tag == "tr"
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open:
            self.words.setdefault(self.open[-1], []).append(data)


def test_page_is_whole_and_needs_nothing_from_outside() -> None:
    text = sheet_html(SHEET, IRISH)
    page = Page(text)
    assert page.open == []
    assert page.outside == []
    assert "url(" not in text
    assert "@page { size: A4" in text


def test_key_is_printed_on_every_page_and_cannot_break_out_of_the_style() -> None:
    assert '@top-right { content: "Count sheet C-2026-48-7Q"' in sheet_html(SHEET, IRISH)
    text = sheet_html(replace(SHEET, key='"</style>'), IRISH)
    assert r'content: "Count sheet \000022\00003c\00002fstyle\00003e"' in text
    assert text.count("</style>") == 1


def test_page_goes_by_place_and_lists_every_bin() -> None:
    page = Page(sheet_html(SHEET, IRISH))
    assert page.words["h2"] == ["A2", "A10", "B2", "No location given", "Found, but not on this sheet"]
    assert page.count == len(SHEET.lines) + SPARE_ROWS + 5  # five heading rows


def test_page_says_how_to_measure() -> None:
    assert "By weight. Weigh the open tin; empty it weighs 310 g." in sheet_html(SHEET, IRISH)


def test_blind_page_shows_no_book_figure() -> None:
    assert "Book" not in sheet_html(SHEET, IRISH)
    opened = replace(SHEET, lines=(replace(SHEET.lines[0], book=2500 * NANO),))
    assert "2.5 l" in sheet_html(opened, IRISH)


def test_names_cannot_become_markup() -> None:
    text = sheet_html(replace(SHEET, lines=(replace(SHEET.lines[0], name="<script>x</script>"),)), IRISH)
    assert "<script>" not in text
    assert "&lt;script&gt;" in text


def test_sheet_without_lines_says_so() -> None:
    assert "Nothing to count." in sheet_html(replace(SHEET, lines=()), IRISH)


KNOWN = BookFacts(
    materials={
        line.material: Material(code=line.material, name=line.name, family="other", unit=line.unit)
        for line in SHEET.lines
    }
)
OPEN_SHEET = replace(SHEET, lines=tuple(replace(line, book=7000 * NANO) for line in SHEET.lines))


def opened(sheet: CountSheet) -> Workbook:
    return load_workbook(BytesIO(sheet_xlsx(sheet)))


def test_sheet_goes_by_place_and_leaves_the_amount_to_be_filled_in() -> None:
    rows = list(opened(SHEET)["Counts"].iter_rows(values_only=True))
    assert rows[0][:7] == ("Location", "Material", "Name", "Unit", "Counting method", "Amount", "Counted at")
    assert [row[0] for row in rows[1:]] == ["A2", "A10", "B2", None]
    assert {row[5] for row in rows[1:]} == {None}


def test_blind_sheet_holds_no_book_figure_anywhere() -> None:
    assert "Book" not in [cell.value for cell in opened(SHEET)["Counts"][1]]


def test_book_is_shown_when_asked_for() -> None:
    rows = list(opened(OPEN_SHEET)["Counts"].iter_rows(values_only=True))
    assert rows[0][-1] == "Book"
    assert {row[-1] for row in rows[1:]} == {3500, 7}  # pairs, then litres and kilograms


def test_every_row_carries_the_sheets_key_and_a_hidden_sheet_its_mark() -> None:
    book = opened(SHEET)
    assert {row[10] for row in book["Counts"].iter_rows(min_row=2, values_only=True)} == {"C-2026-48-7Q"}
    mark = book["Mark"]
    assert mark.sheet_state == "hidden"
    assert [cell.value for cell in mark["B"]][:3] == ["The Last Bench", "C-2026-48-7Q", "main"]


def test_cells_to_fill_in_refuse_what_cannot_be() -> None:
    rules = {str(rule.sqref): rule for rule in opened(SHEET)["Counts"].data_validations.dataValidation}
    assert set(rules) == {"F2:F5", "G2:G5", "I2:I5"}
    assert (rules["F2:F5"].type, rules["F2:F5"].formula1) == ("decimal", "0")
    assert rules["G2:G5"].formula1 == "DATE(2026,11,24)"
    assert rules["I2:I5"].formula1 == f'"{",".join(CountReason)}"'
    assert len(str(rules["I2:I5"].formula1)) <= 255  # the longest list a spreadsheet takes; from memory


def test_hint_of_the_aid_is_a_remark_on_its_cell() -> None:
    comment = opened(SHEET)["Counts"]["E4"].comment
    assert comment is not None
    assert comment.text == "Weigh the open tin; empty it weighs 310 g."


def test_sheet_without_lines_still_opens() -> None:
    assert opened(replace(SHEET, lines=()))["Counts"].max_row == 1


def test_ampersand_in_the_shops_name_prints_as_one() -> None:
    content = ZipFile(BytesIO(sheet_xlsx(replace(SHEET, shop="Last & Sole")))).read("xl/worksheets/sheet1.xml")
    assert b"Count sheet C-2026-48-7Q, Last &amp;&amp; Sole" in content


def test_filled_in_sheet_is_read_back_as_a_count(tmp_path: Path) -> None:
    book = opened(OPEN_SHEET)
    page = book["Counts"]
    page["F3"], page["G3"], page["H3"] = 4.5, datetime(2026, 11, 25, 17, 40), "bench 1"
    page["F4"], page["G4"], page["I4"] = 0, datetime(2026, 11, 25, 17, 45), "spoilt"
    book.save(tmp_path / "sheet.xlsx")
    loaded = read_files([f"counts={tmp_path / 'sheet.xlsx'}"], KNOWN, locale="de_DE", digits=2)
    (count,) = loaded.counts
    assert count.key == "C-2026-48-7Q"
    assert [(line.material, str(line.amount), line.reason, line.who) for line in count.lines] == [
        ("HEEL-45B", "9 piece", CountReason.OTHER, "bench 1"),
        ("CEM-01", "0 ml", CountReason.SPOILT, ""),
    ]
