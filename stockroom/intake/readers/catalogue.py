"""Settings and materials."""

import re
from collections.abc import Iterable
from dataclasses import replace

from stockroom.errors import StockroomError, UnknownError, UsageError, nearest
from stockroom.intake.cells import marks_of
from stockroom.intake.columns import EVENTS, MATERIALS, plain_header
from stockroom.intake.tables import Context, ReadRow, RowsSeen, amount, another, one_spelling, tax, weekly
from stockroom.phrases import phrase
from stockroom.stock.calendar import Closure, Event, event_fault
from stockroom.stock.machines import Service
from stockroom.stock.materials import Material, Purpose
from stockroom.stock.offcuts import piece_size
from stockroom.stock.postage import Postage
from stockroom.stock.quantities import Dimension, Quantity
from stockroom.stock.shop import Shop, setting_name, with_setting
from stockroom.stock.suppliers import Offer, Supplier
from stockroom.stock.typed import amount as typed_amount

_HAZARD = re.compile(r"(?:EU)?H[0-9]{3}[A-Za-z]{0,2}")
_FLAMMABLE = re.compile(r"H22[0-9].*")  # GHS statements on flammable gases, aerosols, liquids and solids


def read_shop(lines: Iterable[ReadRow], context: Context) -> dict[str, str]:
    """Read settings; each is tried on the shop's defaults."""
    shop, settings, seen = Shop(), dict[str, str](), RowsSeen(context, "The setting")
    for line in lines:
        name = setting_name(plain_header(line["setting"]).replace(" ", "_"))
        if line.bad or seen.again(line, name, line["value"]):
            continue
        try:
            shop = with_setting(shop, name, line["value"])
            marks_of(shop.locale)
        except UnknownError as wrong:
            context.blame(line, wrong, column="setting", value=line["setting"])
        except StockroomError as wrong:
            context.blame(line, wrong, column="value", value=line["value"])
        else:
            settings[name] = line["value"]
    return settings


def read_materials(lines: Iterable[ReadRow], context: Context) -> list[Material]:
    """Read materials, and take them up in the book."""
    found, seen, rows = [], RowsSeen(context, "The code"), {}
    for line in lines:
        sound = _check_material(line, context)
        if not sound or line.bad:
            context.book.declare("materials", line["code"])
            context.book.declare("stock", line["code"], *([line["group"]] if line["group"] else []))
            continue
        material = _material(line, context)
        if material.group:
            context.book.declare("stock", material.group)
        if not seen.again(line, material.code.casefold(), material) and _keeps_dimension(line, material, context):
            found.append(material)
            rows[material.code] = line
    for material in found:
        context.book.add_material(material)
    _check_groups(found, rows, context)
    return [_with_others(material, rows[material.code], context) for material in found]


def _with_others(material: Material, line: ReadRow, context: Context) -> Material:
    """Name the materials it is like, or stands in for, as the book does, and check that amounts carry over."""
    found = replace(
        material,
        alike=another(line, context, "materials", "like"),
        replaces=another(line, context, "materials", "replaces"),
    )
    before = context.book.materials.get(found.replaces)
    try:
        if before is not None:
            found.in_place_of(before, before.unit.of(1))
        elif found.replaces_at is not None and not line["replaces"]:
            raise UsageError("It doesn't say what it replaces.", fix="Fill in 'replaces', or leave both blank.")
    except StockroomError as wrong:
        context.blame(line, wrong, column="replaces at", value=found.replaces_at or "")
    return found


def _material(line: ReadRow, context: Context) -> Material:
    group = line["group"] and (context.book.declared("stock", line["group"]) or line["group"])
    return Material(
        code=line["code"],
        name=line["name"],
        family=line["family"],
        unit=line["unit"],
        purpose=Purpose(line["purpose"] or Purpose.BENCH),
        group=group,
        size_from=line["size from"],
        size_to=line["size to"] or line["size from"],
        colour=line["colour"],
        thickness=line["thickness"],
        bridge=line["bridge"],
        sell_price=line["sell price"],
        tax_rate=tax(line["tax %"]),
        shelf_life_days=line["shelf life days"],
        hazards=_hazards(line["hazards"]),
        flammable=bool(line["flammable"]),
        place=line["place"],
        note=line["note"],
        other_words=line["other words"],
        least_offcut=line["least offcut"],
        usual_cost=line["usual cost"],
        usual_cost_for=line["usual cost for"] or 1,
        weekly=weekly(line, context),
        active=line["active"] is not False,
        extra=dict(line["extra"]),
        alike=line["like"],
        replaces=line["replaces"],
        replaces_at=line["replaces at"],
    )


