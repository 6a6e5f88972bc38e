"""Count differences, waste, expiry and own use of a period, each with its reason."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import cast

from stockroom.margins.period import Period
from stockroom.stock.layers import Entry
from stockroom.stock.moves import Document, DocumentKind, MoveKind

KINDS = (MoveKind.COUNT, MoveKind.WASTE, MoveKind.EXPIRY, MoveKind.OWN_USE)
_KEPT = "keeps a settled count true after a late paper"


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteOff:
    """A difference or loss: amount in nano, cost in thousandths of the minor unit; gains are positive."""

    document: int
    day: date
    happened: datetime
    kind: MoveKind
    material: str
    nano: int
    value: int
    reason: str
    who: str


def write_offs(entries: Iterable[Entry], documents: Mapping[int, Document], period: Period) -> list[WriteOff]:
    """List a period's differences and losses by day and document; a true-up joins the day it was booked."""
    sums: dict[tuple[int, MoveKind, str], list[int]] = {}
    firsts: dict[tuple[int, MoveKind, str], Entry] = {}
    for entry in entries:
        if entry.kind in KINDS and entry.booked_on in period:
            key = (entry.document, entry.kind, entry.move.material)
            held = sums.setdefault(key, [0, 0])
            held[0] += entry.nano
            held[1] += entry.value
            firsts.setdefault(key, entry)
    made = [_write_off(firsts[key], held, documents[key[0]]) for key, held in sums.items() if any(held)]
    return sorted(made, key=lambda w: (w.day, w.document, w.material))


def _write_off(first: Entry, held: list[int], document: Document) -> WriteOff:
    return WriteOff(
        document=first.document,
        day=first.booked_on,
        happened=first.move.happened,
        kind=first.kind,
        material=first.move.material,
        nano=held[0],
        value=held[1],
        reason=_reason(document, first.move.material),
        who=document.who,
    )


def _reason(document: Document, material: str) -> str:
    if document.kind is DocumentKind.COUNT_KEPT:
        return _KEPT
    by_material = cast("Mapping[str, str]", document.content.get("reasons", {}))
    stated = by_material.get(material) or str(document.content.get("reason", ""))
    if document.kind in (DocumentKind.REVERSAL, DocumentKind.DELIVERY, DocumentKind.PRICE_CORRECTION):
        return f"{document.kind} {document.id}"
    return stated or document.note
