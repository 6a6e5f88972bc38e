"""What arrived of an order: as typed, into the lines of a delivery."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from stockroom.errors import AmbiguousError, RefusedError, UnitsError
from stockroom.flows.posting.price_corrections import in_force
from stockroom.phrases import phrase
from stockroom.show.formats import formats_of
from stockroom.stock.materials import Material
from stockroom.stock.money import half_up
from stockroom.stock.moves import DocumentKind
from stockroom.stock.orders import DeliveryLine, Order, OrderLine
from stockroom.stock.quantities import Dimension, Quantity
from stockroom.stock.suppliers import Offer, current
from stockroom.stock.typed import find
from stockroom.store import catalogue, ledger
from stockroom.store.book import Session

_LEGIBLE = 10  # minor units: a price below is told of more units
ABSURD = 3  # times what was ordered
FAR = 4  # times what it usually costs, or a part of that: further than prices stray, nearer than a wrong unit

Write = Callable[[str, int], str]  # an amount of a material, for a person
_Key = tuple[str, str]  # material, supplier's code


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived:
    """One line of a delivery as typed: packs, or an amount measured on arrival, and its cost if it differs."""

    material: str
    packs: int | None = None
    amount: Quantity | None = None
    weighed: Quantity | None = None  # what the supplier's price is by, such as a hide's kilograms
    cost: int | None = None  # minor units ex tax for the line; None: as ordered
    lot: str = ""
    expiry: date | None = None
    supplier_code: str = ""  # needed only where the order has several packs of the material


def arrived_lines(session: Session, order: Order, arrived: Sequence[Arrived]) -> list[DeliveryLine]:
    """Turn what was typed about a delivery into its lines; nothing typed means all that is outstanding."""
    if not arrived:
        return _all_to_come(order, writing(session))
    materials, write = {m.code: m for m in catalogue.read_materials(session)}, writing(session)
    offers = _offers(session, order, materials)
    made = []
    for each in arrived:
        line = _line_meant(order, each, materials)
        if not line.outstanding and each.amount is None and each.packs is None:
            raise _arrived_already(order, line, write)
        made.append(
            _arrived_line(line, each, materials[line.material], offers.get((line.material, line.supplier_code)))
        )
    return made


def agreed_carriage(session: Session, order: Order) -> int:
    """Give the carriage agreed on an order of which nothing came yet; it is asked for once."""
    documents = ledger.read_documents(session, subject=order.number, kinds=[DocumentKind.DELIVERY], with_moves=False)
    return 0 if any(in_force(session, document.id or 0) for document in documents) else order.carriage


def writing(session: Session) -> Write:
    """Give the way amounts of a material are written: in its own unit."""
    formats = formats_of(catalogue.read_shop(session))
    units = {m.code: m.unit for m in catalogue.read_materials(session)}
    return lambda material, nano: formats.told(nano, units[material])


def nominal(order: Order, lines: Sequence[DeliveryLine]) -> dict[_Key, int]:
    """Add up what arrived; a pack measured on arrival counts as the pack that was ordered."""
    packs = {_key(line): line.pack.nano for line in order.lines}
    summed: dict[_Key, int] = {}
    for line in lines:
        came = line.packs * packs[_key(line)] if line.packs else line.amount.nano
        summed[_key(line)] = summed.get(_key(line), 0) + came
    return summed


def refuse_absurd(order: Order, lines: Sequence[DeliveryLine], write: Write) -> None:
    """Refuse what no supplier sends: packs taken for pieces, or a mark too many."""
    counted = nominal(order, lines)
    for line in order.lines:
        measured = sum(each.amount.nano for each in lines if _key(each) == _key(line))
        came = line.received + max(counted.get(_key(line), 0), measured)
        if measured and came > ABSURD * line.expected:
            raise RefusedError(
                phrase(
                    "%(material)s: %(came)s would have come, where %(ordered)s were ordered.",
                    material=line.material,
                    came=write(line.material, came),
                    ordered=write(line.material, line.expected),
                ),
                fix="A bare number means packs. If so much really came, take the rest in without the order.",
            )


def beside_ordered(before: Order, after: Order, write: Write) -> list[str]:
    """Say where more came than was ordered, and where the rest to come is no whole pack."""
    said: list[str] = []
    for old, new in zip(before.lines, after.lines, strict=True):
        over = new.received - max(new.expected, old.received)
        if over > 0:
            much = write(new.material, over)
            said.append(phrase("%(material)s: %(amount)s more than ordered", material=new.material, amount=much))
        elif _broken(new):
            said.append(
                phrase(
                    "%(material)s: %(amount)s outstanding, which is no whole pack; close the order if no more will "
                    "come",
                    material=new.material,
                    amount=write(new.material, new.outstanding),
                )
            )
    return said


def price_differences(order: Order, lines: Sequence[DeliveryLine], write: Callable[[int], str]) -> list[str]:
    """Say where the cost is not as ordered."""
    asked = {_key(line): line for line in order.lines}
    said: list[str] = []
    for line in lines:
        ordered_line = asked[_key(line)]
        bulk = line.packs * ordered_line.pack.nano if line.packs else line.amount.nano
        expected = cost_of(ordered_line, bulk)
        if line.cost != expected:
            said.append(
                phrase(
                    "%(material)s: charged %(charged)s, ordered at %(ordered)s",
                    material=line.material,
                    charged=write(line.cost),
                    ordered=write(expected),
                )
            )
    return said


def _key(line: OrderLine | DeliveryLine) -> _Key:
    return (line.material, line.supplier_code)


def _all_to_come(order: Order, write: Write) -> list[DeliveryLine]:
    """Give what a supplier can still send: pieces, or whole packs of what is measured."""
    made = [_rest_of(line) for line in map(_whole_packs, order.lines) if line.outstanding]
    if not made:
        rests = ", ".join(f"{write(x.material, x.outstanding)} {x.material}" for x in order.lines if x.outstanding)
        raise RefusedError(
            phrase("What is outstanding is no whole pack: %(rests)s.", rests=rests),
            fix="Say what arrived, or close the order if no more will come.",
        )
    return made


def _whole_packs(line: OrderLine) -> OrderLine:
    return replace(line, received=line.received + line.outstanding % line.pack.nano) if _broken(line) else line


def _broken(line: OrderLine) -> bool:
    """Say whether the rest is no whole pack of what is measured: a sheet that was a little under its nominal size."""
    return line.pack.dimension is not Dimension.COUNT and bool(line.outstanding % line.pack.nano)


def _line_meant(order: Order, arrived: Arrived, materials: Mapping[str, Material]) -> OrderLine:
    theirs = [line for line in order.lines if line.supplier_code.casefold() == arrived.material.casefold()]
    if len(theirs) == 1 and arrived.material:
        return theirs[0]
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


def _arrived_already(order: Order, line: OrderLine, write: Write) -> RefusedError:
    rests = ", ".join(f"{write(x.material, x.outstanding)} {x.material}" for x in order.lines if x.outstanding)
    return RefusedError(
        phrase(
            "All of %(material)s has arrived already: %(amount)s of order %(order)s.",
            material=line.material, amount=write(line.material, line.received), order=order.number,
        ),
        fix=phrase("If more came, say how much. Outstanding: %(rests)s.", rests=rests or "-"),
    )  # fmt: skip


def _offers(session: Session, order: Order, materials: Mapping[str, Material]) -> dict[_Key, Offer]:
    """Give the offer behind each line."""
    dimensions = {code: material.dimension for code, material in materials.items()}
    offers = current(catalogue.read_offers(session, dimensions), order.placed.date())
    return {(o.material, o.supplier_code): o for o in offers if o.supplier == order.supplier}


def _rest_of(line: OrderLine) -> DeliveryLine:
    packs, broken = divmod(line.outstanding, line.pack.nano)
    return DeliveryLine(
        material=line.material,
        amount=Quantity(nano=line.outstanding, dimension=line.pack.dimension),
        cost=cost_of(line, line.outstanding),
        supplier_code=line.supplier_code,
        packs=None if broken else packs,
    )


def _arrived_line(line: OrderLine, arrived: Arrived, material: Material, offer: Offer | None) -> DeliveryLine:
    amount, measured = arrived.amount, offer is not None and offer.measured
    whole, broken = divmod(line.outstanding, line.pack.nano)
    to_come = None if broken else whole
    cost = arrived.cost if arrived.cost is not None else _by_weight(line, arrived, offer)
    packs = to_come if arrived.packs is None and (measured or amount is None) else arrived.packs
    if amount is not None:
        amount = _as_kept(amount, material, offer)
    # A measured pack costs what was asked for it, whatever it turned out to measure.
    nominal = packs * line.pack.nano if packs is not None else amount.nano if amount is not None else line.outstanding
    if nominal <= 0 or (amount is not None and amount.nano <= 0):
        raise RefusedError(
            phrase("%(material)s: nothing arrived, or all had come.", material=line.material), fix="Leave the line out."
        )
    return DeliveryLine(
        material=line.material,
        amount=amount or Quantity(nano=nominal, dimension=line.pack.dimension),
        cost=cost_of(line, nominal) if cost is None else cost,
        supplier_code=line.supplier_code,
        packs=packs,
        lot=arrived.lot,
        expiry=arrived.expiry,
    )


def _as_kept(amount: Quantity, material: Material, offer: Offer | None) -> Quantity:
    """Bring what was typed to the material's dimension; what is priced by weight and kept by area needs both."""
    try:
        return material.to_base(amount)
    except UnitsError:
        by = offer.priced_per if offer else None
        if by is None or amount.dimension is not by.dimension:
            raise
    raise RefusedError(
        phrase("%(material)s is bought by weight and kept by its real size.", material=material.code),
        fix=phrase("Give both, such as %(example)s.", example=f"'{material.code}=98 {material.unit.name}/{amount}'"),
    )


