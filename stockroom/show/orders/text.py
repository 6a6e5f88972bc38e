"""A purchase order as plain text, to paste into an email."""

from stockroom.phrases import phrase
from stockroom.show.formats import Formats
from stockroom.show.layout import plain_text, wrap
from stockroom.show.order_form import FormLine, OrderFacts, OrderFormat, caution_lines, form_lines, sums
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
        _cautions(lines, facts.formats),
    ]
    return ("\n\n".join(part for part in parts if part) + "\n").encode()


def _heading(order: Order, facts: OrderFacts) -> str:
    day, say = facts.formats.weekday, facts.formats.say
    rows = [
        phrase("Order %(number)s", number=order.number),
        phrase("To: %(supplier)s", supplier=facts.supplier.name),
        phrase("From: %(shop)s", shop=facts.shop),
        phrase("Date: %(day)s", day=day(order.placed.date())),
    ]
    expected = [phrase("Expected by: %(day)s", day=day(order.expected))] if order.expected else []
    return "\n".join(wrap(plain_text(say(row)), WIDTH) for row in rows + expected)


def _entry(number: int, line: FormLine, formats: Formats) -> str:
    name = f"{line.supplier_code}  {line.description}" if line.supplier_code else line.description
    each = formats.money(half_up(line.price.scaleb(formats.digits)))
    exact = line.price * line.packs == line.cost and _whole(line, formats)
    facts = {"packs": formats.number(line.packs), "pack": line.pack_name, "cost": formats.money(line.cost_minor)}
    packs = phrase("%(packs)s x %(pack)s: %(cost)s", **facts)
    if line.packs > 1:
        one = phrase("%(packs)s x %(pack)s at %(each)s: %(cost)s", each=each, **facts)
        about = phrase("%(packs)s x %(pack)s at about %(each)s: %(cost)s", each=each, **facts)
        packs = one if exact else about
    return (
        f"{wrap(plain_text(f'{number}. {name}'), WIDTH)}\n{wrap(plain_text(formats.say(packs)), WIDTH, indent='   ')}"
    )


def _whole(line: FormLine, formats: Formats) -> bool:
    coins = line.price.scaleb(formats.digits)
    return coins == coins.to_integral_value()


def _totals(order: Order, facts: OrderFacts) -> str:
    return "\n".join(f"{facts.formats.say(what)}: {facts.formats.money(minor)}" for what, minor in sums(order, facts))


def _note(note: str) -> str:
    return wrap(plain_text(note), WIDTH) if note else ""


def _cautions(lines: list[FormLine], formats: Formats) -> str:
    found = caution_lines(lines)
    heading = formats.say(phrase("Hazards:"))
    return "\n".join([heading, *(wrap(plain_text(f"- {each}"), WIDTH) for each in found)]) if found else ""


FORMAT = OrderFormat(name="text", suffix=".txt", render=render)
