"""How the invented shop counts: some bins every Saturday, more once a month, everything twice a year."""

from datetime import date, datetime, time, timedelta
from fractions import Fraction

from stockroom.demo.catalogue import MATERIALS, SHELF
from stockroom.demo.diary import OPEN
from stockroom.demo.dice import Dice
from stockroom.stock.counts import CountLine
from stockroom.stock.materials import Material
from stockroom.stock.quantities import NANO, Dimension, Quantity

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
