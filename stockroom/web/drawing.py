"""Charts as SVG points: a shelf's past and the fan of what may be, run-outs on a line of days, the days just ahead."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from math import ceil, floor, log10

from stockroom.show.charts.facts import StockOutlook
from stockroom.stock.lists import RunOutRow
from stockroom.stock.quantities import NANO, Unit

WIDTH, HEIGHT = 480, 250
LEFT, RIGHT, TOP, BOTTOM = 56, 12, 14, 34
_TICKS = 4  # at most, up and across
Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Points ready for a template: the past as steps, the fan as an outline, ticks with their figures."""

    past: str
    fan: str
    middle: str
    zero: float
    today: float | None
    runs_out: float | None
    across: tuple[tuple[float, date], ...]
    up: tuple[tuple[float, float], ...]  # height, amount in the shown unit
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = HEIGHT - BOTTOM


def past_and_future(days: Sequence[tuple[date, int]], ahead: StockOutlook | None, unit: Unit) -> Drawing | None:
    """Draw what was on the shelf at the end of each day, and what may be; nothing for fewer than two points."""
    past = [(day, nano / unit.nano) for day, nano in days]
    future = _bands(ahead, unit) if ahead else []
    if len(past) + len(future) < 2:  # noqa: PLR2004 -- a line needs two points
        return None
    frame = _Frame(past, future)
    coming = [past[-1], *((day, middle) for day, _, middle, _ in future)] if ahead else []
    begins = past[-1:] if ahead else []  # the fan opens today, where the past ends
    outline = begins + [(day, low) for day, low, _, _ in future] + [(day, high) for day, _, _, high in future[::-1]]
    return Drawing(
        past=_text(_steps([frame.at(day, amount) for day, amount in past])),
        fan=_text([frame.at(day, amount) for day, amount in outline]),
        middle=_text([frame.at(day, amount) for day, amount in coming]),
        zero=frame.at(frame.first, 0.0)[1],
        today=frame.at(ahead.as_of, 0.0)[0] if ahead else None,
        runs_out=frame.at(ahead.runs_out, 0.0)[0] if ahead and ahead.runs_out else None,
        across=frame.days(),
        up=frame.amounts(),
    )


@dataclass(frozen=True, slots=True)
class Column:
    """One of the days just ahead: where it stands on the picture, and how many materials run out on it."""

    day: date
    along: float  # its middle
    top: float  # of the column
    number: int
    urgent: bool  # a promised ticket waits for one of them


COLUMN, DAYS_AHEAD, PICTURE = 30, 14, 66  # width of a day, days shown, height


def days_ahead(rows: Sequence[RunOutRow], today: date) -> tuple[Column, ...]:
    """Draw on how many materials run out on each of the days just ahead; what has run out stands on today."""
    ends = [(max(row.runs_out, today), bool(row.tickets_at_risk)) for row in rows if row.runs_out]
    days = [today + timedelta(days=n) for n in range(DAYS_AHEAD)]
    found = {day: [urgent for ended, urgent in ends if ended == day] for day in days}
    most = max(map(len, found.values()), default=0) or 1
    return tuple(
        Column(
            day=day,
            along=COLUMN * (n + 0.5),
            top=PICTURE - 22 - 34 * len(found[day]) / most,
            number=len(found[day]),
            urgent=any(found[day]),
        )
        for n, day in enumerate(days)
    )


@dataclass(frozen=True, slots=True)
class RunOutSpan:
    """A run-out on a line of weeks, in per cent of its width: the range, the likely day, the day to order."""

    start: float
    width: float
    likely: float
    order_by: float | None


SPAN_DAYS = 91


def spans(rows: Sequence[RunOutRow], today: date) -> tuple[RunOutSpan | None, ...]:
    """Draw when each material may run out over the next quarter; nothing for one that lasts."""

    def place(day: date) -> float:
        return round(100 * min(max((day - today).days, 0), SPAN_DAYS) / SPAN_DAYS, 2)

    def span(row: RunOutRow) -> RunOutSpan | None:
        if row.runs_out is None:
            return None
        start, end = place(row.earliest or row.runs_out), place(row.latest) if row.latest else 100.0
        order_by = place(row.order_by) if row.order_by else None
        width = round(max(end - start, 0.8), 2)
        return RunOutSpan(start=start, width=width, likely=place(row.runs_out), order_by=order_by)

    return tuple(span(row) for row in rows)


class _Frame:
    """Where a day and an amount lie on the picture."""

    def __init__(self, past: list[tuple[date, float]], future: list[tuple[date, float, float, float]]) -> None:
        days = [day for day, _ in past] + [day for day, *_ in future]
        amounts = [amount for _, amount in past] + [value for _, *values in future for value in values]
        self.first, self.last = min(days), max(days)
        self.low, self.high = min(0.0, *amounts), max(*amounts, 0.0)
        if self.high == self.low:
            self.high = self.low + 1

    def at(self, day: date, amount: float) -> Point:
        along = (day - self.first).days / max((self.last - self.first).days, 1)
        up = (amount - self.low) / (self.high - self.low)
        return LEFT + along * (WIDTH - LEFT - RIGHT), HEIGHT - BOTTOM - up * (HEIGHT - TOP - BOTTOM)

    def days(self) -> tuple[tuple[float, date], ...]:
        whole = (self.last - self.first).days
        chosen = [self.first.fromordinal(self.first.toordinal() + whole * n // 3) for n in range(4)]
        return tuple((self.at(day, 0.0)[0], day) for day in dict.fromkeys(chosen))

    def amounts(self) -> tuple[tuple[float, float], ...]:
        step = _round_step((self.high - self.low) / _TICKS)
        chosen = [step * n for n in range(ceil(self.low / step), floor(self.high / step) + 1)]
        return tuple((self.at(self.first, amount)[1], round(amount, 9)) for amount in chosen)


def _round_step(least: float) -> float:
    """Give the next step that people count in: 1, 2, 2.5 or 5 of some power of ten."""
    power = 10.0 ** floor(log10(least))
    return next(power * each for each in (1, 2, 2.5, 5, 10) if power * each >= least * (1 - 1e-9))


def _bands(ahead: StockOutlook, unit: Unit) -> list[tuple[date, float, float, float]]:
    scale = NANO / unit.nano
    bands = zip(ahead.weeks, ahead.low, ahead.middle, ahead.high, strict=True)
    return [(day, *(max(value * scale, 0.0) for value in (low, middle, high))) for day, low, middle, high in bands]  # type: ignore[misc]


def _steps(points: list[Point]) -> list[Point]:
    made = points[:1]
    for (_, before), (along, up) in pairwise(points):
        made += [(along, before), (along, up)]
    return made


def _text(points: Sequence[Point]) -> str:
    return " ".join(f"{along:.1f},{up:.1f}" for along, up in points)
