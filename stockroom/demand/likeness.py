"""What is new borrows from what is like it: by family, words of the name, price and what it is made of, or as told."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import Borrowing, Floats

YOUNG = 52  # weeks: what has been there longer speaks for itself
GROWN = 26  # weeks from which on others may borrow of it
SOMETHING = 0.1  # of likeness, between any two things of one shop
UNPRICED = 0.5  # likeness of prices where one isn't known
_LETTERS = 4  # of a word that says something


@dataclass(frozen=True, slots=True, kw_only=True)
class Traits:
    """What tells how alike two jobs, or two materials, are."""

    code: str
    name: str
    family: str = ""
    price: float | None = None
    parts: frozenset[str] = frozenset()  # what a job is made of
    like: str = ""  # the one it was said to be like

    @property
    def words(self) -> frozenset[str]:
        """Words of its name, by their first letters: 'sole' and 'soles' are one."""
        return frozenset(word[:_LETTERS] for word in re.findall(r"[^\W\d_]{3,}", self.name.casefold()))


def likeness(one: Traits, other: Traits) -> float:
    """Say how alike two things are; above zero."""
    same = float(bool(one.family) and one.family == other.family)
    alike = SOMETHING + same + _common(one.words, other.words) + _common(one.parts, other.parts)
    near = math.exp(-abs(math.log(one.price / other.price))) if one.price and other.price else UNPRICED
    return alike**2 * near


def _common(one: frozenset[str], other: frozenset[str]) -> float:
    return len(one & other) / len(one | other) if one and other else 0.0


def borrowing(traits: Sequence[Traits], weeks: Sequence[int]) -> Borrowing | None:
    """Say from which series each young one borrows its usual rate, and how much of each.

    Parameters
    ----------
    traits : sequence of Traits
        Of each series; series with the same code are parts of one thing, and share what it borrows.
    weeks : sequence of int
        For how many weeks each has been there.
    """
    seen = {each.code: each for each in traits}
    parts = {code: [n for n, each in enumerate(traits) if each.code == code] for code in seen}
    age = {code: max(weeks[n] for n in rows) for code, rows in parts.items()}
    found: dict[str, Floats] = {}
    for code, mine in seen.items():
        grown = [
            other for other in seen.values() if age[other.code] >= max(GROWN, age[code] + 1) and other.code != code
        ]
        told = [other for other in grown if other.code == mine.like]
        if age[code] < YOUNG and grown:
            found[code] = _weights(mine, told or grown, parts, len(traits))
    rows = [n for n, each in enumerate(traits) if each.code in found]
    if not rows:
        return None
    weights = np.array([found[traits[n].code] / len(parts[traits[n].code]) for n in rows])
    return Borrowing(rows=np.array(rows, dtype=np.intp), weights=weights)


def _weights(mine: Traits, others: Sequence[Traits], parts: dict[str, list[int]], size: int) -> Floats:
    close = np.array([likeness(mine, other) for other in others])
    row: NDArray[np.float64] = np.zeros(size)
    for other, weight in zip(others, close / close.sum(), strict=True):
        row[parts[other.code]] = weight
    return row
