"""How much a book holds: what lies beyond is a slip of the pen, and would not fit every database.

Checked where nouns and documents are made, so that each way in has them. A sum of many lines within these bounds stays
within 63 bits; where one could leave them, the ledger asks what is on hand (`store/ledger.py`).
"""

from collections.abc import Callable
from datetime import date, datetime

from stockroom.errors import UsageError
from stockroom.phrases import phrase

What = Callable[[], str]  # what is refused, in words that are only made where it is

MOST_NANO = 10**16  # in a line: ten million dm2, m, ml, g or pieces
MOST_HELD = 10**18  # on hand of one material at one site, over or short
MOST_MONEY = 10**11  # minor units in a line
MOST_PAIRS = 100  # on a ticket
MOST_SHOES = 2 * MOST_PAIRS
MOST_WEEKLY = 1000  # of a job, or sold over the counter, that are usual
MOST_PACKS = 100_000  # of one material on an order
MOST_WHOLE = 10**9  # any other whole number: fits 31 bits
FIRST_YEAR, LAST_YEAR = 2000, 2100
FIRST_DAY, LAST_DAY = date(FIRST_YEAR, 1, 1), date(LAST_YEAR, 12, 31)
_NEVER_BEFORE, _NEVER_AFTER = FIRST_DAY.isoformat(), LAST_DAY.isoformat() + "T23:59:59"


def check_nano(nano: int, what: What) -> None:
    """Refuse an amount beyond what a line holds."""
    if not -MOST_NANO <= nano <= MOST_NANO:
        raise _too_much(what)


def check_money(minor: int | None, what: What) -> None:
    """Refuse a sum of money, in minor units, beyond what a line holds."""
    if minor is not None and not -MOST_MONEY <= minor <= MOST_MONEY:
        raise _too_much(what)


def check_number(number: int | None, what: What, most: int = MOST_WHOLE) -> None:
    """Refuse a whole number beyond its bound."""
    if number is not None and not -most <= number <= most:
        raise _too_much(what, most)


def check_day(day: date | datetime | None, what: What) -> None:
    """Refuse a day or a moment that no shop's book is about."""
    if day is not None and not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise _no_such_day(what, day.isoformat()[:10])


def check_moment_text(text: str, what: What) -> None:
    """Refuse a moment, as the tables keep it, that no shop's book is about."""
    if text and not _NEVER_BEFORE <= text <= _NEVER_AFTER:
        raise _no_such_day(what, text[:10])


def _too_much(what: What, most: int | None = None) -> UsageError:
    if most is not None:
        fix = phrase("Give at most %(most)s.", most=f"{most:,}")
        return UsageError(phrase("%(what)s is more than a book holds.", what=what()), fix=fix)
    return UsageError(phrase("%(what)s is more than a book holds.", what=what()), fix="Check the figures and the unit.")


def _no_such_day(what: What, said: str) -> UsageError:
    return UsageError(
        phrase("%(what)s can't be on %(day)s.", what=what(), day=said),
        fix=phrase("Give a day from %(first)s to %(last)s.", first=FIRST_DAY, last=LAST_DAY),
    )
