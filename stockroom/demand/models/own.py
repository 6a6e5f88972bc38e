"""Each series by itself, at several paces, with the season and without.

What jumps is followed by the quick, what only seems to by the patient, and what has no season of its own, though its
family has, by those that leave it out.
"""

from dataclasses import dataclass

import numpy as np

from stockroom.demand.history import Floats
from stockroom.demand.view import View, fading, levels

KEEPS = (0.97, 0.9, 0.8, 0.65)  # of a week's weight, a week later


@dataclass(frozen=True, slots=True, kw_only=True)
class Own:
    """A series' own smoothing at one pace: simple exponential smoothing, drawn a little to its own of old."""

    keep: float
    seasonal: bool
    least_weeks: int = 1
    everyday: bool = True

    @property
    def name(self) -> str:
        """Its pace in per cent a week, and whether it leaves the season out."""
        return f"own-{round(100 * (1 - self.keep))}{'' if self.seasonal else '-flat'}"

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week."""
        level = levels(view, fading(view, self.keep), flat=not self.seasonal)[..., None]
        return level * view.ahead if self.seasonal else np.repeat(level, view.horizon, axis=2)


MODELS = tuple(Own(keep=keep, seasonal=seasonal) for keep in KEEPS for seasonal in (True, False))
