"""Write values as the texts that reading files expects: ISO dates, decimal points, units by name."""

from collections.abc import Iterator, Mapping
from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from stockroom.demo.materials import BENCH, COUNTER
from stockroom.demo.recipes import JOBS, recipes
from stockroom.demo.seasons import SETTINGS, closures, events
from stockroom.demo.trade import SUPPLIERS, offers
from stockroom.stock.materials import Material
from stockroom.stock.money import major
from stockroom.stock.quantities import UNITS, Bridge, Quantity, Unit, plain
from stockroom.stock.recipes import Job, Recipe, RecipeLine, recipe_catalogue
from stockroom.stock.shop import write_weekdays
from stockroom.stock.suppliers import Offer, Supplier

DIGITS = 2  # of the demo's currency
_LARGE = {name: UNITS[name] for name in ("l", "kg", "sq ft")}


def money(minor_units: int | None) -> str:
    """Write cents as euros; blank for none."""
    return "" if minor_units is None else str(major(minor_units, DIGITS))


def moment(when: datetime | None) -> str:
    """Write a moment to the minute; blank for none."""
    return "" if when is None else when.isoformat(sep=" ", timespec="minutes")


def yes(flag: bool) -> str:  # noqa: FBT001 -- the flag is the value
    """Write 'yes', or nothing for no."""
    return "yes" if flag else ""


def number(amount: Fraction | Decimal) -> str:
    """Write an exact decimal without idle zeros."""
    exact = Fraction(amount)
    return plain(Decimal(exact.numerator) / Decimal(exact.denominator))


def pairs(named: Mapping[str, str]) -> str:
    """Write names with values, such as 'sole=bend; colour=black'."""
    return "; ".join(f"{name}={value}" for name, value in named.items())


def in_unit(amount: Quantity | int, unit: Unit) -> str:
    """Write how many of a unit an amount (or its nano) is."""
    nano = amount if isinstance(amount, int) else amount.nano
    return plain(unit.count(nano))


def with_unit(amount: Quantity | None) -> str:
    """Write an amount with a handy unit, such as '1 kg'."""
    if amount is None:
        return ""
    unit = handy(amount)
    return f"{in_unit(amount, unit)} {unit.name}"


def handy(amount: Quantity) -> Unit:
    """Pick the unit an amount reads best in."""
    whole = (u for u in _LARGE.values() if u.dimension is amount.dimension and amount.nano % (u.nano // 10) == 0)
    return next(whole, amount.dimension.base)


def recipe_unit(material: Material, amount: Quantity) -> Unit:
    """Pick the unit for a recipe's line: the material's own, unless a bench measures it smaller."""
    shown = material.unit
    return amount.dimension.base if shown.dimension is not amount.dimension or shown.name in ("l", "kg") else shown


MATERIALS: tuple[Material, ...] = (*BENCH, *COUNTER)
SHELF = recipe_catalogue(MATERIALS)
OFFERS = offers(MATERIALS)
RECIPES = recipes()
Row = dict[str, str]


def rows() -> dict[str, list[Row]]:
    """Give the rows of every catalogue file, by the file's stem."""
    return {
        "shop": [{"setting": name, "value": value} for name, value in SETTINGS.items()],
        "materials": [_material(each) for each in MATERIALS],
        "suppliers": [_supplier(each) for each in SUPPLIERS],
        "offers": [_offer(each) for each in OFFERS],
        "jobs": [_job(each) for each in JOBS],
        "recipes": [row for recipe in RECIPES for row in _recipe(recipe)],
        "closures": [
            {"first": str(c.first), "last": str(c.last), "who": c.who, "reason": c.reason} for c in closures()
        ],
        "events": [{"name": event.name, "day": str(event.day)} for event in events()],
    }


def _material(each: Material) -> Row:
    return {
        "code": each.code,
        "name": each.name,
        "family": each.family,
        "unit": each.unit.name,
        "purpose": each.purpose,
        "group": each.group,
        "size from": str(each.size_from or ""),
        "size to": str(each.size_to or ""),
        "colour": each.colour,
        "thickness": each.thickness,
        "bridge": _bridge(each.bridge),
        "sell price": money(each.sell_price),
        "shelf life days": str(each.shelf_life_days or ""),
        "hazards": " ".join(each.hazards),
        "flammable": yes(each.flammable),
        "place": each.place,
        "usual cost": money(each.usual_cost),
        "extra": pairs(each.extra),
        "other words": each.other_words,
        "note": each.note,
    }


def _bridge(made: Bridge | None) -> str:
    return f"{with_unit(made.left)} = {with_unit(made.right)}" if made else ""


def _supplier(each: Supplier) -> Row:
    return {
        "code": each.code,
        "name": each.name,
        "lead days": str(each.lead_days),
        "carriage": money(each.carriage),
        "carriage free over": money(each.carriage_free_over),
        "minimum order": money(each.minimum_order or None),
        "order weekdays": write_weekdays(each.order_weekdays),
        "cut-off": each.cut_off.isoformat("minutes") if each.cut_off else "",
        "email": each.email,
        "note": each.note,
    }


def _offer(each: Offer) -> Row:
    unit = SHELF.materials[each.material].unit
    return {
        "supplier": each.supplier,
        "material": each.material,
        "supplier code": each.supplier_code,
        "pack": in_unit(each.pack, unit),
        "unit": unit.name,
        "pack name": each.pack_name,
        "price": money(each.price),
        "priced per": with_unit(each.priced_per),
        "pack in priced": with_unit(each.pack_in_priced),
        "breaks": "; ".join(f"{each_break.packs}={money(each_break.price)}" for each_break in each.breaks),
        "minimum packs": str(each.minimum_packs) if each.minimum_packs > 1 else "",
        "valid from": str(each.valid_from),
        "measured": yes(each.measured),
    }


def _job(each: Job) -> Row:
    return {
        "code": each.code,
        "name": each.name,
        "family": each.family,
        "price": money(each.price),
        "bench minutes": str(each.bench_minutes),
        "sized": yes(each.sized),
    }


def _recipe(recipe: Recipe) -> Iterator[Row]:
    reference = " = ".join(str(size) for size in recipe.reference)
    for line in recipe.lines:
        yield {
            "job": recipe.job,
            "valid from": str(recipe.valid_from),
            "reference size": reference,
            **_recipe_line(line),
            "source": recipe.source,
        }


def _recipe_line(line: RecipeLine) -> Row:
    unit = recipe_unit(_first_variant(line.material), line.amount)
    return {
        "line": line.name,
        "choice": line.choice,
        "option": line.option,
        "material": line.material,
        "amount": in_unit(line.amount, unit),
        "unit": unit.name,
        "per": line.per,
        "sizing": line.sizing,
        "waste %": number(line.waste) if line.waste else "",
        "coats": str(line.coats) if line.coats > 1 else "",
        "chance": number(line.chance) if line.chance < 1 else "",
    }


def _first_variant(code: str) -> Material:
    return SHELF.materials.get(code) or SHELF.groups[code][0]
