"""How true the forecast was: past days' outlooks as they stood, held against what came after them."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np

from stockroom.demand.accuracy import (
    LEVELS,
    MONTHS_BACK,
    MissCause,
    SaidAndCame,
    Trueness,
    plain_quantiles,
    trueness,
    why_missed,
)
from stockroom.demand.history import DAYS_IN_WEEK, Floats
from stockroom.flows.outlook.bench_pace import bench_day
from stockroom.flows.outlook.run_outs import Outlook, look_ahead, run_out_rows
from stockroom.stock.lists import RunOutRow
from stockroom.stock.materials import Material
from stockroom.stock.moves import USED, WRITTEN_OFF, Document, DocumentKind, MoveKind
from stockroom.stock.quantities import NANO
from stockroom.store import ledger, tickets
from stockroom.store.book import Book

SPAN = 8  # weeks whose use is held against what was said
OUTLOOK = 13  # weeks over which run-outs are
APART = timedelta(weeks=4)
MOST_DAYS = 13  # a year of them
LEAD_IN = timedelta(weeks=26)  # of moves before the first day looked back at
YEAR = 52
WORST = 10
EVENING = time(18, 30)
N_PATHS = 200
COUNTED = (MoveKind.COUNT, MoveKind.OFFCUT)  # found to have gone, or to be left over
LEAVES = (*USED, *WRITTEN_OFF, *COUNTED)
WORK = (MoveKind.JOB_USE, MoveKind.REDO_USE)
Progress = Callable[[str, int, int | None], None]
Leaves = Mapping[date, int]  # nano that left on each day


@dataclass(frozen=True, slots=True, kw_only=True)
class LookedBack:
    """One material on one past day: what was said of the weeks ahead, and what came; amounts in base units."""

    on: date
    material: Material
    mean: float
    quantiles: tuple[float, ...]  # at LEVELS
    average: tuple[float, ...]
    moving: tuple[float, ...]
    came: float
    said: RunOutRow
    ran_out: date | None  # with what was on the way then, within OUTLOOK weeks
    weeks_known: bool  # whether all OUTLOOK weeks have passed
    spoils: bool  # whether some of it expires within them: whoever goes on using it sees no run-out


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedTrueness:
    """How true the forecast was of a family, or of one material."""

    name: str
    code: str
    figures: Trueness


@dataclass(frozen=True, slots=True, kw_only=True)
class Worst:
    """A material missed by most, and why."""

    material: Material
    figures: Trueness
    cause: MissCause
    since: date | None = None  # of the change named


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOutsCame:
    """Run-out dates said, against what happened within OUTLOOK weeks."""

    said: int  # more likely than not to run out
    came: int  # of them, those that did
    happened: int  # run out in fact
    missed: int  # of them, those held unlikely (under one in ten)
    ranged: int  # with an early and a late case, and run out or past the late case
    within: int  # of them, in between
    days_off: int  # half of the dates said of what ran out were at most so many days off
    farthest: tuple[LookedBack, ...]  # of each material the one farthest outside its range, the farthest first


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastReport:
    """How true the forecast was."""

    as_of: date
    days: tuple[date, ...]  # looked back at, oldest first
    rows: tuple[LookedBack, ...]
    whole: Trueness | None
    by_day: tuple[Trueness, ...]
    families: tuple[NamedTrueness, ...]  # the one that gains least first
    materials: tuple[NamedTrueness, ...]
    worst: tuple[Worst, ...]
    run_outs: RunOutsCame
    by_average: tuple[str, ...]  # names of jobs whose tickets are now forecast by the plain average

    @property
    def plain_better(self) -> tuple[NamedTrueness, ...]:
        """Materials of which a plain average would have been better."""
        return tuple(group for group in self.materials if group.figures.plain_better)


def forecast_report(
    book: Book,
    moment: datetime,
    *,
    site: str | None = None,
    models: str = "",
    most: int = MOST_DAYS,
    progress: Progress | None = None,
) -> ForecastReport:
    """Look back: what the outlooks of past days said, and what came.

    Parameters
    ----------
    book : Book
    moment : datetime
        What had come by then counts.
    site : str, optional
        One site only.
    models : str, optional
        Names of forecasting models to try; those of the shop's setting otherwise.
    most : int
        Past days looked back at, four weeks apart.
    progress : callable, optional

    Notes
    -----
    Each outlook is worked out anew from the book as it stood on that day. Days begin half a year after the book's first
    move, so that the averages it is held against have something to go by.
    """
    past = _PastMoves.read(book, moment, site)
    days = list(_days(past, moment, most))
    rows: list[LookedBack] = []
    for number, day in enumerate(days, start=1):
        seen = look_ahead(
            book, datetime.combine(day, EVENING), weeks=OUTLOOK, site=site, n_paths=N_PATHS, models=models, alone=True
        )
        rows += _looked(seen, day, past)
        if progress:
            progress("looking back", number, len(days))
    now = look_ahead(book, moment, weeks=OUTLOOK, site=site, n_paths=N_PATHS, models=models)
    return _report(rows, days, past, _by_average(now))


@dataclass(frozen=True, slots=True, kw_only=True)
class _PastMoves:
    """What left the shelves and what came onto them, read once."""

    today: date
    first: date
    leaves: Mapping[str, Leaves]
    others: Mapping[str, Leaves]  # of them, all but work
    work: Mapping[str, Sequence[tuple[date, date, int]]]  # day the bench came to it, day it left, nano
    deliveries: Sequence[Document]

    @classmethod
    def read(cls, book: Book, moment: datetime, site: str | None) -> "_PastMoves":
        rest = [kind for kind in LEAVES if kind not in WORK]
        with book.reading() as session:
            leaves, others = (
                _by_day(ledger.daily_sums(session, kinds, site=site, until=moment)) for kinds in (LEAVES, rest)
            )
            deliveries = ledger.read_documents(session, kinds=[DocumentKind.DELIVERY])
            finished = ledger.read_documents(session, kinds=[DocumentKind.FINISH, DocumentKind.REDO])
            due = {ticket.number: bench_day(ticket) for ticket in tickets.read_tickets(session)}
        work: dict[str, list[tuple[date, date, int]]] = {}
        for each in finished:
            for move in each.moves:
                day = move.happened.date()
                if move.kind in WORK and move.happened <= moment and site in (None, move.site):
                    come = min(due.get(each.subject, day), day)
                    work.setdefault(move.material, []).append((come, day, -move.nano))
        first = min((min(days) for days in leaves.values()), default=moment.date())
        return cls(today=moment.date(), first=first, leaves=leaves, others=others, work=work, deliveries=deliveries)

    def weekly(self, code: str, until: date, weeks: int) -> Floats:
        """Use in each of the weeks up to and with a day, oldest first, in base units; no week before the first move."""
        number = min(weeks, (until - self.first).days // DAYS_IN_WEEK)
        use = np.zeros(max(number, 0))
        for day, nano in self.leaves.get(code, {}).items():
            week = (until - day).days // DAYS_IN_WEEK
            if 0 <= week < number:
                use[number - 1 - week] += nano / NANO
        return np.maximum(use, 0.0)

    def after(self, code: str, on: date, weeks: int) -> list[tuple[date, int]]:
        """Give what left in the weeks after a day, by day."""
        last = on + timedelta(weeks=weeks)
        return sorted((day, nano) for day, nano in self.leaves.get(code, {}).items() if on < day <= last)

    def wanted(self, code: str, on: date, weeks: int) -> list[tuple[date, int]]:
        """Give what was wanted in the weeks after a day: work on the day the bench came to it, though it had to wait.

        What waited for a part that day was wanted at once.
        """
        last, at_once = on + timedelta(weeks=weeks), on + timedelta(days=1)
        bench = [(max(come, at_once), nano) for come, day, nano in self.work.get(code, ()) if day > on and come <= last]
        return sorted([*bench, *((day, n) for day, n in self.others.get(code, {}).items() if on < day <= last)])

    def coming(self, on: date) -> Mapping[str, list[tuple[date, int]]]:
        """Give what was ordered by a day and came later."""
        found: dict[str, list[tuple[date, int]]] = {}
        for each in self.deliveries:
            ordered = str(each.content.get("ordered") or "")
            if ordered and date.fromisoformat(ordered) <= on < each.happened.date() <= self.today:
                for move in each.moves:
                    found.setdefault(move.material, []).append((each.happened.date(), move.nano))
        return found


def _by_day(sums: Sequence[tuple[str, str, int]]) -> dict[str, dict[date, int]]:
    found: dict[str, dict[date, int]] = {}
    for code, day, nano in sums:
        found.setdefault(code, {})[date.fromisoformat(day)] = -nano
    return found


def _days(past: _PastMoves, moment: datetime, most: int) -> Iterator[date]:
    last = moment.date() - timedelta(weeks=SPAN)
    for number in reversed(range(most)):
        day = last - number * APART
        if day >= past.first + LEAD_IN:
            yield day


def _looked(seen: Outlook, on: date, past: _PastMoves) -> Iterator[LookedBack]:
    """Hold one day's outlook against what came."""
    coming, ahead, last = past.coming(on), seen.futures, on + timedelta(weeks=OUTLOOK)
    place = {code: n for n, code in enumerate(ahead.codes)}
    for row in run_out_rows(seen):
        n = place[row.material]
        total = ahead.use[:, n, :SPAN].sum(axis=1)
        year = past.weekly(row.material, on, YEAR)
        if not len(year):
            continue
        yield LookedBack(
            on=on,
            material=seen.known.materials[n],
            mean=float(total.mean()),
            quantiles=tuple(map(float, np.quantile(total, LEVELS))),
            average=tuple(map(float, plain_quantiles(year, span=SPAN))),
            moving=tuple(map(float, plain_quantiles(year[-MONTHS_BACK:], span=SPAN))),
            came=sum(nano for _, nano in past.after(row.material, on, SPAN)) / NANO,
            said=row,
            ran_out=_emptied(seen, row.material, on, past, coming),
            weeks_known=last <= past.today,
            spoils=any(each.expiry and each.expiry <= last for each in seen.known.lots.get(row.material, ())),
        )


