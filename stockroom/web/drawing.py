"""Charts as SVG points: a shelf's past and the fan of what may be, lines, bars, run-outs, the days just ahead.

The page draws them itself: letters are letters, of a size to read on a phone, and colours are its own, light or dark.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from math import ceil, floor, log10
from typing import Protocol

from stockroom.show.charts.facts import StockOutlook
from stockroom.stock.lists import RunOutRow
from stockroom.stock.quantities import NANO, Unit

WIDTH, HEIGHT = 480, 250
LEFT, RIGHT, TOP, BOTTOM = 64, 14, 14, 34
_TICKS = 4  # at most, up and across
Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Points ready for a template: lines, a fan as an outline, ticks with what stands at them."""

    lines: tuple[str, ...]
    dots: tuple[tuple[Point, ...], ...] = ()  # of the lines that have some
    fan: str = ""
    middle: str = ""
    zero: float
    level: float | None = None  # what the lines are held against
    today: float | None = None
    ends: Point | None = None  # where it runs out
    here: Point | None = None
    across: tuple[tuple[float, "date | float"], ...]
    up: tuple[tuple[float, float], ...]  # height, and the figure at it
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = HEIGHT - BOTTOM


def past_and_future(days: Sequence[tuple[date, int]], ahead: StockOutlook | None, unit: Unit) -> Drawing | None:
    """Draw what was on the shelf at the end of each day, and what may be; nothing for fewer than two points."""
    past = [(_day(day), nano / unit.nano) for day, nano in days]
    future = _bands(ahead, unit) if ahead else []
    if len(past) + len(future) < 2:  # noqa: PLR2004 -- a line needs two points
        return None
    amounts = [amount for _, amount in past] + [value for _, *values in future for value in values]
    frame = _Frame([at for at, _ in past] + [at for at, *_ in future], amounts)
    coming = [past[-1], *((at, middle) for at, _, middle, _ in future)] if ahead else []
    begins = past[-1:] if ahead else []  # the fan opens today, where the past ends
    outline = begins + [(at, low) for at, low, _, _ in future] + [(at, high) for at, _, _, high in future[::-1]]
    return Drawing(
        lines=(_text(_steps([frame.at(*each) for each in past])),),
        fan=_text([frame.at(*each) for each in outline]),
        middle=_text([frame.at(*each) for each in coming]),
        zero=frame.at(frame.first, 0.0)[1],
        today=frame.at(_day(ahead.as_of), 0.0)[0] if ahead else None,
        ends=frame.at(_day(ahead.runs_out), 0.0) if ahead and ahead.runs_out else None,
        across=frame.days(),
        up=frame.figures(),
    )


def lines_by_day(
    days: Sequence[date], lines: Sequence[Sequence[float]], *, most: float = 0.0, level: float | None = None
) -> Drawing | None:
    """Draw lines over days, from zero up to their highest, or to `most`; nothing for fewer than two days."""
    if len(days) < 2:  # noqa: PLR2004 -- a line needs two points
        return None
    places = [_day(day) for day in days]
    frame = _Frame(places, [most, level or 0.0, *(value for line in lines for value in line)])
    return replace(_lines(frame, places, lines, level), across=frame.days())


def frontier_line(points: Sequence[tuple[float, float]], here: tuple[float, float]) -> Drawing:
    """Draw what one thing costs in another, and where the shop stands; both from zero or from a round figure below."""
    along = [*(x for x, _ in points), here[0]]
    frame = _Frame([_floor(along), max(along)], [*(y for _, y in points), here[1]])
    line = _lines(frame, [x for x, _ in points], [[y for _, y in points]], None)
    return replace(line, here=frame.at(*here))


