"""The whole book, table by table: out to plain CSV files, back in, and from one database to another."""

import csv
import json
from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from stockroom.errors import BadFileError, Problem
from stockroom.store import tables
from stockroom.store.book import Session
from stockroom.store.list_changes import SECRETS

NOTHING = "\\N"  # a missing value; an empty cell is an empty text
_SLICE = 5000
_LONGEST = 2**31 - 1  # letters in a cell: a closing holds the whole catalogue, more than csv takes unless told
KEPT_BY_TRIGGER = {"month_total"}
_WORKED_OUT = {"kept_result"}
_CAME_LATER = {
    "deed",
    "postage",
    "service",
    "standing",
    "substitute",
}  # older exports have none; columns that came later are marked in `tables.py`
ORDER = [t for t in tables.metadata.sorted_tables if t.name not in KEPT_BY_TRIGGER | _WORKED_OUT]


def write_out(session: Session, folder: Path) -> list[Path]:
    """Write every table as a CSV file, rows in order of their keys."""
    written = []
    for table in ORDER:
        path = folder / f"{table.name}.csv"
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow([column.name for column in table.columns])
            for row in session.execute(_all_but_secrets(table).order_by(*table.primary_key)):
                writer.writerow([_cell(value) for value in row])
        written.append(path)
    return written


def _all_but_secrets(table: sa.Table) -> sa.Select[Any]:
    asked = sa.select(table)
    if table is not tables.setting:
        return asked
    return asked.where(*(~table.c.name.startswith(mark, autoescape=True) for mark in SECRETS))


def read_in(session: Session, folder: Path) -> None:
    """Fill an empty book from the files `write_out` wrote.

    Raises
    ------
    BadFileError
        If a file or column is missing, or a cell can't be what its column holds.
    """
    usual = csv.field_size_limit(_LONGEST)
    try:
        for table in ORDER:
            path = folder / f"{table.name}.csv"
            for rows in _slices(_rows(table, path)):
                _insert(session, table, rows, path)
    finally:
        csv.field_size_limit(usual)
    number_on(session, ORDER)


def _insert(session: Session, table: sa.Table, rows: list[dict[str, Any]], path: Path) -> None:
    try:
        session.execute(sa.insert(table), rows)
    except (sa.exc.IntegrityError, sa.exc.DataError, sa.exc.InternalError) as wrong:  # the last: a trigger's refusal
        said = str(wrong.orig).splitlines()[0]
        raise _refused(path, None, f"a row is there twice, or does not fit the others: {said}") from wrong


def copy(source: Session, target: Session) -> None:
    """Fill an empty book from another, on whatever database."""
    for table in ORDER:
        found = source.execute(sa.select(table).order_by(*table.primary_key)).mappings()
        for rows in _slices(dict(row) for row in found):
            target.execute(sa.insert(table), rows)
    number_on(target, ORDER)


def number_on(session: Session, filled: Iterable[sa.Table]) -> None:
    """Let a server that numbers rows itself go on after the last one: it was not asked for those poured in."""
    if session.dialect.name == "postgresql":
        for name in (table.name for table in filled if "id" in table.columns):
            last = f"(SELECT coalesce(max(id), 0) + 1 FROM {name})"
            session.execute(sa.text(f"SELECT setval(pg_get_serial_sequence('{name}', 'id'), {last}, false)"))


def is_empty(session: Session) -> bool:
    """Say whether a book was begun and nothing ever put into it."""
    return not any(session.execute(sa.select(sa.literal(1)).select_from(table).limit(1)).scalar() for table in ORDER)


def columns() -> dict[str, list[tuple[str, str]]]:
    """Give every table's columns with what each holds."""
    return {table.name: [(c.name, _holds(c)) for c in table.columns] for table in ORDER}


def _slices(rows: Iterable[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    left = iter(rows)
    while some := list(islice(left, _SLICE)):
        yield some


def _cell(value: object) -> object:
    if value is None:
        return NOTHING
    if isinstance(value, bool):
        return int(value)
    return json.dumps(value, sort_keys=True) if isinstance(value, dict) else value


def _rows(table: sa.Table, path: Path) -> Iterator[dict[str, Any]]:
    names, later = [column.name for column in table.columns], tables.come_later(table)
    if not path.exists() and table.name in _CAME_LATER:
        return
    if not path.exists():
        raise _refused(path, None, "the file is missing")
    found = _cells(path)
    header = next(found, (1, []))[1]
    lacking = {name: before for name, before in later.items() if name not in header}
    if header != [name for name in names if name not in lacking]:
        raise _refused(path, 1, f"the columns must be {', '.join(names)}")
    there = [table.columns[name] for name in header]
    for number, row in found:
        yield lacking | _row(there, row, (path, number))


def _cells(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Give a file's rows with their numbers; what is no such file is refused."""
    number = 0
    try:
        with path.open(encoding="utf-8", newline="") as file:
            for number, row in enumerate(csv.reader(file), start=1):
                yield number, row
    except (csv.Error, UnicodeDecodeError) as wrong:
        raise _refused(path, number + 1, f"it can't be read: {wrong}") from wrong


def _row(columns: list[sa.Column[Any]], row: list[str], at: tuple[Path, int]) -> dict[str, Any]:
    path, number = at
    if len(row) != len(columns):
        raise _refused(path, number, f"it has {len(row)} cells instead of {len(columns)}")
    try:
        return {column.name: _value(column, text) for column, text in zip(columns, row, strict=True)}
    except (ValueError, RecursionError) as wrong:
        raise _refused(path, number, f"a cell can't be read: {_briefly(wrong)}") from wrong


def _briefly(wrong: Exception) -> str:
    return "it is nested too deeply" if isinstance(wrong, RecursionError) else str(wrong).splitlines()[0][:200]


def _value(column: sa.Column[Any], text: str) -> object:
    if text == NOTHING and column.nullable:
        return None
    if isinstance(column.type, sa.JSON):
        return json.loads(text)
    if isinstance(column.type, sa.Boolean):
        return {"0": False, "1": True}.get(text) if text in {"0", "1"} else int("not 0 or 1")
    if isinstance(column.type, (sa.Integer, tables.Whole)):
        return _whole(text, tables.LARGEST if isinstance(column.type, tables.Whole) else 2**31 - 1)
    if "\0" in text:
        raise ValueError("it holds a character that can't be saved")
    return text


def _whole(text: str, largest: int) -> int:
    number = int(text)
    if not -largest <= number <= largest:
        raise ValueError(f"{text[:40]} is more than a book holds")
    return number


def _refused(path: Path, row: int | None, what: str) -> BadFileError:
    fix = "Export the book again; an exported book is read back as it was written"
    return BadFileError([Problem(file=path.name, row=row, what=what, fix=fix)])


def _holds(column: sa.Column[Any]) -> str:
    kinds = {"BIGINT": "whole number", "INTEGER": "whole number", "BOOLEAN": "0 or 1", "JSON": "JSON"}
    kind = kinds.get(str(column.type), "text")
    return f"{kind}, or {NOTHING} for none" if column.nullable else kind
