"""What keeps a picture readable."""

from datetime import date

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from stockroom.show.charts.style import day_line, look, new_figure, set_title


@pytest.mark.parametrize(
    "title", ["short", "Contact cement, all purpose, slow drying: " * 4, "OAK BARK BEND, FIRST QUALITY, " * 3]
)
def test_title_keeps_within_the_picture_and_above_the_panel(title: str) -> None:
    with look():
        figure, (axes,) = new_figure()
        set_title(figure, title, "A sentence that goes on for long enough to need a second line of its own. " * 2)
        canvas = FigureCanvasAgg(figure)
        canvas.draw()  # type: ignore[no-untyped-call]
    renderer = canvas.get_renderer()  # type: ignore[no-untyped-call]
    boxes = [text.get_window_extent(renderer) for text in figure.texts]
    assert max(box.x1 for box in boxes) <= figure.bbox.x1
    assert min(box.y0 for box in boxes) >= axes.get_window_extent(renderer).y1


def test_words_at_the_far_end_go_to_the_left_of_their_line() -> None:
    with look():
        _, (axes,) = new_figure()
        first, last = date(2026, 1, 1), date(2026, 12, 31)
        axes.set_xlim((first - date(1970, 1, 1)).days, (last - date(1970, 1, 1)).days)
        day_line(axes, date(2026, 2, 1), "early")
        day_line(axes, date(2026, 12, 20), "late")
        day_line(axes, date(2026, 6, 1), "asked", before=True)
    assert [text.get_horizontalalignment() for text in axes.texts] == ["left", "right", "right"]


def test_look_leaves_the_machines_own_settings_alone() -> None:
    import matplotlib as mpl

    before = dict(mpl.rcParams)
    with look():
        assert mpl.rcParams["text.parse_math"] is False
    assert dict(mpl.rcParams) == before
