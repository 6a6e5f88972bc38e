"""The points of a chart."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from stockroom.show.charts.facts import StockOutlook
from stockroom.stock.quantities import unit
from stockroom.web.drawing import (
    BOTTOM,
    HEIGHT,
    LEFT,
    RIGHT,
    TOP,
    WIDTH,
    Bar,
    Drawing,
    bars,
    frontier_line,
    lines_by_day,
    past_and_future,
    steps,
)

LITRE = unit("l")
DAY = date(2026, 1, 6)


def points(text: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in (each.split(",") for each in text.split())]


def outlook(low: tuple[float, ...], middle: tuple[float, ...], high: tuple[float, ...]) -> StockOutlook:
    weeks = tuple(DAY + timedelta(weeks=n + 1) for n in range(len(low)))
    return StockOutlook(
        name="Cement", unit=LITRE, as_of=DAY, history=((DAY, 1000.0),), weeks=weeks, low=low, middle=middle, high=high
    )


def test_nothing_is_drawn_of_a_single_day() -> None:
    assert past_and_future([(DAY, 5)], None, LITRE) is None


def test_stock_is_drawn_in_steps() -> None:
    drawn = past_and_future([(DAY, 2 * LITRE.nano), (DAY + timedelta(1), LITRE.nano)], None, LITRE)
    assert drawn is not None
    made = points(drawn.lines[0])
    assert made == [(LEFT, TOP), (WIDTH - RIGHT, TOP), (WIDTH - RIGHT, made[2][1])]
    assert drawn.fan == ""


def test_a_fan_starts_at_what_is_there_and_never_goes_below_zero() -> None:
    drawn = past_and_future([(DAY, LITRE.nano)], outlook((500.0, -200.0), (700.0, 100.0), (900.0, 400.0)), LITRE)
    assert drawn is not None
    assert points(drawn.middle)[0] == points(drawn.lines[0])[0]
    assert max(y for _, y in points(drawn.fan)) == drawn.zero
    assert drawn.ends is None


@given(st.lists(st.integers(-(10**13), 10**13), min_size=2, max_size=40))
def test_every_point_lies_on_the_picture_and_ticks_are_round(amounts: list[int]) -> None:
    days = [(DAY + timedelta(n), nano) for n, nano in enumerate(amounts)]
    drawn = past_and_future(days, None, LITRE)
    assert drawn is not None
    on_the_picture(drawn)
    assert 1 <= len(drawn.up) <= 6


def on_the_picture(drawn: Drawing) -> None:
    for line in drawn.lines:
        for x, y in points(line):
            assert LEFT - 0.1 <= x <= WIDTH - RIGHT + 0.1
            assert TOP - 0.1 <= y <= HEIGHT - BOTTOM + 0.1
    assert all(TOP - 0.1 <= height <= HEIGHT - BOTTOM + 0.1 for height, _ in drawn.up)
    assert all(LEFT - 0.1 <= along <= WIDTH - RIGHT + 0.1 for along, _ in drawn.across)


FIGURES = st.floats(-1e7, 1e7, allow_nan=False).map(lambda figure: round(figure, 2))


@given(st.lists(st.tuples(FIGURES, FIGURES), min_size=2, max_size=30), st.floats(0, 200))
def test_lines_and_what_they_are_held_against_lie_on_the_picture(
    values: list[tuple[float, float]], level: float
) -> None:
    drawn = lines_by_day([DAY + timedelta(n) for n in range(len(values))], list(zip(*values, strict=True)), level=level)
    assert drawn is not None
    on_the_picture(drawn)
    assert drawn.level is not None
    assert TOP - 0.1 <= drawn.level <= HEIGHT - BOTTOM + 0.1


@given(st.lists(st.tuples(FIGURES.map(abs), FIGURES.map(abs)), min_size=1, max_size=9))
def test_where_the_shop_stands_lies_on_its_curve(curve: list[tuple[float, float]]) -> None:
    drawn = frontier_line(curve, curve[0])
    on_the_picture(drawn)
    assert drawn.here == drawn.dots[0][0]


@given(st.lists(st.tuples(FIGURES, FIGURES), max_size=15))
def test_bars_lie_in_their_row_and_are_as_long_as_their_figures(spans: list[tuple[float, float]]) -> None:
    drawn = bars(spans)
    assert all(bar.start >= -0.01 and bar.start + bar.width <= 100.02 for bar in drawn)
    long = [abs(end - start) for start, end in spans]
    for bar, figure in zip(drawn, long, strict=True):
        assert abs(bar.width * max(long) - figure * max(each.width for each in drawn)) <= 0.03 * max(long)


@dataclass
class Moved:
    printed: tuple[int, Sequence[int], int]


@given(st.integers(-(10**6), 10**6), st.lists(st.integers(-(10**5), 10**5), max_size=8))
def test_each_step_begins_where_the_one_before_ends(before: int, effects: list[int]) -> None:
    drawn = steps(Moved((before, effects, before + sum(effects))))
    assert len(drawn) == 2 + sum(1 for each in effects if each)

    def ends(bar: Bar) -> tuple[float, float]:
        return (bar.start + bar.width, bar.start) if bar.below else (bar.start, bar.start + bar.width)

    level = ends(drawn[0])[1]
    for bar in drawn[1:-1]:
        begins, over = ends(bar)
        assert abs(begins - level) <= 0.05
        level = over
    assert abs(ends(drawn[-1])[1] - level) <= 0.2


def test_small_steps_on_tall_figures_are_drawn_large_enough_to_see() -> None:
    drawn = steps(Moved((100_000, [2_000, -500], 101_500)))
    assert drawn[1].width > 20
