"""A simulated year at the shop: forty documents a day, at the pages and at the command line, with orders, counts, closings.

Run: python -m tests.benchmarks.trust [weeks]     (default 52)

Prints memory and speed by month; at the end the whole book is checked. A fortnight of it is a test.
"""

import re
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

from tests.benchmarks.tablet import Tablet, resident, tablet
from tests.end_to_end.shop import Indoors, small_shop

BEGIN = date(2026, 12, 1)  # a Tuesday, after the small shop's own history
A_DAY = 40  # documents, orders and counts included
OPEN_DAYS = range(1, 6)  # Tuesday to Saturday
OPENS, SHUTS = 9, 18
_COUNTED = ("THREAD-BLK", "CEMENT", "TOP-PIN", "BEND")  # week about at the pages and at the command line
_USED_BEYOND_THE_CARD = 0.01  # of the stock, by the week: counts have something to find
_TICKET = re.compile(r"Ticket (\d+) is taken in")


@dataclass(frozen=True)
class Month:
    """What a month came to."""

    last: date
    documents: int  # since the year began
    typed: int  # of them at the command line
    desk: float  # MB kept by the process that types the commands
    pages: float  # MB kept by the server
    each: float  # ms a document


@dataclass
class Year:
    """The shop's days, one after the other; every word is typed, every form is sent."""

    desk: Indoors
    tablet: Tablet
    chance: Random = field(default_factory=lambda: Random(40))
    waiting: list[str] = field(default_factory=list)  # tickets
    coming: list[tuple[date, str]] = field(default_factory=list)  # orders
    documents: int = 0
    typed: int = 0
    months: list[Month] = field(default_factory=list)

    def work(self, weeks: int) -> None:
        """Work so many weeks."""
        last = BEGIN
        began, before = time.perf_counter(), 0
        for n in range(weeks * 7):
            day = BEGIN + timedelta(days=n)
            if day.month != last.month:
                self._note(last, time.perf_counter() - began, self.documents - before)
                began, before = time.perf_counter(), self.documents
                self._close(last, day)
            if day.weekday() in OPEN_DAYS:
                self._day(day)
            last = day
        self._note(last, time.perf_counter() - began, self.documents - before)

    def _day(self, day: date) -> None:
        begun = self.documents
        self._goods(day)
        if day.weekday() == min(OPEN_DAYS):
            self._order(day)
        if day.weekday() == max(OPEN_DAYS):
            self._count(day)
        moments = iter(_hours(day))
        while self.documents < begun + A_DAY:
            self._document(next(moments), self.documents)

    def _document(self, when: datetime, n: int) -> None:
        """Do what comes next at the counter or at the bench."""
        turn = n % 16
        if turn in (0, 4, 8):
            self._take_in(when, full=turn != 4)
        elif turn in (1, 5, 9) and self.waiting:
            self._finish(when, self.waiting.pop(self.chance.randrange(len(self.waiting))))
        elif turn == 7:
            self._type("write-off", "CEMENT", "5 ml", "--anyway", when=when)
        elif turn == 11:
            self._sell(when)
            self._fill_in("/documents", "/documents/undo", when, document=self._newest(when))
        elif turn == 15:
            self._sell(when)
            self._type("undo", when=when)
        elif turn in (2, 3, 6, 10):
            self._sell(when)
        else:
            card = "/jobs/card?job=HEEL-L&to=finish"
            self._fill_in(card, "/tickets/finish-job", when, **{"job": "HEEL-L", "choice:top": "pin"})

    def _take_in(self, when: datetime, *, full: bool) -> None:
        job = ("full", "--size", f"EU {self.chance.randint(36, 46)}") if full else ("heel",)
        if self.chance.random() < 0.5:
            self.waiting.append(self._type("take-in", *job, "--customer", "Forget Me", when=when)["ticket"])
            return
        fields = {"job": "FULL", "size": job[-1], "choice:sole": "bend"} if full else {"job": "HEEL-L"}
        page = self._fill_in(f"/jobs/card?job={fields['job']}&to=take-in", "/tickets/take-in", when, **fields)
        taken = _TICKET.search(page)
        assert taken is not None, page
        self.waiting.append(taken[1])

    def _finish(self, when: datetime, number: str) -> None:
        if self.chance.random() < 0.5:
            self._type("finish", number, when=when)
        else:
            self._fill_in(f"/tickets/card?number={number}", "/tickets/finish", when, number=number)

    def _sell(self, when: datetime) -> None:
        wanted = self.chance.choice(("POLISH-BLK", "ZIP-25", "LACE-90-BLK"))
        if self.chance.random() < 0.5:
            self._type("sell", wanted, "1", "--anyway", when=when)
        else:
            self._fill_in("/counter", "/counter/sell", when, material=wanted, amount="1", sure="1")

    def _order(self, day: date) -> None:
        """Place the week's orders as suggested, the first at the command line, the others at the pages."""
        when = datetime(day.year, day.month, day.day, OPENS)
        for n, each in enumerate(self._reads("reorder", when=when)["suppliers"]):
            if n:
                number = self._ordered_at_the_desk(when, each["supplier"], each["lines"])
            else:
                words = (f"{line['material']}={line['packs']}" for line in each["lines"])
                number = self._type("order", each["supplier"], *words, when=when)["order"]
            self.coming.append((date.fromisoformat(each["expected"]), number))
            when += timedelta(minutes=3)

    def _ordered_at_the_desk(self, when: datetime, supplier: str, lines: list[dict[str, Any]]) -> str:
        named = [f"{supplier} {line['material']} {line['supplier_code']}" for line in lines]
        packs = [str(line["packs"]) for line in lines]
        answer = self._fill_in("/orders/desk", "/orders/place", when, line=named, packs=packs)
        placed = re.search(r"Order (\S+) is placed", answer)
        assert placed is not None, answer
        return placed[1]

    def _goods(self, day: date) -> None:
        when = datetime(day.year, day.month, day.day, OPENS) - timedelta(hours=1)
        for number in [number for due, number in self.coming if due <= day]:
            self._fill_in(f"/orders/card?number={number}", "/orders/receive", when, number=number, carriage="6.50")
            when += timedelta(minutes=2)
        self.coming = [(due, number) for due, number in self.coming if due > day]

    def _count(self, day: date) -> None:
        when = datetime(day.year, day.month, day.day, OPENS)
        rows = {row["material"]: float(row["on_hand"]) for row in self._reads("shelf", when=when)["rows"]}
        found = {code: f"{max(rows[code], 0) * (1 - _USED_BEYOND_THE_CARD):.0f}" for code in _COUNTED}
        if day.isocalendar().week % 2:
            self._type("count", *(f"{m}={n}" for m, n in found.items()), "--sheet", f"S{day}", "--yes", when=when)
            self._type("post-count", f"S{day}", when=when)
        else:
            self._counted_at_the_shelf(when, f"P{day}", found)

    def _counted_at_the_shelf(self, when: datetime, sheet: str, found: dict[str, str]) -> None:
        for material, amount in found.items():
            page = f"/count/bin?code={material}"
            text = self.tablet.reads(page, when)
            asked = {name: text.split(f'name="{name}" value="')[1].split('"')[0] for name in ("aid", "place")}
            answer = re.findall(r'name="(answer:[^"]+)"[^>]* required', text)[0]
            sent = asked | {"material": material, "sheet": sheet, "sure": "yes", answer: amount}
            self._fill_in(page, "/count/bin", when, **sent)
        self._fill_in(f"/count/sheet?sheet={sheet}", "/count/settle", when, sheet=sheet)

    def _close(self, month: date, day: date) -> None:
        self._type("close-period", f"{month:%Y-%m}", when=datetime(day.year, day.month, day.day, 7))

    def _newest(self, when: datetime) -> str:
        found = re.search(r'name="document" value="(\d+)"', self.tablet.reads("/documents", when))
        assert found is not None
        return found[1]

    def _reads(self, *words: str, when: datetime) -> Any:
        return self.desk.facts(*words, now=when.isoformat())

    def _type(self, *words: str, when: datetime) -> dict[str, str]:
        said: dict[str, str] = self._reads(*words, when=when)
        self.documents, self.typed = self.documents + 1, self.typed + 1
        return said

    def _fill_in(self, page: str, address: str, when: datetime, **fields: str | list[str]) -> str:
        self.documents += 1
        return self.tablet.does(page, address, when, **fields)

    def _note(self, last: date, seconds: float, documents: int) -> None:
        each = seconds * 1000 / max(documents, 1)
        kept = resident(), self.tablet.megabytes()
        self.months.append(Month(last, self.documents, self.typed, *kept, each))