def _by_weight(line: OrderLine, arrived: Arrived, offer: Offer | None) -> int | None:
    """Give the cost of what is priced by weight and measured by area: the weight that came, at the price agreed.

    The real area then bears it, whatever the nominal pack was thought to measure. None: not weighed.
    """
    by = offer.priced_per if offer else None
    nominal = offer.pack_in_priced if offer else None
    weighed = arrived.weighed or arrived.amount
    if by is None or nominal is None or weighed is None or weighed.dimension is not by.dimension:
        if arrived.weighed is None:
            return None
        raise RefusedError(
            phrase("%(material)s is not priced by what was weighed.", material=line.material),
            fix="Give the amount that came, and its cost after a colon.",
        )
    return half_up(Fraction(line.cost * weighed.nano, line.packs * nominal.nano))


def far_from_usual(line: DeliveryLine, material: Material, offers: Sequence[Offer], write: Callable[[int], str]) -> str:
    """Say that a material costs several times what it usually does, or a part of it; '' where it doesn't.

    A price for a square metre typed as one for a square decimetre looks like this. Usual is what any supplier asks
    and the material's usual cost; it is enough to be near one of them.
    """
    usual = [Fraction(o.cost(1), o.pack.nano) for o in offers if o.material == line.material and o.pack.nano > 0]
    usual += [material.usual_rate] if material.usual_rate else []
    paid = Fraction(line.cost, line.amount.nano)
    known = [each for each in usual if each > 0]
    if not known or not paid or any(each / FAR < paid < each * FAR for each in known):
        return ""
    nearest = min(known, key=lambda each: max(each / paid, paid / each))
    many = next((n for n in (1, 10, 100) if paid * material.unit.nano * n >= _LEGIBLE), 1000)  # no price of 0.00
    return phrase(
        "%(material)s: %(paid)s for %(unit)s, where it usually costs %(usual)s; is the unit right?",
        material=line.material,
        paid=write(half_up(paid * material.unit.nano * many)),
        unit=f"{many} {material.unit.name}",
        usual=write(half_up(nearest * material.unit.nano * many)),
    )


def cost_of(line: OrderLine, nano: int) -> int:
    """Give the part of a line's cost that an amount of it bears."""
    return half_up(Fraction(line.cost * nano, line.expected))
