"""What key materials cost from delivery to delivery."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from stockroom.margins.period import Period
from stockroom.stock.layers import Cause, Entry
from stockroom.stock.materials import Material
from stockroom.stock.money import half_up
from stockroom.stock.moves import MoveKind

KEY = 5  # materials worth a line in a picture
_USED = (MoveKind.JOB_USE, MoveKind.REDO_USE, MoveKind.SALE)


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceLine:
    """A material's cost a unit (thousandths of the minor unit, carriage included) on each day it was delivered."""

    material: Material
    points: tuple[tuple[date, int], ...]


def key_prices(
    entries: Iterable[Entry], materials: Mapping[str, Material], period: Period, *, count: int = KEY
) -> tuple[PriceLine, ...]:
    """Follow the materials that cost most in a period through all their deliveries up to its end."""
    used: dict[str, int] = {}
    bought: dict[str, dict[date, list[int]]] = {}
    for entry in entries:
        code = entry.move.material
        if entry.kind in _USED and entry.booked_on in period:
            used[code] = used.get(code, 0) - entry.value
        elif entry.kind is MoveKind.DELIVERY and entry.cause is Cause.MOVED and entry.booked_on <= period.last:
            sums = bought.setdefault(code, {}).setdefault(entry.booked_on, [0, 0])
            sums[0] += entry.nano
            sums[1] += entry.value
    dearest = sorted(bought.keys() & used.keys(), key=lambda code: (-used[code], code))[:count]
    return tuple(_line(materials[code], bought[code]) for code in dearest)


def _line(material: Material, days: Mapping[date, list[int]]) -> PriceLine:
    points = [
        (day, half_up(Fraction(value * material.unit.nano, nano)))
        for day, (nano, value) in sorted(days.items())
        if nano > 0
    ]
    return PriceLine(material=material, points=tuple(points))
