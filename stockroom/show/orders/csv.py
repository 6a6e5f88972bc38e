"""A purchase order as comma-separated values (RFC 4180), for a supplier's own program."""

import csv
from io import StringIO

from stockroom.show.layout import plain_text
from stockroom.show.order_form import FormLine, OrderFacts, OrderFormat, form_lines, goods
from stockroom.show.spreadsheet import begins_like_formula
from stockroom.stock.money import major
from stockroom.stock.orders import Order
from stockroom.stock.quantities import plain

HEADINGS = (
    "order", "line", "supplier_code", "description", "packs", "pack", "pack_amount", "unit", "price_per_pack", "cost",
    "currency", "cautions",
)  # fmt: skip


def render(order: Order, facts: OrderFacts) -> bytes:
    """Write the order: decimal points whatever the locale, a mark at the start so that accents open well."""
    stream = StringIO(newline="")
    writer = csv.writer(stream)
    writer.writerow(HEADINGS)
    for number, line in enumerate(form_lines(order, facts), 1):
        writer.writerow(_row(order, number, line, facts))
    for name, minor in (("carriage", order.carriage), ("total", goods(order) + order.carriage)):
        money = f"{major(minor, facts.formats.digits):f}"
        writer.writerow([guarded(order.number), name, "", "", "", "", "", "", "", money, facts.formats.currency, ""])
    return stream.getvalue().encode("utf-8-sig")


def guarded(text: str) -> str:
    """Put an apostrophe before text that a program could take for a formula (CWE-1236); figures are left alone."""
    return f"'{plain_text(text)}" if begins_like_formula(text) else plain_text(text)


def _row(order: Order, number: int, line: FormLine, facts: OrderFacts) -> list[str]:
    return [
        guarded(order.number),
        str(number),
        guarded(line.supplier_code),
        guarded(line.description),
        str(line.packs),
        guarded(line.pack_name),
        plain(line.pack_amount),
        line.unit,
        f"{line.price:f}",
        f"{line.cost:f}",
        facts.formats.currency,
        guarded("; ".join(line.cautions)),
    ]


FORMAT = OrderFormat(name="csv", suffix=".csv", render=render)
