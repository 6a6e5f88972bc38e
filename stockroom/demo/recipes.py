"""What the invented shop believes its jobs use: recipe cards in versions. All amounts are our own guesses."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from stockroom.stock.quantities import quantity
from stockroom.stock.recipes import Job, Per, Recipe, RecipeLine, Sizing
from stockroom.stock.shoe_sizes import shoe_size

FIRST_DAY = date(2023, 11, 1)
_REFERENCE = (shoe_size("EU 42"), shoe_size("UK 8"))


def _line(name: str, what: str, **more: Any) -> RecipeLine:  # noqa: ANN401 -- passed on
    """Make a line from its name and 'MATERIAL: amount unit', such as 'CEM-SOLV: 9 ml'."""
    material, amount = what.split(": ")
    return RecipeLine(name=name, material=material, amount=quantity(amount), **more)


def _area(name: str, what: str, **more: Any) -> RecipeLine:  # noqa: ANN401 -- passed on
    return _line(name, what, sizing=Sizing.AREA, **more)


def _long(name: str, what: str, **more: Any) -> RecipeLine:  # noqa: ANN401 -- passed on
    return _line(name, what, sizing=Sizing.LENGTH, **more)


def _job_line(name: str, what: str, **more: Any) -> RecipeLine:  # noqa: ANN401 -- passed on
    return _line(name, what, per=Per.JOB, **more)


def _share(text: str) -> Fraction:
    return Fraction(Decimal(text))


_BAG = (_job_line("carrier bag", "BAG: 1 piece", chance=_share("0.8")),)
_PACKING = (
    _job_line("carrier bag", "BAG: 1 piece", choice="packing", option="bag"),
    _job_line("posting box", "BOX-POST: 1 piece", choice="packing", option="box"),
    _job_line("box tape", "TAPE: 1.3 m", choice="packing", option="box"),
)
_SCOUR = (
    _line("coarse scouring", "SCOUR-P40: 0.014 piece"),
    _line("fine scouring", "SCOUR-P80: 0.012 piece"),
    _line("finishing", "DISC-P120: 0.05 piece"),
)
_EDGE = (_long("edge ink", "EDGE: 2.2 ml"), _line("edge wax", "WAX-EDGE: 1.2 g"))
_HALF_SOLES = (
    _line("half sole, rubber", "HALF-RUB: 1 pair", choice="sole", option="rubber"),
    _area("half sole, leather", "BEND-OAK: 2.6 dm2", choice="sole", option="leather", waste=Fraction(24)),
    _area("half sole, sheet", "RUB-4: 2.7 dm2", choice="sole", option="sheet", waste=Fraction(16)),
    _area("half sole, brown sheet", "RUB-6: 2.7 dm2", choice="sole", option="brown sheet", waste=Fraction(16)),
    _line("primer", "PRIMER: 3 ml", choice="sole", option="rubber"),
    _area("sole cement", "CEM-SOLV: 5.5 ml", coats=2),
)
_MEN_TOPS = (_line("heel tops", "TOP-MEN: 1 pair"), _line("tacks", "TACK-13: 4 g"))
_LONG_SOLES = (
    _line("long sole, leather", "SOLE-LEA: 1 pair", choice="sole", option="leather"),
    _area("long sole, bend", "BEND-OAK: 5.4 dm2", choice="sole", option="bend", waste=Fraction(26)),
    _line("long sole, rubber", "SOLE-RUB: 1 pair", choice="sole", option="rubber"),
    _long("sole stitching", "THREAD-LIN: 4.6 m"),
    _area("cork filler", "CORK-PASTE: 38 g"),
    _area("sole cement", "CEM-SOLV: 9 ml", coats=2),
    _line("shanks", "SHANK: 1 pair", chance=_share("0.25")),
)

CARDS: dict[str, tuple[RecipeLine, ...]] = {
    "HEEL-L": (
        _line("top, 8 mm", "TOP-PIN-8: 1 pair", choice="top", option="8 mm"),
        _line("top, 9 mm", "TOP-PIN-9: 1 pair", choice="top", option="9 mm"),
        _line("top, 11 mm", "TOP-PIN-11: 1 pair", choice="top", option="11 mm"),
        _line("top, block", "TOP-WIDE: 1 pair", choice="top", option="block"),
        _line("fine scouring", "SCOUR-P80: 0.006 piece"),
        *_BAG,
    ),
    "HEEL-M": (
        *_MEN_TOPS,
        _line("heel cement", "CEM-SOLV: 3 ml"),
        _line("edge ink", "EDGE: 1 ml"),
        _line("coarse scouring", "SCOUR-P40: 0.008 piece"),
        *_BAG,
    ),
    "HEEL-BLOCK": (
        _line("heel blocks", "BLOCK: 1 pair"),
        *_MEN_TOPS,
        _line("heel cement", "CEM-SOLV: 8 ml"),
        *_SCOUR,
        *_EDGE,
        *_BAG,
    ),
    "HALF": (*_HALF_SOLES, *_SCOUR, *_EDGE, *_PACKING),
    "HALF-HEEL": (*_HALF_SOLES, *_MEN_TOPS, *_SCOUR, *_EDGE, *_PACKING),
    "FULL": (*_LONG_SOLES, *_MEN_TOPS, *_SCOUR, *_EDGE, *_PACKING),
    "BOOT": (
        _area("boot sole", "TREAD-8: 6.2 dm2", waste=Fraction(18)),
        _area("cellular midsole", "MICRO-10: 3.1 dm2", waste=Fraction(15), chance=_share("0.5")),
        _area("primer", "PRIMER: 5 ml"),
        _area("sole cement", "CEM-SOLV: 10 ml", coats=2),
        *_SCOUR,
        *_PACKING,
    ),
    "LIGHT": (
        _area("light sole", "MICRO-10: 5.8 dm2", waste=Fraction(17)),
        _area("sole cement", "CEM-WATER: 8 ml", coats=2),
        *_SCOUR,
        *_BAG,
    ),
    "WELT": (
        _long("welting", "WELT-STRIP: 0.9 m"),
        _long("welt stitching", "THREAD-LIN: 3.8 m"),
        _line("brass nails", "BRASS-16: 5 g"),
        _line("sole cement", "CEM-SOLV: 4 ml"),
        *_EDGE,
        *_PACKING,
    ),
    "RECORK": (
        _area("cork footbed", "CORK-2: 9 dm2", waste=Fraction(12)),
        _area("footbed cover", "BEND-LIGHT: 2.4 dm2", waste=Fraction(20)),
        _area("footbed cement", "CEM-WATER: 11 ml", coats=2),
        _line("fine scouring", "SCOUR-P80: 0.02 piece"),
        *_PACKING,
    ),
    "SLING": (_line("rivets", "RIVET: 2 piece"), _line("strap cement", "CEM-WATER: 2 ml"), *_BAG),
    "GLUE": (
        _line("sole cement", "CEM-SOLV: 7 ml"),
        _line("wash", "THINNER: 4 ml"),
        _line("primer", "PRIMER: 2 ml", chance=_share("0.4")),
        *_BAG,
    ),
    "STITCH": (_line("upper thread", "THREAD: 3.5 m"), *_BAG),
    "PATCH": (
        _line("patch", "HIDE: 0.16 sq ft", waste=Fraction(30)),
        _line("upper thread", "THREAD: 2.4 m"),
        _line("patch cement", "CEM-WATER: 3 ml"),
        *_BAG,
    ),
    "LINING": (
        _line("heel lining", "LINING: 0.3 sq ft", waste=Fraction(25)),
        _line("lining cement", "CEM-WATER: 5 ml"),
        _line("upper thread", "THREAD: 2 m"),
        *_BAG,
    ),
    "ZIP": (
        _line("zip, 25 cm", "ZIP-25: 2 piece", choice="zip", option="25 cm"),
        _line("zip, 40 cm", "ZIP-40: 2 piece", choice="zip", option="40 cm"),
        _line("upper thread", "THREAD: 7 m"),
        *_BAG,
    ),
    "ELASTIC": (
        _line("gusset elastic", "ELASTIC-75: 0.44 m", waste=Fraction(5)),
        _line("upper thread", "THREAD: 8 m"),
        *_BAG,
    ),
    "EYELET": (_line("eyelets", "EYELET: 6 piece"), *_BAG),
    "BUCKLE": (_line("buckle", "BUCKLE-16: 1 piece", per=Per.SHOE), _line("rivets", "RIVET: 1 piece", per=Per.SHOE)),
    "HOOK": (_line("hook-and-loop", "HOOK-LOOP: 0.22 m", waste=Fraction(8)), _line("upper thread", "THREAD: 3 m")),
    "TOE": (_line("toe plates", "TOE-PLATE: 1 pair"), _line("toe wash", "THINNER: 1 ml")),
    "INSOLE": (_line("insoles", "INSOLE: 1 pair"), _line("spots of cement", "CEM-WATER: 1.5 ml", chance=_share("0.5"))),
    "STRETCH": (_line("stretching liquid", "STRETCH-LIQ: 9 ml"),),
    "DYE": (
        _line("dye", "DYE: 14 ml", coats=2),
        _line("wash", "THINNER: 8 ml"),
        _line("cream", "POLISH: 3 ml"),
        _line("cleaner", "CLEANER: 6 ml"),
        *_BAG,
    ),
    "POLISH": (_line("cream", "POLISH: 4 ml"), _line("cleaner", "CLEANER: 8 ml"), *_BAG),
    "PROOF": (_line("spray", "SPRAY-PROOF: 22 ml"), _line("cleaner", "CLEANER: 5 ml", chance=_share("0.5"))),
    "BAG-STRAP": (
        _job_line("strap", "STRAP-25: 1.15 m", waste=Fraction(4)),
        _job_line("rivets", "RIVET: 4 piece"),
        _job_line("buckle", "BUCKLE-16: 1 piece", chance=_share("0.35")),
        _job_line("edge ink", "EDGE: 4 ml"),
        *_BAG,
    ),
    "BELT-HOLE": (_job_line("edge touched up", "EDGE: 0.3 ml", chance=_share("0.3")),),
}

# Cards the owner has changed since: job, day, why, and the new amounts by line.
CHANGES: tuple[tuple[str, date, str, dict[str, str]], ...] = (
    ("HALF", date(2025, 2, 4), "counts of the autumn", {"sole cement": "6 ml"}),
    ("FULL", date(2025, 2, 4), "counts of the autumn", {"sole cement": "9.8 ml", "cork filler": "42 g"}),
    ("POLISH", date(2026, 3, 3), "a smaller brushful", {"cream": "3.4 ml"}),
)


def recipes() -> tuple[Recipe, ...]:
    """Give every version of every card, oldest first."""
    first = [_recipe(job, lines, day=FIRST_DAY, source="first card") for job, lines in CARDS.items()]
    later = [_recipe(job, _changed(CARDS[job], amounts), day=day, source=why) for job, day, why, amounts in CHANGES]
    return (*first, *later)


def _recipe(job: str, lines: Iterable[RecipeLine], *, day: date, source: str) -> Recipe:
    kept = tuple(lines)
    grows = any(line.sizing is not Sizing.FIXED for line in kept)
    return Recipe(job=job, valid_from=day, lines=kept, reference=_REFERENCE if grows else (), source=source)


def _changed(lines: Iterable[RecipeLine], amounts: dict[str, str]) -> list[RecipeLine]:
    return [replace(line, amount=quantity(amounts[line.name])) if line.name in amounts else line for line in lines]


def _job(code: str, name: str, *, family: str, price: int, minutes: int, sized: bool = False) -> Job:
    return Job(code=code, name=name, family=family, price=price, bench_minutes=minutes, sized=sized)


JOBS: tuple[Job, ...] = (
    _job("HEEL-L", "Ladies' heel tops", family="heels", price=1150, minutes=8),
    _job("HEEL-M", "Men's heel tops", family="heels", price=1650, minutes=12, sized=True),
    _job("HEEL-BLOCK", "Rebuild stacked heels", family="heels", price=3200, minutes=35, sized=True),
    _job("HALF", "Half soles", family="soling", price=3600, minutes=30, sized=True),
    _job("HALF-HEEL", "Half soles and heel tops", family="soling", price=4700, minutes=40, sized=True),
    _job("FULL", "Long soles, stitched", family="soling", price=8900, minutes=95, sized=True),
    _job("BOOT", "Walking boots resoled", family="boots", price=9400, minutes=100, sized=True),
    _job("LIGHT", "Light soles on casual shoes", family="soling", price=5600, minutes=50, sized=True),
    _job("WELT", "Welt repair", family="boots", price=3800, minutes=45, sized=True),
    _job("RECORK", "New cork footbed, sandals", family="sandals", price=4200, minutes=50, sized=True),
    _job("SLING", "Sandal strap anchored", family="sandals", price=1400, minutes=15),
    _job("GLUE", "Sole stuck back", family="soling", price=1300, minutes=12),
    _job("STITCH", "Seam restitched", family="uppers", price=1500, minutes=18),
    _job("PATCH", "Upper patched", family="uppers", price=2200, minutes=30),
    _job("LINING", "Heel lining renewed", family="uppers", price=2600, minutes=35),
    _job("ZIP", "Boot zip replaced", family="boots", price=3400, minutes=45),
    _job("ELASTIC", "Gusset elastic replaced", family="boots", price=3900, minutes=50),
    _job("EYELET", "Eyelets replaced", family="uppers", price=900, minutes=10),
    _job("BUCKLE", "Buckle replaced", family="sandals", price=1250, minutes=12),
    _job("HOOK", "Hook-and-loop strap renewed", family="children", price=1300, minutes=15),
    _job("TOE", "Toe plates fitted", family="soling", price=1500, minutes=14),
    _job("INSOLE", "Insoles fitted", family="comfort", price=1500, minutes=8, sized=True),
    _job("STRETCH", "Stretched overnight", family="comfort", price=1200, minutes=8),
    _job("DYE", "Dyed", family="colour", price=3500, minutes=40),
    _job("POLISH", "Cleaned and polished", family="colour", price=1100, minutes=12),
    _job("PROOF", "Waterproofed", family="colour", price=950, minutes=8),
    _job("BAG-STRAP", "Bag strap replaced", family="bags", price=3300, minutes=40),
    _job("BELT-HOLE", "Belt holes", family="bags", price=400, minutes=4),
)
