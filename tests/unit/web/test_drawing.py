"""The points of a chart."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from stockroom.show.charts.facts import StockOutlook
from stockroom.stock.quantities import unit
from stockroom.web.drawing import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, past_and_future

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
    made = points(drawn.past)
    assert made == [(LEFT, TOP), (WIDTH - RIGHT, TOP), (WIDTH - RIGHT, made[2][1])]
    assert drawn.fan == ""


def test_a_fan_starts_at_what_is_there_and_never_goes_below_zero() -> None:
    drawn = past_and_future([(DAY, LITRE.nano)], outlook((500.0, -200.0), (700.0, 100.0), (900.0, 400.0)), LITRE)
    assert drawn is not None
    assert points(drawn.middle)[0] == points(drawn.past)[0]
    assert max(y for _, y in points(drawn.fan)) == drawn.zero
    assert drawn.runs_out is None


@given(st.lists(st.integers(-(10**13), 10**13), min_size=2, max_size=40))
def test_every_point_lies_on_the_picture_and_ticks_are_round(amounts: list[int]) -> None:
    days = [(DAY + timedelta(n), nano) for n, nano in enumerate(amounts)]
    drawn = past_and_future(days, None, LITRE)
    assert drawn is not None
    for x, y in points(drawn.past):
        assert LEFT <= x <= WIDTH - RIGHT
        assert TOP - 0.1 <= y <= HEIGHT - BOTTOM + 0.1
    assert 1 <= len(drawn.up) <= 6
    assert all(TOP - 0.1 <= height <= HEIGHT - BOTTOM + 0.1 for height, _ in drawn.up)
