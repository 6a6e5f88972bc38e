"""Shoe sizes as given, and the lengths their own systems define; never converted from system to system."""

import re
from dataclasses import dataclass
from decimal import Context, Decimal
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache

from stockroom.errors import UsageError
from stockroom.phrases import phrase
from stockroom.stock.quantities import plain


class System(StrEnum):
    """A size system. Published converters between them disagree by a size, so none is built in (decision 6)."""

    MONDOPOINT = "Mondo"
    EU = "EU"
    UK = "UK"
    US_MEN = "US M"
    US_WOMEN = "US W"


# Whole-size steps and the size at which each system's own length is zero.
# EU: Paris point, 2/3 cm of last length from zero. UK and US: barleycorn, 1/3 in of last length; adult sizes
# start after 25 barleycorns (UK), 24 (US men) and 22.5 (US women). Mondopoint (ISO 9407): millimetres of foot length.
# Steps: Scientific Reports 2019, s41598-019-55432-z. Starting points: common practice, from memory.
_STEP_MM = {
    System.MONDOPOINT: Fraction(1),
    System.EU: Fraction(20, 3),
    System.UK: Fraction(254, 30),
    System.US_MEN: Fraction(254, 30),
    System.US_WOMEN: Fraction(254, 30),
}
_START = {
    System.MONDOPOINT: Fraction(0),
    System.EU: Fraction(0),
    System.UK: Fraction(25),
    System.US_MEN: Fraction(24),
    System.US_WOMEN: Fraction(45, 2),
}
_RANGE = {
    System.MONDOPOINT: (90, 350),
    System.EU: (15, 55),
    System.UK: (0, 18),
    System.US_MEN: (0, 20),
    System.US_WOMEN: (0, 20),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ShoeSize:
    """A size in its own system, such as EU 42 or UK 8.5."""

    system: System
    number: Fraction

    @property
    def length_mm(self) -> Fraction:
        """Length its system gives it: of the foot for Mondopoint, of the last for the others."""
        return (self.number + _START[self.system]) * _STEP_MM[self.system]

    def __str__(self) -> str:
        return f"{self.system} {plain(Decimal(self.number.numerator) / Decimal(self.number.denominator))}"


@lru_cache(maxsize=4096)
def shoe_size(text: str) -> ShoeSize:
    """Read 'EU 42', 'UK 8.5', 'US M 9', 'Mondo 265'; a bare number has no system and is refused."""
    names = "|".join(re.escape(system) for system in sorted(System, key=len, reverse=True))
    found = re.fullmatch(rf"\s*({names})\s*(\d+(?:[.,]\d+)?|\d+\s*1/2|\d+½)\s*", text, flags=re.IGNORECASE)
    if not found:
        raise UsageError(
            phrase("'%(text)s' is not a shoe size.", text=text),
            fix="Name the system too: 'EU 42', 'UK 8.5', 'US M 9', 'US W 7' or 'Mondo 265'.",
        )
    system = next(each for each in System if each.casefold() == found[1].casefold())
    size = ShoeSize(system=system, number=_fraction(found[2]))
    low, high = _RANGE[system]
    if not low <= size.number <= high:
        raise UsageError(
            phrase(
                "%(size)s is outside %(system)s sizes (%(low)s to %(high)s).",
                size=size,
                system=system,
                low=low,
                high=high,
            ),
            fix="Check the number and the system.",
        )
    return size


@lru_cache(maxsize=4096)  # a card is asked for many pairs of few sizes
def scale(size: ShoeSize, reference: tuple[ShoeSize, ...]) -> Fraction:
    """How much longer a size is than the reference size stated in the same system.

    Raises
    ------
    UsageError
        If the reference is not stated in the size's system: sizes are not converted silently.
    """
    for stated in reference:
        if stated.system is size.system:
            return size.length_mm / stated.length_mm
    known = ", ".join(str(stated) for stated in reference) or "none"
    raise UsageError(
        phrase("Size %(size)s can't be compared with the recipe's reference size (%(known)s).", size=size, known=known),
        fix=phrase(
            "State the reference size in %(system)s too, as your own shop reads it, such as 'EU 42 = UK 8'.",
            system=size.system,
        ),
    )


_DIGITS = Context(prec=40)


@lru_cache(maxsize=4096)
def grown(longer: Fraction, power: Fraction) -> Fraction:
    """How much more a shoe so much longer takes of what grows by a power of its length.

    Notes
    -----
    Exact for whole powers; others are worked out to forty digits, far below a billionth of any amount.
    """
    if power.denominator == 1:
        return longer**power.numerator
    base, by = (_DIGITS.divide(Decimal(each.numerator), Decimal(each.denominator)) for each in (longer, power))
    return Fraction(_DIGITS.power(base, by))


def _fraction(text: str) -> Fraction:
    if text.endswith(("½", "1/2")):
        return Fraction(text.removesuffix("½").removesuffix("1/2").strip()) + Fraction(1, 2)
    return Fraction(text.replace(",", "."))
