"""What baskets cost more than the best one, told by the truth, order day by order day.

Run: python -m tests.benchmarks.shop_year.regret [--first 600] [--worlds 12] [--every 9] [--futures 300 600]

A played year is mostly luck: one short shelf decides. Here each basket is priced instead by many futures drawn from the
true law of its world, beside the basket that is best by them, on some order days of shops that order by themselves.
"""

import argparse
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from stockroom.buying.basket import basket
from stockroom.buying.problem import FloatArray, OrderProblem
from stockroom.buying.repricing import reprice
from stockroom.buying.scenario import KnownThen, Purchase, rehearse
from stockroom.flows.ordering.plan import at_next_order_day
from tests.benchmarks.shop_year import own
from tests.benchmarks.shop_year.own import Demand, Told
from tests.benchmarks.shop_year.world import SETTLE_WEEKS, World, invent

TRUTH = 3000  # futures of the judge
KNOWN = {
    "stockroom": Told(),
    "how demand is drawn": Told(demand=Demand.LAW),
    "demand": Told(demand=Demand.TRUE),
    "deliveries": Told(deliveries=True),
    "shelves": Told(shelves=True),
    "all but demand": Told(deliveries=True, shelves=True),
    "everything": own.EVERYTHING,
}
Dearer = dict[tuple[str, int, int], list[float]]  # by what is known, futures of use, and deliveries that each meets


def judged(world: World, seed: int, every: int, futures: Sequence[int], found: Dearer) -> None:
    """Play one year, and judge some of its order days."""
    base, judge = own.stockroom(world, seed), own.knowing(world, seed + 9000, replace(own.EVERYTHING, futures=TRUTH))

    def policy(known_then: KnownThen) -> Sequence[Purchase]:
        week = known_then.day // 7
        if week >= SETTLE_WEEKS and week % every == seed % every:
            truth = at_next_order_day(judge(known_then))
            best = basket(truth, time_limit=own.TIME_LIMIT)
            for (name, told), many in ((each, many) for each in KNOWN.items() for many in futures):
                asked = at_next_order_day(own.knowing(world, seed + 5000, replace(told, futures=many))(known_then))
                for lucks in (1, 2):
                    bought = basket(crossed(asked, lucks), time_limit=own.TIME_LIMIT)
                    priced = reprice(truth, best, {line.offer: line.packs for line in bought.lines})
                    found[name, many, lucks].append(priced.dearer)
        return base(known_then)

    rehearse(world.scenario, policy)


def crossed(problem: OrderProblem, lucks: int) -> OrderProblem:
    """Let each future of use meet several futures of deliveries, as many times as many futures in all.

    Use and deliveries know nothing of each other, so any pairing is as true as the one drawn, and the mean over several
    differs less from the truth: the incomplete U-statistic of two samples (Blom 1976, *Biometrika* 63, from memory).
    All deliveries of one future stay together, and a belief about a shelf stays with its use.
    """
    many = problem.n_paths
    order = np.concatenate([np.roll(np.arange(many), each * many // (lucks + 1)) for each in range(lucks)])

    def dealt(days: FloatArray) -> FloatArray:
        return days[order] if days.size > 1 else days

    items = tuple(
        replace(
            each,
            on_hand=np.tile(each.on_hand, lucks) if each.on_hand.size > 1 else each.on_hand,
            coming=tuple(replace(part, arrives=dealt(part.arrives)) for part in each.coming),
        )
        for each in problem.items
    )
    jobs = None if problem.jobs is None else replace(problem.jobs, paths=np.tile(problem.jobs.paths, (lucks, 1, 1)))
    suppliers = tuple(replace(each, leads=dealt(each.leads)) for each in problem.suppliers)
    return replace(problem, items=items, use=np.tile(problem.use, (lucks, 1, 1)), jobs=jobs, suppliers=suppliers)


def main() -> None:
    """Print a line for each way of knowing, world by world."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.shop_year.regret")
    parser.add_argument("--first", type=int, default=600)
    parser.add_argument("--worlds", type=int, default=12)
    parser.add_argument("--every", type=int, default=9)
    parser.add_argument("--futures", type=int, nargs="+", default=[own.N_PATHS])
    asked = parser.parse_args()
    found: Dearer = defaultdict(list)
    for seed in range(asked.first, asked.first + asked.worlds):
        judged(invent(seed), seed, asked.every, asked.futures, found)
        print(f"to world {seed}: dearer an order day, by what is known, futures of use, and deliveries that each meets")
        for (name, many, lucks), dearer in found.items():
            rows = np.sort(dearer)
            print(
                f"{name:22s}{many:6d} x {lucks}  n {len(rows):4d}  {rows.mean():7.2f} ± {rows.std() / len(rows) ** 0.5:.2f}"
                f"  median {np.median(rows):.2f}  without the three dearest {rows[:-3].mean():.2f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
