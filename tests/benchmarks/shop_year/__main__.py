"""Run ways of ordering through the same simulated years, keep what came of it, and print the table.

Run: python -m tests.benchmarks.shop_year play [--ways A B] [--kinds A B] [--first 100] [--worlds 20] [--beside FOLDER]
     python -m tests.benchmarks.shop_year table [--keep FILE]

Last played (decision 126): play --first 1000 --worlds 20 --kinds "no limits" "breaks and cash" --ways stockroom
"full information" "99.9 % + top-up" "(R,S) 99.9 %". What full information is made of: --ways "told how demand is drawn" "told demand"
"told deliveries" "told all but demand", or, with far less luck in it, `python -m tests.benchmarks.shop_year.regret`:
part of the distance is what must be learnt, part is chance in few futures (decision 91).

`play` adds a line for each year to a file (`--keep`), leaving out what it holds already, so that a long table is made
in several goes. `--beside` plays with the stockroom of another folder, in the same game: that version's forecast, lead
times and basket under this version's rules of play; its years are kept as 'stockroom before'. A year's cost is carriage,
holding, expiry, delayed jobs and lost sales, and what was paid for goods beyond, or below, their single pack's price.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from stockroom.buying.problem import FloatArray
from stockroom.buying.scenario import YEAR_DAYS, KnownThen, Outcome, Purchase, rehearse
from tests.benchmarks.shop_year import own, rules
from tests.benchmarks.shop_year.world import KINDS, World, invent

Make = Callable[[World, int], rules.Policy]

OURS, BEFORE, INFORMED = "stockroom", "stockroom before", "full information"
PLAIN: dict[str, Make] = {
    "99.9 % + top-up": lambda world, _: rules.order_up_to(world, 0.999, top_up=True),
    "(R,S) 99.9 %": lambda world, _: rules.order_up_to(world, 0.999, top_up=False),
    "(R,S) 95 %": lambda world, _: rules.order_up_to(world, 0.95, top_up=False),
    "min-max": lambda world, _: rules.min_max(world),
    "fortnight's cover": lambda world, _: rules.fortnight(world),
}
TOLD = {  # what full information is worth, piece by piece
    "told how demand is drawn": own.Told(demand=own.Demand.LAW),
    "told demand": own.Told(demand=own.Demand.TRUE),
    "told deliveries": own.Told(deliveries=True),
    "told shelves": own.Told(shelves=True),
    "told all but demand": own.Told(deliveries=True, shelves=True),
}
WAYS: dict[str, Make] = {
    OURS: own.stockroom,
    INFORMED: own.informed,
    **PLAIN,
    **{name: partial(own.stockroom, told=told) for name, told in TOLD.items()},
}
SPLIT = ("holding", "delay", "lost", "carriage", "expired", "price")  # the parts of a year's cost, in money
HEADINGS = ("cost", *SPLIT, "delayed", "days", "stock", "orders", "worst", "seconds")
HOLDING_RATE = 0.20  # a scenario's
GIVEN_UP = 0.05  # of a year's jobs delayed: a world given up
KEPT = Path("shop-year.jsonl")


@dataclass(slots=True)
class Bought:
    """A way of ordering that is watched: what it bought, and whether it kept to the terms."""

    world: World
    policy: rules.Policy
    packs: FloatArray = field(init=False)  # amounts bought of each item
    paid: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        self.packs, self.paid = np.zeros((2, len(self.world.scenario.unit_cost)))

    def __call__(self, known_then: KnownThen) -> Sequence[Purchase]:
        """Order, and hold what is ordered against cash and smallest orders."""
        chosen = [each for each in self.policy(known_then) if each.packs]
        counts = {each.offer: each.packs for each in chosen}
        worth = rules.worths(self.world, counts)
        least = np.array([each.least_order for each in self.world.scenario.suppliers])
        if (worth[worth > 0] < least[worth > 0] - 1e-6).any():
            raise ValueError("an order below the supplier's smallest")
        if self.world.cash is not None and rules.spent(self.world, counts) > self.world.cash + 1e-6:
            raise ValueError("an order beyond the day's cash")
        for each in chosen:
            offer = self.world.scenario.offers[each.offer]
            self.packs[offer.item] += each.packs * offer.pack
            self.paid[offer.item] += each.packs * offer.price_at(each.packs)
        return chosen

    def price(self, outcome: Outcome) -> float:
        """What a year's use cost beyond a single pack of the cheapest offer, at the mean price paid for each item."""
        scenario = self.world.scenario
        days = slice(scenario.from_day, None)
        used = scenario.tickets[days].sum(axis=0) @ scenario.needs + scenario.sales[days].sum(axis=0)
        bought = self.packs > 0
        more = self.paid[bought] / self.packs[bought] - scenario.unit_cost[bought]
        return float(more @ used[bought]) * YEAR_DAYS / outcome.days


