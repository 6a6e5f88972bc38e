"""The mean of the last year, times the season: a floor of belief for what has fallen idle."""

from dataclasses import dataclass

import numpy as np

from stockroom.demand.history import Floats
from stockroom.demand.view import View, levels


@dataclass(frozen=True, slots=True, kw_only=True)
class Yearly:
    """The mean of the last year, times the season: a floor of belief for what has fallen idle."""

    name: str = "yearly"
    least_weeks: int = 1
    everyday: bool = True

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week."""
        kernel = (np.arange(view.use.shape[1]) < round(view.season)).astype(np.float64)
        return levels(view, kernel)[..., None] * view.ahead


MODEL = Yearly()
