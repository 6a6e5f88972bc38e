"""Count sheets to print."""

from dataclasses import replace
from html.parser import HTMLParser

from stockroom.show.formats import Formats
from stockroom.show.paper_sheets import SPARE_ROWS, sheet_html
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
    assert page.words["h2"] == ["A2", "A10", "B2", "No place given", "Found, but not on this sheet"]
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