def _emptied(
    seen: Outlook, code: str, on: date, past: _PastMoves, coming: Mapping[str, list[tuple[date, int]]]
) -> date | None:
    """Give the first day worked by whose end more was wanted than was there and had come."""
    left = seen.known.on_hand.get(code, 0)
    arrivals = coming.get(code, [])
    gone = 0
    for day, nano in past.wanted(code, on, OUTLOOK):
        gone += nano
        if left + sum(amount for came, amount in arrivals if came <= day) < gone:
            return seen.known.open_days.next_open(day)
    return None


def _by_average(seen: Outlook) -> tuple[str, ...]:
    plain = set(seen.futures.jobs.by_average)
    jobs = {
        job for name, job in zip(seen.futures.streams.names, seen.futures.streams.jobs, strict=True) if name in plain
    }
    return tuple(sorted(jobs))


def _report(
    rows: list[LookedBack], days: Sequence[date], past: _PastMoves, by_average: tuple[str, ...]
) -> ForecastReport:
    mine: dict[str, list[LookedBack]] = {}
    for row in rows:
        mine.setdefault(row.material.code, []).append(row)
    held = {code: _held(each) for code, each in mine.items() if any(row.came > 0 for row in each)}
    materials = {code: mine[code][0].material for code in held}
    figures = {code: trueness(each) for code, each in held.items()}
    families = {material.family for material in materials.values()}
    by_family = [
        NamedTrueness(name=name, code=name, figures=trueness(SaidAndCame.joined([
            held[code] for code, material in materials.items() if material.family == name
        ])))
        for name in families
    ]  # fmt: skip
    by_material = [NamedTrueness(name=materials[code].name, code=code, figures=each) for code, each in figures.items()]
    return ForecastReport(
        as_of=past.today,
        days=tuple(days),
        rows=tuple(rows),
        whole=trueness(SaidAndCame.joined(list(held.values()))) if held else None,
        by_day=tuple(_day_figures(mine, held, day) for day in days) if held else (),
        families=tuple(sorted(by_family, key=lambda group: group.figures.gain)),
        materials=tuple(sorted(by_material, key=lambda group: group.figures.gain)),
        worst=tuple(_worst(by_material, mine, past)),
        run_outs=_run_outs(rows),
        by_average=by_average,
    )


