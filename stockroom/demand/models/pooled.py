"""Half own smoothing, half a long share of the family's recent use, times the season."""

from dataclasses import dataclass

from stockroom.demand.history import Floats
from stockroom.demand.view import View, fading, levels, shared_levels


@dataclass(frozen=True, slots=True, kw_only=True)
class Pooled:
    """Half own smoothing, half a long share of the family's recent use, times the season."""

    name: str = "pooled"
    least_weeks: int = 1
    everyday: bool = True

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week."""
        slow = levels(view, fading(view, 0.99))
        shared = shared_levels(view, slow, kernel=fading(view, 0.9))
        level = (levels(view, fading(view, 0.97)) + shared) / 2
        return level[..., None] * view.ahead


MODEL = Pooled()
