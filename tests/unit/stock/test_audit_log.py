from dataclasses import replace
from datetime import datetime

import pytest

from stockroom.stock.audit_log import LogLine, read_line

LINE = LogLine(
    when=datetime(2026, 3, 1, 9, 5), door="command line", who="anna", device="bench-pc", what="sell",
    outcome="document 7",
)  # fmt: skip


def test_a_line_says_when_at_which_door_who_from_where_what_and_what_came_of_it() -> None:
    assert str(LINE) == "2026-03-01 09:05:00  command line, anna, bench-pc, sell, document 7"


@pytest.mark.parametrize("line", [LINE, replace(LINE, device=""), replace(LINE, device="fe80::1%eth0", outcome="")])
def test_a_line_reads_back(line: LogLine) -> None:
    assert read_line(f"{line}\n") == line


def test_a_line_of_the_first_version_reads_without_a_device() -> None:
    assert read_line("2026-03-01 09:05:00  command line, anna, sell, document 7\n") == replace(LINE, device="")


@pytest.mark.parametrize("line", ["", "\n", "rang the supplier", "2026-03-01 09:0", "2026-03-01 09:05:00  pages, ow"])
def test_what_is_no_whole_line_is_none(line: str) -> None:
    assert read_line(line) is None


@pytest.mark.parametrize("who", ["anna, bench-pc, sell, done", "anna\nbob", "a\x00b", "\ud800", "x" * 500])
def test_no_name_can_forge_or_break_a_line(who: str) -> None:
    line = str(replace(LINE, who=who))
    found = read_line(line)
    assert found is not None
    assert (found.what, found.outcome, len(line.splitlines())) == ("sell", "document 7", 1)
    assert line.encode()
    assert "\x00" not in line
