"""The accountant's workbook as a file: sheets found, filled and painted, with checks that add themselves up."""

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO, TYPE_CHECKING, Literal, cast

from stockroom.margins.accounts import Accounts
from stockroom.phrases import Phrase, as_phrase, phrase
from stockroom.show.formats import Formats, formats_of
from stockroom.show.languages import ENGLISH
from stockroom.show.locale_facts import facts_of
from stockroom.show.spreadsheet import Heading, bold, fit_row, money_format, put_headings, put_text, set_page
from stockroom.show.workbook import workbook_sheets
from stockroom.show.workbook_page import CellKind, Check, Page, Rows, SheetColumn, Value, WorkbookSheet
from stockroom.show.workbook_pour import Fill, pour
from stockroom.stock.shop import Shop

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.cell import Cell
    from openpyxl.styles import Alignment
    from openpyxl.worksheet.worksheet import Worksheet

Say = Callable[[str], str]
TOTAL_ROW, HEAD_ROW, FIRST_ROW = 3, 4, 5
CHECKS = phrase("Checks")
_LEFT = (CellKind.TEXT, CellKind.DAY, CellKind.MOMENT)
_FIGURE = re.compile(r"\[([^|\]]+)\|([^\]]+)\]")
_ROW_HEIGHT = 20  # pixels of a row
_SCREEN = 0.52  # pictures are shown smaller than they are kept


def workbook(accounts: Accounts, target: IO[bytes]) -> None:
    """Write the accountant's workbook.

    Parameters
    ----------
    accounts : Accounts
        What it shows.
    target : file open for bytes
        Where it goes.
    """
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    filled = [(sheet, sheet.fill(accounts)) for sheet in workbook_sheets()]
    write, formats = formats_of(accounts.shop), _formats(accounts.shop)
    say = write.say
    filled.insert(1, _checks(filled, say))
    filled = [spoken(sheet, page, write) for sheet, page in filled]
    fills = {}
    for number, (sheet, page) in enumerate(filled, 1):
        _paint(book, sheet, page, formats, say)
        if page.columns:
            fills[f"xl/worksheets/sheet{number}.xml"] = _fill(page)
    _save(book, target, fills, accounts.period.last)


def one_sheet(accounts: Accounts, sheet: WorkbookSheet) -> bytes:
    """Give a single sheet as the bytes of a workbook of its own; checks against other sheets are left out."""
    from openpyxl import Workbook

    book, stream = Workbook(), BytesIO()
    write = formats_of(accounts.shop)
    sheet, page = spoken(sheet, sheet.fill(accounts), write)
    book.remove(book.worksheets[0])
    _paint(book, sheet, page, _formats(accounts.shop), write.say)
    _save(book, stream, {"xl/worksheets/sheet1.xml": _fill(page)}, accounts.period.last)
    return stream.getvalue()


def workbook_bytes(accounts: Accounts) -> bytes:
    """Give the workbook as the bytes of its file."""
    stream = BytesIO()
    workbook(accounts, stream)
    return stream.getvalue()


def _fill(page: Page) -> Fill:
    widths = [c.width if page.wrap and c.kind is CellKind.TEXT else 0 for c in page.columns]
    return Fill(kinds=[c.kind for c in page.columns], widths=widths, rows=page.rows, first=FIRST_ROW)


def _save(book: "Workbook", target: IO[bytes], fills: dict[str, Fill], day: date) -> None:
    with TemporaryDirectory() as folder:
        model = Path(folder) / "model.xlsx"
        book.save(model)
        pour(model, target, fills, day)


