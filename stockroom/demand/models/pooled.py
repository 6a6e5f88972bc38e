"""Pooled seasonal smoothing: a series' own recent level, and its long share of its family's recent level."""

from dataclasses import dataclass

import numpy as np

from stockroom.demand.history import Floats
from stockroom.demand.view import View, discounted, levels


def family_factor(view: View, slow: Floats, keep: float) -> Floats:
    """How much more each series' family has lately used than its members' slow levels promise."""
    count, exposure = discounted(view, keep)
    factor = view.by_family(count) / np.maximum(view.by_family(slow * exposure), 1e-9)
    return factor[:, view.family]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pooled:
    """Half own smoothing, half share of the family, times the family's seasonal index."""

    name: str
    own: float
    family: float
    share: float
    least_weeks: int = 1
    light: bool = True

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week."""
        slow = levels(view, self.share)
        shared = slow * family_factor(view, slow, self.family)
        level = (levels(view, self.own) + shared) / 2
        return level[..., None] * view.ahead


MODEL = Pooled(name="pooled", own=0.97, family=0.9, share=0.99)
