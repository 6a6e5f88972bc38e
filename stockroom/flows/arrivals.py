"""What arrived of an order: as typed, into the lines of a delivery."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from stockroom.errors import AmbiguousError, RefusedError
from stockroom.phrases import phrase
from stockroom.stock.finding import find
from stockroom.stock.materials import Material
from stockroom.stock.money import half_up
from stockroom.stock.orders import DeliveryLine, Order, OrderLine
from stockroom.stock.quantities import Quantity
from stockroom.stock.suppliers import current
from stockroom.store import catalogue, suppliers
from stockroom.store.book import Session


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived:
    """One line of a delivery as typed: packs, or an amount measured on arrival, and its cost if it differs."""

    material: str
    packs: int | None = None
    amount: Quantity | None = None
    cost: int | None = None  # minor units ex tax for the line; None: as ordered
    lot: str = ""
    expiry: date | None = None
    supplier_code: str = ""  # needed only where the order has several packs of the material


def arrived_lines(session: Session, order: Order, arrived: Sequence[Arrived]) -> list[DeliveryLine]:
    """Turn what was typed about a delivery into its lines; nothing typed means all that is still to come."""
    if not arrived:
        return [_rest_of(line) for line in order.lines if line.outstanding]
    materials = {m.code: m for m in catalogue.read_materials(session)}
    measured = _measured(session, order, materials)
    made = []
    for each in arrived:
        line = _line_meant(order, each, materials)
        whole = (line.material, line.supplier_code) in measured
        made.append(_arrived_line(line, each, materials[line.material], measured=whole))
    return made


def _line_meant(order: Order, arrived: Arrived, materials: Mapping[str, Material]) -> OrderLine:
    names = {line.material: materials[line.material].name for line in order.lines}
    material = find("line of the order", arrived.material, names)
    lines = [line for line in order.lines if line.material == material]
    fitting = [line for line in lines if arrived.supplier_code in ("", line.supplier_code)]
    if len(fitting) == 1:
        return fitting[0]
    codes = ", ".join(line.supplier_code for line in lines)
    raise AmbiguousError(
        phrase("Order %(order)s has several packs of %(material)s.", order=order.number, material=material),
        fix=phrase("Say which: %(codes)s.", codes=codes),
    )


def _measured(session: Session, order: Order, materials: Mapping[str, Material]) -> set[tuple[str, str]]:
    """Say which lines are sold by a nominal pack and measured on arrival."""
    dimensions = {code: material.dimension for code, material in materials.items()}
    offers = current(suppliers.read_offers(session, dimensions), order.placed.date())
    return {(o.material, o.supplier_code) for o in offers if o.measured and o.supplier == order.supplier}


def _rest_of(line: OrderLine) -> DeliveryLine:
    packs, broken = divmod(line.outstanding, line.pack.nano)
    return DeliveryLine(
        material=line.material,
        amount=Quantity(nano=line.outstanding, dimension=line.pack.dimension),
        cost=cost_of(line, line.outstanding),
        supplier_code=line.supplier_code,
        packs=None if broken else packs,
    )


def _arrived_line(line: OrderLine, arrived: Arrived, material: Material, *, measured: bool) -> DeliveryLine:
    rest, amount = _rest_of(line), arrived.amount
    packs = rest.packs if arrived.packs is None and (measured or amount is None) else arrived.packs
    if amount is not None:
        amount = material.to_base(amount)
    # A measured pack costs what was asked for it, whatever it turned out to measure.
    nominal = packs * line.pack.nano if packs is not None else (amount or rest.amount).nano
    if nominal <= 0 or (amount is not None and amount.nano <= 0):
        raise RefusedError(
            phrase("%(material)s: nothing arrived, or all had come.", material=line.material), fix="Leave the line out."
        )
    return DeliveryLine(
        material=line.material,
        amount=amount or Quantity(nano=nominal, dimension=line.pack.dimension),
        cost=cost_of(line, nominal) if arrived.cost is None else arrived.cost,
        supplier_code=line.supplier_code,
        packs=packs,
        lot=arrived.lot,
        expiry=arrived.expiry,
    )


def cost_of(line: OrderLine, nano: int) -> int:
    """Give the part of a line's cost that an amount of it bears."""
    return half_up(Fraction(line.cost * nano, line.expected))