def spoken(sheet: WorkbookSheet, page: Page, write: Formats) -> tuple[WorkbookSheet, Page]:
    """Say a filled sheet in the shop's language: what is ours, not what the shop typed."""
    if write.language == ENGLISH:  # as it was written: a year's moves need not be gone through again
        return sheet, page
    say, ours = write.say, [column.ours for column in page.columns]

    def row(values: Sequence[Value]) -> Sequence[Value]:
        return [
            say(as_phrase(value)) if isinstance(value, Phrase) or (mine and isinstance(value, str)) else value
            for value, mine in zip(values, ours, strict=True)
        ]

    columns = tuple(replace(column, title=say(as_phrase(column.title))) for column in page.columns)
    said = replace(page, columns=columns, intro=say(page.intro), rows=Rows(page.rows, row))
    return replace(sheet, name=say(as_phrase(sheet.name))), said


def _checks(filled: Sequence[tuple[WorkbookSheet, Page]], say: Say) -> tuple[WorkbookSheet, Page]:
    """Gather every sheet's checks on a sheet of their own: each must be nothing."""
    totals = {
        (sheet.name, column.title): f"'{say(as_phrase(sheet.name))}'!{_at(number, TOTAL_ROW)}"
        for sheet, page in filled
        for number, column in enumerate(page.columns)
        if column.total
    }
    right, wrong = say(phrase("right")), say(phrase("WRONG"))
    verdict = f'=IF(B{{row}}=0,"{right}","{wrong}")'
    rows: list[Sequence[Value]] = [
        (as_phrase(check.what), _resolved(check, totals), verdict) for _, page in filled for check in page.checks
    ]
    columns = (
        SheetColumn(title="Check", width=60),
        SheetColumn(title="Difference", kind=CellKind.WORKED, width=14, total=True),
        SheetColumn(title="Verdict", kind=CellKind.WORKED, width=12),
    )
    intro = phrase("Every difference must be nothing; the spreadsheet works them out.")
    page = Page(columns=columns, rows=rows, intro=intro)
    return WorkbookSheet(name=CHECKS, place=0, fill=lambda _: page), page


def _resolved(check: Check, totals: dict[tuple[str, str], str]) -> str:
    """Put cells in place of the totals a check names."""
    cells = _FIGURE.sub(lambda found: totals[found[1], found[2]], check.formula)
    return f"=ABS({cells})"  # so that two wrongs never make a right


def _paint(book: "Workbook", sheet: WorkbookSheet, page: Page, formats: dict[CellKind, str], say: Say) -> None:
    made = book.create_sheet(sheet.name)
    put_text(made, (1, 1), sheet.name, wrap=False).font = bold()
    _paint_intro(made, page, say)
    if page.columns:
        _paint_columns(made, page, formats, say)
        _set_print(made, sheet, page)
    if page.pictures:
        _hang_all(made, sheet, page.pictures)


def _paint_intro(made: "Worksheet", page: Page, say: Say) -> None:
    """Write the sentences over the whole width of the columns."""
    empty = "" if page.rows or page.pictures else say(phrase("Nothing in this period."))
    words = " ".join(part for part in (page.intro, empty) if part)
    width = sum(column.width for column in page.columns)
    if not width:
        put_text(made, (2, 1), words, wrap=False)
        return
    put_text(made, (2, 1), words)
    made.merge_cells(start_row=2, end_row=2, start_column=1, end_column=len(page.columns))
    fit_row(made, 2, [(words, width)])


def _paint_columns(made: "Worksheet", page: Page, formats: dict[CellKind, str], say: Say) -> None:
    put_headings(made, HEAD_ROW, [_heading(column) for column in page.columns])
    fit_row(made, HEAD_ROW, [(column.title, column.width) for column in page.columns])
    last = FIRST_ROW + max(len(page.rows), 1) - 1
    for number, column in enumerate(page.columns):
        for row in (FIRST_ROW, FIRST_ROW + 1):
            _paint_model(made, (row, number + 1), column, formats, wrap=page.wrap)
        if column.total:
            _paint_total(made, number, column, last, formats)
            if number and made.cell(TOTAL_ROW, 1).value is None:
                put_text(made, (TOTAL_ROW, 1), say(phrase("Total"))).font = bold()
    made.auto_filter.ref = f"A{HEAD_ROW}:{_at(len(page.columns) - 1, last)}"