def figures(outcome: Outcome, price: float, seconds: float) -> dict[str, float]:
    """Figures of one year, flows scaled to 365 days."""
    scale = YEAR_DAYS / outcome.days
    return {
        "cost": outcome.annual_cost + price,
        "delayed": scale * outcome.held_up,
        "days": scale * outcome.held_days,
        "lost": scale * outcome.lost_margin,
        "stock": outcome.stock_value,
        "carriage": scale * outcome.carriage,
        "orders": scale * outcome.orders,
        "expired": scale * outcome.expired,
        "price": price,
        "worst": outcome.held_up / max(outcome.tickets, 1),
        "seconds": seconds,
    }


def play(way: str, kind: str, seed: int) -> dict[str, float]:
    """Play one year."""
    world, begun = invent(seed, KINDS[kind]), time.process_time()
    policy = Bought(world=world, policy=WAYS[way](world, seed))
    outcome = rehearse(world.scenario, policy)
    return figures(outcome, policy.price(outcome), time.process_time() - begun)


def split(row: dict[str, float], rate: float = HOLDING_RATE) -> dict[str, float]:
    """Part a year's cost by cause: what is not kept of it follows from what is."""
    holding = rate * row["stock"]
    rest = row["cost"] - holding - sum(row[each] for each in SPLIT[2:])
    return row | {"holding": holding, "delay": rest}


Row = dict[str, str | int | dict[str, float]]
Table = dict[tuple[str, str], dict[int, dict[str, float]]]  # way and kind: by seed


def read(kept: Path) -> Table:
    """Read the years played so far; of one played twice, the last."""
    found: Table = {}
    for line in kept.read_text().splitlines() if kept.exists() else []:
        row = json.loads(line)
        found.setdefault((row["way"], row["kind"]), {})[row["seed"]] = row["figures"]
    return found


def play_all(asked: argparse.Namespace) -> None:
    """Play the years asked for that are not kept yet, world by world."""
    there, until = read(asked.keep), time.monotonic() + asked.seconds
    for seed in range(asked.first, asked.first + asked.worlds):
        for kind in asked.kinds:
            for way in asked.ways:
                name = asked.label if way == OURS else way
                if seed in there.get((name, kind), {}):
                    continue
                if time.monotonic() > until:
                    print("time is up: play again to go on")
                    return
                row = {"way": name, "kind": kind, "seed": seed, "figures": play(way, kind, seed)}
                with asked.keep.open("a") as file:
                    file.write(json.dumps(row) + "\n")


def beside(asked: argparse.Namespace) -> None:
    """Play with another version's stockroom, under this version's rules of play."""
    here = Path(__file__).parents[3]
    with TemporaryDirectory() as mixed:
        shutil.copytree(Path(asked.beside) / "stockroom", Path(mixed) / "stockroom")
        shutil.copy(here / "stockroom/buying/scenario.py", Path(mixed) / "stockroom/buying/scenario.py")
        (Path(mixed) / "tests").symlink_to(here / "tests")
        words = ["play", "--label", BEFORE, "--ways", OURS, "--keep", str(asked.keep.resolve())]
        words += ["--kinds", *asked.kinds, "--first", str(asked.first), "--worlds", str(asked.worlds)]
        words += ["--seconds", str(asked.seconds)]
        run = [sys.executable, "-m", "tests.benchmarks.shop_year", *words]
        subprocess.run(run, check=True, cwd=mixed, env=os.environ | {"PYTHONPATH": mixed})


