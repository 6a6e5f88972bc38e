from datetime import date

import pytest

from stockroom.errors import UsageError
from stockroom.margins.period import Period, before, period_named


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("2026-02", "2026-02-01 to 2026-02-28"),
        ("2028-2", "2028-02-01 to 2028-02-29"),
        ("2026-12", "2026-12-01 to 2026-12-31"),
        ("2026", "2026-01-01 to 2026-12-31"),
        ("2026-Q1", "2026-01-01 to 2026-03-31"),
        ("2026q4", "2026-10-01 to 2026-12-31"),
    ],
)
def test_months_quarters_and_years_have_their_days(text: str, shown: str) -> None:
    assert str(period_named(text)) == shown


@pytest.mark.parametrize(
    "text", ["", "2026-13", "2026-00", "26-01", "2026-Q5", "January", "2026-01-05", "0001", "9999"]
)
def test_what_is_no_period_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match=r"is not a period\.$"):
        period_named(text)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("2026-01", "2025-12-01 to 2025-12-31"),
        ("2026-03", "2026-02-01 to 2026-02-28"),
        ("2026", "2025-01-01 to 2025-12-31"),
        ("2026-Q1", "2025-10-01 to 2025-12-31"),
    ],
)
def test_whole_months_follow_as_many_months(text: str, shown: str) -> None:
    assert str(before(period_named(text))) == shown


def test_other_days_follow_as_many_days() -> None:
    week = Period(first=date(2026, 3, 3), last=date(2026, 3, 9))
    assert str(before(week)) == "2026-02-24 to 2026-03-02"
