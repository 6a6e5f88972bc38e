"""A source of chance in which each thing that is drawn has its own, found by its name.

So what is drawn of one does not depend on which others are drawn, with it or before it: a ticket more changes what that
ticket takes, and leaves the futures of all else as they were.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import blake2b

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chance:
    """Sources of chance that follow from one number."""

    seed: int

    def of(self, kind: str, name: str = "") -> np.random.Generator:
        """Give the source of one."""
        mark = blake2b(f"{self.seed} {kind} {name}".encode(), digest_size=16).digest()
        return np.random.Generator(np.random.SFC64(int.from_bytes(mark, "little")))

    def each(self, kind: str, names: Sequence[str]) -> list[np.random.Generator]:
        """Give the source of each of some; those of one name have their own, too."""
        seen: Counter[str] = Counter()
        found = []
        for name in names:
            found.append(self.of(kind, f"{name} {seen[name]}" if seen[name] else name))
            seen[name] += 1
        return found


def chance_from(rng: np.random.Generator) -> Chance:
    """Start from a number that a source of chance gives."""
    return Chance(seed=int(rng.integers(2**63)))
