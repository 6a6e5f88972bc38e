"""Opening, what came and went, and closing, by material, in amount and in money."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from stockroom.margins.period import Period
from stockroom.stock.layers import Cause, Entry
from stockroom.stock.materials import Material
from stockroom.stock.moves import MoveKind

PRICE_DIFFERENCES = "price differences"

# The columns of the summary, in order, and the kinds of move each gathers.
COLUMNS: dict[str, tuple[MoveKind, ...]] = {
    "opening stock entered": (MoveKind.OPENING,),
    "purchases": (MoveKind.DELIVERY,),
    "returned to suppliers": (MoveKind.SUPPLIER_RETURN,),
    "used on jobs": (MoveKind.JOB_USE,),
    "re-done jobs": (MoveKind.REDO_USE,),
    "cost of goods sold": (MoveKind.SALE,),
    "own use": (MoveKind.OWN_USE,),
    "waste": (MoveKind.WASTE,),
    "expiry": (MoveKind.EXPIRY,),
    "offcuts and transfers": (MoveKind.OFFCUT, MoveKind.TRANSFER),
    "count differences": (MoveKind.COUNT,),
    PRICE_DIFFERENCES: (),
}
_COLUMN_OF = {kind: name for name, kinds in COLUMNS.items() for kind in kinds}


@dataclass(frozen=True, slots=True, kw_only=True)
class Roll:
    """A material's way through a period: amounts in nano, money in thousandths of the minor unit."""

    material: Material
    opening: tuple[int, int]
    flows: Mapping[str, tuple[int, int]]  # by column
    closing: tuple[int, int]


@dataclass(slots=True)
class _Sums:
    opening: list[int] = field(default_factory=lambda: [0, 0])
    flows: dict[str, list[int]] = field(default_factory=dict)


def column_of(entry: Entry) -> str:
    """Name the column an entry belongs to."""
    return PRICE_DIFFERENCES if entry.cause is Cause.DIFFERENCE else _COLUMN_OF[entry.kind]


def roll_forward(entries: Iterable[Entry], period: Period, materials: Mapping[str, Material]) -> list[Roll]:
    """Roll every material forward from the period's opening to its closing, by family and name."""
    sums: dict[str, _Sums] = {}
    for entry in entries:
        if entry.booked_on <= period.last:
            mine = sums.setdefault(entry.move.material, _Sums())
            target = mine.opening
            if entry.booked_on >= period.first:
                target = mine.flows.setdefault(column_of(entry), [0, 0])
            target[0] += entry.nano
            target[1] += entry.value
    rolls = [_roll(materials[code], mine) for code, mine in sums.items()]
    stirred = [roll for roll in rolls if any(roll.opening) or roll.flows]
    return sorted(stirred, key=lambda r: (r.material.family, r.material.name, r.material.code))


def _roll(material: Material, sums: _Sums) -> Roll:
    every = [sums.opening, *sums.flows.values()]
    return Roll(
        material=material,
        opening=(sums.opening[0], sums.opening[1]),
        flows={name: (flow[0], flow[1]) for name, flow in sums.flows.items()},
        closing=(sum(each[0] for each in every), sum(each[1] for each in every)),
    )