def _held(rows: Sequence[LookedBack]) -> SaidAndCame:
    """Lay one material's rows out, in parts of what was usually said of it.

    By what came, a rare material would weigh the more the less of it came, and the forecast would seem too high where
    it is right. Only what came four times as much as said is measured by that.
    """
    said, came = (sum(each) / len(rows) for each in ([row.mean for row in rows], [row.came for row in rows]))
    usual = max(said, came / 4, 1e-12)
    named = ("quantiles", "average", "moving")
    return SaidAndCame(
        mean=np.array([row.mean for row in rows]) / usual,
        came=np.array([row.came for row in rows]) / usual,
        **{name: np.array([getattr(row, name) for row in rows]) / usual for name in named},
    )


def _day_figures(mine: Mapping[str, list[LookedBack]], held: Mapping[str, SaidAndCame], day: date) -> Trueness:
    parts = []
    for code, each in held.items():
        at = np.array([row.on == day for row in mine[code]])
        parts.append(
            SaidAndCame(
                mean=each.mean[at],
                came=each.came[at],
                quantiles=each.quantiles[at],
                average=each.average[at],
                moving=each.moving[at],
            )
        )
    return trueness(SaidAndCame.joined(parts))


def _worst(groups: Sequence[NamedTrueness], mine: Mapping[str, list[LookedBack]], past: _PastMoves) -> Iterator[Worst]:
    for group in sorted(groups, key=lambda each: -each.figures.loss)[:WORST]:
        rows = mine[group.code]
        weekly = past.weekly(group.code, past.today, 2 * YEAR)
        cause = why_missed(weekly, np.array([row.came - row.mean for row in rows]))
        weeks_ago = len(weekly) - cause.week
        named = cause.kind in ("step", "stopped")
        yield Worst(
            material=rows[0].material,
            figures=group.figures,
            cause=cause,
            since=past.today - timedelta(weeks=weeks_ago) if named else None,
        )


