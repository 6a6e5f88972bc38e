"""How long stock has lain on the shelf."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from stockroom.margins.valuation import Valued
from stockroom.stock.layers import SHORT, Cause, LayerEntry
from stockroom.stock.materials import Material
from stockroom.stock.money import split
from stockroom.stock.moves import MoveKind

BANDS = ("0 to 90 days", "91 to 180 days", "181 to 365 days", "over 365 days")
_LAST_DAYS = (90, 180, 365)
_HANDED_ON = (MoveKind.TRANSFER, MoveKind.OFFCUT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Aged:
    """A material's cost by how long it has lain there, in thousandths of the minor unit; the parts are the whole."""

    material: Material
    nano: int
    parts: tuple[int, ...]  # by band
    waiting: int  # used before its delivery came: provisional, a minus


def band_of(since: date, day: date) -> int:
    """Give the band of what came on a day, as of another."""
    return sum((day - since).days > last for last in _LAST_DAYS)


def aged_stock(valued: Sequence[Valued], entries: Iterable[LayerEntry], day: date) -> list[Aged]:
    """Part each material's cost by age at the end of a day.

    Notes
    -----
    First in, first out: by the day of each layer, which goods moved between sites keep. A moving average knows no
    layers: what is there is taken to be what came last, and bears its cost by amount.
    """
    came = _arrivals(entries, day) if any(layer.since is None for v in valued for layer in v.layers) else {}
    return [_aged(each, came.get(each.material.code, []), day) for each in valued]


def _aged(valued: Valued, came: Sequence[tuple[date, int]], day: date) -> Aged:
    parts = [0] * len(BANDS)
    for layer in valued.layers:
        if layer.layer != SHORT and layer.since is not None:
            parts[band_of(layer.since, day)] += layer.value
    pooled = [layer for layer in valued.layers if layer.layer != SHORT and layer.since is None]
    if pooled:
        nano = sum(layer.nano for layer in pooled)
        shares = split(sum(layer.value for layer in pooled), _newest(came, nano, day))
        parts = [part + share for part, share in zip(parts, shares, strict=True)]
    return Aged(material=valued.material, nano=valued.nano, parts=tuple(parts), waiting=valued.waiting)


def _newest(came: Sequence[tuple[date, int]], nano: int, day: date) -> list[int]:
    """Part an amount by age as if it were what came last; what no arrival explains is the oldest."""
    amounts = [0] * len(BANDS)
    for since, arrived in sorted(came, reverse=True):
        taken = min(arrived, nano)
        amounts[band_of(since, day)] += taken
        nano -= taken
    amounts[-1] += nano
    return amounts


def _arrivals(entries: Iterable[LayerEntry], day: date) -> dict[str, list[tuple[date, int]]]:
    found: dict[str, list[tuple[date, int]]] = {}
    for entry in entries:
        if entry.nano > 0 and entry.cause is Cause.MOVED and entry.booked_on <= day and entry.kind not in _HANDED_ON:
            found.setdefault(entry.move.material, []).append((entry.booked_on, entry.nano))
    return found
