"""The invented shop's catalogue, put together, and its rows for the files."""

from collections.abc import Iterator

from stockroom.demo.bench_shelf import BENCH
from stockroom.demo.cells import in_unit, money, number, pairs, recipe_unit, with_unit, yes
from stockroom.demo.counter_shelf import COUNTER
from stockroom.demo.diary import SETTINGS, closures, events
from stockroom.demo.price_list import JOBS
from stockroom.demo.recipe_cards import recipes
from stockroom.demo.trade import SUPPLIERS, offers
from stockroom.stock.materials import Material
from stockroom.stock.quantities import Bridge
from stockroom.stock.recipes import Job, Recipe, RecipeLine, catalogue
from stockroom.stock.shop import write_weekdays
from stockroom.stock.suppliers import Offer, Supplier

MATERIALS: tuple[Material, ...] = (*BENCH, *COUNTER)
SHELF = catalogue(MATERIALS)
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
