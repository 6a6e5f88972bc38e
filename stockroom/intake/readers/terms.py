"""Suppliers, their offers, closures, and the year's events."""

from collections.abc import Iterable

from stockroom.errors import UsageError
from stockroom.intake.readers.rows import Context, Seen, amount, one_spelling, tax
from stockroom.intake.tables import Line
from stockroom.phrases import phrase
from stockroom.stock.calendar import Closure, Event
from stockroom.stock.quantities import Quantity
from stockroom.stock.suppliers import Offer, Supplier


def read_suppliers(lines: Iterable[Line], context: Context) -> list[Supplier]:
    """Read suppliers, and take them up in the book."""
    found, seen = [], Seen(context, "The code")
    for line in lines:
        if line.bad:
            context.book.declare("suppliers", line["code"])
            continue
        supplier = _supplier(line)
        if not seen.again(line, supplier.code.casefold(), supplier) and one_spelling(line, context, "suppliers"):
            context.book.add_supplier(supplier)
            found.append(supplier)
    return found


def read_offers(lines: Iterable[Line], context: Context) -> list[Offer]:
    """Read offers."""
    found, seen = [], Seen(context, "The offer")
    for line in lines:
        pack = amount(line, context, column="pack")
        try:
            priced = _pack_in_priced(line, pack, context)
        except UsageError as wrong:
            context.blame(line, wrong, column="pack in priced", value=line["pack in priced"] or "")
            continue
        if line.bad or pack is None:
            continue
        offer = _offer(line, pack, priced)
        identity = (offer.supplier, offer.material, offer.supplier_code, pack.nano, offer.valid_from)
        if not seen.again(line, identity, offer):
            found.append(offer)
    return found


def read_closures(lines: Iterable[Line], context: Context) -> list[Closure]:
    """Read closures."""
    found, seen = [], Seen(context, "The closure")
    for line in lines:
        last = line["last"] or line["first"]
        if line["first"] and last < line["first"]:
            error = UsageError("The last day comes before the first.", fix="Swap them.")
            context.blame(line, error, column="last", value=last)
        elif not line.bad:
            closure = Closure(first=line["first"], last=last, who=line["who"], reason=line["reason"])
            if not seen.again(line, closure, closure):
                found.append(closure)
    return found


def read_events(lines: Iterable[Line], context: Context) -> list[Event]:
    """Read events."""
    found, seen = [], Seen(context, "The event")
    for line in lines:
        if not line.bad:
            event = Event(name=line["name"], day=line["day"])
            if not seen.again(line, event, event):
                found.append(event)
    return found


def _supplier(line: Line) -> Supplier:
    return Supplier(
        code=line["code"],
        name=line["name"],
        lead_days=line["lead days"],
        carriage=line["carriage"] or 0,
        carriage_free_over=line["carriage free over"],
        minimum_order=line["minimum order"] or 0,
        order_weekdays=line["order weekdays"] or frozenset(range(5)),
        cut_off=line["cut-off"],
        tax_rate=tax(line["tax %"]),
        email=line["email"],
        note=line["note"],
    )


def _offer(line: Line, pack: Quantity, priced: Quantity | None) -> Offer:
    return Offer(
        supplier=line["supplier"],
        material=line["material"],
        supplier_code=line["supplier code"],
        pack=pack,
        price=line["price"],
        valid_from=line["valid from"],
        pack_name=line["pack name"],
        priced_per=line["priced per"],
        pack_in_priced=priced,
        breaks=line["breaks"],
        minimum_packs=line["minimum packs"] or 1,
        tax_rate=tax(line["tax %"]),
        measured=bool(line["measured"]),
    )


def _pack_in_priced(line: Line, pack: Quantity | None, context: Context) -> Quantity | None:
    """Give the pack in the dimension it is priced in; over the material's bridge where the row doesn't say."""
    per, stated = line["priced per"], line["pack in priced"]
    if per is None or pack is None:
        return None
    if stated is None:
        material = context.book.materials[line["material"]]
        stated = (
            pack if pack.dimension is per.dimension else material.bridge and material.bridge.carry(pack, per.dimension)
        )
    if isinstance(stated, Quantity) and stated.dimension is per.dimension:
        return stated
    raise UsageError(
        phrase(
            "The price is per %(dimension)s, but how much %(dimension)s a pack holds isn't stated.",
            dimension=per.dimension,
        ),
        fix=phrase("Fill in 'pack in priced', such as 6.5 %(unit)s.", unit=per.dimension.base.name),
    )
