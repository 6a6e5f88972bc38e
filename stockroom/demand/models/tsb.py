"""Teunter-Syntetos-Babai: smoothed size times smoothed chance; flat."""

from dataclasses import dataclass

from stockroom.demand.history import Floats
from stockroom.demand.intermittent import at_origins, tsb_levels
from stockroom.demand.view import View

ALPHA = 0.1
BETA = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Tsb:
    """Teunter-Syntetos-Babai: smoothed size times smoothed chance; flat."""

    name: str = "tsb"
    least_weeks: int = 1
    everyday: bool = True

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week."""
        held = tsb_levels(view.use, view.known, alpha=ALPHA, beta=BETA)
        return at_origins(held, view.origins, horizon=view.horizon)


MODEL = Tsb()
