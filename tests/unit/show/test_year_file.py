"""The year ahead as a spreadsheet: its sums, and the money needed by the end of each month."""

from datetime import date
from io import BytesIO

from openpyxl import load_workbook

from stockroom.show.formats import formats_of
from stockroom.show.tables.year import YearLine, year_xlsx
from stockroom.stock.shop import Shop


def _line(month: int, name: str, goods: float) -> YearLine:
    day = date(2026, month, 1)
    return YearLine(month=day, name=name, orders=1.5, goods=goods, carriage=5.0, low=goods / 2, high=goods * 2)


def test_months_suppliers_and_what_is_needed_until_the_end_of_each_stand_in_it() -> None:
    months = [_line(1, "", 100.0), _line(2, "", 250.5)]
    suppliers = [_line(1, "North", 200.0), _line(1, "South", 150.5)]
    each = [_line(1, "North", 100.0), _line(2, "North", 100.0), _line(2, "South", 150.5)]
    formats = formats_of(Shop(name="Shop", locale="de_DE"))
    book = load_workbook(BytesIO(year_xlsx(months, suppliers, each, "=kept as words", formats)))
    first, second, third = book.worksheets
    assert first["A1"].value == "=kept as words"
    assert first["A1"].data_type == "s"
    assert first["A2"].value == "Monat"
    assert [row[7] for row in first.iter_rows(min_row=3, max_row=4, values_only=True)] == [105.0, 360.5]
    assert first["E5"].value == "=SUM(E3:E4)"
    assert second["A3"].value == "North"
    assert [[cell.value for cell in row[1:]] for row in third.iter_rows(min_row=3)] == [[105.0, 0.0], [105.0, 155.5]]
