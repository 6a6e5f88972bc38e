"""Pictures of money: which jobs earn, what moved the margin, what key materials cost, soles laid out on a sheet.

Each comes as PNG or SVG, with a function that says the same in words.
"""

from collections.abc import Callable, Sequence
from datetime import date
from typing import TYPE_CHECKING

from stockroom.margins.changes import MarginChange
from stockroom.margins.income import Group
from stockroom.margins.prices import PriceLine
from stockroom.margins.sole_layout import SheetLayout
from stockroom.phrases import as_phrase, joined, phrase, plural
from stockroom.show.charts.style import (
    BLUE,
    BROWN,
    GREY,
    INK,
    PALE,
    RED,
    Picture,
    as_days,
    legend_below,
    look,
    new_figure,
    picture,
    set_figures,
    set_title,
)
from stockroom.show.formats import Formats
from stockroom.show.layout import plain_text
from stockroom.stock.money import MILLI

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_MOST = 15  # bars a reader takes in at a glance
_TICKS = 7
_STEPS = (1, 2, 3, 6, 12, 24, 60)  # months between marks
_STYLES = ("-", "--", "-.", ":")
_MARKS = ("o", "s", "^", "D", "v")
_SHADES = (BLUE, BROWN, GREY, INK, RED)


def margin_chart(groups: Sequence[Group], formats: Formats, *, say: Callable[[str], str] = str) -> bytes:
    """Draw jobs by the margin they left, with what their materials cost beside it; `say` words it in a language."""
    shown = list(groups[:_MOST])[::-1]
    words = say(margin_words(groups, formats))
    with look():
        figure, (axes,) = new_figure(height=1.6 + 0.5 * max(len(shown), 3))
        places = range(len(shown))
        margins = [_major(group.margin, formats) for group in shown]
        axes.barh(places, margins, color=[BLUE if m >= 0 else RED for m in margins], height=0.62)
        axes.set_yticks(list(places), [plain_text(group.name) for group in shown])
        for place, group in zip(places, shown, strict=True):
            _bar_words(axes, place, group, formats)
        axes.axvline(0, color=GREY, linewidth=1)
        axes.margins(x=0.28)
        axes.set_xlabel(say(phrase("Margin in the period (%(currency)s)", currency=formats.currency)))
        set_title(figure, say(phrase("Margin of each job")), words)
        return picture(figure, words)


def margin_words(groups: Sequence[Group], formats: Formats) -> str:
    """Say in a sentence what `margin_chart` shows."""
    if not groups:
        return phrase("No paid job was finished in the period.")
    best, lost = groups[0], max(groups, key=lambda group: group.lost)
    told = plural(
        "%(job)s left most: %(money)s from %(num)s job.",
        "%(job)s left most: %(money)s from %(num)s jobs.",
        best.count,
        job=best.name,
        money=formats.milli(best.margin),
    )
    if not lost.lost:
        return told
    under = phrase(
        "Materials cost most beyond the minimum margin in %(job)s: %(money)s.",
        job=lost.name,
        money=formats.milli(lost.lost),
    )
    return joined([told, under])


def waterfall_chart(
    found: MarginChange, formats: Formats, kind: Picture = "png", *, say: Callable[[str], str] = str
) -> bytes:
    """Draw the way from one period's margin to the next, step by step; `say` words it in a language."""
    words = say(waterfall_words(found, formats))
    parts = [part for part in found.parts if part.effect]
    with look():
        figure, (axes,) = new_figure(height=6.5)
        level = _major(found.before, formats)
        _pillar(axes, 0, (0, level), GREY, formats.milli(found.before))
        for place, part in enumerate(parts, 1):
            rise = _major(part.effect, formats)
            _pillar(axes, place, (level, rise), BLUE if rise >= 0 else RED, _signed(part.effect, formats))
            axes.plot([place - 0.65, place + 0.35], [level, level], color=GREY, linewidth=1)
            level += rise
        _pillar(axes, len(parts) + 1, (0, level), GREY, formats.milli(found.after))
        names = [say(phrase("before")), *(say(as_phrase(part.name)) for part in parts), say(phrase("after"))]
        axes.set_xticks(range(len(names)), names, rotation=30, ha="right")
        cut = _cut(found, formats)
        axes.set_ylim(cut, None)
        axes.margins(y=0.12)
        label = phrase(
            "Margin (%(currency)s), not from zero" if cut else "Margin (%(currency)s)", currency=formats.currency
        )
        set_figures(axes, formats, say(label))
        set_title(figure, say(phrase("What changed the margin")), words)
        return picture(figure, words, kind)


def waterfall_words(found: MarginChange, formats: Formats) -> str:
    """Say in a sentence what `waterfall_chart` shows."""
    most = max(found.parts, key=lambda part: abs(part.effect))
    way = {"before": formats.milli(found.before), "after": formats.milli(found.after)}
    if not most.effect:
        return phrase("From %(before)s to %(after)s.", **way)
    facts = {"most": as_phrase(most.name), "effect": _signed(most.effect, formats)}
    return phrase("From %(before)s to %(after)s. Most of it: %(most)s, %(effect)s.", **way, **facts)


