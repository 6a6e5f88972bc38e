"""The shape of a forecast fan: from week's ends to a line that drops with the work and jumps with a delivery."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from stockroom.phrases import joined, phrase, plural
from stockroom.show.charts.facts import StockOutlook
from stockroom.show.charts.style import (
    BLUE,
    BROWN,
    INK,
    PALE,
    PATCH,
    RED,
    as_days,
    day_line,
    legend_below,
    look,
    new_figure,
    picture,
    set_days,
    set_figures,
    set_title,
)
from stockroom.show.formats import Formats, unit_word
from stockroom.show.layout import plain_text
from stockroom.stock.lists import RunOutRow
from stockroom.stock.quantities import NANO, Unit

BEYOND = timedelta(weeks=3)  # shown after the last day of interest
SHORTEST = timedelta(weeks=5)

Point = tuple[date, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """Days, and on hand on each in the worst, middle and best case; a delivery's day comes twice."""

    days: tuple[date, ...]
    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]


def last_day(outlook: StockOutlook) -> date:
    """Choose where the picture ends: some weeks after the range of run-out days, or at the end of the outlook."""
    end = max(outlook.weeks, default=outlook.as_of)
    if outlook.runs_out is None or outlook.latest is None:
        return end
    shown = [outlook.as_of + SHORTEST, outlook.latest + BEYOND, *(day for day, _ in outlook.deliveries)]
    return min(end, max(shown))


def fan_of(outlook: StockOutlook) -> Fan:
    """Build the fan up to the picture's last day."""
    until = last_day(outlook)
    shown = [n for n, week in enumerate(outlook.weeks) if week < until + timedelta(weeks=1)]
    start = [amount for _, amount in outlook.history[-1:]]
    days = [*([outlook.as_of] if start else []), *(outlook.weeks[n] for n in shown)]
    arrivals = sorted({day for day, _ in outlook.deliveries})
    bands = [
        _drawn(days, [*start, *(band[n] for n in shown)], arrivals)
        for band in (outlook.low, outlook.middle, outlook.high)
    ]
    low, middle, high = ([max(amount, 0.0) for _, amount in band] for band in bands)
    return Fan(days=tuple(day for day, _ in bands[0]), low=tuple(low), middle=tuple(middle), high=tuple(high))


def _drawn(days: Sequence[date], amounts: Sequence[float], arrivals: Sequence[date]) -> list[Point]:
    points = list(zip(days[:1], amounts[:1], strict=True))
    for n in range(1, len(days)):
        week = ((days[n - 1], amounts[n - 1]), (days[n], amounts[n]))
        rate = _use_a_day(days, amounts, n)
        for arrival in (day for day in arrivals if days[n - 1] < day <= days[n]):
            points += _jump(week, arrival, rate)
        points.append(week[1])
    return points


def _use_a_day(days: Sequence[date], amounts: Sequence[float], n: int) -> float:
    """Give the use of the following week: in a week with a delivery, use and delivery can't be told apart."""
    if n + 1 >= len(days):
        return 0.0
    return max(amounts[n] - amounts[n + 1], 0.0) / (days[n + 1] - days[n]).days


def _jump(week: tuple[Point, Point], arrival: date, rate: float) -> list[Point]:
    (first, before), (last, after) = week
    if after <= before:  # the delivery isn't there yet in this future: a plain slope
        part = (arrival - first) / (last - first)
        return [(arrival, before + part * (after - before))] * 2
    return [
        (arrival, max(before - rate * (arrival - first).days, 0.0)),
        (arrival, after + rate * (last - arrival).days),
    ]


if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_RANKED = 20
_NAME_LETTERS, _TAIL_LETTERS = 36, 15
_LOOK_BACK = timedelta(weeks=8)
_ROOM_DAYS = 18


def stock_chart(outlook: StockOutlook, formats: Formats) -> bytes:
    """Draw one material's stock, its forecast fan, and the day it runs out."""
    with look():
        figure, (axes,) = new_figure()
        _draw_history(axes, outlook)
        _draw_fan(axes, outlook)
        _draw_run_out(axes, outlook, formats)
        _draw_deliveries(axes, outlook, formats)
        set_figures(axes, formats, f"On hand ({unit_word(outlook.unit)})")
        set_days(axes, formats)
        legend_below(figure, axes)
        set_title(figure, *_stock_title(outlook, formats))
        return picture(figure, stock_words(outlook, formats))


def stock_words(outlook: StockOutlook, formats: Formats) -> str:
    """Say in a sentence or two what `stock_chart` shows."""
    title, under = _stock_title(outlook, formats)
    now = [
        phrase(
            "On %(day)s there was %(amount)s.",
            day=formats.day(day),
            amount=formats.amount(round(amount * NANO), outlook.unit),
        )
        for day, amount in outlook.history[-1:]
    ]
    return joined((phrase("%(title)s.", title=title), *now, under))


