"""Croston: smoothed size over smoothed interval; flat."""

from dataclasses import dataclass

from stockroom.demand.history import Floats
from stockroom.demand.intermittent import at_origins, croston_levels
from stockroom.demand.view import View

ALPHA = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Croston:
    """Croston: smoothed size over smoothed interval; flat."""

    name: str = "croston"
    least_weeks: int = 1
    everyday: bool = False

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week."""
        held = croston_levels(view.use, view.known, alpha=ALPHA)
        return at_origins(held, view.origins, horizon=view.horizon)


MODEL = Croston()
