"""What key materials cost from delivery to delivery."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import cast

from stockroom.margins.period import Period
from stockroom.stock.layers import LayerEntry
from stockroom.stock.materials import Material
from stockroom.stock.money import MILLI, half_up
from stockroom.stock.moves import USED, Document, DocumentKind

KEY = 5  # materials worth a line in a picture


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceLine:
    """A material's price a unit (thousandths of the minor unit, without carriage) on each day it was delivered."""

    material: Material
    points: tuple[tuple[date, int], ...]


def key_prices(
    documents: Sequence[Document],
    entries: Iterable[LayerEntry],
    materials: Mapping[str, Material],
    period: Period,
) -> tuple[PriceLine, ...]:
    """Follow the materials that cost most in a period through all their deliveries up to its end."""
    used: dict[str, int] = {}
    for entry in entries:
        if entry.kind in USED and entry.booked_on in period:
            used[entry.move.material] = used.get(entry.move.material, 0) - entry.value
    bought = _bought(documents, period.last)
    dearest = sorted(bought.keys() & used.keys(), key=lambda code: (-used[code], code))[:KEY]
    return tuple(_line(materials[code], bought[code]) for code in dearest)


def _bought(documents: Sequence[Document], last: date) -> dict[str, dict[date, list[int]]]:
    """Sum what was asked for each material on each day of delivery; what was taken back is left out."""
    kept = [d for d in documents if (d.booked_on or d.happened.date()) <= last]
    undone = {document.reverses for document in kept}
    found: dict[str, dict[date, list[int]]] = {}
    for document in kept:
        if document.kind is DocumentKind.DELIVERY and document.id not in undone:
            for line in cast("list[Mapping[str, object]]", document.content.get("lines", [])):
                sums = found.setdefault(cast("str", line["material"]), {}).setdefault(document.happened.date(), [0, 0])
                sums[0] += cast("int", line["nano"])
                sums[1] += cast("int", line["cost"]) * MILLI
    return found


def _line(material: Material, days: Mapping[date, list[int]]) -> PriceLine:
    unit = material.unit.nano
    prices = [(day, half_up(Fraction(cost * unit, nano))) for day, (nano, cost) in sorted(days.items()) if nano > 0]
    return PriceLine(material=material, points=tuple(prices))
