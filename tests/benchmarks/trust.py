"""A simulated year at the shop: forty papers a day through the command line, with orders, counts and closings.

Run: python -m tests.benchmarks.trust [weeks]     (default 52)

Prints memory and speed by month; at the end the whole book is checked. A fortnight of it is a test.
"""

import resource
import sys
import time
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from tests.end_to_end.shop import Indoors, small_shop

BEGIN = date(2026, 12, 1)  # a Tuesday, after the small shop's own history
A_DAY = 40  # papers, orders and counts included
OPEN_DAYS = range(1, 6)  # Tuesday to Saturday
_ORDERS = (  # of every week
    ("quil", ("THREAD-BLK=4", "ZIP-25=10", "LACE-90-BLK=5", "POLISH-BLK=10")),
    ("hide", ("BEND=4", "TOP-BLOCK=8", "CEMENT=2", "TOP-PIN=2")),
)


@dataclass
class Year:
    """The shop's days, one after the other; every word is typed at the command line."""

    desk: Indoors
    chance: Random = field(default_factory=lambda: Random(40))
    waiting: list[str] = field(default_factory=list)
    papers: int = 0
    months: list[tuple[date, int, float, float]] = field(default_factory=list)  # day, papers, MB, ms a paper

    def work(self, weeks: int) -> None:
        """Work so many weeks."""
        last = BEGIN
        began, before = time.perf_counter(), 0
        for n in range(weeks * 7):
            day = BEGIN + timedelta(days=n)
            if day.month != last.month:
                self._close(last, day)
                self._note(day, time.perf_counter() - began, self.papers - before)
                began, before = time.perf_counter(), self.papers
            if day.weekday() in OPEN_DAYS:
                self._day(day)
            last = day
        self._note(last, time.perf_counter() - began, self.papers - before)

    def _day(self, day: date) -> None:
        if day.weekday() == min(OPEN_DAYS):
            self._goods(day)
        for n in range(A_DAY - 2):
            self._paper(datetime(day.year, day.month, day.day, 9) + timedelta(minutes=12 * n), n)
        if day.weekday() == max(OPEN_DAYS):
            self._count(day)

    def _paper(self, when: datetime, n: int) -> None:
        turn = n % 8
        if turn in (0, 4):
            job = ("full", "--size", f"EU {self.chance.randint(36, 46)}") if turn else ("heel",)
            self.waiting.append(self._done("take-in", *job, "--customer", "Forget Me", when=when)["ticket"])
        elif turn in (1, 5) and self.waiting:
            self._done("finish", self.waiting.pop(self.chance.randrange(len(self.waiting))), when=when)
        elif turn in (2, 3, 6):
            self._done("sell", self.chance.choice(("polish", "zip", "LACE-90-BLK")), "1", when=when)
        elif n == 7:
            self._done("write-off", "CEMENT", "5 ml", when=when)
        elif n == 15:
            self._done("undo", when=when)
        else:
            self._done("finish", "heel", "--with", "top=block", when=when)

    def _goods(self, day: date) -> None:
        at = datetime(day.year, day.month, day.day, 8)
        for supplier, lines in _ORDERS:
            order = self._done("order", supplier, *lines, when=at)
            self._done("receive", order["order"], when=at + timedelta(minutes=5))
            at += timedelta(minutes=10)

    def _count(self, day: date) -> None:
        at = datetime(day.year, day.month, day.day, 18)
        now = at.isoformat()
        rows = {row["material"]: row for row in self.desk.facts("shelf", now=now)["rows"]}
        bins = [f"{m}={max(float(rows[m]['on_hand']), 0):.0f}" for m in ("THREAD-BLK", "CEMENT", "TOP-PIN")]
        self.desk.says("count", *bins, "--sheet", f"S{day}", "--yes", now=now)
        self._done("settle", f"S{day}", when=at + timedelta(minutes=10))

    def _close(self, month: date, day: date) -> None:
        at = datetime(day.year, day.month, day.day, 7)
        self.desk.says("close-period", f"{month:%Y-%m}", now=at.isoformat())
        self.papers += 1

    def _done(self, *words: str, when: datetime) -> dict[str, str]:
        self.papers += 1
        said: dict[str, str] = self.desk.facts(*words, now=when.isoformat())
        return said

    def _note(self, day: date, seconds: float, papers: int) -> None:
        resident = int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() / 2**20
        self.months.append((day, self.papers, resident, seconds * 1000 / max(papers, 1)))


def run(folder: Path, weeks: int) -> Year:
    """Open the small shop and work so many weeks in it."""
    desk = Indoors(folder / "book.sqlite")
    desk.says("new-book")
    desk.says("load", str(small_shop(folder / "files")))
    year = Year(desk)
    year.work(weeks)
    return year


def main(weeks: int) -> None:
    """Print the months of a run."""
    with TemporaryDirectory() as folder:
        year = run(Path(folder), weeks)
        for day, papers, megabytes, each in year.months:
            print(f"{day}: {papers:6,} papers, {megabytes:6.1f} MB resident, {each:5.1f} ms a paper")
        began = time.perf_counter()
        found = year.desk.facts("check", now=f"{BEGIN + timedelta(weeks=weeks)}T09:00:00")
        print(
            f"check: {found['documents']:,} documents in {time.perf_counter() - began:.1f} s, faults: {found['faults']}"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 52)
