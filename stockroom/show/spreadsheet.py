"""Cells of a spreadsheet: headings, text that stays text, real numbers, a page that prints well."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from io import BytesIO
from textwrap import TextWrapper
from typing import TYPE_CHECKING, Literal, cast

from stockroom.show.layout import plain_text

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.cell import Cell
    from openpyxl.styles import Alignment, Font
    from openpyxl.worksheet.worksheet import Worksheet

At = tuple[int, int]  # row and column, from one

DAY_FORMAT = "d mmm yyyy"
MOMENT_FORMAT = "d mmm yyyy hh:mm"
SHARE_FORMAT = "0%"
_SMALL = 10
_LINE = 15.0  # points a line of text takes
_RISKY = ("=", "+", "-", "@", "\t", "\r")  # a program may take text that begins so for a formula (CWE-1236)


def begins_like_formula(text: str) -> bool:
    """Say whether a program could take a text for a formula."""
    return text.startswith(_RISKY) or text.lstrip().startswith(_RISKY)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A column's heading."""

    text: str
    width: int  # letters
    right: bool = False  # over figures


def put_text(sheet: "Worksheet", at: At, text: str, *, wrap: bool = True) -> "Cell":
    """Write text that stays text, whatever it begins with; unwrapped, it may run over empty cells."""
    cell = _cell(sheet, at)
    cell.value = plain_text(text)
    cell.data_type = "s"
    cell.quotePrefix = begins_like_formula(text)
    cell.alignment = _aligned("left", wrap=wrap)
    return cell


def put_number(sheet: "Worksheet", at: At, value: Decimal | int, *, number_format: str = "") -> "Cell":
    """Write a number as a number, with as many decimals as are worth reading."""
    cell = _cell(sheet, at)
    cell.value = value if isinstance(value, int) else float(round(value, 6))
    cell.number_format = number_format or _figures(Decimal(value))
    cell.alignment = _aligned("right", wrap=False)
    return cell


def put_time(sheet: "Worksheet", at: At, value: date | datetime) -> "Cell":
    """Write a day or a moment as one."""
    cell = _cell(sheet, at)
    cell.value = value
    cell.number_format = MOMENT_FORMAT if isinstance(value, datetime) else DAY_FORMAT
    cell.alignment = _aligned("left", wrap=False)
    return cell


def money_format(digits: int) -> str:
    """Give the number format of money with a currency's decimals."""
    return "#,##0" + (f".{'0' * digits}" if digits else "")


def put_headings(sheet: "Worksheet", row: int, headings: Sequence[Heading]) -> None:
    """Write column headings with their widths, and keep them in sight."""
    from openpyxl.styles import Border, PatternFill, Side
    from openpyxl.utils import get_column_letter

    for column, heading in enumerate(headings, 1):
        sheet.column_dimensions[get_column_letter(column)].width = heading.width
        cell = put_text(sheet, (row, column), heading.text)
        cell.font = bold()
        cell.fill = PatternFill("solid", fgColor="E7E3DA")
        cell.border = Border(bottom=Side(style="medium"))
        cell.alignment = _aligned("right" if heading.right else "left", wrap=True)
    fit_row(sheet, row, [(heading.text, heading.width) for heading in headings])
    sheet.freeze_panes = f"A{row + 1}"


def fit_row(sheet: "Worksheet", row: int, texts: Sequence[tuple[str, int]]) -> None:
    """Make a row as high as its wrapped texts need: not every program does so itself."""
    lines = max((len(TextWrapper(width=max(width - 2, 4)).wrap(text)) for text, width in texts), default=1)
    if lines > 1:
        sheet.row_dimensions[row].height = _LINE * lines


@cache
def bold() -> "Font":
    """Give the letters of headings and totals."""
    from openpyxl.styles import Font

    return Font(name="Calibri", size=11, bold=True)  # the same letters as a new workbook's cells


def finish_list(sheet: "Worksheet", row: int, columns: int) -> None:
    """Let a list be filtered from its heading row down."""
    from openpyxl.utils import get_column_letter

    last = max(sheet.max_row, row)
    sheet.auto_filter.ref = f"A{row}:{get_column_letter(columns)}{last}"


def set_page(sheet: "Worksheet", title: str, *, heading_row: int, landscape: bool = True) -> None:
    """Make a sheet print on A4, as wide as the page, with its title and page numbers."""
    from openpyxl.worksheet.header_footer import HeaderFooterItem
    from openpyxl.worksheet.properties import PageSetupProperties

    sheet.page_setup.orientation = "landscape" if landscape else "portrait"
    sheet.page_setup.paperSize = 9  # A4
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.print_title_rows = f"{heading_row}:{heading_row}"
    head, foot = HeaderFooterItem(), HeaderFooterItem()
    head.left.text, foot.right.text = plain_text(title).replace("&", "&&"), "Page &P of &N"
    sheet.HeaderFooter.oddHeader, sheet.HeaderFooter.oddFooter = head, foot


def new_book(title: str) -> "tuple[Workbook, Worksheet]":
    """Start a workbook with one sheet."""
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    if sheet is None:  # pragma: no cover -- a new workbook always has a sheet
        raise ValueError("a new workbook has no sheet")
    sheet.title = title
    return book, sheet


def saved(book: "Workbook") -> bytes:
    """Give a workbook as the bytes of its file."""
    stream = BytesIO()
    book.save(stream)
    return stream.getvalue()


def _figures(value: Decimal) -> str:
    if value == value.to_integral_value():
        return "#,##0"
    return "#,##0.0##" if abs(value) < _SMALL else "#,##0.0#"


def _cell(sheet: "Worksheet", at: At) -> "Cell":
    return cast("Cell", sheet.cell(*at))  # never one of a merged range: lists have none


@cache
def _aligned(horizontal: "Literal['left', 'right']", *, wrap: bool) -> "Alignment":
    from openpyxl.styles import Alignment

    return Alignment(wrap_text=wrap, vertical="top", horizontal=horizontal, indent=1)
