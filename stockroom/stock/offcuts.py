"""Offcuts kept: pieces with a number and a size, each a batch of its own in its material."""

import re
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Self

from stockroom.errors import UsageError
from stockroom.phrases import phrase
from stockroom.stock.quantities import NANO, Dimension, Quantity, plain, unit
from stockroom.stock.typed import number

_MARK = "offcut "  # what a piece's batch is called, before its number
_MM = NANO // 1000
_DM2 = 100  # in a square metre
_SIZE = re.compile(r"\s*([\d.,]+)\s*([^\d\s.,x×*]*)\s*[x×*]\s*([\d.,]+)\s*([^\d\s.,]+)\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceSize:
    """The sides of a rectangular piece, in billionths of a metre, the longer first."""

    length: int
    width: int

    @classmethod
    def of(cls, one: int, other: int) -> Self:
        """Make a size of two sides, whichever is longer."""
        return cls(length=max(one, other), width=min(one, other))

    @classmethod
    def of_mm(cls, one: float, other: float) -> Self:
        """Make a size of sides measured in whole millimetres; what is less than one is not there."""
        return cls.of(int(one) * _MM, int(other) * _MM)

    @property
    def area(self) -> Quantity:
        """What it measures, rounded half to even to a billionth of a square decimetre."""
        return Quantity(nano=_half_even(self.length * self.width * _DM2, NANO), dimension=Dimension.AREA)

    @property
    def mm(self) -> tuple[float, float]:
        """Its sides in millimetres, the longer first."""
        return self.length / _MM, self.width / _MM

    def covers(self, other: "PieceSize") -> bool:
        """Say whether another lies in it."""
        return self.length >= other.length and self.width >= other.width

    def __str__(self) -> str:
        sides = (plain(Decimal(side) / (10 * _MM)) for side in (self.length, self.width))
        return f"{' × '.join(sides)} cm"


def piece_size(text: str) -> PieceSize:
    """Read '60 x 40 cm', '600x400 mm' or '24 in x 16 in'.

    Raises
    ------
    UsageError
        If it is no size of a piece.
    """
    found = _SIZE.fullmatch(text)
    sides = []
    if found:
        sides = [
            unit(named or found[4]).of(number(much)) for much, named in ((found[1], found[2]), (found[3], found[4]))
        ]
    if not sides or any(side.dimension is not Dimension.LENGTH or side.nano <= 0 for side in sides):
        raise UsageError(phrase("'%(text)s' is not the size of a piece.", text=text), fix="Write it like '60 x 40 cm'.")
    return PieceSize.of(sides[0].nano, sides[1].nano)


def is_size(text: str) -> bool:
    """Say whether a size of a piece was typed rather than an area."""
    return _SIZE.fullmatch(text) is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Offcut:
    """A piece kept, as it is now."""

    number: int  # written on it
    material: str  # what it is kept as
    sheet: str  # what it was cut from
    site: str
    nano: int  # of its material
    stored: datetime
    document: int  # that stored it
    size: PieceSize | None = None  # None: of an odd shape

    @property
    def lot(self) -> str:
        """What its batch is called."""
        return piece_lot(self.number)


@dataclass(frozen=True, slots=True, kw_only=True)
class OffcutCut:
    """What a line of a job takes of an offcut, and what is left of the piece."""

    piece: Offcut
    wasted: int = 0  # nano of its material that no job takes, and that is not kept
    left: PieceSize | None = None  # None: of an odd shape, or nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class OffcutWanted:
    """An offcut to cut from, as typed."""

    number: int
    left: str = ""  # what stays of it: a size, an area or 'none'; empty: what one straight cut leaves


def piece_lot(number: int) -> str:
    """Name the batch of a piece."""
    return f"{_MARK}{number}"


def is_piece(lot: str) -> bool:
    """Say whether a batch is an offcut."""
    return lot.startswith(_MARK) and lot.removeprefix(_MARK).isdigit()


def _half_even(value: int, by: int) -> int:
    whole, rest = divmod(value, by)
    return whole + (2 * rest > by or (2 * rest == by and whole % 2 == 1))