def table(kept: Path) -> None:
    """Print, kind by kind, the means over the worlds that every way has played, and stockroom's paired differences."""
    found = read(kept)
    for kind in KINDS:
        ways = {way: rows for (way, of), rows in found.items() if of == kind}
        if ways:
            seeds = sorted(set.intersection(*(set(rows) for rows in ways.values())))
            print(f"\n{kind}: {len(seeds)} worlds" + (f", from {seeds[0]} to {seeds[-1]}" if seeds else ""))
            if seeds:
                _kind(ways, seeds)
    _breaks(found)


def _kind(ways: dict[str, dict[int, dict[str, float]]], seeds: Sequence[int]) -> None:
    print(f"{'':20s}" + "".join(f"{each:>9s}" for each in HEADINGS) + "  given up  stockroom less (paired)")
    ours = np.array([ways[OURS][seed]["cost"] for seed in seeds]) if OURS in ways else None
    order = [*(way for way in (*WAYS, BEFORE) if way in ways)]
    for way in order:
        rows = [split(ways[way][seed]) for seed in seeds]
        shown = [max(r[h] for r in rows) if h == "worst" else float(np.mean([r[h] for r in rows])) for h in HEADINGS]
        gone = sum(row["worst"] > GIVEN_UP for row in rows)
        text = "".join(
            f"{each:9.3f}" if h == "worst" else f"{each:9.1f}" for h, each in zip(HEADINGS, shown, strict=True)
        )
        told = "" if ours is None or way == OURS else _paired(ours, np.array([row["cost"] for row in rows]))
        print(f"{way:20s}{text}{gone:10d}  {told}")
    if OURS in ways and INFORMED in ways:
        _excess([(split(ways[OURS][seed]), split(ways[INFORMED][seed])) for seed in seeds])


def _excess(pairs: Sequence[tuple[dict[str, float], dict[str, float]]]) -> None:
    """Say by cause what a year costs beyond one with full information."""
    more = np.array([[ours[each] - theirs[each] for each in SPLIT] for ours, theirs in pairs])
    errors = more.std(axis=0, ddof=1) / np.sqrt(len(more)) if len(more) > 1 else np.full(len(SPLIT), np.nan)
    said = (f"{n} {m:+.0f} ± {e:.0f}" for n, m, e in zip(SPLIT, more.mean(axis=0), errors, strict=True))
    print("beyond full information: " + ", ".join(said))


def _paired(ours: FloatArray, theirs: FloatArray) -> str:
    less = theirs - ours
    error = less.std(ddof=1) / np.sqrt(len(less)) if len(less) > 1 else np.nan
    return (
        f"{less.mean():+.0f} ± {error:.0f}, {100 * (ours.mean() / theirs.mean() - 1):+.1f} %, wins {(less > 0).sum()}"
    )


def _breaks(found: Table) -> None:
    """Say whether price breaks make a year cheaper."""
    for without, with_them in (("no limits", "breaks"), ("cash", "breaks and cash")):
        for way in (*WAYS, BEFORE):
            one, other = found.get((way, without), {}), found.get((way, with_them), {})
            if seeds := sorted(set(one) & set(other)):
                cheaper = np.array([one[s]["cost"] - other[s]["cost"] for s in seeds])
                error = cheaper.std(ddof=1) / np.sqrt(len(seeds)) if len(seeds) > 1 else np.nan
                print(
                    f"{way}: breaks ({with_them}) save {cheaper.mean():+.0f} ± {error:.0f} a year in {len(seeds)} worlds"
                )


def main() -> None:
    """Play or print."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.shop_year")
    parser.add_argument("what", choices=("play", "table"))
    parser.add_argument("--ways", nargs="+", choices=list(WAYS), default=[OURS, INFORMED, *PLAIN])
    parser.add_argument("--kinds", nargs="+", choices=list(KINDS), default=list(KINDS))
    parser.add_argument("--first", type=int, default=100)
    parser.add_argument("--worlds", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=280.0)
    parser.add_argument("--keep", type=Path, default=KEPT)
    parser.add_argument("--label", default=OURS)
    parser.add_argument("--beside", default="")
    asked = parser.parse_args()
    if asked.what == "table":
        table(asked.keep)
    elif asked.beside:
        beside(asked)
    else:
        play_all(asked)


if __name__ == "__main__":
    main()
