"""How close is close enough in this shop: classes by a year's use, tolerances by its settings, costs by its offers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from stockroom.counting.reconcile import Grade, Rules, grades
from stockroom.stock.materials import Material
from stockroom.stock.money import half_up
from stockroom.stock.moves import MoveKind
from stockroom.stock.quantities import NANO
from stockroom.stock.shop import Shop
from stockroom.stock.suppliers import current
from stockroom.store import catalogue, ledger, suppliers
from stockroom.store.book import Session

YEAR = timedelta(days=365)
USE = (MoveKind.JOB_USE, MoveKind.REDO_USE, MoveKind.SALE, MoveKind.WASTE, MoveKind.EXPIRY, MoveKind.OWN_USE)
PER_CENT = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """What a difference is judged by."""

    materials: Mapping[str, Material]
    rules: Rules
    grades: Mapping[str, Grade]
    costs: Mapping[str, Fraction]  # minor units of money per base unit
    usual: Mapping[str, int]  # a week's use, nano

    def grade(self, code: str) -> Grade:
        """Class of a material; never used is C."""
        return self.grades.get(code, Grade.C)


def measures(session: Session, moment: datetime) -> Measures:
    """Read what differences are judged by, as of a moment."""
    materials = {m.code: m for m in catalogue.read_materials(session)}
    costs = _costs(session, list(materials.values()), moment)
    used = _used(session, moment)
    values = {code: half_up(used.get(code, 0) * costs[code] / NANO) for code in materials}
    stated = rules_of(catalogue.read_shop(session))
    return Measures(
        materials=materials,
        rules=stated,
        grades=grades(values, stated),
        costs=costs,
        usual={code: nano * 7 // YEAR.days for code, nano in used.items()},
    )


def rules_of(shop: Shop) -> Rules:
    """Give the shop's rules for counts."""
    return Rules(
        cut_a=Fraction(shop.cut_a) / PER_CENT,
        cut_b=Fraction(shop.cut_b) / PER_CENT,
        share={
            Grade.A: Fraction(shop.tolerance_a) / PER_CENT,
            Grade.B: Fraction(shop.tolerance_b) / PER_CENT,
            Grade.C: Fraction(shop.tolerance_c) / PER_CENT,
        },
        counts_a_year={Grade.A: shop.counts_a_year_a, Grade.B: shop.counts_a_year_b, Grade.C: shop.counts_a_year_c},
    )


def _used(session: Session, moment: datetime) -> dict[str, int]:
    """Add up a year's use by material, in nano."""
    first, last = (moment - YEAR).date().isoformat(), moment.date().isoformat()
    found: dict[str, int] = {}
    for code, day, nano in ledger.daily_sums(session, USE):
        if first < day <= last:
            found[code] = found.get(code, 0) - nano
    return {code: max(nano, 0) for code, nano in found.items()}


def _costs(session: Session, materials: Sequence[Material], moment: datetime) -> dict[str, Fraction]:
    """Cost of a base unit by the cheapest offer in force, or else the usual cost on the card."""
    costs = {m.code: Fraction(m.usual_cost or 0) * NANO / m.unit.nano for m in materials}
    offered: dict[str, Fraction] = {}
    offers = suppliers.read_offers(session, {m.code: m.dimension for m in materials})
    for offer in current(offers, moment.date()):
        bulk = offer.minimum_packs * offer.pack.nano
        each = Fraction(offer.cost(offer.minimum_packs)) * NANO / bulk
        offered[offer.material] = min(each, offered.get(offer.material, each))
    return costs | offered