def _run_outs(rows: Sequence[LookedBack]) -> RunOutsCame:
    known = [row for row in rows if row.weeks_known and not row.spoils]
    likely = [row for row in known if row.said.chance_by_week[-1] >= 0.5]  # noqa: PLR2004 -- more likely than not
    happened = [row for row in known if row.ran_out]
    ranged = [row for row in known if row.said.earliest and row.said.latest]
    off = [abs((row.ran_out - row.said.runs_out).days) for row in known if row.ran_out and row.said.runs_out]
    return RunOutsCame(
        said=len(likely),
        came=sum(row.ran_out is not None for row in likely),
        happened=len(happened),
        missed=sum(row.said.chance_by_week[-1] < 0.1 for row in happened),  # noqa: PLR2004 -- as LIKELY in the list
        ranged=len(ranged),
        within=sum(_between(row) for row in ranged),
        days_off=int(np.median(off)) if off else 0,
        farthest=tuple(_farthest(known)),
    )


def _farthest(rows: Sequence[LookedBack]) -> list[LookedBack]:
    """Give of each material the run-out that was farthest outside what was said, WORST in all."""
    found: dict[str, LookedBack] = {}
    for row in sorted(rows, key=outside):
        if outside(row) > 0:
            found[row.material.code] = row
    return sorted(found.values(), key=outside, reverse=True)[:WORST]


def outside(row: LookedBack) -> int:
    """Count the days by which a shelf emptied before the early case or after the late one; at least, if it had not."""
    early, late = row.said.earliest, row.said.latest
    happened = row.ran_out or row.on + timedelta(weeks=OUTLOOK)
    before = (early - happened).days if early and row.ran_out else 0
    after = (happened - late).days if late else 0
    return max(before, after, 0)


def _between(row: LookedBack) -> bool:
    early, late = row.said.earliest, row.said.latest
    return row.ran_out is not None and early is not None and late is not None and early <= row.ran_out <= late
