"""What the run-outs said, and what came: forecasts, ranges and chances of past days against the ledger's later moves.

Run: python -m tests.benchmarks.outlook_came_true [worlds [weeks later]]     (default 4, 0)

Each world is the invented shop lived anew from another seed, loaded as files. On twelve or more past days each material
is looked ahead at as `run-outs --on` does, and held against what left the shelf afterwards: work, sales, waste, own use,
and what counts found missing. As the list says, nothing more is ordered: only what was on the way then arrives.

Work counts on the day the bench came to it: a ticket finished after its day had waited for a part, and what it took then
was lacking before. At the counter what was asked for counts, whether it was there or not: a shelf with nothing on it
sells nothing, and never falls short by what was sold. What counts found is shared out over the weeks since the count
before where use is added up, and left on its day where shelves empty. All worlds share their calendar: what thirteen days have in common is no bias, so
look at other days, too (`weeks later`). Materials with a lot that expires meanwhile are left out of ranges and chances: the invented owner
goes on using what has expired, and no list says so.
"""

import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stockroom.demand.streams import streams
from stockroom.demo.files import write_files
from stockroom.demo.shop import SEED, lived, written
from stockroom.demo.tickets import CounterWish
from stockroom.flows.book.opening import new_book
from stockroom.flows.loading.load import load_files
from stockroom.flows.outlook.bench_pace import bench_day
from stockroom.flows.outlook.run_outs import Outlook, look_ahead, run_out_rows
from stockroom.stock.lists import RunOutRow
from stockroom.stock.moves import Document, DocumentKind, MoveKind
from stockroom.stock.quantities import NANO
from stockroom.stock.tickets import RecipeBox, Ticket, TicketState
from stockroom.store import catalogue, ledger, tickets, usage
from stockroom.store.book import Book
from stockroom.store.usage import CountedBin

LAST = datetime(2026, 11, 21, 18, 30)
WEEKS = 13
EVENING = time(18, 30)
DAYS = tuple(date(2024, 11, 23) + timedelta(days=7 * 7 * n) for n in range(13))  # Saturdays, seven weeks apart
BENCH = (MoveKind.JOB_USE, MoveKind.REDO_USE)
COUNTER = (MoveKind.SALE,)
LOST = (MoveKind.WASTE, MoveKind.EXPIRY, MoveKind.OWN_USE)
FOUND = (MoveKind.COUNT, MoveKind.OFFCUT)
BANDS = ((0.02, 0.2), (0.2, 0.5), (0.5, 0.7), (0.7, 0.9), (0.9, 1.0))
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Came:
    """One material on one past day: what was said of it, and what came."""

    world: int
    on: date
    row: RunOutRow
    shut: int  # days said on which the shop does not work
    forecast: Mapping[str, float]  # base units in the weeks ahead, by source
    used: Mapping[str, float]
    ran_out: date | None
    known_to_come: int
    to_come: int  # nano that was really on the way
    sums: Mapping[int, tuple[float, float]]  # all use of so many weeks, said and wanted, in base units
    expires: bool  # whether a lot of it expires within the weeks ahead


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """A book's moves and deliveries, read once."""

    book: Book
    leaves: Mapping[str, Sequence[tuple[date, int]]]  # by material, in order: day, nano; no bench work
    work: Mapping[str, Sequence[tuple[date, date, int]]]  # by material: day it should have left, day it did, nano
    by_source: Mapping[str, Mapping[str, Sequence[tuple[date, int]]]]
    found: Mapping[str, Sequence[tuple[date, int]]]  # what counts found gone, shared out over the days before
    deliveries: Sequence[Document]
    tickets: Sequence[Ticket]


MOVED: Mapping[str, Sequence[MoveKind]] = {"counter": COUNTER, "lost": LOST}
SOURCES = ("bench", *MOVED)
SUMS = (2, 8)  # weeks