def _lines(frame: "_Frame", places: Sequence[float], lines: Sequence[Sequence[float]], level: float | None) -> Drawing:
    drawn = [tuple(frame.at(*each) for each in zip(places, line, strict=True)) for line in lines]
    return Drawing(
        lines=tuple(_text(line) for line in drawn),
        dots=tuple(drawn) if len(drawn) == 1 else (),
        zero=frame.at(frame.first, 0.0)[1],
        level=None if level is None else frame.at(frame.first, level)[1],
        across=frame.along(),
        up=frame.figures(),
    )


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar in a row of a table, in per cent of its width; with the range it may lie in."""

    start: float
    width: float
    below: bool  # it goes down, or lies below zero
    reach: tuple[float, float] | None = None


def bars(
    spans: Sequence[tuple[float, float]], reaches: Sequence[tuple[float, float]] = (), least: float = 0.0
) -> list[Bar]:
    """Draw amounts as bars on one scale: each from a figure to another; `least` is where the scale begins."""
    ends = [end for pair in (*spans, *reaches) for end in pair]
    low, high = min((least, *ends)) if least == 0 else least, max((least, *ends))

    def place(figure: float) -> float:
        return round(100 * (min(max(figure, low), high) - low) / ((high - low) or 1), 2)

    def bar(start: float, end: float, reach: tuple[float, float] | None) -> Bar:
        left, right = place(min(start, end)), place(max(start, end))
        ranged = (place(reach[0]), place(reach[1])) if reach else None
        return Bar(left, round(right - left, 2), end < start, ranged)

    return [bar(*span, reaches[n] if reaches else None) for n, span in enumerate(spans)]


class Change(Protocol):
    """A way from one figure to another by steps."""

    @property
    def printed(self) -> tuple[int, Sequence[int], int]:
        """Before, each step, after."""


def steps(change: Change) -> list[Bar]:
    """Draw the way from one figure to another as bars: before, each step that is one, after.

    Where the steps would be too small to see, the foot of the scale is left out.
    """
    before, effects, after = change.printed
    spans, level = [(0.0, float(before))], float(before)
    for effect in filter(None, effects):
        spans.append((level, level + effect))
        level += effect
    low, high = min(end for _, end in spans), max(end for _, end in spans)
    cut = max(2 * low - high, 0.0) if low > 0 and high - low <= low / 2 else 0.0
    return bars([*spans, (0.0, float(after))], least=cut)


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
    """Where a place along the picture and a figure lie on it."""

    def __init__(self, places: Sequence[float], figures: Sequence[float]) -> None:
        self.first, self.last = min(places), max(places)
        self.low, self.high = min(0.0, *figures), max(0.0, *figures)
        if self.high == self.low:
            self.high = self.low + 1
        if self.last == self.first:
            self.last = self.first + 1

    def at(self, place: float, figure: float) -> Point:
        along = (place - self.first) / (self.last - self.first)
        up = (figure - self.low) / (self.high - self.low)
        return LEFT + along * (WIDTH - LEFT - RIGHT), HEIGHT - BOTTOM - up * (HEIGHT - TOP - BOTTOM)

    def days(self) -> tuple[tuple[float, date], ...]:
        whole = int(self.last - self.first)
        chosen = [int(self.first) + whole * n // 3 for n in range(4)]
        return tuple((self.at(each, 0.0)[0], date.fromordinal(each)) for each in dict.fromkeys(chosen))

    def along(self) -> tuple[tuple[float, float], ...]:
        return tuple((self.at(each, 0.0)[0], each) for each in _round_figures(self.first, self.last))

    def figures(self) -> tuple[tuple[float, float], ...]:
        return tuple((self.at(self.first, each)[1], each) for each in _round_figures(self.low, self.high))


def _day(day: date) -> float:
    return float(day.toordinal())


def _floor(figures: Sequence[float]) -> float:
    """Give zero, or a round figure below all of them where they lie far from it."""
    low, high = min(figures), max(figures)
    if low <= 0 or high > 2 * low:
        return min(low, 0.0)
    step = _round_step((high - low or low) / _TICKS)
    return step * floor(low / step)


def _round_figures(low: float, high: float) -> list[float]:
    step = _round_step((high - low) / _TICKS)
    return [round(step * n, 9) for n in range(ceil(low / step), floor(high / step) + 1)]


def _round_step(least: float) -> float:
    """Give the next step that people count in: 1, 2, 2.5 or 5 of some power of ten."""
    power = 10.0 ** floor(log10(least))
    return next(power * each for each in (1, 2, 2.5, 5, 10) if power * each >= least * (1 - 1e-9))


def _bands(ahead: StockOutlook, unit: Unit) -> list[tuple[float, float, float, float]]:
    scale = NANO / unit.nano
    bands = zip(ahead.weeks, ahead.low, ahead.middle, ahead.high, strict=True)
    return [(_day(day), *(max(value * scale, 0.0) for value in band)) for day, *band in bands]  # type: ignore[misc]


def _steps(points: list[Point]) -> list[Point]:
    made = points[:1]
    for (_, before), (along, up) in pairwise(points):
        made += [(along, before), (along, up)]
    return made


def _text(points: Sequence[Point]) -> str:
    return " ".join(f"{along:.1f},{up:.1f}" for along, up in points)
