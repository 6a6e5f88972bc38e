"""Laws of reading: what a locale writes is read back exactly, and nothing else slips through as something it isn't."""

import csv
import io
import tempfile
from collections.abc import Callable
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.errors import UsageError
from stockroom.intake import cells
from stockroom.intake.cells import Marks, marks_of
from tests.nasty.small_shop import load

LOCALES = st.sampled_from(["en_IE", "en_US", "de_DE", "fr_FR", "de_CH", "sv_SE", "hu_HU", "pt_PT", "zh_CN"])
DAYS = st.dates(date(2000, 1, 1), date(2100, 12, 31))
AMOUNTS = st.decimals(0, 10**9, allow_nan=False, places=6)


def _alone(read: Callable[[cells.Cell], object]) -> Callable[[cells.Cell, Marks], object]:
    return lambda cell, _: read(cell)


def _grouped(number: Decimal, marks: Marks) -> str:
    return f"{number:,.6f}".replace(",", "\0").replace(".", marks.decimal).replace("\0", marks.group[:1])


@given(AMOUNTS, LOCALES)
def test_a_number_written_by_a_locale_is_read_back_exactly(number: Decimal, locale: str) -> None:
    marks = marks_of(locale)
    assert cells.number(_grouped(number, marks), marks) == number


@given(AMOUNTS, LOCALES, LOCALES)
def test_a_number_with_the_marks_of_another_locale_is_read_alike_or_refused(
    number: Decimal, ours: str, theirs: str
) -> None:
    mine, other = marks_of(ours), marks_of(theirs)
    text = f"{number:.6f}".replace(".", other.decimal)
    try:
        assert cells.number(text, mine) == number
    except UsageError:
        assert mine.decimal != other.decimal


@given(DAYS, LOCALES, st.sampled_from("./-"))
def test_a_day_written_in_a_locale_s_order_is_read_back(day: date, locale: str, mark: str) -> None:
    marks = marks_of(locale)
    assert marks.order is not None
    written = mark.join(
        {"d": f"{day.day:02}", "m": f"{day.month:02}", "y": str(day.year)}[part] for part in marks.order
    )
    assert cells.day(written, marks) == cells.day(day.isoformat(), marks) == day


@given(st.datetimes(datetime(2000, 1, 1), datetime(2100, 12, 31)), LOCALES)
def test_the_short_way_of_reading_moments_agrees_with_the_general_one(moment: datetime, locale: str) -> None:
    marks, stated = marks_of(locale), moment.replace(second=0, microsecond=0)
    short = cells.moment(f"{stated:%Y-%m-%d %H:%M}", marks, time(9))
    general = cells.moment(f" {stated:%Y-%m-%d %H:%M:%S}", marks, time(9))
    assert short == general == stated


@given(st.one_of(st.text(max_size=30), st.floats(), st.integers(), st.booleans(), st.datetimes(), st.times()), LOCALES)
@pytest.mark.parametrize(
    "read",
    [
        cells.number,
        lambda cell, marks: cells.money(cell, marks, 2),
        cells.share,
        cells.percent,
        lambda cell, marks: cells.day(cell, marks, date(1899, 12, 30)),
        lambda cell, marks: cells.moment(cell, marks, time(9), date(1899, 12, 30)),
        _alone(cells.clock),
        _alone(cells.code),
        _alone(cells.text),
        _alone(cells.yes_no),
        _alone(cells.written),
    ],
)
def test_any_cell_is_read_or_refused(
    read: Callable[[cells.Cell, Marks], object], cell: cells.Cell, locale: str
) -> None:
    try:
        found = read(cell, marks_of(locale))
    except UsageError as refused:
        said = [refused.what, refused.fix]
    else:
        said = []
        assert not isinstance(found, Decimal) or (found.is_finite() and found <= cells.MOST)
    assert all(sentence.endswith(".") for sentence in said)


SALES = st.lists(st.tuples(st.sampled_from(["LACE", "GLUE"]), st.integers(1, 3)), min_size=1, max_size=8)


@given(SALES, SALES)
def test_a_longer_export_of_the_same_sales_keeps_the_keys(
    first: list[tuple[str, int]], more: list[tuple[str, int]]
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        short = load(Path(folder), {"sales": _sales(first)}).sales
        longer = load(Path(folder), {"sales": _sales(first + more)}).sales
    assert longer[: len(short)] == short
    assert len({sale.key for sale in longer}) == len(longer)


def _sales(rows: list[tuple[str, int]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(("when", "material", "amount"))
    writer.writerows(("2026-02-03", *row) for row in rows)
    return text.getvalue()
