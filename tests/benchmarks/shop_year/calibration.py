"""Whether the shelves lie where they are believed to, by weeks since their count: today, and after four weeks' work.

Run: python -m tests.benchmarks.shop_year.calibration [--first 940] [--worlds 20] [--every 6]

Shares of true shelves below the believed .05, .1, .5, .9 and .95, and the error of the mean in weeks of use, beside what
is said of it. After four weeks' work, jobs and deliveries told: what is believed of use is then in it, and of what is
lost. The shop orders by a plain rule. Worlds 940-959, 2,736 shelves (decision 124):

    stand-in: the book, a reading error, a drift; the card's recipe
    since   n      today                             error said   after four weeks                  error said
    0-0.5   1580   .037 .089 .507 .887 .942           .47  .50    .158 .214 .565 .880 .927           .61  .50
    0.5-1.5  717   .077 .130 .536 .915 .948          1.06  .65    .184 .238 .579 .888 .926          1.14  .65
    1.5-2.5  322   .115 .165 .528 .913 .929           .45  .64    .183 .242 .550 .882 .901           .70  .64
    2.5-     117   .137 .197 .513 .949 .983           .41  .31    .205 .265 .573 .957 .983           .71  .31
    the product's belief from the last count alone, its shelves and use drawn apart
    0-0.5   1580   .037 .091 .501 .889 .941           .45  .49    .068 .097 .482 .880 .938           .50  .51
    0.5-1.5  717   .031 .063 .492 .923 .964          1.07  .66    .053 .095 .473 .911 .955          1.08  .69
    1.5-2.5  322   .022 .053 .460 .929 .966           .40  .65    .050 .081 .453 .913 .960           .45  .67
    2.5-     117   .017 .068 .393 .932 .991           .31  .37    .043 .051 .436 .906 .957           .40  .41
    the product's belief from all counts, shelves and use together
    0-0.5   1580   .037 .066 .444 .896 .951           .15  .17    .067 .096 .435 .885 .937           .24  .24
    0.5-1.5  717   .029 .050 .424 .943 .979           .17  .22    .059 .091 .432 .921 .957           .25  .30
    1.5-2.5  322   .019 .040 .394 .960 .984           .18  .28    .034 .053 .410 .938 .984           .26  .34
    2.5-     117   .026 .043 .376 .923 .991           .23  .29    .051 .068 .333 .897 .966           .32  .37
"""

import argparse
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from stockroom.buying.problem import FloatArray
from stockroom.buying.scenario import KnownThen, Purchase, rehearse
from tests.benchmarks.shop_year import counts, rules
from tests.benchmarks.shop_year.world import SETTLE_WEEKS, World, invent

FUTURES, AHEAD = 1000, 28
POINTS = (0.05, 0.1, 0.5, 0.9, 0.95)
SINCE = (0.0, 0.5, 1.5, 2.5, np.inf)  # weeks


def rows(world: World, known_then: KnownThen, rng: np.random.Generator) -> FloatArray:
    """Give, by item, weeks since its count and, today and later: share of futures below the truth, error, spread."""
    scenario, day = world.scenario, known_then.day
    weekly = rules.seen(world, day).mean
    jobs, gone = (each[day : day + AHEAD].sum(axis=0) for each in (scenario.tickets, scenario.waste))
    true = known_then.true_on_hand - known_then.waiting @ scenario.needs
    believed = counts.shelves(world, known_then, rng, FUTURES)
    later = believed.on_hand - ((jobs @ believed.needs) * believed.beyond + AHEAD / 7 * believed.lost).T
    columns = [(day - np.maximum(known_then.counted_on, 0)) / 7]
    for there, truth in ((believed.on_hand, true), (later, true - jobs @ scenario.needs - gone)):
        below = (there < truth[:, None]).mean(axis=1)
        columns += [below, (there.mean(axis=1) - truth) / weekly, there.std(axis=1) / weekly]
    return np.column_stack(columns)


def watched(seed: int, every: int) -> list[FloatArray]:
    """Play one year by a plain rule and look at every so many weeks."""
    world, found = invent(seed), list[FloatArray]()
    rule = rules.order_up_to(world, 0.999, top_up=True)

    def policy(known_then: KnownThen) -> Sequence[Purchase]:
        week = known_then.day // 7
        if week >= SETTLE_WEEKS and week % every == seed % every:
            found.append(rows(world, known_then, np.random.default_rng([seed, known_then.day])))
        return rule(known_then)

    rehearse(world.scenario, policy)
    return found


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.shop_year.calibration")
    parser.add_argument("--first", type=int, default=940)
    parser.add_argument("--worlds", type=int, default=20)
    parser.add_argument("--every", type=int, default=6)
    asked = parser.parse_args()
    seeds = range(asked.first, asked.first + asked.worlds)
    table = np.vstack([each for seed in seeds for each in watched(seed, asked.every)])
    for low, high in pairwise(SINCE):
        some = table[(table[:, 0] >= low) & (table[:, 0] < high)]
        said = [f"since {low:g}-{high:g}  n {len(some):5d}"]
        for below, error, spread in (some[:, 1:4].T, some[:, 4:7].T):
            said.append(" ".join(f"{(below < point).mean():.3f}" for point in POINTS))
            said.append(f"error {np.sqrt((error**2).mean()):.3f} said {np.sqrt((spread**2).mean()):.3f}")
        print("  ".join(said), flush=True)


if __name__ == "__main__":
    main()
