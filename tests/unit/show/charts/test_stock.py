"""The shape of the fan: slopes with the work, jumps with deliveries, ends where it stops telling anything."""

import subprocess
import sys
from dataclasses import replace
from datetime import date, timedelta
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.image import imread
from PIL import Image

from stockroom.show.charts.facts import StockOutlook
from stockroom.show.charts.stock import _short as shortened
from stockroom.show.charts.stock import fan_of, last_day, run_out_chart, run_out_words, stock_chart, stock_words
from stockroom.show.formats import Formats
from stockroom.stock.lists import RunOutRow
from stockroom.stock.quantities import UNITS
from tests.unit.show.samples import RUN_OUTS, TODAY

DAY = date(2026, 11, 21)


def weeks(count: int) -> tuple[date, ...]:
    return tuple(DAY + timedelta(weeks=n) for n in range(1, count + 1))


def outlook(
    middle: tuple[float, ...], *, now: float = 10.0, deliveries: tuple[tuple[date, float], ...] = ()
) -> StockOutlook:
    return StockOutlook(
        name="Laces",
        unit=UNITS["piece"],
        as_of=DAY,
        history=((DAY, now),),
        weeks=weeks(len(middle)),
        low=middle,
        middle=middle,
        high=middle,
        deliveries=deliveries,
    )


def test_fan_starts_from_what_is_there_and_goes_through_the_weeks() -> None:
    fan = fan_of(outlook((8.0, 6.0)))
    assert fan.days == (DAY, *weeks(2))
    assert fan.middle == (10.0, 8.0, 6.0)


def test_fan_never_goes_below_the_shelf() -> None:
    assert fan_of(outlook((4.0, -6.0))).middle == (10.0, 4.0, 0.0)


def test_delivery_jumps_on_its_day_after_the_use_of_the_days_before() -> None:
    arrival = DAY + timedelta(days=4)
    fan = fan_of(outlook((24.0, 17.0), now=8.0, deliveries=((arrival, 20.0),)))
    assert fan.days == (DAY, arrival, arrival, *weeks(2))
    assert fan.middle == pytest.approx((8.0, 4.0, 27.0, 24.0, 17.0))


def test_future_in_which_the_delivery_is_late_has_no_jump() -> None:
    arrival = DAY + timedelta(days=4)
    fan = fan_of(outlook((3.0, 0.0), now=10.0, deliveries=((arrival, 20.0),)))
    assert fan.middle == pytest.approx((10.0, 6.0, 6.0, 3.0, 0.0))


def test_picture_ends_some_weeks_after_the_last_likely_day() -> None:
    seen = outlook(tuple(10.0 - n for n in range(13)))
    assert last_day(seen) == weeks(13)[-1]
    near = replace(seen, runs_out=DAY + timedelta(days=10), latest=DAY + timedelta(days=20))
    assert last_day(near) == DAY + timedelta(days=41)
    assert last_day(replace(near, latest=DAY + timedelta(days=3))) == DAY + timedelta(weeks=5)
    assert last_day(replace(near, latest=None)) == weeks(13)[-1]
    assert last_day(replace(near, latest=DAY + timedelta(days=89))) == weeks(13)[-1]


def test_no_weeks_make_an_empty_fan() -> None:
    assert fan_of(outlook(())).middle == (10.0,)


@given(
    st.lists(st.floats(-50, 50), min_size=1, max_size=6),
    st.lists(st.integers(1, 60), max_size=4),
)
def test_every_line_of_the_fan_has_a_point_for_each_day_in_order(values: list[float], arrivals: list[int]) -> None:
    deliveries = tuple((DAY + timedelta(days=n), 5.0) for n in arrivals)
    fan = fan_of(outlook(tuple(values), deliveries=deliveries))
    assert list(fan.days) == sorted(fan.days)
    assert len(fan.days) == len(fan.low) == len(fan.middle) == len(fan.high)
    assert min(fan.low) >= 0


IRISH = Formats()
WEEKS = tuple(TODAY + timedelta(weeks=n) for n in range(1, 14))
FALLING = tuple(3000.0 - 400.0 * n for n in range(1, 14))
OUTLOOK = StockOutlook(
    name="Contact cement",
    unit=UNITS["l"],
    as_of=TODAY,
    history=((TODAY - timedelta(days=400), 9000.0), (TODAY - timedelta(days=20), 4000.0), (TODAY, 3000.0)),
    weeks=WEEKS,
    low=tuple(value - 300 for value in FALLING),
    middle=FALLING,
    high=tuple(value + 300 for value in FALLING),
    runs_out=date(2027, 1, 15),
    earliest=date(2027, 1, 8),
    latest=date(2027, 1, 28),
    order_by=date(2026, 12, 29),
    deliveries=((date(2026, 12, 1), 500.0),),
)
ROWS = [
    replace(RUN_OUTS[0], material=f"M{n}", runs_out=date(2027, 1, 1) + timedelta(days=n % 7), name=f"Material {n}")
    for n in range(30)
]


def size(content: bytes) -> tuple[int, ...]:
    return tuple(imread(BytesIO(content), format="png").shape[:2])


