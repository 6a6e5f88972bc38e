"""Pictures of what lies ahead of the orders: the year's money by month, and stock against delayed jobs."""

from collections.abc import Callable

from stockroom.phrases import phrase
from stockroom.show.charts.facts import CautionPicture, YearPicture
from stockroom.show.charts.style import (
    BLUE,
    GREY,
    INK,
    PALE,
    PATCH,
    Picture,
    look,
    new_figure,
    picture,
    set_figures,
    set_title,
)
from stockroom.show.formats import Formats

_MOST_DELAYED = 60.0  # a year: whoever lets more jobs wait is beyond the picture


def year_chart(
    year: YearPicture, formats: Formats, words: str, kind: Picture = "png", *, say: Callable[[str], str] = str
) -> bytes:
    """Draw what each month takes as a column, with the range of eight futures in ten as a line on it."""
    with look():
        figure, (axes,) = new_figure(height=6)
        places = list(range(len(year.months)))
        axes.bar(places, year.spend, color=PALE, edgecolor=BLUE, linewidth=1.4, width=0.7)
        axes.vlines(places, year.low, year.high, color=INK, linewidth=3)
        axes.set_xticks(places, [formats.month(month).replace(" ", "\n") for month in year.months])
        axes.set_ylim(bottom=0)
        set_figures(axes, formats, formats.currency)
        set_title(figure, say(phrase("The year ahead")), say(words))
        return picture(figure, say(words), kind)


def frontier(seen: CautionPicture) -> list[tuple[float, float]]:
    """Give what is paid and the jobs delayed where no other degree of caution has less of both, the cheapest first."""
    found: list[tuple[float, float]] = []
    for paid, delayed in sorted(zip(seen.paid, seen.delayed, strict=True)):
        fewer = not found or delayed < found[-1][1]
        if delayed <= max(_MOST_DELAYED, seen.delayed[seen.own]) and fewer:
            found.append((paid, delayed))
    return found


def caution_chart(
    seen: CautionPicture, formats: Formats, words: str, kind: Picture = "png", *, say: Callable[[str], str] = str
) -> bytes:
    """Draw delayed jobs against what is paid to spare them, and mark where the shop stands."""
    here = (seen.paid[seen.own], seen.delayed[seen.own])
    with look():
        figure, (axes,) = new_figure(height=6)
        axes.plot(*zip(*frontier(seen), strict=True), "-o", color=BLUE, linewidth=2.4, markersize=8, clip_on=False)
        axes.plot(*here, marker="D", color=INK, markersize=14, clip_on=False)
        axes.annotate(
            say(phrase("you are here")), here, (0, 18), textcoords="offset points", ha="right", color=INK, bbox=PATCH
        )
        axes.set_ylim(bottom=0)
        set_figures(axes, formats, say(phrase("Delayed jobs a year")))
        axes.set_xlabel(say(phrase("Stock and carriage a year (%(currency)s)", currency=formats.currency)), color=GREY)
        set_title(figure, say(phrase("Stock or delays")), say(words))
        return picture(figure, say(words), kind)
