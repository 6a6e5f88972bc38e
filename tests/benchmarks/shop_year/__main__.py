"""Run every way of ordering through the same simulated years and print the table.

Run: python -m tests.benchmarks.shop_year [seeds] [first seed] [ways, comma-separated]
"""

import sys
import time
from collections.abc import Callable, Sequence

import numpy as np

from stockroom.buying.problem import FloatArray
from stockroom.buying.scenario import YEAR_DAYS, KnownThen, Outcome, Purchase, rehearse
from tests.benchmarks.shop_year import own, rules
from tests.benchmarks.shop_year.world import World, invent

Make = Callable[[World, int], Callable[[KnownThen], Sequence[Purchase]]]

WAYS: dict[str, Make] = {
    "fortnight's cover": lambda world, _: rules.fortnight(world),
    "min-max": lambda world, _: rules.min_max(world),
    "order-up-to 95 %": lambda world, _: rules.order_up_to(world, 0.95, top_up=False),
    "the same, topped up": lambda world, _: rules.order_up_to(world, 0.95, top_up=True),
    "99.9 %, topped up": lambda world, _: rules.order_up_to(world, 0.999, top_up=True),
    "full information": own.informed,
    "stockroom": own.stockroom,
}
HEADINGS = ("a year", "held up", "held days", "lost", "stock", "carriage", "orders", "expired", "s/seed")


def figures(outcome: Outcome) -> list[float]:
    """Figures of one year, flows scaled to 365 days."""
    scale = YEAR_DAYS / outcome.days
    flows = (outcome.held_up, outcome.held_days, outcome.lost_margin)
    last = (outcome.carriage, outcome.orders, outcome.expired)
    return [
        outcome.annual_cost,
        *(scale * each for each in flows),
        outcome.stock_value,
        *(scale * each for each in last),
    ]


def run(name: str, seeds: Sequence[int]) -> FloatArray:
    """Figures of one way of ordering, shape (n_seeds, n_figures), seconds last."""
    rows = []
    for seed in seeds:
        world, begun = invent(seed), time.process_time()
        outcome = rehearse(world.scenario, WAYS[name](world, seed))
        rows.append([*figures(outcome), time.process_time() - begun])
    return np.array(rows)


def main() -> None:
    """Print means over the seeds, and stockroom's paired differences."""
    many = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    names = sys.argv[3].split(",") if len(sys.argv) > 3 else list(WAYS)
    print(f"{'':20s}" + "".join(f"{each:>10s}" for each in HEADINGS))
    costs: dict[str, FloatArray] = {}
    for name in names:
        table = run(name, range(first, first + many))
        costs[name] = table[:, 0]
        print(f"{name:20s}" + "".join(f"{each:10.1f}" for each in table.mean(axis=0)), flush=True)
    for name, cost in costs.items():
        print(f"{name:20s} each seed: " + " ".join(f"{each:.0f}" for each in cost))
    for name, cost in costs.items():
        if name != "stockroom" and "stockroom" in costs:
            less = cost - costs["stockroom"]
            error = less.std(ddof=1) / np.sqrt(len(less)) if len(less) > 1 else np.nan
            ratio = costs["stockroom"].mean() / cost.mean()
            print(
                f"stockroom against {name:20s} ratio {ratio:.2f}, saves {less.mean():.0f} ± {error:.0f} a year, wins {(less > 0).sum()} of {len(less)}"
            )


if __name__ == "__main__":
    main()
