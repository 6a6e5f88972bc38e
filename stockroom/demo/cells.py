"""Write values as the texts that reading files expects: ISO dates, decimal points, units by name."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from stockroom.stock.materials import Material
from stockroom.stock.money import major
from stockroom.stock.quantities import UNITS, Quantity, Unit, plain

DIGITS = 2  # of the demo's currency
_LARGE = {name: UNITS[name] for name in ("l", "kg", "sq ft")}


def money(minor_units: int | None) -> str:
    """Write cents as euros; blank for none."""
    return "" if minor_units is None else str(major(minor_units, DIGITS))


def moment(when: datetime | None) -> str:
    """Write a moment to the minute; blank for none."""
    return "" if when is None else when.isoformat(sep=" ", timespec="minutes")


def yes(flag: bool) -> str:  # noqa: FBT001 -- the flag is the value
    """Write 'yes', or nothing for no."""
    return "yes" if flag else ""


def number(amount: Fraction | Decimal) -> str:
    """Write an exact decimal without idle zeros."""
    exact = Fraction(amount)
    return plain(Decimal(exact.numerator) / Decimal(exact.denominator))


def pairs(named: Mapping[str, str]) -> str:
    """Write names with values, such as 'sole=bend; colour=black'."""
    return "; ".join(f"{name}={value}" for name, value in named.items())


def in_unit(amount: Quantity | int, unit: Unit) -> str:
    """Write how many of a unit an amount (or its nano) is."""
    nano = amount if isinstance(amount, int) else amount.nano
    return plain(unit.count(nano))


def with_unit(amount: Quantity | None) -> str:
    """Write an amount with a handy unit, such as '1 kg'."""
    if amount is None:
        return ""
    unit = handy(amount)
    return f"{in_unit(amount, unit)} {unit.name}"


def handy(amount: Quantity) -> Unit:
    """Pick the unit an amount reads best in."""
    whole = (u for u in _LARGE.values() if u.dimension is amount.dimension and amount.nano % (u.nano // 10) == 0)
    return next(whole, amount.dimension.base)


def recipe_unit(material: Material, amount: Quantity) -> Unit:
    """Pick the unit for a recipe's line: the material's own, unless a bench measures it smaller."""
    shown = material.unit
    return amount.dimension.base if shown.dimension is not amount.dimension or shown.name in ("l", "kg") else shown
