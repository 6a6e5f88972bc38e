"""How every picture looks: large plain letters, marks beside colours, days and figures as the shop writes them."""

import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date, timedelta
from io import BytesIO
from typing import TYPE_CHECKING, Any, Literal, cast

from stockroom.show.formats import Formats
from stockroom.show.layout import plain_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.layout_engine import ConstrainedLayoutEngine

Picture = Literal["png", "svg"]
INK, GREY, BLUE, PALE, RED, BROWN = "#1a1a1a", "#5c5c5c", "#1f5a8a", "#bcd6ea", "#a3231b", "#7a4f00"
PATCH: dict[str, Any] = {"facecolor": "white", "edgecolor": "none", "pad": 1.5, "alpha": 0.85}  # behind words
_TITLE, _TEXT = 19.0, 14.0
_EDGE = 0.12  # inches left free around the title
_LEADING = 1.45 / 72  # inches a line takes for each point of its letters
_FAR = 0.88  # of the way along, from which words go to the left of their line
_LOOK: dict[Any, Any] = {  # names of matplotlib's settings
    "font.size": _TEXT,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": GREY,
    "text.parse_math": False,  # a name may hold a dollar sign
    "svg.hashsalt": "stockroom",  # the same picture twice gives the same file
    "hatch.linewidth": 0.6,
}
_DPI = 110
_TICKS = 7
_EPOCH = date(1970, 1, 1)  # from which matplotlib counts days


@contextmanager
def look() -> Iterator[None]:
    """Draw in the house's letters and lines, whatever the machine's own settings are."""
    import matplotlib as mpl

    with mpl.rc_context(), warnings.catch_warnings():
        mpl.rcdefaults()
        mpl.rcParams.update(_LOOK)
        warnings.filterwarnings("ignore", message="Glyph .* missing")  # a box for a rare letter beats no picture
        yield


def new_figure(width: float = 11, height: float = 6, *, panels: int = 1) -> "tuple[Figure, list[Axes]]":
    """Start a picture with one or more panels above each other; sizes in inches."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), layout="constrained")
    axes = figure.subplots(panels, 1, sharex=panels > 1, squeeze=False)
    return figure, [row[0] for row in axes]


def picture(figure: "Figure", words: str, kind: Picture = "png") -> bytes:
    """Give a picture as the bytes of its file, with its description inside."""
    stream = BytesIO()
    about = {"Title": words, "Date": None} if kind == "svg" else {"Title": words, "Software": None}
    figure.savefig(stream, format=kind, dpi=_DPI, metadata=about, facecolor="white")
    return stream.getvalue()


def set_title(figure: "Figure", title: str, *under: str) -> None:
    """Write a title in plain words along the top, and sentences under it; the panels make room."""
    width, height = figure.get_size_inches()
    top = _EDGE
    for text, size, weight, color in [(title, _TITLE, "bold", INK), *((each, _TEXT, "normal", GREY) for each in under)]:
        for line in _broken(plain_text(text), (width - 2 * _EDGE) * 72, size, weight):
            figure.text(_EDGE / width, 1 - top / height, line, fontsize=size, fontweight=weight, color=color, va="top")
            top += size * _LEADING
    cast("ConstrainedLayoutEngine", figure.get_layout_engine()).set(rect=(0, 0, 1, 1 - (top + 0.05) / height))


def _broken(text: str, room: float, size: float, weight: str) -> list[str]:
    """Break a text at its words into lines of so many points."""
    lines: list[str] = []
    for word in text.split():
        if lines and _points(f"{lines[-1]} {word}", size, weight) <= room:
            lines[-1] = f"{lines[-1]} {word}"
        else:
            lines.append(word)
    return lines


def _points(text: str, size: float, weight: str) -> float:
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    letters = FontProperties(size=size, weight=weight)
    width, _, _ = text_to_path.get_text_width_height_descent(text, letters, ismath=False)
    return float(width)


def set_days(axes: "Axes", formats: Formats) -> None:
    """Mark days along the bottom as the shop writes them, the year only where it changes."""
    from matplotlib.dates import AutoDateLocator
    from matplotlib.ticker import FuncFormatter

    axes.xaxis.set_major_locator(AutoDateLocator(minticks=4, maxticks=_TICKS))  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_formatter(FuncFormatter(lambda at, _: formats.short_day(_EPOCH + timedelta(days=at))))


def set_figures(axes: "Axes", formats: Formats, label: str) -> None:
    """Write the figures of the upright axis as the shop writes them, under a label with the unit."""
    from matplotlib.ticker import FuncFormatter

    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: formats.number(round(value, 9))))
    axes.set_ylabel(label)
    axes.grid(visible=True, axis="y", color="#dddddd", linewidth=0.8)
    axes.set_axisbelow(True)


def day_line(
    axes: "Axes",
    day: date,
    words: str,
    *,
    style: str = ":",
    color: str = GREY,
    level: float = 1.0,
    before: bool = False,
) -> None:
    """Draw an upright line at a day and say what it is; `level` is the height of the words, `before` their side."""
    first, last = axes.get_xlim()
    left = before or _at(day) > first + _FAR * (last - first)
    axes.axvline(_at(day), linestyle=style, color=color, linewidth=1.8)
    axes.annotate(
        words,
        (_at(day), level),
        (-6 if left else 6, -2),
        xycoords=("data", "axes fraction"),
        textcoords="offset points",
        color=color,
        va="top",
        ha="right" if left else "left",
        bbox=PATCH,
        zorder=7,
    )


def legend_below(figure: "Figure", axes: "Axes", columns: int = 5) -> None:
    """Explain the lines under the picture, where nothing is hidden."""
    marks, words = axes.get_legend_handles_labels()
    figure.legend(
        marks, words, loc="outside lower left", frameon=False, ncols=columns, handlelength=2, columnspacing=1.4
    )


def as_days(days: Sequence[date]) -> list[float]:
    """Give days as positions along an axis."""
    return [_at(day) for day in days]


def _at(day: date) -> float:
    return float((day - _EPOCH).days)
