"""Pictures of what has been: how true the counts were, and a year back-tested under several ways of ordering.

Each comes as PNG, with a function that says the same in words.
"""

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from stockroom.phrases import joined, phrase, plural
from stockroom.show.charts.facts import BacktestPicture, CountAccuracy, ForecastPicture, PolicyYear
from stockroom.show.charts.style import (
    BLUE,
    BROWN,
    GREY,
    INK,
    as_days,
    legend_below,
    look,
    new_figure,
    picture,
    set_days,
    set_figures,
    set_title,
)
from stockroom.show.formats import Formats
from stockroom.show.layout import plain_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_STYLES = ("-", "--", "-.", ":")
_MARKS = ("o", "s", "^", "D")
_SHADES = (BLUE, BROWN, GREY, INK)


def accuracy_chart(counts: Sequence[CountAccuracy], formats: Formats) -> bytes:
    """Draw the share of counted bins that agreed with the book, count by count."""
    words = accuracy_words(counts, formats)
    with look():
        figure, (axes,) = new_figure(height=5)
        days, shares = as_days([count.day for count in counts]), [100 * count.share for count in counts]
        axes.plot(days, shares, "-o", color=BLUE, linewidth=2.4, markersize=9, clip_on=False)
        axes.set_ylim(0, 100)
        set_figures(axes, formats, phrase("Items within tolerance (in a hundred)"))
        set_days(axes, formats)
        set_title(figure, phrase("Does the book agree with the shelf?"), words)
        return picture(figure, words)


def accuracy_words(counts: Sequence[CountAccuracy], formats: Formats) -> str:
    """Say in a sentence what `accuracy_chart` shows."""
    if not counts:
        return phrase("Nothing has been counted yet.")
    last, half = counts[-1], counts[: max(len(counts) // 2, 1)]
    before = sum(count.within for count in half) / max(sum(count.bins for count in half), 1)
    first, facts = last.since or last.day, {"within": last.within, "bins": last.bins, "day": formats.day(last.day)}
    found = (
        phrase(
            "From %(first)s to %(day)s, %(within)s of %(bins)s items were within tolerance.",
            first=formats.day(first),
            **facts,
        )
        if first != last.day
        else phrase("On %(day)s, %(within)s of %(bins)s items were within tolerance.", **facts)
    )
    earlier = phrase("In the first half of the counts it was %(share)s.", share=formats.percent(before))
    return joined([found, earlier]) if len(counts) > 1 else found


def forecast_chart(seen: ForecastPicture, formats: Formats, words: str) -> bytes:
    """Draw how often use stayed within what was said, and how the misses compare with a plain average's, day by day."""
    with look():
        figure, (within, loss) = new_figure(height=8, panels=2)
        days = as_days(seen.days)
        for axes, values, color, right in ((within, seen.within, BLUE, 90), (loss, seen.loss, BROWN, 100)):
            axes.axhline(right, color=GREY, linestyle="--", linewidth=1.8)
            axes.plot(days, [100 * value for value in values], "-o", color=color, linewidth=2.4, markersize=8)
            axes.set_ylim(0, max(100, *(100 * value for value in values)) + 3)
        set_figures(within, formats, phrase("Within the range of nine in ten, of 100"))
        set_figures(loss, formats, phrase("Misses, average = 100"))
        set_days(loss, formats)
        set_title(figure, phrase("Forecast accuracy"), words)
        return picture(figure, words)


def backtest_chart(year: BacktestPicture, formats: Formats) -> bytes:
    """Draw stock value and jobs held up, week by week, under each way of ordering."""
    with look():
        figure, (held, value) = new_figure(height=9, panels=2)
        for number, policy in enumerate(year.policies):
            _draw_policy(held, year.weeks, _running(policy.held_up), number, policy)
            _draw_policy(value, year.weeks, policy.stock_value, number, policy)
        set_figures(held, formats, phrase("Jobs delayed so far"))
        set_figures(value, formats, phrase("Stock (%(currency)s)", currency=formats.currency))
        for axes in (held, value):
            axes.set_ylim(bottom=0)
        set_days(value, formats)
        legend_below(figure, value, columns=3)
        title = phrase("The same %(weeks)s weeks, ordered in different ways", weeks=len(year.weeks))
        set_title(figure, title, *_verdict(year, formats))
        return picture(figure, backtest_words(year, formats))


def backtest_words(year: BacktestPicture, formats: Formats) -> str:
    """Say in a sentence for each way of ordering what `backtest_chart` shows."""
    return joined((phrase("%(weeks)s weeks back-tested.", weeks=len(year.weeks)), *_verdict(year, formats)))


def _draw_policy(axes: "Axes", weeks: Sequence[date], values: Sequence[float], number: int, policy: PolicyYear) -> None:
    axes.plot(
        as_days(weeks),
        values,
        linestyle=_STYLES[number % len(_STYLES)],
        marker=_MARKS[number % len(_MARKS)],
        markevery=max(len(weeks) // 8, 1),
        color=_SHADES[number % len(_SHADES)],
        linewidth=3.6 if policy.ours else 2.0,
        markersize=8,
        drawstyle="steps-post",
        label=plain_text(policy.name),
    )


def _running(held_up: Sequence[int]) -> list[float]:
    total, sums = 0, []
    for jobs in held_up:
        total += jobs
        sums.append(float(total))
    return sums


def _verdict(year: BacktestPicture, formats: Formats) -> list[str]:
    return [
        plural(
            "%(name)s: %(num)s job delayed, %(money)s of stock on average.",
            "%(name)s: %(num)s jobs delayed, %(money)s of stock on average.",
            sum(policy.held_up),
            name=policy.name,
            money=formats.round_money(_mean(policy.stock_value)),
        )
        for policy in year.policies
    ]


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values) if values else 0.0