def run_out_chart(rows: Sequence[RunOutRow], formats: Formats, *, as_of: date) -> bytes:
    """Draw which materials run out first: the likely day, its range, and the last day to order."""
    ranked = _ranked(rows)
    with look():
        figure, (axes,) = new_figure(height=max(2.6 + 0.46 * len(ranked), 3.6))
        _dress_ranking(axes, ranked, formats, as_of)
        for level, row in enumerate(ranked):
            _draw_rank(axes, level, row, formats, as_of)
        legend_below(figure, axes)
        first = f"Stock running out first, as seen on {formats.weekday(as_of)}"
        set_title(figure, first if ranked else "Nothing runs out within the outlook")
        return picture(figure, run_out_words(rows, formats, as_of=as_of))


def run_out_words(rows: Sequence[RunOutRow], formats: Formats, *, as_of: date) -> str:
    """Say in a sentence or two what `run_out_chart` shows."""
    ranked = _ranked(rows)
    if not ranked:
        return phrase("As seen on %(day)s, nothing runs out within the outlook.", day=formats.day(as_of))
    first = "; ".join(f"{row.name}, {formats.day(row.runs_out)}" for row in ranked[:3] if row.runs_out)
    return plural(
        "As seen on %(day)s, %(num)s material runs out within the outlook. First: %(first)s.",
        "As seen on %(day)s, %(num)s materials run out within the outlook. First: %(first)s.",
        len(ranked),
        day=formats.day(as_of),
        first=first,
    )


def _in(unit: Unit, values: Sequence[float]) -> list[float]:
    return [value * NANO / unit.nano for value in values]


def _draw_history(axes: "Axes", outlook: StockOutlook) -> None:
    back = max(last_day(outlook) - outlook.as_of, _LOOK_BACK)
    recent = [(day, amount) for day, amount in outlook.history if outlook.as_of - day <= back]
    days = as_days([day for day, _ in recent])
    stock = _in(outlook.unit, [amount for _, amount in recent])
    axes.step(days, stock, where="post", color=INK, linewidth=2.6, label="on the shelf")
    axes.axhline(0, color=INK, linewidth=1.2)


def _draw_fan(axes: "Axes", outlook: StockOutlook) -> None:
    fan = fan_of(outlook)
    days = as_days(fan.days)
    low, middle, high = (_in(outlook.unit, band) for band in (fan.low, fan.middle, fan.high))
    axes.fill_between(
        days, low, high, facecolor=PALE, edgecolor=BLUE, hatch="..", linewidth=0.0, label="8 in 10 futures"
    )
    until = max((n + 2 for n, value in enumerate(middle) if value > 0), default=1)
    axes.plot(days[:until], middle[:until], "--", color=BLUE, linewidth=2.8, label="middle of the forecast")
    axes.margins(x=0.02)


def _draw_deliveries(axes: "Axes", outlook: StockOutlook, formats: Formats) -> None:
    for number, (day, amount) in enumerate(outlook.deliveries):
        words = f"+{formats.amount(round(amount * NANO), outlook.unit)}, {formats.short_day(day)}"
        label = "" if number else "delivery"
        at = as_days([day])
        axes.plot(at, [0], "^", color=INK, markersize=13, clip_on=False, zorder=6, linestyle="", label=label)
        axes.annotate(words, (at[0], 0), (12, 12 + 20 * (number % 3)), textcoords="offset points", bbox=PATCH, zorder=7)


def _draw_run_out(axes: "Axes", outlook: StockOutlook, formats: Formats) -> None:
    day_line(axes, outlook.as_of, "today: order now" if _order_now(outlook) else "today", before=True)
    if outlook.order_by and not _order_now(outlook):
        words = f"order by\n{formats.short_day(outlook.order_by)}"
        before = (outlook.order_by - outlook.as_of).days >= _ROOM_DAYS
        day_line(axes, outlook.order_by, words, style="-.", color=BROWN, level=0.86, before=before)
    if outlook.runs_out:
        first = outlook.earliest or outlook.runs_out
        last = outlook.latest or max(outlook.weeks, default=outlook.runs_out)
        axes.plot(as_days([first, last]), [0, 0], color=RED, linewidth=6, solid_capstyle="butt", zorder=4)
        at = as_days([outlook.runs_out])
        axes.plot(at, [0], "D", color=RED, markersize=13, zorder=5, clip_on=False, linestyle="", label="runs out")
        words = f"runs out\n{formats.short_day(outlook.runs_out)}"
        day_line(axes, outlook.runs_out, words, style="--", color=RED)


