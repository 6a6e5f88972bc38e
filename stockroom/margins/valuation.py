"""What lies on the shelf on a day and what it is worth, by material, cost layer and age."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import cast

from stockroom.margins.period import Period
from stockroom.stock.layers import SHORT, Cause, Costing, LayerEntry, Standing, closing
from stockroom.stock.materials import Material, Purpose
from stockroom.stock.money import MILLI, half_up, split
from stockroom.stock.moves import MOVES, USED, WRITTEN_OFF, Document, DocumentKind, MoveKind
from stockroom.stock.tax import TaxRules


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


def last_uses(entries: Iterable[LayerEntry], day: date) -> dict[str, date]:
    """Find the last accounting day, up to a day, on which each material was used or sold."""
    last: dict[str, date] = {}
    for entry in entries:
        if entry.nano < 0 and entry.kind in USED and entry.booked_on <= day:
            code = entry.move.material
            last[code] = max(last.get(code, date.min), entry.booked_on)
    return last


PRICE_DIFFERENCES = "price differences"

# The columns of the summary, in order.
COLUMNS = (*dict.fromkeys(facts.column for facts in MOVES.values()), PRICE_DIFFERENCES)


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


def column_of(entry: LayerEntry) -> str:
    """Name the column an entry belongs to."""
    return PRICE_DIFFERENCES if entry.cause is Cause.DIFFERENCE else MOVES[entry.kind].column


def roll_forward(entries: Iterable[LayerEntry], period: Period, materials: Mapping[str, Material]) -> list[Roll]:
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


LOST = (MoveKind.COUNT, *WRITTEN_OFF)
_KEPT = "keeps a settled count true after a late document"


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


def write_offs(entries: Iterable[LayerEntry], documents: Mapping[int, Document], period: Period) -> list[WriteOff]:
    """List a period's differences and losses by day and document; a true-up joins the day it was booked."""
    sums: dict[tuple[int, MoveKind, str], list[int]] = {}
    firsts: dict[tuple[int, MoveKind, str], LayerEntry] = {}
    for entry in entries:
        if entry.kind in LOST and entry.booked_on in period:
            key = (entry.document, entry.kind, entry.move.material)
            held = sums.setdefault(key, [0, 0])
            held[0] += entry.nano
            held[1] += entry.value
            firsts.setdefault(key, entry)
    made = [_write_off(firsts[key], held, documents[key[0]]) for key, held in sums.items() if any(held)]
    return sorted(made, key=lambda w: (w.day, w.document, w.material))


def _write_off(first: LayerEntry, held: list[int], document: Document) -> WriteOff:
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
        return f"{document.kind.label} {document.id}"
    return stated or document.note


class Why(StrEnum):
    """Why a write-down is suggested."""

    EXPIRED = "expired"
    IDLE = "not used or sold"
    UNDER_COST = "sells for less than it cost"


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """How idle stock is judged: the owner's and accountant's figures."""

    idle_days: int = 365
    idle_keeps: Decimal = Decimal(50)  # per cent of cost still expected from idle bench stock
    selling_cost: Decimal = Decimal(0)  # per cent of the net selling price


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteDown:
    """A suggestion. Money in thousandths of the minor unit."""

    valued: Valued
    why: Why
    nano: int  # the amount concerned
    cost: int
    realisable: int
    since: date | None  # past its date since, or last used

    @property
    def suggested(self) -> int:
        """Cost above net realisable value."""
        return max(self.cost - self.realisable, 0)


def write_downs(
    valued: Sequence[Valued], entries: Iterable[LayerEntry], day: date, rules: TaxRules, policy: Policy | None = None
) -> list[WriteDown]:
    """Suggest write-downs at the end of a day, the most money first; a material is named once, for its worst reason.

    Notes
    -----
    What is past its date is found as if the oldest were always used first: what is on hand beyond all arrivals that
    still keep. Materials held to be used in work that itself sells above its cost are not written down for a lower
    price of the material (IAS 2.32, number from memory): bench stock is only judged idle or expired.
    """
    chosen = policy or Policy()
    came = _arrivals(entries, day)
    made = []
    for each in valued:
        if each.nano > 0 and each.value > 0:
            arrivals = came.get(each.material.code, _Came())
            found = (
                _expired(each, arrivals),
                _idle(each, arrivals, day, chosen),
                _under_cost(each, day, rules, chosen),
            )
            made.append(max((w for w in found if w is not None), key=lambda w: w.suggested, default=None))
    kept = [w for w in made if w is not None and w.suggested]
    return sorted(kept, key=lambda w: (-w.suggested, w.valued.material.code))


@dataclass(slots=True)
class _Came:
    """A material's arrivals: the amount that still keeps, the latest date that has passed, the last arrival."""

    keeps: int = 0
    stale: date | None = None
    last: date | None = None


def _arrivals(entries: Iterable[LayerEntry], day: date) -> dict[str, _Came]:
    found: dict[str, _Came] = {}
    for entry in entries:
        if entry.cause is Cause.MOVED and entry.nano > 0 and entry.booked_on <= day:
            came = found.setdefault(entry.move.material, _Came())
            expiry = entry.move.expiry
            if expiry is None or expiry >= day:
                came.keeps += entry.nano
            else:
                came.stale = max(came.stale or expiry, expiry)
            came.last = max(came.last or entry.booked_on, entry.booked_on)
    return found


def _expired(valued: Valued, came: _Came) -> WriteDown | None:
    nano = valued.nano - came.keeps
    if came.stale is None or nano <= 0:
        return None
    cost = half_up(Fraction(valued.value * nano, valued.nano))
    return WriteDown(valued=valued, why=Why.EXPIRED, nano=nano, cost=cost, realisable=0, since=came.stale)


def _idle(valued: Valued, came: _Came, day: date, policy: Policy) -> WriteDown | None:
    last = max(each for each in (valued.last_used, came.last, date.min) if each is not None)
    if last > day - timedelta(days=policy.idle_days):
        return None
    keeps = half_up(valued.value * Fraction(policy.idle_keeps) / 100)
    return WriteDown(
        valued=valued, why=Why.IDLE, nano=valued.nano, cost=valued.value, realisable=keeps, since=valued.last_used
    )


def _under_cost(valued: Valued, day: date, rules: TaxRules, policy: Policy) -> WriteDown | None:
    material = valued.material
    if material.sell_price is None or material.purpose is Purpose.BENCH:
        return None
    net = rules.sale(material.sell_price, material.code, day).net * MILLI
    each = net * (1 - Fraction(policy.selling_cost) / 100)
    worth = half_up(each * valued.nano / material.unit.nano)
    return WriteDown(
        valued=valued, why=Why.UNDER_COST, nano=valued.nano, cost=valued.value, realisable=worth, since=None
    )


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
    came = _came_on(entries, day) if any(layer.since is None for v in valued for layer in v.layers) else {}
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


def _came_on(entries: Iterable[LayerEntry], day: date) -> dict[str, list[tuple[date, int]]]:
    found: dict[str, list[tuple[date, int]]] = {}
    for entry in entries:
        if entry.nano > 0 and entry.cause is Cause.MOVED and entry.booked_on <= day and entry.kind not in _HANDED_ON:
            found.setdefault(entry.move.material, []).append((entry.booked_on, entry.nano))
    return found