def _hazards(stated: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(stated.replace(",", " ").replace(";", " ").replace("+", " ").split()))


def _check_material(line: ReadRow, context: Context) -> bool:
    wrong: list[tuple[str, StockroomError]] = [
        (
            "hazards",
            UsageError(
                phrase("'%(mark)s' is not a hazard statement.", mark=mark), fix="Write H-codes, such as H225 H319."
            ),
        )
        for mark in _hazards(line["hazards"])
        if not _HAZARD.fullmatch(mark)
    ]
    if line["least offcut"]:
        try:
            piece_size(line["least offcut"])
        except StockroomError as fault:
            wrong.append(("least offcut", fault))
    if problem := _size_fault(line):
        wrong.append(("size to", problem))
    if (
        line["bridge"]
        and line["unit"]
        and line["unit"].dimension
        not in (
            line["bridge"].left.dimension,
            line["bridge"].right.dimension,
        )
    ):
        wrong.append(("bridge", UsageError(
            phrase(
                "The conversion (%(bridge)s) doesn't touch %(dimension)s, in which the material is kept.",
                bridge=line["bridge"], dimension=line["unit"].dimension,
            ),
            fix=phrase("State one side in %(unit)s.", unit=line["unit"].name),
        )))  # fmt: skip
    for column, error in wrong:
        context.blame(line, error, column=MATERIALS.column(column).title, value=line[column])
    if line["flammable"] is None and any(_FLAMMABLE.fullmatch(mark) for mark in _hazards(line["hazards"])):
        note = phrase("row %(number)s: a hazard says flammable, but the column 'flammable' is blank.", number=line.row)
        context.faults.note(line.place, note)
    return not wrong


def _size_fault(line: ReadRow) -> UsageError | None:
    low, high = line["size from"], line["size to"]
    if high is None:
        return None
    if low is None:
        return UsageError("'size to' needs 'size from'.", fix="Fill in both, or 'size from' alone.")
    if low.system is not high.system:
        return UsageError(
            phrase("%(low)s and %(high)s are of different size systems.", low=low, high=high),
            fix="State both in one system.",
        )
    return (
        UsageError(phrase("%(low)s is larger than %(high)s.", low=low, high=high), fix="Swap them.")
        if low.number > high.number
        else None
    )


def _keeps_dimension(line: ReadRow, material: Material, context: Context) -> bool:
    """Refuse to change what a code is measured in: the ledger's amounts stand in it."""
    before = context.book.materials.get(material.code)
    if not one_spelling(line, context, "materials"):
        return False
    if before is not None and before.dimension is not material.dimension:
        error = UsageError(
            phrase(
                "%(material)s is kept by %(before)s in the book, not by %(dimension)s.",
                material=material.code,
                before=before.dimension,
                dimension=material.dimension,
            ),
            fix="Give the new material a code of its own.",
        )
        context.blame(line, error, column="unit", value=material.unit.name)
        return False
    return True


def _check_groups(found: Iterable[Material], rows: dict[str, ReadRow], context: Context) -> None:
    groups = context.book.catalogue.groups
    for material in found:
        line = rows[material.code]
        if material.code in groups or material.group in context.book.materials:
            error = UsageError("A material and a group share this code.", fix="Give the group a code of its own.")
            context.blame(line, error, column="group", value=material.group or material.code)
        variants = groups.get(material.group, (material,))
        if (first := variants[0]).dimension is not material.dimension:
            error = UsageError(
                phrase(
                    "%(material)s of the same group is kept by %(before)s, this one by %(dimension)s.",
                    material=first.code,
                    before=first.dimension,
                    dimension=material.dimension,
                ),
                fix="Use units of one kind within a group.",
            )
            context.blame(line, error, column="unit", value=material.unit.name)


