"""Gradient boosting over all series at once; needs the optional extra `boost` (scikit-learn).

One model for the whole house learns, from every series and every past week, by how much the coming weeks' use
departs from the yearly level, given how the last weeks, the family and the year before departed from it.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import Floats
from stockroom.demand.view import View
from stockroom.errors import StockroomError

LOOK_BACK = (1, 2, 4, 8, 13, 26, 52)
SPAN = 8  # weeks whose sum is learnt
STRIDE = 2  # weeks between the origins learnt from
PRIOR = 0.5
TINY = 1e-9
SETTINGS: dict[str, Any] = {
    "loss": "poisson",
    "learning_rate": 0.05,
    "max_iter": 150,
    "max_leaf_nodes": 12,
    "min_samples_leaf": 80,
    "l2_regularization": 5.0,
    "random_state": 0,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Boost:
    """Poisson gradient boosting of the departure from the yearly level (Friedman 2001), by scikit-learn."""

    name: str = "boost"
    least_weeks: int = 34
    everyday: bool = False

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week."""
        table = _Table(view)
        judge = table.learn(0)
        last = len(view.origins) - 1
        level = [table.departures(i, table.learn(i) if i == last else judge) for i in range(len(view.origins))]
        return np.stack(level)[..., None] * view.ahead


def _regressor() -> Any:  # noqa: ANN401 -- scikit-learn carries no types
    try:
        from sklearn.ensemble import HistGradientBoostingRegressor  # noqa: PLC0415 -- an optional extra
    except ImportError as missing:
        raise StockroomError(
            "The forecasting model 'boost' needs scikit-learn, which is not installed.",
            fix="Install it with: pip install 'stockroom[boost]'; or leave the model out.",
        ) from missing
    return HistGradientBoostingRegressor


class _Table:
    """Features and targets at any week, built from running sums."""

    def __init__(self, view: View) -> None:
        self.view = view
        member = (view.family[:, None] == np.arange(view.family.max() + 1)).astype(np.float64)
        self.member = member

    def _sums(self, origin: int) -> tuple[Floats, Floats]:
        start = np.zeros((len(self.view.use), 1))
        exposure = self.view.exposure[origin]
        return (
            np.concatenate([start, self.view.use.cumsum(axis=1)], axis=1),
            np.concatenate([start, exposure.cumsum(axis=1)], axis=1),
        )

    def features(self, origin: int, week: int) -> tuple[NDArray[np.float64], Floats]:
        """Departures over each look-back, own and family's, and the yearly level, as known at `week`."""
        used, exposed = self._sums(origin)

        def over(sums: Floats, back: int) -> Floats:
            part: Floats = sums[:, week] - sums[:, max(week - back, 0)]
            return part

        year_use, year_exposure = over(used, 52), over(exposed, 52)
        house = year_use.sum() / max(float(year_exposure.sum()), TINY)
        level = (year_use + PRIOR) / (year_exposure + PRIOR / max(house, TINY))
        columns = [np.log(level), np.minimum(year_exposure, 52.0)]
        for back in LOOK_BACK:
            use, expected = over(used, back), level * over(exposed, back)
            family = (self.member.T @ use + PRIOR) / (self.member.T @ expected + PRIOR)
            columns += [(use + PRIOR) / (expected + PRIOR), self.member @ family]
        return np.stack(columns, axis=1), level

    def learn(self, origin: int) -> Any:  # noqa: ANN401 -- scikit-learn carries no types
        """Fit on every STRIDE-th week whose SPAN weeks were in by the origin; None where nothing is known yet."""
        regressor = _regressor()
        used, exposed = self._sums(origin)
        rows, targets, weights = [], [], []
        for week in range(int(self.view.origins[origin]) - SPAN, SPAN, -STRIDE):
            feature, level = self.features(origin, week)
            expected = level * (exposed[:, week + SPAN] - exposed[:, week])
            seen = expected > 0
            rows.append(feature[seen])
            ratio = (used[:, week + SPAN] - used[:, week]) / np.maximum(expected, TINY)
            targets.append(ratio[seen] + TINY)  # a house all idle is still a house
            weights.append(expected[seen])
        if not any(map(len, rows)):
            return None
        model = regressor(**SETTINGS)
        return model.fit(np.concatenate(rows), np.concatenate(targets), sample_weight=np.concatenate(weights))

    def departures(self, origin: int, model: Any) -> Floats:  # noqa: ANN401 -- as above
        """Level forecast of every series at one origin, (n_series,)."""
        feature, level = self.features(origin, int(self.view.origins[origin]))
        forecast: Floats = level if model is None else level * model.predict(feature)
        return forecast


MODEL = Boost()