def _heading(column: SheetColumn) -> Heading:
    return Heading(text=column.title, width=column.width, right=column.kind not in _LEFT)


def _paint_model(
    made: "Worksheet", at: tuple[int, int], column: SheetColumn, formats: dict[CellKind, str], *, wrap: bool
) -> None:
    """Style a cell whose looks the poured rows take over."""
    cell = cast("Cell", made.cell(*at))
    cell.value = "model"
    cell.number_format = formats.get(column.kind, "General")
    cell.alignment = _aligned(column, wrap=wrap)
    cell.quotePrefix = at[0] > FIRST_ROW and column.kind is CellKind.TEXT


def _paint_total(made: "Worksheet", number: int, column: SheetColumn, last: int, formats: dict[CellKind, str]) -> None:
    total = cast("Cell", made.cell(TOTAL_ROW, number + 1))
    letter = _at(number, "")
    total.value = f"=SUM({letter}{FIRST_ROW}:{letter}{last})"
    total.number_format = formats.get(column.kind, "General")
    total.font = bold()
    total.alignment = _aligned(column)


def _set_print(made: "Worksheet", sheet: WorkbookSheet, page: Page) -> None:
    last = FIRST_ROW + max(len(page.rows), 1) - 1
    set_page(made, sheet.name, heading_row=HEAD_ROW, landscape=not sheet.portrait)
    made.print_area = f"A1:{_at(len(page.columns) - 1, last)}"


def _hang_all(made: "Worksheet", sheet: WorkbookSheet, pictures: Sequence[bytes]) -> None:
    """Hang pictures below each other, each on a page of its own."""
    from openpyxl.drawing.image import Image
    from openpyxl.worksheet.pagebreak import Break

    row = FIRST_ROW
    for picture in pictures:
        image = Image(BytesIO(picture))
        image.width, image.height = int(image.width * _SCREEN), int(image.height * _SCREEN)
        made.add_image(image, f"A{row}")
        row += image.height // _ROW_HEIGHT + 2
        made.row_breaks.append(Break(id=row - 1))
    set_page(made, sheet.name, heading_row=1, landscape=not sheet.portrait)
    made.print_area = f"A1:N{row}"


def _formats(shop: Shop) -> dict[CellKind, str]:
    coins = money_format(shop.currency_digits)
    fine = f"{coins}{'' if shop.currency_digits else '.'}###"
    day = excel_day(facts_of(shop.locale).day)
    return {
        CellKind.TEXT: "@",
        CellKind.DAY: day,
        CellKind.MOMENT: f"{day} hh:mm",
        CellKind.WHOLE: "0",
        CellKind.AMOUNT: "#,##0.00##",
        CellKind.COINS: coins,
        CellKind.FINE: fine,
        CellKind.SHARE: "0.0%",
        CellKind.WORKED: coins,
    }


def excel_day(pattern: str) -> str:
    """Turn a locale's date pattern (CLDR) into a spreadsheet's, such as 'd MMM y' into 'd mmm yyyy'."""
    parts = re.findall(r"'[^']*'|y+|M+|L+|d+|[^yMLd']+", pattern)
    return "".join(_day_part(part) for part in parts)


def _day_part(part: str) -> str:
    if part.startswith("'"):
        return f'"{part[1:-1]}"'
    turned = {"y": "yy" if part == "yy" else "yyyy", "M": part.lower(), "L": part.lower(), "d": part}
    return turned.get(part[0], part.replace("/", "\\/"))


def _at(number: int, row: int | str) -> str:
    from openpyxl.utils import get_column_letter

    return f"{get_column_letter(number + 1)}{row}"


def _aligned(column: SheetColumn, *, wrap: bool = False) -> "Alignment":
    from openpyxl.styles import Alignment

    side: Literal["left", "right"] = "left" if column.kind in _LEFT else "right"
    return Alignment(vertical="top", horizontal=side, wrap_text=wrap and column.kind is CellKind.TEXT, indent=1)