def title_of(content: bytes) -> str:
    found = Image.open(BytesIO(content)).info["Title"]
    assert isinstance(found, str)
    return found


def test_stock_picture_is_a_png_wide_enough_to_read() -> None:
    height, width = size(stock_chart(OUTLOOK, IRISH))
    assert width >= 1200
    assert height >= 600


def test_a_picture_carries_its_description() -> None:
    assert title_of(stock_chart(OUTLOOK, IRISH)) == stock_words(OUTLOOK, IRISH)
    few = ROWS[:2]
    assert title_of(run_out_chart(few, IRISH, as_of=TODAY)) == run_out_words(few, IRISH, as_of=TODAY)


def test_same_facts_make_the_same_file() -> None:
    assert stock_chart(OUTLOOK, IRISH) == stock_chart(OUTLOOK, IRISH)


def test_stock_words_say_what_the_picture_shows() -> None:
    assert stock_words(OUTLOOK, IRISH) == (
        "Contact cement: runs out about 15 Jan 2027. On 25 Nov 2026 there was 3 l. "
        "In 8 of 10 cases between 8 Jan 2027 and 28 Jan 2027. Order by 29 Dec 2026."
    )


def test_stock_that_lasts_is_said_to_last() -> None:
    lasting = replace(OUTLOOK, runs_out=None, earliest=None, latest=None, order_by=None, history=())
    assert stock_words(lasting, IRISH) == "Contact cement: enough until 24 Feb 2027 or later."
    assert stock_chart(lasting, IRISH)


def test_run_out_day_known_for_sure_has_no_range() -> None:
    sure = replace(OUTLOOK, earliest=OUTLOOK.runs_out, latest=OUTLOOK.runs_out, order_by=None)
    assert stock_words(sure, IRISH).endswith("On 25 Nov 2026 there was 3 l.")


def test_range_beyond_the_picture_is_said() -> None:
    assert "between 8 Jan 2027 and beyond this picture." in stock_words(replace(OUTLOOK, latest=None), IRISH)
    assert stock_chart(replace(OUTLOOK, latest=None), IRISH)


@pytest.mark.parametrize("name", ["Cost $5 or $6 & <more>", "牛革 a\nb\x00" + "x" * 200])
def test_any_name_can_be_drawn(name: str) -> None:
    below_zero = replace(OUTLOOK, name=name, history=((TODAY, -50.0),))
    assert size(stock_chart(below_zero, IRISH))
    assert size(run_out_chart([replace(ROWS[0], name=name)], IRISH, as_of=TODAY))


def test_order_day_that_has_come_says_now() -> None:
    assert stock_words(replace(OUTLOOK, order_by=TODAY), IRISH).endswith("Order now.")
    assert stock_chart(replace(OUTLOOK, order_by=TODAY), IRISH)


def test_long_names_keep_the_size_at_their_end() -> None:
    assert shortened("Men's heel tops, quarter rubber, EU 36 to 41") == "Men's heel tops… EU 36 to 41"
    assert len(shortened("x" * 80)) <= 36
    assert shortened("Cork sheet") == "Cork sheet"


def test_bands_must_match_the_weeks() -> None:
    with pytest.raises(ValueError, match="Contact cement: low, middle and high must each have 13 values"):
        replace(OUTLOOK, low=OUTLOOK.low[1:])


def test_ranking_shows_the_first_twenty_and_grows_with_them() -> None:
    few, many = size(run_out_chart(ROWS[:3], IRISH, as_of=TODAY)), size(run_out_chart(ROWS, IRISH, as_of=TODAY))
    assert many[0] > few[0]
    assert run_out_words(ROWS, IRISH, as_of=TODAY).startswith("As seen on 25 Nov 2026, 20 materials run out")


def test_ranking_names_the_earliest_first() -> None:
    assert run_out_words(ROWS[3:6], IRISH, as_of=TODAY).endswith(
        "First: Material 3, 4 Jan 2027; Material 4, 5 Jan 2027; Material 5, 6 Jan 2027."
    )


def test_ranking_of_nothing_says_so() -> None:
    lasting: list[RunOutRow] = RUN_OUTS[1:]
    assert run_out_words(lasting, IRISH, as_of=TODAY) == "As seen on 25 Nov 2026, nothing runs out within the outlook."
    assert size(run_out_chart(lasting, IRISH, as_of=TODAY))


def test_ranking_draws_what_is_out_already_and_ranges_without_an_end() -> None:
    rows = [replace(ROWS[0], free=-1, runs_out=TODAY, earliest=TODAY), replace(ROWS[1], latest=None, order_by=None)]
    assert size(run_out_chart(rows, IRISH, as_of=TODAY))


def test_nothing_slow_is_loaded_before_a_picture_or_a_workbook_is_asked_for() -> None:
    code = (
        "import sys\n"
        "import stockroom.show.charts.stock, stockroom.show.charts.past, stockroom.show.tables.files, stockroom.show.count_sheets\n"
        "from stockroom.show.orders import order_formats\n"
        "order_formats()\n"
        "print([name for name in ('matplotlib', 'openpyxl', 'babel', 'numpy', 'pandas') if name in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
