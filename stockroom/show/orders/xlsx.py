"""A purchase order as a spreadsheet, to attach to an email or print."""

from decimal import Decimal
from typing import TYPE_CHECKING

from stockroom.show.order_form import FormLine, OrderFacts, OrderFormat, caution_lines, form_lines, goods
from stockroom.show.spreadsheet import (
    Heading,
    bold,
    fit_row,
    money_format,
    new_book,
    put_headings,
    put_number,
    put_text,
    put_time,
    saved,
    set_page,
)
from stockroom.stock.money import major
from stockroom.stock.orders import Order

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_FIGURES = {"Packs", "In a pack"}
_HEADINGS = (("Your code", 16), ("Goods", 38), ("Packs", 8), ("Pack", 22), ("In a pack", 11), ("Unit", 9))
_PRICE, _COST = 7, 8  # columns of money


def render(order: Order, facts: OrderFacts) -> bytes:
    """Write the order; totals are figures, so that a telephone's preview shows them."""
    book, sheet = new_book("Order")
    lines = form_lines(order, facts)
    top = _put_heading(sheet, order, facts)
    money = [f"{text} ({facts.formats.currency})" for text in ("Price a pack", "Cost")]
    goods_headings = [Heading(text=text, width=width, right=text in _FIGURES) for text, width in _HEADINGS]
    put_headings(sheet, top, [*goods_headings, *(Heading(text=text, width=20, right=True) for text in money)])
    for row, line in enumerate(lines, top + 1):
        _put_line(sheet, row, line, facts.formats.digits)
    below = _put_totals(sheet, top + len(lines) + 1, order, facts)
    _put_notes(sheet, below + 1, [order.note, *(f"Hazard: {each}" for each in caution_lines(lines))])
    set_page(sheet, f"Order {order.number}, {facts.shop}", heading_row=top)
    return saved(book)


def _put_heading(sheet: "Worksheet", order: Order, facts: OrderFacts) -> int:
    rows = [("Order", order.number), ("To", facts.supplier.name), ("From", facts.shop)]
    for row, (label, text) in enumerate(rows, 1):
        put_text(sheet, (row, 1), label)
        put_text(sheet, (row, 2), text, wrap=False)
    days = [("Date", order.placed.date()), ("Expected by", order.expected)]
    for row, (label, day) in enumerate(days, len(rows) + 1):
        if day:
            put_text(sheet, (row, 1), label)
            put_time(sheet, (row, 2), day)
    return len(rows) + len(days) + 2


def _put_line(sheet: "Worksheet", row: int, line: FormLine, digits: int) -> None:
    for column, text in ((1, line.supplier_code), (2, line.description), (4, line.pack_name), (6, line.unit)):
        put_text(sheet, (row, column), text)
    put_number(sheet, (row, 3), line.packs)
    put_number(sheet, (row, 5), line.pack_amount)
    finer = 0 if line.price == round(line.price, digits) else 2
    put_number(sheet, (row, _PRICE), line.price, number_format=money_format(digits + finer))
    put_number(sheet, (row, _COST), line.cost, number_format=money_format(digits))
    fit_row(sheet, row, [(line.description, dict(_HEADINGS)["Goods"]), (line.pack_name, dict(_HEADINGS)["Pack"])])


def _put_totals(sheet: "Worksheet", row: int, order: Order, facts: OrderFacts) -> int:
    total, digits = goods(order), facts.formats.digits
    sums = {"Goods": total, "Carriage": order.carriage, "Total before tax": total + order.carriage}
    if facts.tax:
        sums["Total with tax"] = total + order.carriage + facts.tax
    for at, (label, minor) in enumerate(sums.items(), row):
        put_text(sheet, (at, _PRICE), label).font = bold()
        amount: Decimal = major(minor, digits)
        put_number(sheet, (at, _COST), amount, number_format=money_format(digits)).font = bold()
    return row + len(sums)


def _put_notes(sheet: "Worksheet", row: int, notes: list[str]) -> None:
    for at, note in enumerate((note for note in notes if note), row):
        put_text(sheet, (at, 1), note, wrap=False)


FORMAT = OrderFormat(name="xlsx", suffix=".xlsx", render=render)
