"""What the shop is told: rows of the shelf, run-out and reorder lists, and the sheet a count is taken on.

Amounts are billionths of the base unit, as in the ledger; `unit` is the one to show them in.
"""

import re
from dataclasses import dataclass
from datetime import date, datetime

from stockroom.phrases import joined, phrase
from stockroom.stock.materials import Material
from stockroom.stock.quantities import Unit

FLAMMABLE = phrase("flammable: check local rules and your insurer")
# What usual hazard codes of cements, solvents and finishes say (CLP regulation, annex III). From memory: H222, H229,
# H336 and H411.
_HAZARDS = {
    "H222": phrase("extremely flammable aerosol"),
    "H225": phrase("highly flammable liquid and vapour"),
    "H229": phrase("pressurised container: may burst if heated"),
    "H304": phrase("may be fatal if swallowed and enters airways"),
    "H315": phrase("causes skin irritation"),
    "H319": phrase("causes serious eye irritation"),
    "H336": phrase("may cause drowsiness or dizziness"),
    "H411": phrase("toxic to aquatic life with long lasting effects"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfRow:
    """One material on the shelf at a moment."""

    material: str
    name: str
    unit: Unit
    on_hand: int
    on_order: int = 0
    set_aside: int = 0  # for open tickets
    lent: int = 0  # the shop's own, but not there
    family: str = ""
    place: str = ""
    cause: str = ""  # likely cause, where stock is below zero
    last_counted: datetime | None = None
    other_words: str = ""  # what else people call it

    def fits(self, wanted: str, *also: str) -> bool:
        """Say whether every word wanted is found in what it is, what it is called, or what else stands with it."""
        text = " ".join((self.material, self.name, self.other_words, self.family, self.place, *also)).casefold()
        return all(word in text for word in wanted.casefold().split())

    @property
    def free(self) -> int:
        """What is there and no open ticket has a claim on; below zero where open tickets need more than there is."""
        return self.on_hand - self.set_aside - self.lent

    @property
    def below_zero(self) -> bool:
        """Say whether the book holds less than nothing: something is missing from the book."""
        return self.on_hand < 0


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOutRow:
    """When one material runs out if nothing more is ordered."""

    material: str
    name: str
    unit: Unit
    free: int
    weekly_use: float  # base units in an open week, as forecast
    on_order: int = 0
    days_left: int | None = None  # to the median run-out day; None: not within the outlook
    runs_out: date | None = None  # median
    earliest: date | None = None  # eight in ten futures fall between earliest and latest
    latest: date | None = None  # None: some of those futures lie beyond the outlook
    chance_by_week: tuple[float, ...] = ()  # chance of having run out by each week's end, 0 to 1, never falling
    order_by: date | None = None
    tickets_at_risk: tuple[str, ...] = ()
    why: str = ""

    @property
    def chance(self) -> float:
        """Chance of running out within the whole outlook."""
        return self.chance_by_week[-1] if self.chance_by_week else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ReorderLine:
    """Packs of one material to order, and why."""

    supplier: str
    supplier_code: str
    material: str
    name: str
    unit: Unit
    packs: int
    pack: int  # amount in one pack
    cost: int  # minor units ex tax, for the whole line
    pack_name: str = ""
    reason: str = ""
    more: str = ""  # what else is known of it
    warning: str = ""  # runs out before it can come, and what else can be done
    note: str = ""  # what decides it beside the days and the risk, where anything does
    cautions: tuple[str, ...] = ()
    runs_out: date | None = None  # median day without it; None: not within the outlook
    lasts_until: date | None = None  # with it, at the usual pace; None: not used
    risk_if_left: float | None = None  # of being short when what is ordered on the next order day would come
    better_price_from: int | None = None  # packs from which the price begins that it is so many for

    @property
    def amount(self) -> int:
        """What the line brings."""
        return self.packs * self.pack


@dataclass(frozen=True, slots=True, kw_only=True)
class ReorderList:
    """What to order from one supplier."""

    supplier: str
    name: str
    lines: tuple[ReorderLine, ...]
    carriage: int = 0  # minor units ex tax
    carriage_free_over: int | None = None  # minor units of goods ex tax
    minimum_order: int = 0  # minor units of goods ex tax
    order_by: date | None = None
    expected: date | None = None
    next_day: date | None = None  # the order day after this one
    next_comes: date | None = None  # when what is ordered then would come
    notes: tuple[str, ...] = ()
    tax: int = 0  # minor units: added to the total where the shop can't take it back

    @property
    def goods(self) -> int:
        """Cost of the goods ex tax, in minor units."""
        return sum(line.cost for line in self.lines)

    @property
    def total(self) -> int:
        """Goods and carriage ex tax, in minor units."""
        return self.goods + self.carriage


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """One bin to count."""

    material: str
    name: str
    unit: Unit  # to fill the amount in
    place: str = ""
    aid: str = ""  # how to measure it: 'by weight', 'by tenths'
    hint: str = ""  # what the aid asks for: 'gross weight; the empty tin weighs 310 g'
    book: int | None = None  # what the book says; None on a blind sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class CountSheet:
    """A sheet to count by; its key travels with it, so that it is entered once and in its own shop."""

    shop: str
    key: str
    made: datetime
    lines: tuple[SheetLine, ...]
    site: str = "main"
    note: str = ""

    @property
    def blind(self) -> bool:
        """Say whether the book's figures are kept from the one who counts."""
        return all(line.book is None for line in self.lines)

    @property
    def by_place(self) -> dict[str, tuple[SheetLine, ...]]:
        """Lines by shelf place, places in order of walking (by name, numbers as numbers), unplaced ones last."""
        places = sorted({line.place for line in self.lines}, key=_walking)
        return {place: tuple(line for line in self.lines if line.place == place) for place in places}


def cautions(material: Material) -> tuple[str, ...]:
    """Give the hazards to mind when a material is stored, in words where the code is a usual one."""
    fire = (FLAMMABLE,) if material.flammable else ()
    said = (joined((code, _HAZARDS[code])) if code in _HAZARDS else code for code in material.hazards)
    return (*fire, *said)


# Usual care, common practice: what a safety data sheet and local rules say goes first.
_VAPOUR = {"H225", "H226", "H222", "H229", "H336", "H304", "H332", "H335"}
_SKIN = {"H315", "H317", "H318", "H319", "H312", "H314"}


def care(material: Material) -> str:
    """Say what to mind while a material is used: what to wear and airing; empty where nothing is known of it."""
    codes = set(material.hazards)
    if not codes and not material.flammable:
        return ""
    parts = [
        phrase("no flame or spark near it") if material.flammable or codes & {"H225", "H226", "H222"} else "",
        phrase("air the room or use extraction") if material.flammable or codes & _VAPOUR else "",
        phrase("gloves and eye protection") if codes & _SKIN else "",
    ]
    said = joined((part for part in parts if part), ", ")
    return phrase(
        "%(name)s: %(care)s. Local rules and the safety data sheet go first.",
        name=material.name,
        care=said if any(parts) else phrase("see its safety data sheet"),
    )


def _walking(place: str) -> tuple[bool, list[tuple[int, str]]]:
    parts = re.split(r"(\d+)", place.casefold())  # text and digits take turns, text first
    return not place, [(int(part), "") if turn % 2 else (0, part) for turn, part in enumerate(parts)]
