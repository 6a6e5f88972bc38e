"""Containers and sheets judged in parts of a full one: the questions several aids share."""

from fractions import Fraction

from stockroom.counting.aid import Ask, Finding, Reading
from stockroom.errors import UsageError
from stockroom.phrases import as_phrase, phrase
from stockroom.stock.quantities import NANO, quantity

CONTAINER = Ask(name="full", prompt="what a full container holds, such as '1 l'", fact="container", free=True)


def full_size(reading: Reading, name: str = "full") -> Finding:
    """Read what a full one holds; above zero."""
    held = quantity(reading.texts[name])
    if held.nano <= 0:
        raise UsageError("A full one can't hold nothing.", fix="State what a full one holds, such as '1 l'.")
    return Finding(amount=Fraction(held.nano, NANO), error=0.0, dimension=held.dimension)


def open_part(reading: Reading, name: str, *, most: int) -> tuple[Fraction, Finding]:
    """Turn tenths into an amount; also give the full one."""
    size = full_size(reading)
    if reading[name] > most:
        raise UsageError(
            phrase(
                "%(tenths)s tenths is more than %(most)s full.", tenths=f"{float(reading[name]):g}", most=most // 10
            ),
            fix="Count full ones as sealed, and give tenths of what is open.",
        )
    return size.amount * reading[name] / 10, size


def whole(reading: Reading, name: str, words: str) -> int:
    """Read a number that can only be whole."""
    if reading[name].denominator != 1:
        raise UsageError(
            phrase("The %(words)s must be a whole number.", words=as_phrase(words)),
            fix="Give the part as tenths instead.",
        )
    return int(reading[name])
