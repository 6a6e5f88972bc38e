from dataclasses import replace
from datetime import datetime

import pytest

from stockroom.stock.audit_log import Deed, read_deed

DEED = Deed(
    when=datetime(2026, 3, 1, 9, 5), door="command line", who="anna", device="bench-pc", what="sell",
    outcome="document 7",
)  # fmt: skip


def test_a_line_says_when_at_which_door_who_from_where_what_and_what_came_of_it() -> None:
    assert str(DEED) == "2026-03-01 09:05:00  command line, anna, bench-pc, sell, document 7"


@pytest.mark.parametrize("deed", [DEED, replace(DEED, device=""), replace(DEED, device="fe80::1%eth0", outcome="")])
def test_a_line_reads_back(deed: Deed) -> None:
    assert read_deed(f"{deed}\n") == deed


def test_a_line_of_the_first_version_reads_without_a_device() -> None:
    assert read_deed("2026-03-01 09:05:00  command line, anna, sell, document 7\n") == replace(DEED, device="")


@pytest.mark.parametrize("line", ["", "\n", "rang the supplier", "2026-03-01 09:0", "2026-03-01 09:05:00  pages, ow"])
def test_what_is_no_whole_line_is_none(line: str) -> None:
    assert read_deed(line) is None


@pytest.mark.parametrize("who", ["anna, bench-pc, sell, done", "anna\nbob", "a\x00b", "\ud800", "x" * 500])
def test_no_name_can_forge_or_break_a_line(who: str) -> None:
    line = str(replace(DEED, who=who))
    found = read_deed(line)
    assert found is not None
    assert (found.what, found.outcome, len(line.splitlines())) == ("sell", "document 7", 1)
    assert line.encode()
    assert "\x00" not in line
