"""What every form of a purchase order says: the supplier's codes, packs, prices, totals and cautions."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from stockroom.phrases import as_phrase, phrase
from stockroom.show.formats import Formats, unit_word
from stockroom.stock.lists import cautions
from stockroom.stock.materials import Material
from stockroom.stock.money import major
from stockroom.stock.orders import Order, OrderLine
from stockroom.stock.suppliers import Supplier


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFacts:
    """What an order needs beside itself to be written out."""

    shop: str
    supplier: Supplier
    materials: Mapping[str, Material]  # by code
    formats: Formats
    tax: int = 0  # minor units: said beside the total where the shop can't take it back


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFormat:
    """A form of purchase order; one file in `show/orders`, found by its name."""

    name: str
    suffix: str  # of the file, such as '.txt'
    render: Callable[[Order, OrderFacts], bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class FormLine:
    """One line of an order as it is written out."""

    supplier_code: str
    description: str
    packs: int
    pack_name: str
    pack_amount: Decimal  # in `unit`
    unit: str
    price: Decimal  # for a pack, ex tax; rounded to a hundredth of the smallest coin where it must be
    cost: Decimal  # for the line, ex tax
    cost_minor: int
    cautions: tuple[str, ...]


def form_lines(order: Order, facts: OrderFacts) -> list[FormLine]:
    """Give an order's lines as they are written out.

    Raises
    ------
    ValueError
        If `facts.materials` lacks a material of the order.
    """
    missing = [line.material for line in order.lines if line.material not in facts.materials]
    if missing:
        raise ValueError(f"order {order.number}: facts lack the materials {missing}")
    return [_form_line(line, facts.materials[line.material], facts.formats) for line in order.lines]


def goods(order: Order) -> int:
    """Cost of an order's goods ex tax, in minor units."""
    return sum(line.cost for line in order.lines)


def sums(order: Order, facts: OrderFacts) -> list[tuple[str, int]]:
    """Name what an order comes to, in minor units; with tax only where the shop bears it."""
    before = goods(order) + order.carriage
    said = [(phrase("Goods"), goods(order)), (phrase("Carriage"), order.carriage), (phrase("Total before tax"), before)]
    return [*said, (phrase("Total with tax"), before + facts.tax)] if facts.tax else [*said]


def caution_lines(lines: list[FormLine]) -> list[str]:
    """List the hazards of an order's goods, one sentence for each line that has any."""
    return [f"{line.description}: {'; '.join(line.cautions)}" for line in lines if line.cautions]


def _form_line(line: OrderLine, material: Material, formats: Formats) -> FormLine:
    pack = material.unit.count(line.pack.nano)
    digits = formats.digits
    price = major(line.cost, digits) / max(line.packs, 1)
    return FormLine(
        supplier_code=line.supplier_code,
        description=material.name,
        packs=line.packs,
        pack_name=line.pack_name or formats.say(formats.amount(line.pack.nano, material.unit)),
        pack_amount=pack,
        unit=formats.say(as_phrase(unit_word(material.unit))),
        price=_price(price, digits),
        cost=major(line.cost, digits),
        cost_minor=line.cost,
        cautions=tuple(map(formats.say, cautions(material))),
    )


def _price(price: Decimal, digits: int) -> Decimal:
    coins = price.quantize(Decimal(1).scaleb(-digits))
    return coins if coins == price else price.quantize(Decimal(1).scaleb(-digits - 2))
