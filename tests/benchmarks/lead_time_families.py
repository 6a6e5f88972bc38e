"""Are lead times believed as long as they are, of suppliers whom no model was made for.

Run: python -m tests.benchmarks.lead_time_families [suppliers of a family] [development|held-back]     (default 40)

Suppliers of several families are invented from each seed: usual days log-normal, gamma, Weibull, uniform, or of two
speeds (most in a few days, some by the weekly lorry), with and without a share that is late, by delays of several
kinds; what they say is off by -30 to +40 per cent. Of each the shop knows 0 to 40 deliveries. The belief is held
against the exact chances of each whole day:

- how often the truth lies beyond the believed .5, .9 and .97 (of a day in which that falls, the part beyond it);
- the mean logarithm of the chance believed of the day that comes, and the mean pinball loss over .5 to .99, both as
  what they are worse than the truth itself would be: nothing can be better than 0.

What was tried was tried on the one half of families and seeds; the other was looked at afterwards.
"""

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from stockroom.buying.lead_times import PastOrder, Terms, learn
from stockroom.buying.problem import FloatArray
from tests.benchmarks.lead_times import FIRST

KNOWN = (0, 2, 5, 10, 20, 40)
QUANTILES = np.array([0.5, 0.9, 0.97])
PINBALL = np.arange(0.5, 0.995, 0.01)
MOST = 240  # whole days looked at
DRAWN = 200_000  # of which a supplier's true chances are made

Draw = Callable[[int, np.random.Generator], FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """A supplier: what he says, and the chance of each whole day from 0 to `MOST`."""

    family: str
    stated: float
    chance: FloatArray


def _usual(family: str, middle: float, rng: np.random.Generator) -> Draw:
    spread = float(rng.choice([0.1, 0.2, 0.3, 0.4, 0.5]))
    match family:
        case "log-normal":
            return lambda n, r: middle * r.lognormal(0.0, spread, n)
        case "gamma":
            return lambda n, r: middle * r.gamma(spread**-2, spread**2, n)
        case "Weibull":
            return lambda n, r: middle * r.weibull(1.1 / spread, n)
        case "uniform":
            return lambda n, r: middle * r.uniform(1 - 1.5 * spread, 1 + 1.5 * spread, n)
        case "two speeds":
            slow, share = middle + rng.uniform(3, 8), rng.uniform(0.1, 0.4)
            return lambda n, r: np.where(r.random(n) < share, slow, middle) * r.lognormal(0.0, 0.1, n)
        case _:  # "lorry": goes once a week, whatever day the order is there
            return lambda n, r: np.ceil(middle * r.lognormal(0.0, 0.2, n)) + r.integers(0, 7, n) * (r.random(n) < 0.5)


def _late(rng: np.random.Generator, held_back: bool) -> Draw:
    share, mean = float(rng.choice([0.0, 0.03, 0.08, 0.15, 0.25])), float(rng.uniform(3.0, 20.0))
    if held_back and rng.random() < 0.5:
        return lambda n, r: (r.random(n) < share) * mean * 1.2 * r.pareto(2.2, n)
    return lambda n, r: (r.random(n) < share) * r.exponential(mean, n)


FAMILIES = {
    "development": ("log-normal", "gamma", "two speeds"),
    "held-back": ("log-normal", "Weibull", "uniform", "two speeds", "lorry"),
}


def invented(half: str, family: str, seed: int) -> Truth:
    """Invent a supplier."""
    rng = np.random.default_rng([list(FAMILIES).index(half), FAMILIES[half].index(family), seed])
    middle = float(np.exp(rng.uniform(np.log(1.5), np.log(15.0))))
    usual, late = _usual(family, middle, rng), _late(rng, half == "held-back")
    days = np.clip(np.round(usual(DRAWN, rng) + late(DRAWN, rng)), 1, MOST).astype(int)
    off = float(np.exp(rng.uniform(np.log(0.7), np.log(1.4))))
    stated = float(max(round(np.median(days) * off), 1))
    return Truth(family=family, stated=stated, chance=np.bincount(days, minlength=MOST + 1) / DRAWN)


Belief = Callable[[float, list[int]], FloatArray]  # stated days, days taken; the chance of each whole day


def learnt(stated: float, took: list[int]) -> FloatArray:
    """Give what the shop believes."""
    past = [PastOrder(ordered=FIRST, received=FIRST + timedelta(days=each)) for each in took]
    belief = learn(past, Terms(stated_days=stated), FIRST + timedelta(days=2 * MOST))
    beyond = belief.beyond(np.arange(0.5, MOST))
    return -np.diff(np.concatenate([[1.0], beyond, [0.0]]))


def judged(truth: Truth, chance: FloatArray) -> FloatArray:
    """Give how often the truth is beyond each quantile, and both scores beside the truth's own."""
    below = np.cumsum(chance) - chance
    part = (below + chance - QUANTILES[:, None]) / np.maximum(chance, 1e-12)
    beyond = np.clip(part, 0.0, 1.0) @ truth.chance
    there = truth.chance > 0
    logs = truth.chance[there] @ np.log(np.maximum(chance[there], 1e-9) / truth.chance[there])
    return np.array([*beyond, logs, _pinball(truth, truth.chance) - _pinball(truth, chance)])


def _pinball(truth: Truth, chance: FloatArray) -> float:
    said = np.searchsorted(np.cumsum(chance), PINBALL - 1e-12).clip(0, MOST)
    over = np.arange(MOST + 1) - said[:, None]
    loss = np.maximum(PINBALL[:, None] * over, (PINBALL[:, None] - 1) * over) @ truth.chance
    return float(loss.mean())


def results(half: str, suppliers: int, believes: Belief = learnt) -> Iterator[tuple[str, int, FloatArray]]:
    """Judge what is believed of each supplier at each number of deliveries known."""
    for family in FAMILIES[half]:
        for seed in range(suppliers):
            truth = invented(half, family, seed)
            rng = np.random.default_rng([7, seed, FAMILIES[half].index(family)])
            for known in KNOWN:
                took = rng.choice(MOST + 1, known, p=truth.chance).tolist()
                yield family, known, judged(truth, believes(truth.stated, took))


def table(found: list[tuple[str, int, FloatArray]]) -> Iterator[str]:
    """Write a row for each number of deliveries, and one for each family."""
    yield f"{'':<16} {'beyond .5':>12} {'beyond .9':>14} {'beyond .97':>14} {'log score':>14} {'pinball':>14}"
    groups = [(f"{n} known", [f for f in found if f[1] == n]) for n in KNOWN]
    groups += [(name, [f for f in found if f[0] == name]) for name in dict.fromkeys(f[0] for f in found)]
    groups.append(("all", found))
    for name, rows in groups:
        values = np.array([row for *_, row in rows])
        error = values.std(axis=0, ddof=1) / np.sqrt(len(rows))
        cells = (f"{m:7.3f} ± {e:.3f}" for m, e in zip(values.mean(axis=0), error, strict=True))
        yield f"{name:<16} " + " ".join(cells)


def main(suppliers: int, halves: list[str]) -> None:
    """Print a table for each half."""
    for half in halves:
        print(half, f"({suppliers} suppliers of each family; the truth itself: .500, .100, .030, 0, 0)")
        print(*table(list(results(half, suppliers))), sep="\n")


if __name__ == "__main__":
    named = [each for each in sys.argv[1:] if each in FAMILIES]
    numbers = [int(each) for each in sys.argv[1:] if each.isdigit()]
    main(numbers[0] if numbers else 40, named or list(FAMILIES))
