"""Chance for the invented shop, drawn from uniform numbers only, so that its files stay the same byte for byte.

NumPy promises the stream of its bit generators over releases, but not the streams of its distributions (NEP 19);
so every distribution here is made from uniform draws.
"""

from collections.abc import Sequence
from math import exp, sqrt
from statistics import NormalDist
from typing import TypeVar

import numpy as np

T = TypeVar("T")
_NORMAL = NormalDist()


class Dice:
    """Draws from a seeded generator."""

    __slots__ = ("_draw",)

    def __init__(self, rng: np.random.Generator) -> None:
        self._draw = rng.random

    def uniform(self, low: float = 0.0, high: float = 1.0) -> float:
        """Draw evenly from a stretch."""
        return low + (high - low) * float(self._draw())

    def happens(self, chance: float) -> bool:
        """Say yes with a chance."""
        return self.uniform() < chance

    def whole(self, low: int, high: int) -> int:
        """Draw a whole number, both ends included."""
        return low + int(self.uniform() * (high - low + 1))

    def one_of(self, things: Sequence[T]) -> T:
        """Draw one of several, evenly."""
        return things[self.whole(0, len(things) - 1)]

    def weighted(self, weights: dict[T, float]) -> T:
        """Draw one of several by weight."""
        left = self.uniform() * sum(weights.values())
        for thing, weight in weights.items():
            left -= weight
            if left < 0:
                return thing
        return next(reversed(weights))

    def normal(self) -> float:
        """Draw a standard normal number."""
        return _NORMAL.inv_cdf(min(max(self.uniform(), 1e-12), 1 - 1e-12))

    def around_one(self, spread: float) -> float:
        """Draw a lognormal number with mean 1 and about that coefficient of variation."""
        return exp(spread * self.normal() - spread * spread / 2)

    def poisson(self, mean: float) -> int:
        """Draw a Poisson count by inversion; for means below some tens."""
        left, term, count = self.uniform(), exp(-mean), 0
        while left >= term and count < mean + 20 + 12 * sqrt(mean):
            left -= term
            count += 1
            term *= mean / count
        return count

    def rounded(self, amount: float) -> int:
        """Round up or down at random so that the mean is kept."""
        return int(amount) + self.happens(amount - int(amount))
