"""Pictures of what lies ahead of the orders: the year's money by month, and what spares delays at what price."""

from stockroom.show.charts.facts import CautionPicture, YearPicture
from stockroom.show.charts.style import (
    BLUE,
    INK,
    PALE,
    look,
    new_figure,
    picture,
    set_figures,
    set_title,
)
from stockroom.show.formats import Formats

_MOST_DELAYED = 60.0  # a year: whoever lets more jobs wait is beyond the picture


def year_chart(year: YearPicture, formats: Formats, words: str) -> bytes:
    """Draw what each month takes as a column, with the range of eight futures in ten as a line on it."""
    with look():
        figure, (axes,) = new_figure(height=6)
        places = list(range(len(year.months)))
        axes.bar(places, year.spend, color=PALE, edgecolor=BLUE, linewidth=1.4, width=0.7)
        axes.vlines(places, year.low, year.high, color=INK, linewidth=3)
        axes.set_xticks(places, [formats.month(month).replace(" ", "\n") for month in year.months])
        axes.set_ylim(bottom=0)
        set_figures(axes, formats, formats.currency)
        set_title(figure, "The year ahead", words)
        return picture(figure, words)


def frontier(seen: CautionPicture) -> list[tuple[float, float]]:
    """Give what is paid and the jobs delayed where no other degree of caution has less of both, the cheapest first."""
    found: list[tuple[float, float]] = []
    for paid, delayed in sorted(zip(seen.paid, seen.delayed, strict=True)):
        fewer = not found or delayed < found[-1][1]
        if delayed <= max(_MOST_DELAYED, seen.delayed[seen.own]) and fewer:
            found.append((paid, delayed))
    return found
