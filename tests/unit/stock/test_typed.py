"""Days with dots, as they are typed where the day comes first."""

import pytest

from stockroom.stock.typed import iso


@pytest.mark.parametrize(
    ("order", "read"),
    [("dmy", "2026-12-02T14:30"), ("mdy", "2026-02-12T14:30"), ("ymd", "2/12/2026T14:30"), (None, "2/12/2026T14:30")],
)
def test_a_day_with_strokes_is_read_as_the_country_writes_it(order: str | None, read: str) -> None:
    assert iso("2/12/2026T14:30", order) == read


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("2.12.2026", "2026-12-02"),
        ("02.12.2026", "2026-12-02"),
        (" 2. 12. 2026 ", "2026-12-02"),
        ("02.12.2026 14:30", "2026-12-02 14:30"),
        ("02.12.2026T14:30", "2026-12-02T14:30"),
        ("2026-12-02", "2026-12-02"),
        ("02/12/2026", "02/12/2026"),  # which comes first differs by country
        ("2.12.26", "2.12.26"),
        ("2026.12.02", "2026.12.02"),
    ],
)
def test_only_a_day_with_dots_and_its_whole_year_is_brought_into_form(typed: str, read: str) -> None:
    assert iso(typed) == read
