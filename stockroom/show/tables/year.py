"""The year ahead as a spreadsheet, for the owner and the bank: by month, by supplier, and month by supplier."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from stockroom.phrases import phrase
from stockroom.show.formats import Formats
from stockroom.show.spreadsheet import (
    Heading,
    bold,
    finish_list,
    money_format,
    new_book,
    put_headings,
    put_number,
    put_text,
    saved,
    set_page,
)

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_MONTHS = (phrase("Month"), phrase("Orders"), phrase("Goods"), phrase("Carriage"), phrase("Expected"))
_RANGE = (phrase("1 in 10 less than"), phrase("1 in 10 more than"))


@dataclass(frozen=True, slots=True, kw_only=True)
class YearLine:
    """What is expected of a month, or of a supplier: money in major units."""

    month: date
    name: str
    orders: float
    goods: float
    carriage: float
    low: float
    high: float


def year_xlsx(
    months: Sequence[YearLine], suppliers: Sequence[YearLine], each: Sequence[YearLine], words: str, formats: Formats
) -> bytes:
    """Write what orders are expected to take, with the money needed until each month's end."""
    title = formats.say(phrase("The year ahead"))
    book, sheet = new_book(title[:31])
    put_text(sheet, (1, 1), words, wrap=False)
    until = formats.say(phrase("Needed until its end"))
    _headings(sheet, [*_MONTHS, *_RANGE], formats, more=[until])
    needed = 0.0
    for at, line in enumerate(months, 3):
        put_text(sheet, (at, 1), formats.month(line.month))
        needed += line.goods + line.carriage
        _figures(sheet, at, line, formats)
        _money(sheet, (at, 8), needed, formats)
    _totals(sheet, 3, len(months), formats)
    set_page(sheet, title, heading_row=2)
    sheet = book.create_sheet(formats.say(phrase("By supplier"))[:31])
    _headings(sheet, [phrase("Supplier"), *_MONTHS[1:], *_RANGE], formats)
    for at, line in enumerate(suppliers, 3):
        put_text(sheet, (at, 1), line.name)
        _figures(sheet, at, line, formats)
    _totals(sheet, 3, len(suppliers), formats)
    set_page(sheet, formats.say(phrase("By supplier, over the whole time")), heading_row=2)
    _crossed(book.create_sheet(formats.say(phrase("Months and suppliers"))[:31]), months, suppliers, each, formats)
    return saved(book)


def _headings(sheet: "Worksheet", texts: Sequence[str], formats: Formats, *, more: Sequence[str] = ()) -> None:
    said = [*(formats.say(text) for text in texts), *more]
    put_headings(sheet, 2, [Heading(text=text, width=34 if n == 0 else 15, right=n > 0) for n, text in enumerate(said)])


def _figures(sheet: "Worksheet", at: int, line: YearLine, formats: Formats) -> None:
    put_number(sheet, (at, 2), Decimal(str(round(line.orders, 1))), number_format="0.0")
    for column, value in enumerate((line.goods, line.carriage, line.goods + line.carriage, line.low, line.high), 3):
        _money(sheet, (at, column), value, formats)


def _money(sheet: "Worksheet", at: tuple[int, int], value: float, formats: Formats) -> None:
    put_number(sheet, at, Decimal(str(round(value, formats.digits))), number_format=money_format(formats.digits))


def _totals(sheet: "Worksheet", first: int, lines: int, formats: Formats) -> None:
    """Add up what may be added: expected sums, not the ends of ranges."""
    last = first + lines - 1
    put_text(sheet, (last + 1, 1), formats.say(phrase("In all"))).font = bold()
    for column in (2, 3, 4, 5) if lines else ():
        letter = "ABCDE"[column - 1]
        cell = sheet.cell(last + 1, column)
        cell.value = f"=SUM({letter}{first}:{letter}{last})"
        cell.number_format = "0.0" if column == 2 else money_format(formats.digits)  # noqa: PLR2004 -- that of orders
        cell.font = bold()


def _crossed(
    sheet: "Worksheet",
    months: Sequence[YearLine],
    suppliers: Sequence[YearLine],
    each: Sequence[YearLine],
    formats: Formats,
) -> None:
    """Set out what is expected of each supplier in each month."""
    spend = {(line.month, line.name): line.goods + line.carriage for line in each}
    _headings(sheet, [phrase("Month")], formats, more=[line.name for line in suppliers])
    for at, month in enumerate(months, 3):
        put_text(sheet, (at, 1), formats.month(month.month))
        for column, supplier in enumerate(suppliers, 2):
            _money(sheet, (at, column), spend.get((month.month, supplier.name), 0.0), formats)
    finish_list(sheet, 2, len(suppliers) + 1)
    set_page(sheet, formats.say(phrase("Months and suppliers")), heading_row=2)
