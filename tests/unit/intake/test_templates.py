from pathlib import Path

import pytest
from openpyxl import load_workbook

from stockroom.errors import RefusedError
from stockroom.intake.columns import KINDS, TITLES
from stockroom.intake.templates import describe, write_csv_templates, write_workbook_template


def test_the_description_names_every_column_once_and_what_it_holds() -> None:
    told = describe()
    for kind in KINDS.values():
        assert told.count(f"## {kind.title}\n") == 1
    assert "| family | yes | What sort of thing it is. | soling sheet, pre-cut soles" in told
    assert "a code from materials, or a group there" in told
    rows = [line for line in told.splitlines() if line.startswith("|")]
    assert {line.count("|") for line in rows} == {6}


def test_templates_hold_the_headers_and_nothing_else(tmp_path: Path) -> None:
    written = write_csv_templates(tmp_path / "new")
    assert [path.name for path in written] == [*(f"{kind.title}.csv" for kind in KINDS.values()), "columns.md"]
    assert (tmp_path / "new" / "events.csv").read_bytes() == b"name,day,last day,job,jobs,% of usual,material,pieces\r\n"


def test_the_workbook_offers_words_and_explains_its_headers(tmp_path: Path) -> None:
    book = load_workbook(write_workbook_template(tmp_path))
    assert book.sheetnames == ["read me", *TITLES]
    sheet = book["tickets"]
    assert sheet["A1"].comment is not None
    assert "Number of the ticket" in sheet["A1"].comment.text
    assert sheet["A1"].font.bold
    assert not sheet["C1"].font.bold
    offered = [rule.formula1 for rule in book["recipes"].data_validations.dataValidation]
    assert '"pair,shoe,job,machine minute"' in offered


def test_nothing_is_written_over(tmp_path: Path) -> None:
    (tmp_path / "events.csv").write_text("mine")
    with pytest.raises(RefusedError, match=r"There already: events.csv"):
        write_csv_templates(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["events.csv"]
    write_workbook_template(tmp_path)
    with pytest.raises(RefusedError):
        write_workbook_template(tmp_path)
