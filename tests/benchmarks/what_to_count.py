"""Fifteen bins to count in invented shops whose true shelves are known: ours against three plain rules.

Run: python -m tests.benchmarks.what_to_count [shops]

Each shop lives its years anew; its book is loaded as it stood on a few days, the counts of the last weeks left out.
Each rule then names fifteen bins. What they find is measured twice: as money (what the book is off by there, of all it
is off by) and as harm (what the next order would get wrong because of it, in held-up jobs and lost sales).
"""

import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import partial
from pathlib import Path
from unittest import mock

import numpy as np
from scipy import stats

from stockroom.counting import next_count
from stockroom.counting.next_count import Candidate
from stockroom.demo import shop as living
from stockroom.demo.catalogue import Row
from stockroom.demo.files import write_files
from stockroom.demo.shop import lived, written
from stockroom.flows.book.opening import new_book
from stockroom.flows.counts import choose
from stockroom.flows.learning.lessons import teaching
from stockroom.flows.loading.load import load_files
from stockroom.stock.quantities import NANO
from stockroom.store import counts, ledger
from stockroom.store.book import Book

BINS = 15
DAYS = (date(2025, 9, 13), date(2026, 3, 14), date(2026, 9, 12))  # Saturdays
UNCOUNTED = timedelta(weeks=6)
DRAWS = 200  # of fifteen bins by chance
FIRST_SEED = 300  # none of them is the shop that is shipped
SAFETY = 1.3  # spreads of use that an order keeps in hand
SOON = 13.0  # weeks within which a bin is ordered again, if its error is to matter
_DATED = {
    "opening": "day", "deliveries": "received", "past-jobs": "finished", "sales": "when", "waste": "when",
    "counts": "counted at",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Bin:
    """One bin on one day, truth included; amounts in base units, money in minor units."""

    candidate: Candidate
    booked: float
    true: float
    cost: float
    used: float  # in a year

    @property
    def off(self) -> float:
        """Money the book is off by."""
        return abs(self.booked - self.true) * self.cost

    @property
    def harm(self) -> float:
        """Money lost for not knowing: jobs held up by an order too late, or what is ordered before its time.

        With the error as it truly is, at the moment the book comes to its order point; bins that are not soon
        ordered again count for less.
        """
        of, wrong = self.candidate, self.booked - self.true
        in_hand = SAFETY * of.cover_spread
        late = beyond(wrong - in_hand, of.cover_spread) - beyond(-in_hand, of.cover_spread)
        soon = 1.0 if self.booked <= of.cover + in_hand else SOON * of.weekly / (self.booked - of.cover - in_hand)
        return min(soon, 1.0) * (of.short_cost * max(late, 0.0) + of.over_cost * max(-wrong, 0.0))


def beyond(mean: float, spread: float) -> float:
    """Give the expected positive part of a normal."""
    if spread == 0:
        return max(mean, 0.0)
    return float(spread * stats.norm.pdf(mean / spread) + mean * stats.norm.cdf(mean / spread))


Chooser = Callable[[Sequence[Bin], np.random.Generator], Sequence[Bin]]


def shops(seeds: Sequence[int]) -> Iterator[list[Bin]]:
    """Give the bins of each shop on each of the days."""
    for seed in seeds:
        shelves: dict[date, dict[str, int]] = {}
        with mock.patch.object(living, "_count", partial(note, shelves, living._count)):
            files = written(lived(seed))
        for day in DAYS:
            with tempfile.TemporaryDirectory() as folder:
                write_files(until(files, day), Path(folder) / "data")
                book = new_book(str(Path(folder) / "book.sqlite"))
                load_files(book, [Path(folder) / "data"], datetime.combine(day, time(20)))
                yield bins(book, day, shelves)
                book.close()


def note(
    shelves: dict[date, dict[str, int]],
    count: Callable[[living.World, date], None],
    world: living.World,
    day: date,
) -> None:
    """Write down the true shelves just before a day's count."""
    shelves[day] = dict(world.shelves.true)
    count(world, day)


def until(files: Mapping[str, list[Row]], day: date) -> dict[str, list[Row]]:
    """Leave out what was not known yet on a day, and the counts of its last weeks."""
    ends = dict.fromkeys(_DATED, day.isoformat()) | {"counts": (day - UNCOUNTED).isoformat()}
    return {
        name: [row for row in rows if name not in _DATED or "" < str(row.get(_DATED[name], ""))[:10] <= ends[name]]
        for name, rows in files.items()
    }


def bins(book: Book, day: date, shelves: Mapping[date, Mapping[str, int]]) -> list[Bin]:
    """Read what the book says of each bin, beside the truth."""
    moment = datetime.combine(day, time(20))
    with book.reading() as session:
        taught = teaching(session, moment)
        facts = choose._facts(session, taught, moment)
        made = choose._candidates(taught, facts, counts.last_counted(session, at=moment))
        booked = ledger.balances(session, at=moment)
    return [
        Bin(
            candidate=each,
            booked=booked.get(each.material, 0) / NANO,
            true=shelves[day].get(each.material, 0) / NANO,
            cost=float(facts.by.costs[each.material]),
            used=facts.by.used.get(each.material, 0) / NANO,
        )
        for each in made
    ]


def most_used(there: Sequence[Bin], _: np.random.Generator) -> Sequence[Bin]:
    """Count what a year's use of is worth most."""
    return sorted(there, key=lambda each: -each.used * each.cost)[:BINS]


def most_valuable(there: Sequence[Bin], _: np.random.Generator) -> Sequence[Bin]:
    """Count what the shelf holds most money in."""
    return sorted(there, key=lambda each: -each.booked * each.cost)[:BINS]


def by_chance(there: Sequence[Bin], rng: np.random.Generator) -> Sequence[Bin]:
    """Count any."""
    return [there[at] for at in rng.permutation(len(there))[:BINS]]


def ours(there: Sequence[Bin], _: np.random.Generator) -> Sequence[Bin]:
    """Count what a count changes most of."""
    by_code = {each.candidate.material: each for each in there}
    below = [each for each in there if each.booked < 0]
    rest = [each.candidate for each in there if each.booked >= 0]
    chosen = next_count.choose(rest, bins=BINS - len(below))
    return [*below, *(by_code[each.candidate.material] for each in chosen)][:BINS]


RULES: dict[str, tuple[Chooser, int]] = {
    "ours": (ours, 1), "the most used": (most_used, 1), "the most valuable": (most_valuable, 1),
    "any": (by_chance, DRAWS),
}  # fmt: skip


def shares(found: Sequence[Bin], there: Sequence[Bin]) -> tuple[float, float]:
    """Give the share of the money and of the harm that some bins hold."""
    money, harm = sum(each.off for each in there), sum(each.harm for each in there)
    return sum(e.off for e in found) / money, sum(e.harm for e in found) / harm if harm else np.nan


def report(every: Sequence[Sequence[Bin]]) -> None:
    """Print what each rule finds."""
    rng = np.random.default_rng(1)
    print(f"{BINS} bins of {len(every[0])}, {len(every)} shops and days:")
    for name, (rule, times) in RULES.items():
        found = [np.mean([shares(rule(there, rng), there) for _ in range(times)], axis=0) for there in every]
        money, harm = np.nanmean(found, axis=0)
        print(f"  {name:18} money found {money:.0%}, harm avoided {harm:.0%}")


def main() -> None:
    """Live the shops and print the table."""
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 4
    report(list(shops(range(FIRST_SEED, FIRST_SEED + number))))


if __name__ == "__main__":
    main()
