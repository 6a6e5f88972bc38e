"""How the invented shop counts: some bins every Saturday, more once a month, everything twice a year."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from fractions import Fraction

from stockroom.demo.catalogue import MATERIALS, SHELF
from stockroom.demo.dice import Dice
from stockroom.demo.seasons import OPEN
from stockroom.demo.shelves import Left
from stockroom.stock.counts import CountLine, CountReason
from stockroom.stock.materials import Material
from stockroom.stock.quantities import NANO, Dimension, Quantity, quantity

_TELLER = ("owner", "bench 1", "bench 2")
_WEEKLY = 8
_MONTHLY = 40
_CLOSING = time(17, 45)
_CODES = tuple(material.code for material in MATERIALS)

# Dimension -> (aid, error as a share of what is there).
_AIDS: dict[Dimension, tuple[str, float]] = {
    Dimension.AREA: ("grid", 0.04),
    Dimension.LENGTH: ("weighed", 0.025),
    Dimension.VOLUME: ("weighed", 0.02),
    Dimension.MASS: ("weighed", 0.015),
    Dimension.COUNT: ("counted", 0.0),
}
_STEPS = {"dm2": "0.5", "sq ft": "0.05", "m": "0.1", "l": "0.005", "kg": "0.005"}  # amounts are read to these


def sheet(day: date, dice: Dice) -> list[str]:
    """Give the codes to count at a day's closing; none on most days."""
    if _is_full(day):
        return list(_CODES)
    if day.weekday() != 5 and not _last_before_closure(day):  # noqa: PLR2004 -- Saturday
        return []
    week = (day - date(2023, 1, 7)).days // 7
    wanted = _MONTHLY if day.day <= 7 else _WEEKLY  # noqa: PLR2004 -- first week of the month
    start = week * _WEEKLY % len(_CODES)
    in_turn = [_CODES[(start + n) % len(_CODES)] for n in range(wanted)]
    return [code for code in in_turn if not dice.happens(0.06)]  # a bin is skipped now and then


def measure(code: str, true_nano: int, day: date, dice: Dice) -> CountLine:
    """Count one bin, with the aid's error."""
    material = SHELF.materials[code]
    aid, share = _AIDS[material.dimension]
    nano, error = _read(material, true_nano, share, dice)
    return CountLine(
        material=code,
        amount=Quantity(nano=nano, dimension=material.dimension),
        counted=datetime.combine(day, _CLOSING) + timedelta(minutes=dice.whole(0, 40)),
        error=Quantity(nano=error, dimension=material.dimension) if error else None,
        aid=aid,
        who=dice.one_of(_TELLER),
    )


def _read(material: Material, true_nano: int, share: float, dice: Dice) -> tuple[int, int]:
    """Give what is read off, and one standard error of it."""
    if material.dimension is Dimension.COUNT:
        size = material.unit.nano if material.unit.name == "pair" else NANO
        fine = size // 10 if true_nano % NANO else NANO  # a jar or band in use is judged to a tenth
        slip = dice.one_of((-1, 1)) if dice.happens(0.02) and true_nano > 4 * size else 0
        return round(true_nano / fine) * fine + slip * size, fine // 4 if fine < NANO else 0
    grain = material.unit.of(Fraction(_STEPS[material.unit.name])).nano
    seen = true_nano * (1 + share * dice.normal())
    return max(round(seen / grain) * grain, 0), max(round(share * true_nano / grain) * grain, grain // 2)


def _is_full(day: date) -> bool:
    """Everything is counted on the last day before Christmas and the last Saturday of June."""
    june = day.month == 6 and day.weekday() == 5 and day.day > 23  # noqa: PLR2004
    return june or (day.month == 12 and _last_before_closure(day))  # noqa: PLR2004


def _last_before_closure(day: date) -> bool:
    return (OPEN.next_open(day + timedelta(days=1)) - day).days > 7  # noqa: PLR2004 -- more than a weekend


@dataclass(frozen=True, slots=True, kw_only=True)
class Mishap:
    """A sudden loss: what part of the true stock is kept, and what the shop makes of it afterwards."""

    day: date
    material: str
    kept: float
    reason: CountReason


_MISHAPS = (
    Mishap(day=date(2024, 7, 11), material="CEM-SOLV", kept=0.45, reason=CountReason.SPOILT),
    Mishap(day=date(2025, 2, 15), material="BAG", kept=0.4, reason=CountReason.SPOILT),
    Mishap(day=date(2025, 10, 9), material="HIDE-BLK", kept=0.5, reason=CountReason.LOSS),
    Mishap(day=date(2026, 3, 19), material="POLISH-BLK", kept=0.3, reason=CountReason.LOSS),
    Mishap(day=date(2026, 11, 11), material="THREAD-BLK", kept=0.0, reason=CountReason.UNRECORDED),
)
LOST_DOCUMENTS = ("THREAD-BLK", date(2026, 11, 8))  # its delivery arrives, but the note isn't entered yet

# Now and then: how often a week, what, how much, why.
_WASTE = (
    (0.10, "BEND-OAK", "2.5 dm2", "flaw in the leather"),
    (0.08, "CEM-SOLV", "120 ml", "skinned over"),
    (0.08, "CEM-WATER", "60 ml", "dried out"),
    (0.06, "EDGE-BLK", "25 ml", "spilt"),
    (0.06, "ZIP-40", "1 piece", "teeth broken"),
    (0.08, "TOP-PIN-9", "2 pair", "pins bent"),
    (0.06, "RUB-4", "3 dm2", "miscut"),
    (0.05, "SOLE-LEA-43", "1 pair", "stained"),
    (0.05, "POLISH-NEU", "1 piece", "jar dropped"),
    (0.05, "HIDE-BLK", "0.5 sq ft", "scar in the hide"),
)
_EXPIRED = (
    (date(2025, 5, 17), "PRIMER", "180 ml"),
    (date(2026, 2, 21), "CEM-WATER", "240 ml"),
)
_OWN_USE = (0.9, "GLOVES", 4)  # a week, most pairs at once


def on_day(day: date) -> Iterator[Mishap]:
    """Give the sudden losses of a day."""
    return (mishap for mishap in _MISHAPS if mishap.day == day)


def write_offs(day: date, dice: Dice) -> Iterator[Left]:
    """Draw what is written off on a day."""
    closing = datetime.combine(day, time(17, 35))
    for weekly, code, amount, why in _WASTE:
        if dice.happens(weekly / 5):
            yield _left(closing, code, amount, kind="waste", reason=why)
    weekly, code, most = _OWN_USE
    if dice.happens(weekly / 5):
        yield _left(closing, code, f"{dice.whole(2, most)} pair", kind="own use", reason="bench gloves")
    for expired, code, amount in _EXPIRED:
        if expired == day:
            yield _left(closing, code, amount, kind="expiry", reason="past its date")


def _left(when: datetime, code: str, amount: str, *, kind: str, reason: str) -> Left:
    nano = SHELF.materials[code].to_base(quantity(amount)).nano
    return Left(when=when, material=code, nano=nano, kind=kind, reason=reason)