def _order_now(outlook: StockOutlook) -> bool:
    return outlook.order_by is not None and outlook.order_by <= outlook.as_of


def _stock_title(outlook: StockOutlook, formats: Formats) -> tuple[str, str]:
    if outlook.runs_out is None:
        last = formats.day(outlook.weeks[-1]) if outlook.weeks else formats.day(outlook.as_of)
        return phrase("%(name)s: enough until %(day)s or later", name=outlook.name, day=last), ""
    title = phrase("%(name)s: runs out about %(day)s", name=outlook.name, day=formats.day(outlook.runs_out))
    return title, joined((_span(outlook, formats), _order(outlook, formats)))


def _span(outlook: StockOutlook, formats: Formats) -> str:
    if outlook.earliest is None or outlook.earliest == outlook.latest:
        return ""
    first = formats.day(outlook.earliest)
    if outlook.latest is None:
        return phrase("In 8 of 10 cases between %(first)s and beyond this picture.", first=first)
    return phrase("In 8 of 10 cases between %(first)s and %(last)s.", first=first, last=formats.day(outlook.latest))


def _order(outlook: StockOutlook, formats: Formats) -> str:
    if outlook.order_by is None:
        return ""
    if _order_now(outlook):
        return phrase("Order now.")
    return phrase("Order by %(day)s.", day=formats.day(outlook.order_by))


def _ranked(rows: Sequence[RunOutRow]) -> list[RunOutRow]:
    known = [row for row in rows if row.runs_out is not None]
    return sorted(known, key=lambda row: (row.runs_out or date.max, row.material))[:MOST_RANKED]


def _draw_rank(axes: "Axes", level: int, row: RunOutRow, formats: Formats, as_of: date) -> None:
    middle = row.runs_out or as_of
    first, last = _rank_band(row, as_of)
    labels = ("8 in 10 chances", "likely day", "last day to order") if level == 0 else ("", "", "")
    axes.plot(as_days([first, last]), [level, level], color=PALE, linewidth=9, solid_capstyle="butt", label=labels[0])
    axes.plot(as_days([middle]), [level], "D", color=RED, markersize=11, zorder=5, linestyle="", label=labels[1])
    bar = as_days([row.order_by]) if row.order_by else []
    axes.plot(bar, [level] * len(bar), "|", color=BROWN, ms=22, mew=3.5, zorder=6, linestyle="", label=labels[2])
    at = (as_days([max(last, middle)])[0], level)
    axes.annotate(_rank_words(row, formats, as_of), at, (14, 0), textcoords="offset points", va="center")


def _rank_band(row: RunOutRow, as_of: date) -> tuple[date, date]:
    middle = row.runs_out or as_of
    if _is_out(row, as_of):
        return middle, middle
    return row.earliest or middle, row.latest or _outlook_end(row, as_of)


def _rank_words(row: RunOutRow, formats: Formats, as_of: date) -> str:
    if _is_out(row, as_of):
        return "out now"
    return formats.short_day(row.runs_out or as_of) + ("" if row.latest else ", perhaps later")


def _is_out(row: RunOutRow, as_of: date) -> bool:
    return row.free <= 0 and row.runs_out is not None and row.runs_out <= as_of


def _outlook_end(row: RunOutRow, as_of: date) -> date:
    return max(as_of + timedelta(weeks=len(row.chance_by_week)), row.runs_out or as_of)


def _dress_ranking(axes: "Axes", ranked: Sequence[RunOutRow], formats: Formats, as_of: date) -> None:
    axes.set_yticks(range(len(ranked)), [_short(row.name) for row in ranked])
    axes.set_ylim(max(len(ranked), 1) - 0.3, -0.9)
    axes.tick_params(axis="y", length=0)
    axes.grid(visible=True, axis="x", color="#dddddd")
    axes.set_axisbelow(True)
    last = max([as_of + timedelta(days=28), *(_rank_band(row, as_of)[1] for row in ranked)])
    room = (last - as_of).days // 4  # for the day written beside the last band
    axes.set_xlim(as_days([as_of - timedelta(days=4)])[0], as_days([last + timedelta(days=room)])[0])
    day_line(axes, as_of, "today")
    set_days(axes, formats)


def _short(name: str) -> str:
    """Leave the middle out of a long name: sizes stand at its end."""
    plain = plain_text(name)
    if len(plain) <= _NAME_LETTERS:
        return plain
    tail = plain[-_TAIL_LETTERS:].partition(" ")[2] or plain[-_TAIL_LETTERS:]
    head = plain[: _NAME_LETTERS - len(tail) - 2]
    return f"{(head.rpartition(' ')[0] or head).rstrip(' ,')}… {tail}"
