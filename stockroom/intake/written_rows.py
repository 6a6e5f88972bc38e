"""Nouns of the lists as rows of the files that say them: read again, each gives the same noun.

Figures are written by the shop's locale, days in ISO form, which every locale reads.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from stockroom.errors import UnitsError
from stockroom.intake.cells import Marks
from stockroom.stock.agreements import StandingOrder, Substitute
from stockroom.stock.calendar import Closure, Event
from stockroom.stock.machines import Service
from stockroom.stock.materials import Material
from stockroom.stock.money import major
from stockroom.stock.postage import Postage
from stockroom.stock.quantities import Bridge, Dimension, Quantity, Unit, plain, unit
from stockroom.stock.recipes import Job, Recipe, RecipeLine
from stockroom.stock.shop import write_weekdays
from stockroom.stock.suppliers import Offer, Supplier

Row = Mapping[str, str]
_SMALLER = {Dimension.LENGTH: "cm", Dimension.VOLUME: "ml", Dimension.MASS: "g", Dimension.AREA: "cm2"}
_LONGEST = 14  # marks of a figure that is still read at a glance
KILO = unit("kg")
_SMALL = Decimal("0.1")  # of a material's own unit: less is said in a smaller one


@dataclass(frozen=True, slots=True)
class RowWriter:
    """Writes rows by a locale's marks and the currency's decimals."""

    marks: Marks
    digits: int
    units: Mapping[str, Unit]  # of materials and groups: what amounts of them are shown in

    def material(self, noun: Material) -> Row:
        """Write a material."""
        return {
            "code": noun.code,
            "name": noun.name,
            "family": noun.family,
            "unit": noun.unit.name,
            "purpose": str(noun.purpose),
            "group": noun.group,
            "size from": _text(noun.size_from),
            "size to": _text(noun.size_to) if noun.size_to != noun.size_from else "",
            "colour": noun.colour,
            "thickness": self._local(noun.thickness),
            "bridge": self._bridge(noun.bridge),
            "sell price": self._money(noun.sell_price),
            "tax %": self._local(noun.tax_rate),
            "shelf life days": _text(noun.shelf_life_days),
            "hazards": " ".join(noun.hazards),
            "flammable": _yes(said=noun.flammable),
            "place": noun.place,
            "usual cost": self._money(noun.usual_cost),
            "usual cost for": str(noun.usual_cost_for) if noun.usual_cost_for != 1 else "",
            "usual a week": self._local(noun.weekly),
            "active": _yes(said=noun.active),
            "extra": "; ".join(f"{name}={value}" for name, value in noun.extra.items()),
            "other words": noun.other_words,
            "least offcut": noun.least_offcut,
            "like": noun.alike,
            "replaces": noun.replaces,
            "replaces at": self._bridge(noun.replaces_at),
            "note": noun.note,
        }

    def supplier(self, noun: Supplier) -> Row:
        """Write a supplier."""
        return {
            "code": noun.code,
            "name": noun.name,
            "lead days": str(noun.lead_days),
            "carriage": self._money(noun.carriage or None),
            "carriage free over": self._money(noun.carriage_free_over),
            "minimum order": self._money(noun.minimum_order or None),
            "order weekdays": write_weekdays(noun.order_weekdays),
            "cut-off": noun.cut_off.isoformat("minutes") if noun.cut_off else "",
            "tax %": self._local(noun.tax_rate),
            "email": noun.email,
            "note": noun.note,
            "minimum weight": self._weight(noun.minimum_weight),
        }

    def offer(self, noun: Offer) -> Row:
        """Write an offer."""
        pack, of = self._amount(noun.pack, self.units[noun.material])
        return {
            "supplier": noun.supplier,
            "material": noun.material,
            "supplier code": noun.supplier_code,
            "pack": pack,
            "unit": of,
            "pack name": noun.pack_name,
            "price": self._money(noun.price),
            "priced per": self._quantity(noun.priced_per),
            "pack in priced": self._quantity(noun.pack_in_priced),
            "breaks": "; ".join(f"{each.packs}={self._money(each.price)}" for each in noun.breaks),
            "minimum packs": str(noun.minimum_packs) if noun.minimum_packs != 1 else "",
            "valid from": noun.valid_from.isoformat(),
            "tax %": self._local(noun.tax_rate),
            "measured": _yes(said=noun.measured),
            "multiple": str(noun.multiple) if noun.multiple != 1 else "",
            "pack weight": self._weight(noun.pack_weight),
            "return weeks": str(noun.return_weeks) if noun.return_weeks else "",
            "return until": noun.return_until.isoformat() if noun.return_until else "",
            "return cost": self._money(noun.return_cost) if noun.return_cost else "",
            "on approval": "yes" if noun.on_approval else "",
        }

    def job(self, noun: Job) -> Row:
        """Write a job."""
        return {
            "code": noun.code,
            "name": noun.name,
            "family": noun.family,
            "price": self._money(noun.price),
            "price of one shoe": self._money(noun.single_price),
            "tax %": self._local(noun.tax_rate),
            "bench minutes": str(noun.bench_minutes) if noun.bench_minutes else "",
            "sized": _yes(said=noun.sized),
            "usual a week": self._local(noun.weekly),
            "active": _yes(said=noun.active),
            "season": noun.season,
            "like": noun.alike,
        }

    def recipe(self, noun: Recipe) -> tuple[Row, ...]:
        """Write a version of a recipe, a row for each of its lines."""
        return tuple(self._recipe_line(noun, line) for line in noun.lines)

    def closure(self, noun: Closure) -> Row:
        """Write a closure."""
        last = noun.last.isoformat() if noun.last != noun.first else ""
        return {
            "first": noun.first.isoformat(),
            "last": last,
            "who": noun.who,
            "reason": noun.reason,
            "yearly": "yes" if noun.yearly else "",
        }

    def substitute(self, noun: Substitute) -> Row:
        """Write what does another's work."""
        does = self._fraction(noun.does) if noun.does != 1 else ""
        way = "yes" if noun.one_way else ""
        return {"material": noun.material, "substitute": noun.other, "does": does, "one way": way}

    def standing(self, noun: StandingOrder) -> Row:
        """Write a standing order."""
        return {
            "supplier": noun.supplier,
            "material": noun.material,
            "supplier code": noun.supplier_code,
            "packs": str(noun.packs),
            "weeks": str(noun.weeks),
            "first": noun.first.isoformat(),
            "last": noun.last.isoformat() if noun.last else "",
        }

    def postage(self, noun: Postage) -> Row:
        """Write a kind of parcel."""
        packed = "; ".join(
            f"{code}={' '.join(self._amount(much, self.units[code]))}" for code, much in noun.packaging.items()
        )
        return {"code": noun.code, "name": noun.name, "cost": self._money(noun.cost), "packaging": packed}

    def service(self, noun: Service) -> Row:
        """Write what is to be done to a machine."""
        return {
            "code": noun.code,
            "machine": noun.machine,
            "name": noun.name,
            "every hours": _text(noun.every_hours),
            "every days": _text(noun.every_days),
        }

    def event(self, noun: Event) -> Row:
        """Write an event."""
        return {
            "name": noun.name,
            "day": noun.day.isoformat(),
            "last": noun.last.isoformat() if noun.last else "",
            "job": noun.job,
            "jobs": _text(noun.jobs),
            "usual": self._local(noun.usual),
            "material": noun.material,
            "pieces": _text(noun.pieces),
        }

    def _recipe_line(self, recipe: Recipe, line: RecipeLine) -> Row:
        amount, of = self._amount(line.amount, self.units.get(line.material, line.amount.dimension.base))
        return {
            "job": recipe.job,
            "valid from": recipe.valid_from.isoformat(),
            "reference size": " = ".join(str(size) for size in recipe.reference),
            "line": line.name,
            "choice": line.choice,
            "option": line.option,
            "material": line.material,
            "amount": amount if line.amount.nano else "",
            "unit": of if line.amount.nano else "",
            "per": str(line.per),
            "sizing": str(line.sizing),
            "growth": "" if line.growth is None else self._fraction(line.growth),
            "waste %": self._fraction(line.waste) if line.waste else "",
            "coats": str(line.coats) if line.coats != 1 else "",
            "chance": str(line.chance) if line.chance != 1 else "",
            "machine": line.machine,
            "machine minutes": "" if line.minutes is None else self._fraction(line.minutes),
            "life in hours": "" if line.life_hours is None else self._fraction(line.life_hours),
            "source": recipe.source,
        }

    def _amount(self, amount: Quantity, shown: Unit) -> tuple[str, str]:
        """Write an amount and its unit: the material's, a smaller one, or the base unit, whichever says it exactly."""
        units = [shown] if shown.dimension is amount.dimension else []
        smaller = _SMALLER.get(amount.dimension)
        if smaller and units and units[0].count(amount.nano) < _SMALL:
            units = [unit(smaller), *units]
        for each in units:
            figure = each.count(amount.nano)
            if _says(each, figure, amount):
                return self._figure(figure), each.name
        base = amount.dimension.base
        return self._figure(base.count(amount.nano)), base.name

    def _quantity(self, amount: Quantity | None) -> str:
        return "" if amount is None else " ".join(self._amount(amount, amount.dimension.base))

    def _weight(self, amount: Quantity | None) -> str:
        if amount is None:
            return ""
        heavy = amount.nano >= KILO.nano
        return " ".join(self._amount(amount, KILO if heavy else amount.dimension.base))

    def _bridge(self, joined: Bridge | None) -> str:
        return f"{self._quantity(joined.left)} = {self._quantity(joined.right)}" if joined else ""

    def _fraction(self, number: Fraction) -> str:
        return self._figure(Decimal(number.numerator) / Decimal(number.denominator))

    def _money(self, minor_units: int | None) -> str:
        return "" if minor_units is None else self._local(f"{major(minor_units, self.digits):f}")

    def _figure(self, number: Decimal) -> str:
        return self._local(plain(number))

    def _local(self, text: str) -> str:
        return text.replace(".", self.marks.decimal)


def _says(each: Unit, figure: Decimal, amount: Quantity) -> bool:
    """Say whether a figure in a unit is short enough to be read, and reads as the amount."""
    try:
        return len(plain(figure)) <= _LONGEST and each.of(figure).nano == amount.nano
    except UnitsError:
        return False


def _text(found: object) -> str:
    return "" if found is None else str(found)


def _yes(*, said: bool) -> str:
    return "yes" if said else "no"


def writers(writer: RowWriter) -> Mapping[str, Callable[[Any], Row | Sequence[Row]]]:
    """Give what writes each kind of list."""
    return {
        "materials": writer.material,
        "suppliers": writer.supplier,
        "offers": writer.offer,
        "jobs": writer.job,
        "recipes": writer.recipe,
        "closures": writer.closure,
        "events": writer.event,
        "postage": writer.postage,
        "services": writer.service,
        "substitutes": writer.substitute,
        "standing": writer.standing,
    }
