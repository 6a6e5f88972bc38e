"""A purchase order as a spreadsheet, to attach to an email or print."""

from decimal import Decimal
from typing import TYPE_CHECKING

from stockroom.phrases import phrase
from stockroom.show.order_form import FormLine, OrderFacts, OrderFormat, caution_lines, form_lines, sums
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

_WIDTHS = (16, 38, 8, 22, 11, 9)  # of the columns before the money
_GOODS, _PACKS, _PACK, _IN_A_PACK, _PRICE, _COST = 2, 3, 4, 5, 7, 8  # columns


def _headings(facts: OrderFacts) -> list[Heading]:
    said = (
        phrase("Your code"), phrase("Goods"), phrase("Packs"), phrase("Pack"), phrase("In a pack"), phrase("Unit"),
    )  # fmt: skip
    say = facts.formats.say
    shown = [
        Heading(text=say(text), width=width, right=column in (_PACKS, _IN_A_PACK))
        for column, (text, width) in enumerate(zip(said, _WIDTHS, strict=True), 1)
    ]
    money = (phrase("Price a pack"), phrase("Cost"))
    return shown + [Heading(text=f"{say(text)} ({facts.formats.currency})", width=20, right=True) for text in money]


def render(order: Order, facts: OrderFacts) -> bytes:
    """Write the order; totals are figures, so that a telephone's preview shows them."""
    say = facts.formats.say
    book, sheet = new_book(say(phrase("Order")))
    lines = form_lines(order, facts)
    top = _put_heading(sheet, order, facts)
    put_headings(sheet, top, _headings(facts))
    for row, line in enumerate(lines, top + 1):
        _put_line(sheet, row, line, facts.formats.digits)
    below = _put_totals(sheet, top + len(lines) + 1, order, facts)
    _put_notes(
        sheet, below + 1, [order.note, *(say(phrase("Hazard: %(what)s", what=each)) for each in caution_lines(lines))]
    )
    title = say(phrase("Order %(number)s", number=order.number))
    set_page(sheet, f"{title}, {facts.shop}", heading_row=top)
    return saved(book)


def _put_heading(sheet: "Worksheet", order: Order, facts: OrderFacts) -> int:
    say = facts.formats.say
    rows = [(phrase("Order"), order.number), (phrase("To"), facts.supplier.name), (phrase("From"), facts.shop)]
    for row, (label, text) in enumerate(rows, 1):
        put_text(sheet, (row, 1), say(label))
        put_text(sheet, (row, 2), text, wrap=False)
    days = [(phrase("Date"), order.placed.date()), (phrase("Expected by"), order.expected)]
    for row, (label, day) in enumerate(days, len(rows) + 1):
        if day:
            put_text(sheet, (row, 1), say(label))
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
    fit_row(sheet, row, [(line.description, _WIDTHS[_GOODS - 1]), (line.pack_name, _WIDTHS[_PACK - 1])])


def _put_totals(sheet: "Worksheet", row: int, order: Order, facts: OrderFacts) -> int:
    digits, found = facts.formats.digits, sums(order, facts)
    for at, (label, minor) in enumerate(found, row):
        put_text(sheet, (at, _PRICE), facts.formats.say(label)).font = bold()
        amount: Decimal = major(minor, digits)
        put_number(sheet, (at, _COST), amount, number_format=money_format(digits)).font = bold()
    return row + len(found)


def _put_notes(sheet: "Worksheet", row: int, notes: list[str]) -> None:
    for at, note in enumerate((note for note in notes if note), row):
        put_text(sheet, (at, 1), note, wrap=False)


FORMAT = OrderFormat(name="xlsx", suffix=".xlsx", render=render)
