"""Amounts with a dimension, exact: integers of a billionth of the base unit (decision 1)."""

import re
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from stockroom.errors import UnitsError, nearest
from stockroom.phrases import phrase

NANO = 10**9  # parts of a base unit; fine enough for an ounce (28.349523125 g) and a square foot (9.290304 dm2)
LIMIT = (2**63 - 1) // 1000  # a thousandth of what a database integer holds: sums of moves must fit too


class Dimension(StrEnum):
    """What is measured; amounts of different dimensions never meet."""

    AREA = "area"
    LENGTH = "length"
    VOLUME = "volume"
    MASS = "mass"
    COUNT = "count"

    @property
    def base(self) -> "Unit":
        """The unit amounts of this dimension are kept in."""
        return UNITS[BASE[self]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit and what it is worth in billionths of its dimension's base unit."""

    name: str
    dimension: Dimension
    nano: int
    exact: Fraction | None = None  # where a billionth can't hold its worth: one of them, of all units here

    @property
    def many(self) -> str:
        """Its name for any number but one."""
        return f"{self.name}s" if self.name in ("piece", "pair") else self.name

    def of(self, amount: Decimal | Fraction | int) -> "Quantity":
        """Make a quantity; refuses what a billionth of the base unit can't hold.

        A decimal number of ounces, feet and the like, whose worth has more decimals than that, is rounded once,
        half to even: half an ounce is 14.174761562 g (decision 1).
        """
        exact = Fraction(amount) * (self.exact or self.nano)
        if self.name in _ROUNDED and _is_decimal(Fraction(amount)) and abs(exact) >= 1:
            exact = Fraction(round(exact))
        if exact.denominator != 1:
            raise UnitsError(
                phrase(
                    "%(amount)s %(unit)s is finer than the book can hold (a billionth of a %(base)s).",
                    amount=amount,
                    unit=self.name,
                    base=self.dimension.base.name,
                ),
                fix=phrase("Give it in %(base)s, with nine decimals or fewer.", base=self.dimension.base.name),
            )
        if abs(exact) > LIMIT:
            most = f"{LIMIT // self.nano:,} {self.name}".replace(",", " ")
            raise UnitsError(
                phrase("%(amount)s %(unit)s is more than the book can hold.", amount=amount, unit=self.name),
                fix=phrase("Give at most %(most)s.", most=most),
            )
        return Quantity(nano=int(exact), dimension=self.dimension, dozens=self.name in _DOZENS)

    def count(self, nano: int) -> Decimal:
        """Say how many of this unit an amount is; exact wherever a decimal can be."""
        worth = self.exact or Fraction(self.nano)
        return Decimal(nano * worth.denominator) / Decimal(worth.numerator)


@dataclass(frozen=True, slots=True, kw_only=True, order=False)
class Quantity:
    """An exact amount of one dimension."""

    nano: int
    dimension: Dimension
    dozens: bool = field(default=False, compare=False, repr=False)  # said in dozens or gross: of pairs, if kept so

    def __add__(self, other: "Quantity") -> "Quantity":
        return Quantity(nano=self.nano + self._alike(other).nano, dimension=self.dimension)

    def __sub__(self, other: "Quantity") -> "Quantity":
        return Quantity(nano=self.nano - self._alike(other).nano, dimension=self.dimension)

    def __neg__(self) -> "Quantity":
        return Quantity(nano=-self.nano, dimension=self.dimension)

    def __lt__(self, other: "Quantity") -> bool:
        return self.nano < self._alike(other).nano

    def __le__(self, other: "Quantity") -> bool:
        return self.nano <= self._alike(other).nano

    def __str__(self) -> str:
        return f"{plain(self.base_amount)} {self.dimension.base.name}"

    @property
    def base_amount(self) -> Decimal:
        """The amount in base units."""
        return Decimal(self.nano) / NANO

    def times(self, factor: Fraction) -> "Quantity":
        """Multiply, rounding once, half to even, to a billionth of the base unit."""
        return Quantity(nano=round(self.nano * factor), dimension=self.dimension)

    def _alike(self, other: "Quantity") -> "Quantity":
        if self.dimension is not other.dimension:
            raise UnitsError(
                phrase(
                    "%(amount)s (%(dimension)s) and %(other)s (%(other_dimension)s) can't be added or compared.",
                    amount=self,
                    dimension=self.dimension,
                    other=other,
                    other_dimension=other.dimension,
                ),
                fix="Give both in units of the same kind, or state a conversion between them on the material.",
            )
        return other


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridge:
    """A material's own link between two dimensions, such as '1 l = 860 g' or '1 piece = 190 dm2'."""

    left: Quantity
    right: Quantity

    def carry(self, amount: Quantity, to: Dimension) -> Quantity | None:
        """Carry an amount over to the other dimension, or give None if the bridge doesn't lead there."""
        for here, there in ((self.left, self.right), (self.right, self.left)):
            if (here.dimension, there.dimension) == (amount.dimension, to):
                carried = round(Fraction(amount.nano) * there.nano / here.nano)
                return Quantity(nano=carried, dimension=to)
        return None

    def __str__(self) -> str:
        return f"{self.left} = {self.right}"


def _unit(name: str, dimension: Dimension, worth: str) -> Unit:
    nano = Fraction(worth) * NANO
    return Unit(name=name, dimension=dimension, nano=round(nano), exact=nano if nano.denominator > 1 else None)


BASE = {
    Dimension.AREA: "dm2",
    Dimension.LENGTH: "m",
    Dimension.VOLUME: "ml",
    Dimension.MASS: "g",
    Dimension.COUNT: "piece",
}

# Weights and Measures Act 1985 (UK), schedule 1: a gallon is 4.54609 l, a pint an eighth of it, a fluid ounce a
# twentieth of that. NIST Handbook 44, appendix C (US): a gallon is 231 cubic inches, a pint an eighth of it, a fluid
# ounce a sixteenth of that. A yard is 0.9144 m in both (1959).
# International foot and pound (1959): 1 ft = 0.3048 m, 1 lb = 453.59237 g, 1 oz = 1/16 lb, all exact.
UNITS: dict[str, Unit] = {
    unit.name: unit
    for unit in (
        _unit("dm2", Dimension.AREA, "1"),
        _unit("cm2", Dimension.AREA, "0.01"),
        _unit("m2", Dimension.AREA, "100"),
        _unit("sq ft", Dimension.AREA, "9.290304"),
        _unit("m", Dimension.LENGTH, "1"),
        _unit("cm", Dimension.LENGTH, "0.01"),
        _unit("mm", Dimension.LENGTH, "0.001"),
        _unit("ft", Dimension.LENGTH, "0.3048"),
        _unit("in", Dimension.LENGTH, "0.0254"),
        _unit("yd", Dimension.LENGTH, "0.9144"),
        _unit("ml", Dimension.VOLUME, "1"),
        _unit("l", Dimension.VOLUME, "1000"),
        _unit("fl oz UK", Dimension.VOLUME, "28.4130625"),
        _unit("pint UK", Dimension.VOLUME, "568.26125"),
        _unit("gallon UK", Dimension.VOLUME, "4546.09"),
        _unit("fl oz US", Dimension.VOLUME, "29.5735295625"),
        _unit("pint US", Dimension.VOLUME, "473.176473"),
        _unit("gallon US", Dimension.VOLUME, "3785.411784"),
        _unit("g", Dimension.MASS, "1"),
        _unit("kg", Dimension.MASS, "1000"),
        _unit("oz", Dimension.MASS, "28.349523125"),
        _unit("lb", Dimension.MASS, "453.59237"),
        _unit("piece", Dimension.COUNT, "1"),
        _unit("pair", Dimension.COUNT, "2"),
        _unit("dozen", Dimension.COUNT, "12"),
        _unit("gross", Dimension.COUNT, "144"),
    )
}

_TWO_SYSTEMS = {
    "fl oz": ("fl. oz", "fluid ounce", "fluid ounces"),
    "pint": ("pints", "pt"),
    "gallon": ("gallons", "gal"),
}
_OF_BOTH = {
    said: f"{name} {system}"
    for name, others in _TWO_SYSTEMS.items()
    for system in ("UK", "US")
    for each in (name, *others)
    for said in (f"{each} {system.lower()}", f"{system.lower()} {each}")
} | {f"imperial {each}": f"{name} UK" for name, others in _TWO_SYSTEMS.items() for each in (name, *others)}
_SPELLINGS = {
    "dm²": "dm2", "cm²": "cm2", "m²": "m2", "sqft": "sq ft", "ft2": "sq ft", "ft²": "sq ft", "sq. ft": "sq ft",
    "metre": "m", "metres": "m", "litre": "l", "litres": "l", "gram": "g", "grams": "g",
    "pieces": "piece", "pc": "piece", "pcs": "piece", "pairs": "pair", "dozens": "dozen", "inch": "in", "feet": "ft",
    "yard": "yd", "yards": "yd", **_OF_BOTH,
    "stück": "piece", "paar": "pair", "dutzend": "dozen", "gros": "gross",
}  # fmt: skip


_DOZENS = ("dozen", "gross")
_ROUNDED = {
    "oz",
    "lb",
    "ft",
    "in",
    "yd",
    "sq ft",
    *_OF_BOTH.values(),
}  # worth so many decimals themselves that a part of one needs more


def _is_decimal(amount: Fraction) -> bool:
    left = amount.denominator
    for factor in (2, 5):
        while left % factor == 0:
            left //= factor
    return left == 1


def unit(name: str) -> Unit:
    """Look a unit up by name or a usual spelling of it.

    Raises
    ------
    UnitsError
        If nothing is called so.
    """
    folded = re.sub(r"\s+", " ", name.strip().casefold())
    known = UNITS.get(_SPELLINGS.get(folded, folded))
    if known is None:
        _ask_which(name, folded)
        raise UnitsError(
            phrase("No unit is called '%(name)s'.", name=name),
            fix=nearest(name, UNITS) or phrase("Units: %(units)s.", units=", ".join(UNITS)),
        )
    return known


def _ask_which(name: str, folded: str) -> None:
    """Refuse a measure that is another one in Britain and in America."""
    for unit_name, others in _TWO_SYSTEMS.items():
        if folded in (unit_name, *others):
            raise UnitsError(
                phrase("'%(name)s' is not the same in the UK and the US.", name=name),
                fix=phrase("Write '%(uk)s' or '%(us)s'.", uk=f"{unit_name} UK", us=f"{unit_name} US"),
            )


def quantity(text: str) -> Quantity:
    """Read an amount with its unit, such as '2.5 dm2' or '1 pair' (decimal point).

    Raises
    ------
    UnitsError
        If it is not an amount with a unit.
    """
    found = re.fullmatch(r"\s*([+-]?\d+(?:\.\d+)?)\s*([^\d].*)", text)
    if not found:
        raise UnitsError(
            phrase("'%(text)s' is not an amount with a unit.", text=text), fix="Write it like '2.5 dm2' or '1 pair'."
        )
    return unit(found[2]).of(Decimal(found[1]))


def exchange(text: str) -> Bridge:
    """Read two amounts that do for each other, such as '1 l = 1.2 kg', as `str` of one writes them."""
    left, _, right = text.partition("=")
    return Bridge(left=quantity(left), right=quantity(right))


def bridge(text: str) -> Bridge:
    """Read a bridge such as '1 l = 860 g'.

    Raises
    ------
    UnitsError
        If it is none, or does not join two kinds of unit.
    """
    if "=" not in text:
        raise UnitsError(
            phrase("'%(text)s' is not a conversion between units.", text=text), fix="Write it like '1 l = 860 g'."
        )
    made = exchange(text)
    if made.left.dimension is made.right.dimension or made.left.nano <= 0 or made.right.nano <= 0:
        raise UnitsError(
            phrase(
                "The conversion '%(text)s' must join two different kinds of unit with amounts above zero.",
                text=text.strip(),
            ),
            fix="Write it like '1 l = 860 g'.",
        )
    return made


def thickness_mm(text: str) -> Fraction:
    """Read a thickness in mm, iron (1/48 in) or leather ounces (1/64 in), as exact millimetres.

    Raises
    ------
    UnitsError
        If it is no thickness.

    Notes
    -----
    ASTM D1814-70(2000), section 1.2: 1 iron = 1/48 in, 1 ounce = 1/64 in; the inch is 25.4 mm.
    """
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(mm|iron|oz)\s*", text)
    if not found:
        raise UnitsError(
            phrase("'%(text)s' is not a thickness.", text=text), fix="Write it like '4 mm', '9 iron' or '5 oz'."
        )
    worth = {"mm": Fraction(1), "iron": Fraction(254, 480), "oz": Fraction(254, 640)}[found[2]]
    return Fraction(found[1]) * worth


def plain(number: Decimal) -> str:
    """Write a decimal without exponent or idle zeros."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
