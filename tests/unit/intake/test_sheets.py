from pathlib import Path

import pytest

from stockroom.errors import BadFileError
from stockroom.intake import sheets, text_files
from stockroom.intake.sheets import open_sheets


def _refusal(path: Path) -> str:
    with pytest.raises(BadFileError) as refused:
        open_sheets(path, frozenset({"first"}))
    return str(refused.value.problems[0])


def test_a_file_too_large_is_refused_unread(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheets, "MOST_BYTES", 3)
    (tmp_path / "closures.csv").write_text("first\n")
    assert "larger than 0 MB" in _refusal(tmp_path / "closures.csv")


def test_a_file_that_may_not_be_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    (tmp_path / "closures.csv").write_text("first\n")
    monkeypatch.setattr(Path, "open", refuse)
    assert "can't be opened: Permission denied" in _refusal(tmp_path / "closures.csv")


def test_too_many_rows_of_text_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(text_files, "MOST_ROWS", 3)
    (tmp_path / "closures.csv").write_text("first\n" + "\n2026-08-03\n" * 3)
    (sheet,) = open_sheets(tmp_path / "closures.csv", frozenset({"first"}))
    with pytest.raises(BadFileError) as refused:
        list(sheet.rows)
    assert "more than 3 rows" in str(refused.value.problems[0])


def test_rows_come_as_they_are_asked_for(tmp_path: Path) -> None:
    (tmp_path / "closures.csv").write_text('first\n2026-08-03\n"broken\n')
    (sheet,) = open_sheets(tmp_path / "closures.csv", frozenset({"first"}))
    assert next(sheet.rows) == (1, ["first"])
    assert next(sheet.rows) == (2, ["2026-08-03"])
    with pytest.raises(BadFileError):
        next(sheet.rows)
