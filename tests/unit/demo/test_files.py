import csv
import sys
from pathlib import Path

import pytest

from stockroom.demo import __main__ as door
from stockroom.demo.catalogue import rows
from stockroom.demo.files import csv_text, write_files
from stockroom.intake.columns import KINDS


def test_files_are_written_into_the_folder_and_nowhere_else(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "demo"
    paths = write_files({"events": [{"name": "fair", "day": "2026-06-20"}]}, folder)
    assert paths == [folder / "events.csv"]
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == paths
    assert paths[0].read_bytes() == b"name,day\nfair,2026-06-20\n"


def test_columns_nobody_fills_are_left_out_but_required_ones_stay() -> None:
    assert csv_text("closures", [{"first": "2026-05-01", "last": "", "reason": "holiday"}]) == (
        "first,reason\n2026-05-01,holiday\n"
    )
    assert csv_text("sales", []) == "when,material,amount\n"


def test_a_column_that_is_not_declared_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="no columns"):
        csv_text("events", [{"name": "fair", "day": "2026-06-20", "mood": "fine"}])


def test_catalogue_files_hold_every_required_column(tmp_path: Path) -> None:
    for path in write_files(rows(), tmp_path):
        with path.open(newline="", encoding="utf-8") as opened:
            read = list(csv.DictReader(opened))
        assert read
        for column in KINDS[path.stem].columns:
            if column.required:
                assert all(row[column.name] for row in read), (path.stem, column.name)


def test_the_door_writes_every_kind_of_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["demo", str(tmp_path)])
    monkeypatch.setattr(door, "files", rows)
    door.main()
    assert len(capsys.readouterr().out.splitlines()) == len(rows()) == len(list(tmp_path.iterdir()))