def read_suppliers(lines: Iterable[ReadRow], context: Context) -> list[Supplier]:
    """Read suppliers, and take them up in the book."""
    found, seen = [], RowsSeen(context, "The code")
    for line in lines:
        if line.bad:
            context.book.declare("suppliers", line["code"])
            continue
        if not _is_weight(line, "minimum weight", context):
            continue
        supplier = _supplier(line)
        if not seen.again(line, supplier.code.casefold(), supplier) and one_spelling(line, context, "suppliers"):
            context.book.add_supplier(supplier)
            found.append(supplier)
    return found


def read_offers(lines: Iterable[ReadRow], context: Context) -> list[Offer]:
    """Read offers."""
    found, seen = [], RowsSeen(context, "The offer")
    for line in lines:
        pack = amount(line, context, column="pack")
        try:
            priced = _pack_in_priced(line, pack, context)
        except UsageError as wrong:
            context.blame(line, wrong, column="pack in priced", value=line["pack in priced"] or "")
            continue
        weighed, returned = _is_weight(line, "pack weight", context), _may_go_back(line, context)
        if line.bad or pack is None or not (weighed and returned):
            continue
        offer = _offer(line, pack, (_priced_per(line, context), priced))
        identity = (offer.supplier, offer.material, offer.supplier_code, pack.nano, offer.valid_from)
        if not seen.again(line, identity, offer):
            context.book.offers.append(offer)
            found.append(offer)
    return found


def read_closures(lines: Iterable[ReadRow], context: Context) -> list[Closure]:
    """Read closures."""
    found, seen = [], RowsSeen(context, "The closure")
    for line in lines:
        last = line["last"] or line["first"]
        if line["first"] and last < line["first"]:
            error = UsageError("The last day comes before the first.", fix="Swap them.")
            context.blame(line, error, column="last", value=last)
        elif not line.bad:
            closure = Closure(
                first=line["first"],
                last=last,
                who=line["who"],
                reason=line["reason"],
                yearly=bool(line["yearly"]),
            )
            if not seen.again(line, closure, closure):
                found.append(closure)
    return found


def read_events(lines: Iterable[ReadRow], context: Context) -> list[Event]:
    """Read events."""
    found, seen = [], RowsSeen(context, "The event")
    for line in lines:
        if line.bad:
            continue
        event = _event(line, context)
        wrong = event_fault(event, job=event.job in context.book.jobs)
        if wrong is not None:
            context.blame(line, wrong[1], column=EVENTS.column(wrong[0]).title, value=line[wrong[0]] or "")
        elif not seen.again(line, (event.name.casefold(), event.day), event):
            found.append(event)
    return found


def _event(line: ReadRow, context: Context) -> Event:
    """Read an event; what it concerns is a job, else a family of jobs."""
    families = {job.family.casefold(): job.family for job in context.book.jobs.values() if job.family}
    concerned = context.book.meant("jobs", line["job"]) or families.get(line["job"].casefold())
    if line["job"] and concerned is None:
        fix = nearest(line["job"], [*context.book.jobs, *families.values()]) or "Leave it blank for all work and sales."
        wrong = phrase("No job, or family of jobs, is called '%(name)s'.", name=line["job"])
        context.blame(line, UnknownError(wrong, fix=fix), column="job", value=line["job"])
    return Event(
        name=line["name"],
        day=line["day"],
        last=line["last"] if line["last"] != line["day"] else None,
        job=concerned or "",
        jobs=line["jobs"],
        usual=tax(line["usual"]),
        material=line["material"],
        pieces=line["pieces"],
    )


def _supplier(line: ReadRow) -> Supplier:
    return Supplier(
        code=line["code"],
        name=line["name"],
        lead_days=line["lead days"],
        carriage=line["carriage"] or 0,
        carriage_free_over=line["carriage free over"],
        minimum_order=line["minimum order"] or 0,
        order_weekdays=line["order weekdays"] or frozenset(range(5)),
        cut_off=line["cut-off"],
        minimum_weight=line["minimum weight"],
        tax_rate=tax(line["tax %"]),
        email=line["email"],
        note=line["note"],
    )


