"""How close is close enough in this shop: classes by a year's use, tolerances by its settings, costs by its offers."""

import json
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from stockroom.counting.reconcile import Grade, Rules, grades
from stockroom.errors import BookError
from stockroom.stock.materials import Material
from stockroom.stock.money import half_up
from stockroom.stock.moves import MoveKind
from stockroom.stock.quantities import NANO
from stockroom.stock.shop import Shop
from stockroom.stock.suppliers import Offer, current
from stockroom.store import catalogue, ledger, result_cache, suppliers, usage
from stockroom.store.book import Book, Session

YEAR = timedelta(days=365)
NAME = "a year's use"
MANY = 500  # documents after which it is added up again on the same day
USE = (MoveKind.JOB_USE, MoveKind.REDO_USE, MoveKind.SALE, MoveKind.WASTE, MoveKind.EXPIRY, MoveKind.OWN_USE)
PER_CENT = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """What a difference is judged by."""

    materials: Mapping[str, Material]
    rules: Rules
    grades: Mapping[str, Grade]
    costs: Mapping[str, Fraction]  # minor units of money per base unit
    used: Mapping[str, int]  # in a year, nano
    moment: datetime
    fresh: bool = False  # worked out afresh, and worth keeping

    def grade(self, code: str) -> Grade:
        """Class of a material; never used is C."""
        return self.grades.get(code, Grade.C)


def measures(session: Session, moment: datetime) -> Measures:
    """Read what differences are judged by, as of a moment."""
    materials = {m.code: m for m in catalogue.read_materials(session)}
    offers = suppliers.read_offers(session, {code: m.dimension for code, m in materials.items()})
    costs = unit_costs(materials.values(), current(offers, moment.date()))
    used, fresh = _used(session, moment)
    values = {code: half_up(used.get(code, 0) * costs[code] / NANO) for code in materials}
    stated = rules_of(catalogue.read_shop(session))
    return Measures(
        materials=materials,
        rules=stated,
        grades=grades(values, stated),
        costs=costs,
        used=used,
        moment=moment,
        fresh=fresh,
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


def _used(session: Session, moment: datetime) -> tuple[dict[str, int], bool]:
    """Give a year's use by material until the day before, in nano, and whether it was worked out afresh."""
    kept = result_cache.recall(session, NAME, _mark(session, moment))
    if kept is not None:
        return {str(code): int(nano) for code, nano in json.loads(kept).items()}, False
    last = moment.date() - timedelta(days=1)
    found = usage.used_between(session, USE, moment.date() - YEAR, last)
    return {code: max(nano, 0) for code, nano in found.items()}, True


def keep(book: Book, by: Measures) -> None:
    """Keep a year's use for the day; where the book can't be written it is added up again."""
    if by.fresh:
        with suppress(BookError), book.writing() as session:
            result_cache.remember(session, NAME, _mark(session, by.moment), json.dumps(by.used, separators=(",", ":")))


def _mark(session: Session, moment: datetime) -> str:
    """Mark the day, and roughly how much is in the book: a load on the same day changes a year's use."""
    return f"{moment.date()}|{ledger.head(session)[0] // MANY}"


def unit_costs(materials: Iterable[Material], offers: Iterable[Offer]) -> dict[str, Fraction]:
    """Cost of a base unit in minor units: by the cheapest offer in force, or else the usual cost on the card."""
    costs = {m.code: Fraction(m.usual_cost or 0) * NANO / m.unit.nano for m in materials}
    offered: dict[str, Fraction] = {}
    for offer in offers:
        bulk = offer.minimum_packs * offer.pack.nano
        each = Fraction(offer.cost(offer.minimum_packs)) * NANO / bulk
        offered[offer.material] = min(each, offered.get(offer.material, each))
    return costs | offered
