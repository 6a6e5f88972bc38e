"""The plain average of the last year's open weeks, no season: what a shop without a program would reckon with.

It has no part in the usual combination, which gains nothing by it; where it would have been better, it is used instead.
"""

from dataclasses import dataclass

import numpy as np

from stockroom.demand.history import Floats
from stockroom.demand.view import View, weighted

PRIOR_WEEKS = 1e-6  # nothing seen, nothing expected


@dataclass(frozen=True, slots=True, kw_only=True)
class Average:
    """The plain average of the last year's open weeks; no season, nothing shared."""

    name: str = "average"
    least_weeks: int = 1
    everyday: bool = False

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week."""
        kernel = (np.arange(view.use.shape[1]) < round(view.season)).astype(np.float64)
        count, weeks = weighted(view, kernel, flat=True)
        return np.repeat((count / (weeks + PRIOR_WEEKS))[..., None], view.horizon, axis=2)


MODEL = Average()