def _is_weight(line: ReadRow, column: str, context: Context) -> bool:
    if line[column] is None or line[column].dimension is Dimension.MASS:
        return True
    error = UsageError("This is no weight.", fix="Give it in kg or g, such as 10 kg.")
    context.blame(line, error, column=column, value=line[column])
    return False


def _may_go_back(line: ReadRow, context: Context) -> bool:
    """Refuse goods on approval, or a cost of sending back, where nothing says until when they may go back."""
    if line["return weeks"] or line["return until"]:
        return True
    column = "on approval" if line["on approval"] else "return cost of a pack" if line["return cost"] else ""
    if not column:
        return True
    error = UsageError(
        "It is not said until when unused packs may go back.", fix="Give 'return weeks', or a day in 'return until'."
    )
    context.blame(line, error, column=column, value="")
    return False


def _priced_per(line: ReadRow, context: Context) -> Quantity | None:
    """Give what the price is for; a dozen of a material kept in pairs is twelve pairs, as in its pack."""
    per, material = line["priced per"], context.book.materials[line["material"]]
    return material.to_base(per) if isinstance(per, Quantity) and per.dimension is material.dimension else per


def _offer(line: ReadRow, pack: Quantity, priced: tuple[Quantity | None, Quantity | None]) -> Offer:
    return Offer(
        supplier=line["supplier"],
        material=line["material"],
        supplier_code=line["supplier code"],
        pack=pack,
        price=line["price"],
        valid_from=line["valid from"],
        pack_name=line["pack name"],
        priced_per=priced[0],
        pack_in_priced=priced[1],
        breaks=line["breaks"],
        minimum_packs=line["minimum packs"] or 1,
        multiple=line["multiple"] or 1,
        pack_weight=line["pack weight"],
        tax_rate=tax(line["tax %"]),
        measured=bool(line["measured"]),
        return_weeks=line["return weeks"] or 0,
        return_until=line["return until"],
        return_cost=line["return cost"] or 0,
        on_approval=bool(line["on approval"]),
    )


def _pack_in_priced(line: ReadRow, pack: Quantity | None, context: Context) -> Quantity | None:
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


def read_services(lines: Iterable[ReadRow], context: Context) -> list[Service]:
    """Read what is to be done to machines now and then."""
    found, seen = [], RowsSeen(context, "The code")
    for line in lines:
        if not line.bad and line["every hours"] is None and line["every days"] is None:
            error = UsageError("How often it is to be done isn't stated.", fix="Fill in hours, days or both.")
            context.blame(line, error, column="every hours", value="")
        if line.bad:
            continue
        service = Service(
            code=line["code"],
            machine=line["machine"],
            name=line["name"],
            every_hours=line["every hours"],
            every_days=line["every days"],
        )
        if not seen.again(line, service.code.casefold(), service):
            found.append(service)
    return found


def read_postage(lines: Iterable[ReadRow], context: Context) -> list[Postage]:
    """Read the price list of the post."""
    found, seen = [], RowsSeen(context, "The code")
    for line in lines:
        if line.bad:
            continue
        packaging = {}
        for code, much in line["packaging"].items():
            try:
                packaging[code] = _packed(code, much, context)
            except StockroomError as wrong:
                context.blame(line, wrong, column="packaging", value=f"{code}={much}")
        kind = Postage(code=line["code"], name=line["name"], cost=line["cost"], packaging=packaging)
        if not line.bad and not seen.again(line, kind.code.casefold(), kind):
            found.append(kind)
    return found


def _packed(code: str, much: str, context: Context) -> Quantity:
    material = context.book.materials.get(code)
    if material is None:
        raise UnknownError(
            phrase("No material has the code '%(code)s'.", code=code),
            fix=nearest(code, context.book.materials) or "Check the code in materials.",
        )
    return material.to_base(typed_amount(much, material.unit))
