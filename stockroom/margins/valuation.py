"""What lies on the shelf on a day and what it is worth, by material and cost layer."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from stockroom.stock.layers import SHORT, Costing, Entry, Standing, closing
from stockroom.stock.materials import Material
from stockroom.stock.moves import MoveKind

_LEAVES = (MoveKind.JOB_USE, MoveKind.REDO_USE, MoveKind.SALE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Valued:
    """A material's amount (nano) and cost (thousandths of the minor unit) on a day."""

    material: Material
    nano: int
    value: int
    layers: tuple[Standing, ...]  # oldest first; layer 0: used before its delivery was entered
    last_counted: date | None
    last_used: date | None

    @property
    def waiting(self) -> int:
        """Provisional cost of what was used before its delivery was entered (not positive)."""
        return sum(layer.value for layer in self.layers if layer.layer == SHORT)


def valuation(
    costing: Costing, day: date, materials: Mapping[str, Material], counted: Mapping[str, date] | None = None
) -> list[Valued]:
    """Value the shelf at the end of an accounting day, every site together.

    Parameters
    ----------
    costing : Costing
        The replayed ledger.
    day : date
        The accounting day.
    materials : mapping of str to Material
        By code; every material in the ledger.
    counted : mapping of str to date, optional
        When each material was last counted.

    Returns
    -------
    list of Valued
        By family and name; materials with neither amount nor value are left out.
    """
    layers: dict[str, list[Standing]] = {}
    for standing in closing(costing, day):
        layers.setdefault(standing.material, []).append(standing)
    used = last_uses(costing.entries, day)
    made = [
        Valued(
            material=materials[code],
            nano=sum(layer.nano for layer in held),
            value=sum(layer.value for layer in held),
            layers=tuple(sorted(held, key=lambda layer: (layer.since or date.max, layer.layer))),
            last_counted=(counted or {}).get(code),
            last_used=used.get(code),
        )
        for code, held in layers.items()
    ]
    return sorted(made, key=lambda v: (v.material.family, v.material.name, v.material.code))


def last_uses(entries: Iterable[Entry], day: date) -> dict[str, date]:
    """Find the last accounting day, up to a day, on which each material was used or sold."""
    last: dict[str, date] = {}
    for entry in entries:
        if entry.nano < 0 and entry.kind in _LEAVES and entry.booked_on <= day:
            code = entry.move.material
            last[code] = max(last.get(code, date.min), entry.booked_on)
    return last
