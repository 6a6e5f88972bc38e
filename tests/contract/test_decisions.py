"""The decisions of DEVELOPERS.md: each once in the table and once below it, both in order; none named that there isn't."""

import re

from tests.contract.glossary import DEVELOPERS

TEXT = DEVELOPERS.read_text("utf-8")
ROWS = [(int(number), title) for number, title in re.findall(r"(?m)^\| (\d+) \| (.+) \| \d{4}-\d\d-\d\d \|$", TEXT)]
RECORDS = [(int(number), title) for number, title in re.findall(r"(?m)^\*\*(\d+)\. (.+?)\*\* \(", TEXT)]


def test_every_decision_has_its_row_and_its_record_in_order() -> None:
    numbers = [number for number, _ in ROWS]

    assert len(numbers) > 100
    assert numbers == sorted(set(numbers))
    assert numbers == [number for number, _ in RECORDS]


def test_the_table_of_decisions_is_one_piece() -> None:
    lines = TEXT.splitlines()
    first = lines.index(next(line for line in lines if line.startswith("| 1 | ")))

    assert [line.split("|")[1].strip() for line in lines[first : first + len(ROWS)]] == [
        str(number) for number, _ in ROWS
    ]


def test_a_row_says_what_its_record_is_called() -> None:
    """A row may add in brackets what came of it: '(superseded by 35)'."""
    assert [re.sub(r" \((see|superseded by) \d+.*\)$", "", title) for _, title in ROWS] == [
        title for _, title in RECORDS
    ]


def test_decisions_that_are_named_are_there() -> None:
    named = {
        int(number)
        for number in re.findall(r"(?:answers|adds to|supersedes|superseded by|replaces|see|[Dd]ecision) (\d+)", TEXT)
    }

    assert len(named) > 5
    assert named <= {number for number, _ in RECORDS}