def _hours(day: date) -> list[datetime]:
    """Give the moments at which something happens on a day, in order; after orders or counts, and more than needed."""
    opens = datetime(day.year, day.month, day.day, OPENS, 30)
    every = timedelta(hours=SHUTS - OPENS) / (2 * A_DAY)
    return [(opens + n * every).replace(microsecond=0) for n in range(2 * A_DAY)]


@contextmanager
def opened(folder: Path) -> Iterator[Year]:
    """Open the small shop, its pages beside it."""
    desk = Indoors(folder / "book.sqlite")
    desk.says("new-book")
    desk.says("load", str(small_shop(folder / "files")))
    with tablet(desk.book, datetime(BEGIN.year, BEGIN.month, BEGIN.day)) as pages:
        yield Year(desk, pages)


def main(weeks: int) -> None:
    """Print the months of a run."""
    with TemporaryDirectory() as folder, opened(Path(folder)) as year:
        year.work(weeks)
        for m in year.months:
            print(
                f"{m.last}: {m.documents:6,} documents ({m.typed:,} typed); {m.desk:6.1f} MB at the desk, "
                f"{m.pages:6.1f} MB for the pages; {m.each:5.1f} ms a document"
            )
        began = time.perf_counter()
        found = year.desk.facts("check", now=f"{BEGIN + timedelta(weeks=weeks)}T09:00:00")
        took = time.perf_counter() - began
        print(f"check: {found['documents']:,} documents in {took:.1f} s, faults: {found['faults']}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 52)
