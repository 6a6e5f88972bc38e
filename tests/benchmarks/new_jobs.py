"""Jobs that are new, printed: python -m tests.benchmarks.new_jobs BOOK.

In the invented shop's book each job in turn is taken to have begun n weeks before a past day, with all that others did;
its next eight weeks are forecast with what it borrows of jobs like it and without, by its family and the house alone.
Pinball loss of the sum over the job's streams, and how often what came lay within the ranges said.
"""

import argparse
from datetime import datetime

import numpy as np

from stockroom.demand.history import History, weekly_use
from stockroom.demand.likeness import borrowing
from stockroom.demand.paths import sample_paths
from stockroom.demand.streams import streams
from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.flows.outlook.futures import _usual_year, _weeks, job_traits
from stockroom.stock.tickets import RecipeBox
from stockroom.store.book import open_book

LEVELS = np.array([0.5, 0.8, 0.9, 0.95, 0.98])
AHEAD, BACK, STEP = 8, 3, 17
SEEN = (0, 1, 2, 4, 8, 13, 26)


def measured(known: BookSnapshot) -> None:
    """Print loss and coverage by the weeks that were seen of each job."""
    codes = tuple(m.code for m in known.materials)
    made = streams(known.tickets, RecipeBox(known.recipes, known.shelf), known.day, codes)
    weeks = _weeks(known)
    use = weekly_use(made.facts, weeks, n_series=len(made.names), began=made.began)
    jobs, traits = np.array(made.jobs), [job_traits(known, code) for code in made.jobs]
    print(
        f"{'weeks seen':>10}{'without':>10}{'borrowing':>11}{'change':>9}{'  within .8, .95: without':>26}{'borrowing':>12}"
    )
    for seen in SEEN:
        loss, inside = np.zeros(2), np.zeros((2, 2))
        number = 0
        for back in range(BACK):
            end = len(weeks) - AHEAD - STEP * back
            for job in np.unique(jobs):
                mine = jobs == job
                hidden = use[:, :end].copy()
                hidden[np.ix_(mine, np.arange(end) < end - seen)] = np.nan
                actual = float(np.nansum(use[mine, end : end + AHEAD]))
                age = [seen if each else int((~np.isnan(row)).sum()) for each, row in zip(mine, hidden, strict=True)]
                for way, borrowed in enumerate((None, borrowing(traits, age))):
                    history = History(
                        use=hidden, weeks=weeks[:end], groups=made.jobs, names=made.names,
                        usual_year=_usual_year(known, made.jobs), borrowing=borrowed,
                    )  # fmt: skip
                    paths = sample_paths(history, AHEAD, np.random.default_rng(1), 400)
                    sums = paths.counts[:, mine].sum(axis=(1, 2))
                    cut = np.quantile(sums, LEVELS)
                    gap = actual - cut
                    loss[way] += np.maximum(LEVELS * gap, (LEVELS - 1) * gap).mean()
                    low, high = np.quantile(sums, [[0.1, 0.025], [0.9, 0.975]])
                    inside[way] += (low <= actual) & (actual <= high)
                number += 1
        rate = inside / number
        print(
            f"{seen:>10}{loss[0] / number:>10.3f}{loss[1] / number:>11.3f}{loss[1] / loss[0] - 1:>9.1%}"
            f"{rate[0, 0]:>17.3f}{rate[0, 1]:>7.3f}{rate[1, 0]:>9.3f}{rate[1, 1]:>7.3f}", flush=True
        )  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("book")
    parser.add_argument("--at", default="2026-11-21T18:00:00")
    asked = parser.parse_args()
    with open_book(asked.book).reading() as session:
        known = book_snapshot(session, datetime.fromisoformat(asked.at))
    measured(known)


if __name__ == "__main__":
    main()
