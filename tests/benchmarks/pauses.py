"""What a pause in a busy series costs its forecast: python -m tests.benchmarks.pauses [shops].

Simulated shops as in `open_sets` ('takings', 'market', 'settled shop'); one series in ten pauses for 8 to 30 weeks and
goes on as before, at least four weeks before the end. Scaled pinball of long sums of those that paused, and of the
rest, with pauses known as such and with each taken for demand; and what is taken for a pause where there is none.
"""

import sys
from unittest.mock import patch

import numpy as np

from stockroom.demand import choose
from stockroom.demand.choose import forecast, gamma_quantiles, pinball
from stockroom.demand.history import History, without_pauses
from tests.benchmarks.open_sets import KINDS, simulated

LONG = 8


def loss(use: np.ndarray, weeks: np.ndarray, families: np.ndarray) -> np.ndarray:
    """Loss of each series' last eight weeks."""
    end = use.shape[1] - LONG
    found = forecast(History(use=use[:, :end], weeks=weeks[:, :end], groups=tuple(families)), LONG)
    quantiles = gamma_quantiles(found.mean[:, :LONG].sum(axis=1), found.spread.long)
    scale = np.maximum(np.nanmean(np.abs(np.diff(use[:, :end], axis=1)), axis=1), 0.05)
    lost: np.ndarray = pinball(use[:, end:].sum(axis=1), quantiles) / LONG / scale
    return lost


def main(shops: int) -> None:
    """Print the figures."""
    print(
        f"{shops} shops each{'':14s}{'pause known':>14s}{'as demand':>14s}{'others, known':>16s}{'as demand':>14s}{'taken for pauses':>18s}"
    )
    for name in ("takings", "market", "settled shop", "one year", "gifts", "idle shop"):
        rows = []
        for seed in range(shops):
            rng = np.random.default_rng([7, seed])
            use, weeks, families = simulated(KINDS[name], rng)
            false = np.isnan(without_pauses(History(use=use, weeks=weeks)).use).sum() - np.isnan(use).sum()
            paused = rng.random(len(use)) < 0.1
            for row in np.flatnonzero(paused):
                long = int(rng.integers(8, min(31, use.shape[1] // 3)))
                start = int(rng.integers(13, use.shape[1] - LONG - 4 - long))
                use[row, start : start + long] = np.where(np.isnan(use[row, start : start + long]), np.nan, 0.0)
            after = loss(use, weeks, families)
            with patch.object(choose, "without_pauses", lambda history: history):
                before = loss(use, weeks, families)
            rows.append(
                [part[mine].mean() for mine in (paused, ~paused) for part in (after, before)] + [false / use.size]
            )
        mean, error = np.mean(rows, axis=0), np.std(rows, axis=0, ddof=1) / np.sqrt(shops)
        print(f"{name:26s}" + "".join(f"{m:9.4f} ± {e:.4f}" for m, e in zip(mean, error, strict=True)))


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 10)
