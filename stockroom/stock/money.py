"""Money, exact: whole minor units on documents, thousandths of them inside costs (decision 2)."""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from stockroom.errors import UsageError
from stockroom.phrases import phrase

MILLI = 1000  # thousandths of the minor unit, in which costs are kept


def minor(amount: Decimal, digits: int) -> int:
    """Turn an amount of money into whole minor units; refuses part of a minor unit.

    Parameters
    ----------
    amount : Decimal
        In major units, such as euros.
    digits : int
        Decimals of the currency (ISO 4217 minor units): 2 for the euro, 0 for the yen.
    """
    scaled = amount.scaleb(digits)
    if scaled != scaled.to_integral_value():
        raise UsageError(
            phrase(
                "%(amount)s is finer than the smallest coin of the currency (%(digits)s decimals).",
                amount=amount,
                digits=digits,
            ),
            fix="Give the price of a whole pack instead of a single part of it.",
        )
    return int(scaled)


def major(minor_units: int, digits: int) -> Decimal:
    """Turn minor units back into an amount of money."""
    return Decimal(minor_units).scaleb(-digits)


def half_up(value: Fraction | Decimal) -> int:
    """Round to a whole number, halves away from zero: how shops round money."""
    exact = abs(Fraction(value))
    whole = (exact.numerator * 2 + exact.denominator) // (exact.denominator * 2)
    return -whole if value < 0 else whole


def milli_to_minor(milli: int) -> int:
    """Round a cost in thousandths to whole minor units, halves away from zero."""
    return int((Decimal(milli) / MILLI).to_integral_value(rounding=ROUND_HALF_UP))


def printed(parts: Sequence[int]) -> list[int]:
    """Round costs in thousandths to whole minor units that add up to their rounded sum (largest remainders first)."""
    floors = [part // MILLI for part in parts]
    order = sorted(range(len(parts)), key=lambda i: (-(parts[i] % MILLI), i))
    for i in order[: milli_to_minor(sum(parts)) - sum(floors)]:
        floors[i] += 1
    return floors


def split(total: int, weights: list[int]) -> list[int]:
    """Split a whole number by weights so that the parts add up exactly (largest remainders first).

    Parameters
    ----------
    total : int
        What to split, any sign.
    weights : list of int
        At least one, none negative; all zero splits evenly.
    """
    shares = weights if any(weights) else [1] * len(weights)
    whole = sum(shares)
    floors = [total * share // whole for share in shares]
    order = sorted(range(len(shares)), key=lambda i: (-(total * shares[i] % whole), i))
    for i in order[: total - sum(floors)]:
        floors[i] += 1
    return floors
