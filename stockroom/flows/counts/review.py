"""Counted bins reviewed: how close is close enough in this shop, what agrees with the book, what to count again."""

import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from fractions import Fraction

from stockroom.counting.reconcile import Bin, CountVerdict, Difference, Grade, Rules, compare, grades
from stockroom.errors import BookError, UnknownError
from stockroom.phrases import phrase
from stockroom.stock.counts import CountLine, CountReason
from stockroom.stock.materials import Material
from stockroom.stock.money import half_up
from stockroom.stock.moves import USED, WRITTEN_OFF
from stockroom.stock.quantities import NANO
from stockroom.stock.shop import Shop
from stockroom.stock.suppliers import current, unit_costs
from stockroom.store import catalogue, counts, ledger, result_cache, usage
from stockroom.store.book import Book, Session
from stockroom.store.counts import KeptLine

YEAR = timedelta(days=365)
NAME = "a year's use"
MANY = 500  # documents after which it is added up again on the same day
USE = (*USED, *WRITTEN_OFF)
PER_CENT = 100
ONE_OCCASION = timedelta(days=1)  # counts of a bin on two sheets within a day are one occasion
WAITING = ("open", "recounted")  # what a recount is compared with


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

    def bin(self, line: CountLine, booked: int) -> Bin:
        """Put a counted line beside what the book says of it, in nano."""
        code = line.material
        return Bin(
            material=self.materials[code], line=line, booked=booked, cost=self.costs[code], grade=self.grade(code)
        )


def measures(session: Session, moment: datetime) -> Measures:
    """Read what differences are judged by, as of a moment."""
    materials = {m.code: m for m in catalogue.read_materials(session)}
    offers = catalogue.read_offers(session, {code: m.dimension for code, m in materials.items()})
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


def review(book: Book, sheet: str, moment: datetime) -> list[Difference]:
    """Set every bin of a sheet against the book, by shelf place."""
    with book.reading() as session:
        by = measures(session, moment)
        found = reviewed(session, sheet, by)
    keep(book, by)
    return found


def reviewed(session: Session, sheet: str, by: Measures) -> list[Difference]:
    """Set a sheet against the book within a transaction under way.

    Raises
    ------
    UnknownError
        If nothing was counted on that sheet.
    """
    kinds = catalogue.dimensions(session)
    known_sheet = [k for k in counts.read_lines(session, kinds, sheet=sheet) if k.state != "dropped"]
    kept = [k for state in WAITING for k in counts.read_lines(session, kinds, state=state)]
    if not known_sheet:
        near = ", ".join(dict.fromkeys(k.sheet for k in kept if k.state == "open")) or phrase("none")
        raise UnknownError(
            phrase("Nothing was counted on sheet '%(sheet)s'.", sheet=sheet),
            fix=phrase("Sheets not posted yet: %(near)s.", near=near),
        )
    made = []
    for mine in _by_bin([k for k in known_sheet if k.state != "recounted"]).values():
        made += [_settled(session, k, by) for k in mine if k.state == "settled"]
        if waiting := [k for k in mine if k.state == "open"]:
            made.append(_open(session, waiting[-1], _rivals(kept, waiting[-1]), by))
    return sorted(made, key=lambda one: (one.bin.material.place, one.bin.material.code, one.bin.line.counted))


def _by_bin(kept: Sequence[KeptLine]) -> dict[tuple[str, str], list[KeptLine]]:
    found: dict[tuple[str, str], list[KeptLine]] = {}
    for each in kept:
        found.setdefault((each.line.material, each.line.site), []).append(each)
    return found


def _rivals(kept: Sequence[KeptLine], last: KeptLine) -> list[KeptLine]:
    """Find other counts of the same bin that are still to be settled: on this sheet, or on another within a day."""
    return [
        each
        for each in kept
        if each.id != last.id
        and each.state in WAITING
        and (each.line.material, each.line.site) == (last.line.material, last.line.site)
        and (each.sheet == last.sheet or abs(each.line.counted - last.line.counted) <= ONE_OCCASION)
    ]


def _open(session: Session, last: KeptLine, rivals: list[KeptLine], by: Measures) -> Difference:
    mine = _bin(session, last, by)
    if any(r.state == "open" and _after(r, last) for r in rivals):
        why = phrase("counted again later on another sheet: that count holds")
        found = compare(mine, by.rules)
        return replace(found, verdict=CountVerdict.RECOUNT, why=why, number=last.id, superseded=True)
    found = compare(_explained(mine, by), by.rules, [_bin(session, r, by) for r in rivals])
    others = tuple(r.id for r in rivals if r.state == "open")
    return replace(found, why=_why(found, len(rivals)), number=last.id, others=others)


def _after(one: KeptLine, other: KeptLine) -> bool:
    return (one.line.counted, one.id) > (other.line.counted, other.id)


def _settled(session: Session, kept: KeptLine, by: Measures) -> Difference:
    line = kept.line
    corrected = ledger.counted_differences(session, line.material, line.site, line.counted)
    found = compare(by.bin(line, line.amount.nano - corrected), by.rules)
    return replace(found, why=phrase("posted"), number=kept.id, settled=True)


def _bin(session: Session, kept: KeptLine, by: Measures) -> Bin:
    line = kept.line
    return by.bin(line, ledger.bin_balance(session, line.material, line.site, line.counted))


def _explained(of: Bin, by: Measures) -> Bin:
    """Call what the aid alone explains measuring, unless a reason was stated."""
    within = of.gap and abs(of.gap) <= by.rules.errors * of.error
    unstated = of.line.reason is CountReason.OTHER
    return replace(of, line=replace(of.line, reason=CountReason.MEASURING)) if unstated and within else of


def _why(found: Difference, rivals: int) -> str:
    if rivals and not found.postable:
        return phrase("counted %(times)s times, with different results: count it once more", times=rivals + 1)
    if rivals and found.right:
        return phrase("counted again, and as in the book: this count holds")
    if rivals:
        return phrase("counted twice, with the same result: the later count holds")
    words = {
        CountVerdict.AGREES: phrase("exactly as in the book"),
        CountVerdict.WITHIN: phrase("within the tolerance of its ABC class and counting method"),
        CountVerdict.RECOUNT: phrase("outside the tolerance of ABC class %(grade)s", grade=str(found.bin.grade)),
    }
    return words.get(found.verdict, phrase(found.verdict.label))


def open_sheets(book: Book) -> dict[str, int]:
    """Give the sheets with bins still to be settled, and how many, in the order they were counted."""
    with book.reading() as session:
        found: dict[str, int] = {}
        for kept in counts.read_lines(session, catalogue.dimensions(session), state="open"):
            found[kept.sheet] = found.get(kept.sheet, 0) + 1
        return found
