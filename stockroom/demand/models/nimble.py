"""Quick to follow: two months of own use, and the family's last weeks, times the season."""

from dataclasses import dataclass

from stockroom.demand.history import Floats
from stockroom.demand.view import View, fading, levels, shared_levels


@dataclass(frozen=True, slots=True, kw_only=True)
class Nimble:
    """Quick to follow: two months of own use, and the family's last weeks, times the season."""

    name: str = "nimble"
    least_weeks: int = 1
    everyday: bool = True

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week."""
        slow = levels(view, fading(view, 0.96))
        shared = shared_levels(view, slow, kernel=fading(view, 0.8))
        level = (levels(view, fading(view, 0.9)) + shared) / 2
        return level[..., None] * view.ahead


MODEL = Nimble()