def price_chart(lines: Sequence[PriceLine], formats: Formats, *, say: Callable[[str], str] = str) -> bytes:
    """Draw what key materials cost, each against its first price so that they share one scale; `say` words it."""
    words = say(price_words(lines, formats))
    with look():
        figure, (axes,) = new_figure(height=6.5)
        for number, line in enumerate(line for line in lines if line.points):
            first = line.points[0][1] or 1
            axes.plot(
                as_days([day for day, _ in line.points]),
                [100 * cost / first for _, cost in line.points],
                linestyle=_STYLES[number % len(_STYLES)],
                marker=_MARKS[number % len(_MARKS)],
                markersize=6,
                color=_SHADES[number % len(_SHADES)],
                linewidth=2.2,
                drawstyle="steps-post",
                label=plain_text(line.material.name),
            )
        set_figures(axes, formats, say(phrase("First price = 100")))
        _set_months(axes, [day for line in lines for day, _ in line.points], formats)
        legend_below(figure, axes, columns=3)
        set_title(figure, say(phrase("What the dearest materials cost")), words)
        return picture(figure, words)


def price_words(lines: Sequence[PriceLine], formats: Formats) -> str:
    """Say in a sentence what `price_chart` shows."""
    told = [_rise(line, formats) for line in lines if len(line.points) > 1]
    return joined(told) if told else phrase("No key material was delivered twice yet.")


def layout_chart(layout: SheetLayout, formats: Formats, kind: Picture = "png") -> bytes:
    """Draw soles laid out on a sheet, the grain along its length."""
    plate = layout.plate
    words = layout_words(layout, formats)
    with look():
        from matplotlib.patches import Polygon, Rectangle

        figure, (axes,) = new_figure(width=11, height=max(10 * plate.width / plate.length + 2.5, 4))
        axes.add_patch(Rectangle((0, 0), plate.length, plate.width, facecolor="#f4efe4", edgecolor=INK, linewidth=1.5))
        for piece in layout.pieces:
            turned = [(y, x) for x, y in piece.outline]  # the grain runs across the picture
            left = piece.foot == "left"
            axes.add_patch(
                Polygon(turned, facecolor=PALE if left else "white", edgecolor=BLUE, hatch=None if left else "///")
            )
        axes.set_xlim(-plate.length * 0.01, plate.length * 1.01)
        axes.set_ylim(-plate.width * 0.02, plate.width * 1.02)
        axes.set_aspect("equal")
        axes.set_xlabel("mm along the grain →")
        axes.set_ylabel("mm")
        set_title(figure, "Soles on the sheet", words, "Plain: left soles. Hatched: right soles.")
        return picture(figure, words, kind)


def layout_words(layout: SheetLayout, formats: Formats) -> str:
    """Say in a sentence what `layout_chart` shows."""
    size = f"{layout.plate.length:g} by {layout.plate.width:g} mm"
    pairs = f"{layout.pairs} pair{'' if layout.pairs == 1 else 's'}"
    return f"A sheet of {size} gives {pairs}; {formats.percent(layout.share)} of it becomes soles."


def _set_months(axes: "Axes", days: Sequence[date], formats: Formats) -> None:
    """Mark the first days of months, few enough to read, each with its year."""
    months = [day.year * 12 + day.month - 1 for day in days]
    first, last = min(months, default=0), max(months, default=0) + 1
    step = next((step for step in _STEPS if (last - first) // step < _TICKS), _STEPS[-1])
    marks = [date(month // 12, month % 12 + 1, 1) for month in range(-(-first // step) * step, last + 1, step) if days]
    axes.set_xticks(as_days(marks), [formats.day(mark) for mark in marks])


def _bar_words(axes: "Axes", place: int, group: Group, formats: Formats) -> None:
    share = "" if group.share is None else f", {formats.percent(float(group.share))}"
    margin = _major(group.margin, formats)
    axes.annotate(
        f"{formats.milli(group.margin)}{share}",
        (margin, place),
        (6 if margin >= 0 else -6, 0),
        textcoords="offset points",
        va="center",
        ha="left" if margin >= 0 else "right",
        fontsize=12,
    )


def _pillar(axes: "Axes", place: int, span: tuple[float, float], color: str, words: str) -> None:
    base, rise = span
    axes.bar(place, rise, bottom=base, color=color, width=0.7)
    top = max(base, base + rise)
    axes.annotate(words, (place, top), (0, 5), textcoords="offset points", ha="center", fontsize=12)


def _cut(found: MarginChange, formats: Formats) -> float | None:
    """Leave out the foot of a picture whose steps would be too small to see on tall pillars."""
    levels = [found.before]
    for part in found.parts:
        levels.append(levels[-1] + part.effect)
    low, high = min(levels), max(levels)
    if low <= 0 or high - low > low / 2:
        return None
    return _major(max(low - (high - low), 0), formats)


def _signed(milli: int, formats: Formats) -> str:
    return f"{'+' if milli > 0 else ''}{formats.milli(milli)}"


def _rise(line: PriceLine, formats: Formats) -> str:
    (_, first), (_, last) = line.points[0], line.points[-1]
    facts = {"first": formats.fine(first), "last": formats.fine(last), "unit": as_phrase(line.material.unit.name)}
    return phrase("%(material)s: %(first)s to %(last)s a %(unit)s.", material=line.material.name, **facts)


def _major(milli: int, formats: Formats) -> float:
    return float(milli / MILLI / 10**formats.digits)