def past(book: Book, wished: Mapping[date, Sequence[CounterWish]]) -> Past:
    """Read what left the shelves, and what was asked for at the counter."""
    with book.reading() as session:
        by_source = {name: _by_material(ledger.daily_sums(session, kinds)) for name, kinds in MOVED.items()}
        unit = {m.code: m.unit.nano for m in catalogue.read_materials(session)}
        asked = [(w.material, str(day), -w.shown_units * unit[w.material]) for day, ws in wished.items() for w in ws]
        lost, gone = ledger.daily_sums(session, LOST), ledger.daily_sums(session, FOUND)
        leaves = _by_material([*lost, *gone, *asked])
        shared = _shared_out(gone, usage.counted_bins(session, LAST))
        deliveries = ledger.read_documents(session, kinds=[DocumentKind.DELIVERY])
        found = [t for t in tickets.read_tickets(session) if t.state is not TicketState.CANCELLED]
        finished = ledger.read_documents(session, kinds=[DocumentKind.FINISH, DocumentKind.REDO])
    work = _work(found, finished)
    return Past(
        book=book,
        leaves=leaves,
        work=work,
        by_source={**by_source, "wished": _by_material(asked)},
        found=shared,
        deliveries=deliveries,
        tickets=found,
    )


def _shared_out(
    gone: Sequence[tuple[str, str, int]], counts: Sequence[CountedBin]
) -> dict[str, list[tuple[date, int]]]:
    """Share what counts found evenly out over the days since the count before, or leave it on its day."""
    shared: dict[str, list[tuple[date, int]]] = {}
    for code, day, nano in gone:
        last = date.fromisoformat(day)
        before = max((c.counted.date() for c in counts if c.material == code and c.counted.date() < last), default=None)
        days = (last - before).days if before else 1
        shared.setdefault(code, []).extend((last - timedelta(days=n), -nano // days) for n in range(days))
    return shared


def _used(kept: Past, code: str, on: date, last: date) -> float:
    """Add up what was wanted after a day, in base units."""
    others = (*(kept.by_source[name].get(code, ()) for name in ("wished", "lost")), kept.found.get(code, ()))
    work = sum(n for due, day, n in kept.work.get(code, ()) if day > on and due <= last)
    return (work + sum(n for each in others for d, n in each if on < d <= last)) / NANO


def _work(found: Sequence[Ticket], finished: Sequence[Document]) -> dict[str, list[tuple[date, date, int]]]:
    due = {ticket.number: bench_day(ticket) for ticket in found}
    work: dict[str, list[tuple[date, date, int]]] = {}
    for document in finished:
        for move in document.moves:
            day = move.happened.date()
            work.setdefault(move.material, []).append((min(due.get(document.subject, day), day), day, -move.nano))
    return work


def wanted(kept: Past, code: str, on: date, last: date) -> list[tuple[date, int]]:
    """Give what was wanted of a shelf after a day, in order: what was overdue then, on the day after."""
    bench = [
        (max(due, on + timedelta(days=1)), n) for due, day, n in kept.work.get(code, []) if day > on and due <= last
    ]
    return sorted([*bench, *((d, n) for d, n in kept.leaves.get(code, []) if on < d <= last)])


def _by_material(sums: Sequence[tuple[str, str, int]]) -> dict[str, list[tuple[date, int]]]:
    found: dict[str, list[tuple[date, int]]] = {}
    for code, day, nano in sorted(sums, key=lambda row: row[1]):
        found.setdefault(code, []).append((date.fromisoformat(day), -nano))
    return found


def on_the_way(deliveries: Sequence[Document], on: date) -> dict[str, list[tuple[date, int]]]:
    """Give what was ordered by a day and came later, by material."""
    found: dict[str, list[tuple[date, int]]] = {}
    for each in deliveries:
        ordered = str(each.content.get("ordered") or "")
        if ordered and date.fromisoformat(ordered) <= on < each.happened.date():
            for move in each.moves:
                found.setdefault(move.material, []).append((each.happened.date(), move.nano))
    return found


def empties(on_hand: int, leaves: Sequence[tuple[date, int]], comes: Sequence[tuple[date, int]]) -> date | None:
    """Give the first day at whose end more had left than was there."""
    for day, _ in leaves:
        left = on_hand - sum(n for d, n in leaves if d <= day) + sum(n for d, n in comes if d <= day)
        if left < 0:
            return day
    return None


def look_back(world: int, kept: Past, on: date) -> Iterator[Came]:
    """Hold one day's run-outs against what came."""
    seen = look_ahead(kept.book, datetime.combine(on, EVENING), weeks=WEEKS)
    coming, last = on_the_way(kept.deliveries, on), on + timedelta(weeks=WEEKS)
    place = {code: n for n, code in enumerate(seen.futures.codes)}
    said = forecasts(seen)
    came = {**kept.by_source, "bench": asked_for(kept, seen, on)}
    for row in run_out_rows(seen):
        code = row.material
        leaves = wanted(kept, code, on, last)
        mine = coming.get(code, [])
        empty = empties(seen.known.on_hand.get(code, 0), leaves, mine)
        yield Came(
            world=world,
            on=on,
            row=row,
            shut=sum(not seen.known.open_days.is_open(d) for d in (row.runs_out, row.earliest, row.latest) if d),
            forecast={name: float(said[name][place[code]]) for name in SOURCES},
            used={name: sum(n for d, n in came[name].get(code, []) if on < d <= last) / NANO for name in SOURCES},
            ran_out=empty and seen.known.open_days.next_open(empty),
            known_to_come=row.on_order,
            to_come=sum(n for _, n in mine),
            sums={
                weeks: (
                    float(seen.futures.use[:, place[code], :weeks].sum(axis=1).mean()),
                    _used(kept, code, on, on + timedelta(weeks=weeks)),
                )
                for weeks in SUMS
            },
            expires=any(each.expiry and each.expiry <= last for each in getattr(seen.known, "lots", {}).get(code, ())),
        )


def forecasts(seen: Outlook) -> dict[str, Floats]:
    """Give the mean use said of every material over the weeks ahead; work by the recipes, whatever counts teach."""
    ahead, facts = seen.futures, seen.known
    plain = streams(facts.tickets, RecipeBox(facts.recipes, facts.shelf), facts.day, ahead.codes)
    return {
        "bench": plain.uses.T @ ahead.jobs.mean[:, :WEEKS].sum(axis=1),
        "counter": ahead.sales[:, :, :WEEKS].sum(axis=2).mean(axis=0),
        "lost": ahead.lost[:, :, :WEEKS].sum(axis=2).mean(axis=0),
    }


def asked_for(kept: Past, seen: Outlook, on: date) -> dict[str, list[tuple[date, int]]]:
    """Give what the tickets taken in after a day ask for by that day's recipes, by material."""
    box = RecipeBox(seen.known.recipes, seen.known.shelf)
    found: dict[str, list[tuple[date, int]]] = {}
    for ticket in kept.tickets:
        day = ticket.taken_in.date()
        if on < day <= on + timedelta(weeks=WEEKS):
            for need in box.needs(ticket, on):
                found.setdefault(need.material, []).append((day, need.nano))
    return found


@dataclass(slots=True)
class Report:
    """What came of all that was said."""

    rows: list[Came] = field(default_factory=list)

    def told(self) -> Iterator[str]:
        """Give the figures, a line each."""
        for source in SOURCES:
            yield self._forecasts(source)
        for weeks in SUMS:
            yield f"first {weeks} weeks, all use: {self._held([r.sums[weeks] for r in self.rows])}"
        yield from self._ranges()
        yield from self._chances()
        dates = sum(sum(d is not None for d in (r.row.runs_out, r.row.earliest, r.row.latest)) for r in self.rows)
        yield f"days said on which the shop is shut: {sum(r.shut for r in self.rows)} of {dates}"
        way = [r for r in self.rows if r.to_come]
        forgotten = sum(not r.known_to_come for r in way)
        yield f"goods on the way forgotten: {forgotten} of {len(way)} ({len(self.rows)} rows)"

    def _forecasts(self, source: str) -> str:
        pairs = [(r.forecast[source], r.used[source]) for r in self.rows]
        return f"{source:<8} {WEEKS} weeks' use: {self._held(pairs)}"

    def _held(self, pairs: Sequence[tuple[float, float]]) -> str:
        """Hold what was said of each row's material against what came, each in parts of what was usually said.

        By what came, a rare material would weigh the more the less of it came, and all would seem over-said. What never
        came is left out: counts find that it was lost, no document does. The doubt is that between worlds.
        """
        table = pd.DataFrame(pairs, columns=["said", "came"])
        table["material"], table["world"] = [r.row.material for r in self.rows], [r.world for r in self.rows]
        usual = table.groupby("material")[["said", "came"]].transform("mean")
        parts = table[["said", "came"]].div(np.maximum(usual.said, usual.came / 4), axis=0)[usual.came > 0]
        sums = parts.groupby(table.world).sum()
        doubt = (sums.said / sums.came).std() / np.sqrt(len(sums))
        error = (parts.said - parts.came).abs().sum() / parts.came.sum()
        bias = parts.said.sum() / parts.came.sum() - 1
        return f"bias {bias:+.3f} (standard error {doubt:.3f}), error {error:.3f} of use ({len(parts)} rows)"

    def _ranges(self) -> Iterator[str]:
        rows = [r for r in self.rows if not r.expires]
        both = [r for r in rows if r.row.earliest and r.row.latest]
        held = sum(r.ran_out is not None and _within(r, r.ran_out) for r in both)
        yield f"both ends given: {held / max(len(both), 1):.3f} of {len(both)} in the range of .8"
        one = [r for r in rows if r.row.earliest and not r.row.latest]
        held = sum(r.ran_out is None or r.row.earliest <= r.ran_out for r in one if r.row.earliest)
        yield f"earliest only: {held / max(len(one), 1):.3f} of {len(one)} no sooner (.9 at most)"
        early = [r for r in rows if r.row.earliest]
        sooner = sum(r.ran_out is not None and r.ran_out < r.row.earliest for r in early if r.row.earliest)
        later = sum(r.ran_out is None or r.ran_out > r.row.latest for r in both if r.row.latest)
        yield f"sooner than the earliest: {sooner / max(len(early), 1):.3f} of {len(early)} (.1); later than the latest: {later / max(len(both), 1):.3f} of {len(both)} (.1)"
        point = [r for r in both if r.row.earliest == r.row.latest]
        yield f"ranges of one day: {len(point)}, of which came true: {sum(r.ran_out == r.row.earliest for r in point)}"

    def _chances(self) -> Iterator[str]:
        rows = [r for r in self.rows if not r.expires]
        for weeks in (1, 2, 4, 8, WEEKS):
            said = np.array([r.row.chance_by_week[weeks - 1] for r in rows])
            ends = [r.on + timedelta(weeks=weeks) for r in rows]
            came = np.array([r.ran_out is not None and r.ran_out <= e for r, e in zip(rows, ends, strict=True)])
            told = [_band(said, came, low, high) for low, high in BANDS]
            score = float(((said - came) ** 2).mean())
            yield f"chance within {weeks} weeks, said -> came: {'  '.join(told)}; Brier {score:.4f}"


def _within(came: Came, day: date) -> bool:
    first, last = came.row.earliest, came.row.latest
    return first is not None and last is not None and first <= day <= last


def _band(said: Floats, came: NDArray[np.bool_], low: float, high: float) -> str:
    mine = (said > low) & (said <= high)
    return f"{said[mine].mean():.2f} -> {came[mine].mean():.2f} ({mine.sum()})" if mine.any() else "-"


def live(seed: int, folder: Path) -> Past:
    """Live the shop anew from a seed and load its files."""
    book, world = new_book(str(folder / f"{seed}.sqlite")), lived(seed)
    load_files(book, write_files(written(world), folder / str(seed)), LAST)
    return past(book, world.wished)


def main(worlds: int, later: int = 0) -> None:
    """Print the figures."""
    days = [day + timedelta(weeks=later) for day in DAYS]
    report = Report()
    with TemporaryDirectory() as made:
        for seed in range(SEED, SEED + worlds):
            kept = live(seed, Path(made))
            for on in (day for day in days if day + timedelta(weeks=WEEKS) <= LAST.date()):
                report.rows += look_back(seed, kept, on)
            kept.book.close()
            sys.stderr.write(f"world {seed}: {len(report.rows)} rows\n")
    for line in report.told():
        print(line)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:] or ["4"]))
