"""Settings and materials."""

import re
from collections.abc import Iterable

from stockroom.errors import StockroomError, UnknownError, UsageError
from stockroom.intake.fields import plain_header
from stockroom.intake.locales import marks_of
from stockroom.intake.readers.rows import Context, Seen, one_spelling, tax
from stockroom.intake.tables import Line
from stockroom.phrases import phrase
from stockroom.stock.materials import Material, Purpose
from stockroom.stock.shop import Shop, with_setting

_HAZARD = re.compile(r"(?:EU)?H[0-9]{3}[A-Za-z]{0,2}")
_FLAMMABLE = re.compile(r"H22[0-9].*")  # GHS statements on flammable gases, aerosols, liquids and solids


def read_shop(lines: Iterable[Line], context: Context) -> dict[str, str]:
    """Read settings; each is tried on the shop's defaults."""
    shop, settings, seen = Shop(), dict[str, str](), Seen(context, "The setting")
    for line in lines:
        name = plain_header(line["setting"]).replace(" ", "_")
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


def read_materials(lines: Iterable[Line], context: Context) -> list[Material]:
    """Read materials, and take them up in the book."""
    found, seen, rows = [], Seen(context, "The code"), {}
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
    return found


def _material(line: Line, context: Context) -> Material:
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
        usual_cost=line["usual cost"],
        active=line["active"] is not False,
        extra=dict(line["extra"]),
    )


def _hazards(stated: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(stated.replace(",", " ").replace(";", " ").replace("+", " ").split()))


def _check_material(line: Line, context: Context) -> bool:
    wrong = [
        (
            "hazards",
            UsageError(
                phrase("'%(mark)s' is not a hazard statement.", mark=mark), fix="Write H-codes, such as H225 H319."
            ),
        )
        for mark in _hazards(line["hazards"])
        if not _HAZARD.fullmatch(mark)
    ]
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
                "The bridge (%(bridge)s) doesn't touch %(dimension)s, in which the material is kept.",
                bridge=line["bridge"], dimension=line["unit"].dimension,
            ),
            fix=phrase("State one side in %(unit)s.", unit=line["unit"].name),
        )))  # fmt: skip
    for column, error in wrong:
        context.blame(line, error, column=column, value=line[column])
    if line["flammable"] is None and any(_FLAMMABLE.fullmatch(mark) for mark in _hazards(line["hazards"])):
        note = phrase("row %(number)s: a hazard says flammable, but the column 'flammable' is blank.", number=line.row)
        context.faults.note(line.place, note)
    return not wrong


def _size_fault(line: Line) -> UsageError | None:
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


def _keeps_dimension(line: Line, material: Material, context: Context) -> bool:
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


def _check_groups(found: Iterable[Material], rows: dict[str, Line], context: Context) -> None:
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
