"""What counts teach of the invented shop, against what its bench really uses.

Run: python -m tests.benchmarks.lessons_truth (loads the whole invented shop first)
"""

import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from stockroom.counting.lessons import LessonAdvice
from stockroom.demo.catalogue import RECIPES
from stockroom.demo.truth import DAILY_LOSS, factor
from stockroom.flows.book.opening import new_book
from stockroom.flows.learning.lessons import LineKey, Teaching, line_amount, teach
from stockroom.flows.learning.proposals import survey
from stockroom.flows.loading.load import load_files
from stockroom.stock.recipes import in_force
from stockroom.store.book import Book

DATA = Path(__file__).parents[2] / "data"
NOW = datetime(2026, 11, 21, 18, 30)
OFTEN = 30  # uses
NEAR = 0.10
OPEN_DAYS = 5  # a week


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of one material: true use over the card of today, and what counts say."""

    key: LineKey
    true: float
    estimate: float
    low: float
    high: float
    uses: int


def truth(key: LineKey) -> float:
    """Real use over what today's card says."""
    versions = [recipe for recipe in RECIPES if recipe.job == key.job]
    today = in_force(versions, NOW.date())
    assert today is not None
    return line_amount(versions[0], key.line) * factor(key.job, key.line) / line_amount(today, key.line)


def rows(taught: Teaching) -> Iterator[Row]:
    """Every line that counts say anything of."""
    for code, lesson in taught.by_material.items():
        for line in lesson.lines:
            key = taught.diaries[code].keys[line.line]
            low, middle, high = (each / line.recipe for each in (line.use.low, line.use.estimate, line.use.high))
            yield Row(key=key, true=truth(key), estimate=middle, low=low, high=high, uses=line.uses)


def report(book: Book) -> None:
    clock = time.process_time()
    taught = teach(book, NOW)
    print(f"reading and learning: {time.process_time() - clock:.2f} s of the processor (at most 2 s wished)")
    every = list(rows(taught))
    often = [row for row in every if row.uses >= OFTEN]
    covered = sum(row.low <= row.true <= row.high for row in every) / len(every)
    near = sum(abs(row.estimate / row.true - 1) <= NEAR for row in often) / len(often)
    print(
        f"{len(every)} lines; 90 % intervals cover {covered:.3f}; of {len(often)} used {OFTEN}+ times {near:.3f} lie within 10 %"
    )
    _proposals(book)
    for code, daily in DAILY_LOSS.items():
        waste = taught.by_material[code].waste
        print(f"  {code}: goes on no ticket {float(daily) * OPEN_DAYS:g} a week; counts say {waste.estimate:.1f} "
              f"({waste.low:.1f} to {waste.high:.1f})")  # fmt: skip


def _proposals(book: Book) -> None:
    towards = wrong = 0
    for each in survey(book, NOW).offered:
        if each.proposal.verdict is not LessonAdvice.PROPOSE:
            continue
        true, said = truth(each.key), each.proposal.use.estimate / each.proposal.recipe
        better = abs(said - true) < abs(1 - true)
        towards, wrong = towards + better, wrong + (not better)
        print(f"  {each.key}: truth {true:.3f}, proposed {said:.3f}{'' if better else '  AWAY FROM THE TRUTH'}")
    print(f"{towards} proposals go towards the truth, {wrong} away from it")


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        book = new_book(str(Path(folder) / "book.sqlite"))
        load_files(book, [DATA], NOW)
        report(book)
        book.close()


if __name__ == "__main__":
    main()
