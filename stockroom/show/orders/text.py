"""A purchase order as plain text, to paste into an email."""

from stockroom.show.formats import Formats
from stockroom.show.layout import plain_text, wrap
from stockroom.show.order_form import FormLine, OrderFacts, OrderFormat, caution_lines, form_lines, goods
from stockroom.stock.money import half_up
from stockroom.stock.orders import Order

WIDTH = 72  # what mail programs leave unbroken


def render(order: Order, facts: OrderFacts) -> bytes:
    """Write the order; columns are avoided, as mail is often read in letters of unequal width."""
    lines = form_lines(order, facts)
    parts = [
        _heading(order, facts),
        *(_entry(number, line, facts.formats) for number, line in enumerate(lines, 1)),
        _totals(order, facts),
        _note(order.note),
        _cautions(lines),
    ]
    return ("\n\n".join(part for part in parts if part) + "\n").encode()


def _heading(order: Order, facts: OrderFacts) -> str:
    rows = [
        f"Order {order.number}",
        f"To: {facts.supplier.name}",
        f"From: {facts.shop}",
        f"Date: {facts.formats.weekday(order.placed.date())}",
    ]
    expected = [f"Expected by: {facts.formats.weekday(order.expected)}"] if order.expected else []
    return "\n".join(wrap(plain_text(row), WIDTH) for row in rows + expected)


def _entry(number: int, line: FormLine, formats: Formats) -> str:
    name = f"{line.supplier_code}  {line.description}" if line.supplier_code else line.description
    each = formats.money(half_up(line.price.scaleb(formats.digits)))
    near = "" if line.price * line.packs == line.cost and _whole(line, formats) else "about "
    price = f" at {near}{each}" if line.packs > 1 else ""
    packs = f"{formats.number(line.packs)} x {line.pack_name}{price}: {formats.money(line.cost_minor)}"
    return f"{wrap(plain_text(f'{number}. {name}'), WIDTH)}\n{wrap(plain_text(packs), WIDTH, indent='   ')}"


def _whole(line: FormLine, formats: Formats) -> bool:
    coins = line.price.scaleb(formats.digits)
    return coins == coins.to_integral_value()


def _totals(order: Order, facts: OrderFacts) -> str:
    total, formats = goods(order), facts.formats
    paid = f"\nTotal with tax: {formats.money(total + order.carriage + facts.tax)}" if facts.tax else ""
    return (
        f"Goods: {formats.money(total)}\nCarriage: {formats.money(order.carriage)}\n"
        f"Total before tax: {formats.money(total + order.carriage)}{paid}"
    )


def _note(note: str) -> str:
    return wrap(plain_text(note), WIDTH) if note else ""


def _cautions(lines: list[FormLine]) -> str:
    found = caution_lines(lines)
    return "\n".join(["Hazards:", *(wrap(plain_text(f"- {each}"), WIDTH) for each in found)]) if found else ""


FORMAT = OrderFormat(name="text", suffix=".txt", render=render)
