"""Write the invented shop's files: one CSV per kind, UTF-8, the same bytes every time."""

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path

from stockroom.intake.columns import KINDS


def csv_text(stem: str, rows: Sequence[Mapping[str, str]]) -> str:
    """Write one file's text, in the declared order of columns; columns nobody fills are left out."""
    columns = [c.name for c in KINDS[stem].columns if c.required or any(row.get(c.name) for row in rows)]
    written = io.StringIO()
    writer = csv.DictWriter(written, columns, restval="", lineterminator="\n")
    writer.writeheader()
    for row in rows:
        strangers = row.keys() - {column.name for column in KINDS[stem].columns}
        if strangers:
            raise ValueError(f"{stem} has no columns {sorted(strangers)}")
        writer.writerow({name: row.get(name, "") for name in columns})
    return written.getvalue()


def write_files(files: Mapping[str, Sequence[Mapping[str, str]]], folder: Path) -> list[Path]:
    """Write every file into a folder, which is made when missing; nothing else is touched."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for stem, rows in files.items():
        path = folder / f"{stem}.csv"
        path.write_bytes(csv_text(stem, rows).encode())
        paths.append(path)
    return paths
