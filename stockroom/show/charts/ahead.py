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


def caution_chart(
    seen: CautionPicture, formats: Formats, words: str, kind: Picture = "png", *, say: Callable[[str], str] = str
) -> bytes:
    """Draw delayed jobs against what is paid to spare them, and mark where the shop stands."""
    shown = [n for n, jobs in enumerate(seen.delayed) if jobs <= _MOST_DELAYED or n == seen.own]
    with look():
        figure, (axes,) = new_figure(height=6)
        paid, delayed = [seen.paid[n] for n in shown], [seen.delayed[n] for n in shown]
        axes.plot(paid, delayed, "-o", color=BLUE, linewidth=2.4, markersize=8, clip_on=False)
        here = (seen.paid[seen.own], seen.delayed[seen.own])
        axes.plot(*here, marker="D", color=INK, markersize=14)
        axes.annotate(
            say(phrase("you are here")), here, (0, 16), textcoords="offset points", ha="right", color=INK, bbox=PATCH
        )
        axes.set_ylim(bottom=0)
        set_figures(axes, formats, say(phrase("Delayed jobs a year")))
        axes.set_xlabel(say(phrase("Stock and carriage a year (%(currency)s)", currency=formats.currency)), color=GREY)
        set_title(figure, say(phrase("Stock or delays")), say(words))
        return picture(figure, say(words), kind)
