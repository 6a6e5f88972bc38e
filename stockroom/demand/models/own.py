"""Each series by itself, at several paces, with the season and without."""

from dataclasses import dataclass

import numpy as np

from stockroom.demand.history import Floats
from stockroom.demand.view import View, fading, levels, flat_levels

KEEPS = (0.97, 0.9, 0.8, 0.65)


@dataclass(frozen=True, slots=True, kw_only=True)
class Own:
    """A series' own smoothing at one pace."""

    name: str
    keep: float
    seasonal: bool
    least_weeks: int = 1
    everyday: bool = True

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week."""
        kernel = fading(view, self.keep)
        if self.seasonal:
            return levels(view, kernel)[..., None] * view.ahead
        return np.broadcast_to(flat_levels(view, kernel)[..., None], view.ahead.shape)


MODELS = tuple(
    Own(name=f"own-{round(100 * (1 - keep))}{'' if seasonal else '-flat'}", keep=keep, seasonal=seasonal)
    for keep in KEEPS
    for seasonal in (True, False)
)
