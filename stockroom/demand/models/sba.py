"""Croston with the Syntetos-Boylan correction; flat."""

from dataclasses import dataclass

from stockroom.demand.history import Floats
from stockroom.demand.intermittent import at_origins, croston_levels, sba_factor
from stockroom.demand.view import View

ALPHA = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Sba:
    """Croston with the Syntetos-Boylan correction; flat."""

    name: str = "sba"
    least_weeks: int = 1
    everyday: bool = False

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week."""
        held = croston_levels(view.use, view.known, alpha=ALPHA) * sba_factor(ALPHA)
        return at_origins(held, view.origins, horizon=view.horizon)


MODEL = Sba()
