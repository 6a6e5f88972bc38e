"""A fortnight of twenty documents a day, over a month's end; tests/benchmarks/trust.py runs the whole year at forty."""

from datetime import date
from pathlib import Path

import pytest

from tests.benchmarks import trust


@pytest.mark.slow
def test_a_busy_fortnight_with_orders_counts_and_a_closing_checks_clean(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(trust, "BEGIN", date(2026, 12, 22))
    monkeypatch.setattr(trust, "A_DAY", 20)
    now = "2027-01-06T09:00:00"
    with trust.opened(tmp_path) as year:
        year.work(2)
        found = year.desk.facts("check", now=now)
        assert found["faults"] == found["cautions"] == []
        assert year.documents >= 200
        assert 0.3 < year.typed / year.documents < 0.7, "at the pages as well as at the command line"
        assert [row["through"] for row in year.desk.facts("periods", now=now)["closed"]] == ["2026-12-31"]
        first, last = year.months
        assert last.desk < first.desk + 20, "memory stays flat (MB)"
        assert last.pages < first.pages + 20
    journal = year.desk.book.with_name("book.sqlite.journal.txt").read_text("utf-8")
    assert "Forget Me" not in journal
    assert journal.count("\n") >= year.documents
