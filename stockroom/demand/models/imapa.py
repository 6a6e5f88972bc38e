"""Smoothing at several temporal aggregations, averaged (after Petropoulos and Kourentzes 2015)."""

from dataclasses import dataclass

import numpy as np

from stockroom.demand.history import Floats
from stockroom.demand.view import View, levels

ALPHA = 0.1
SPANS = range(1, 9)


@dataclass(frozen=True, slots=True, kw_only=True)
class Imapa:
    """Smoothing at several temporal aggregations, averaged (after Petropoulos and Kourentzes 2015)."""

    name: str = "imapa"
    least_weeks: int = 1
    everyday: bool = True

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week."""
        age = np.arange(view.use.shape[1])
        kernels = [(1 - ALPHA) ** (age // span) / span for span in SPANS]
        return levels(view, np.sum(kernels, axis=0) / np.sum(1 / np.array(SPANS)))[..., None] * view.ahead


MODEL = Imapa()
