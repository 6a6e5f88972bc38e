"""The lists as JSON, and the published description of each (JSON Schema, 2020-12).

Days and moments are ISO 8601; amounts and money are decimal strings, so that no reader rounds them.
"""

import json
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from stockroom.show.formats import Formats
from stockroom.show.tables.columns import REORDER, RUN_OUTS, SHELF, ListColumn, Row, ValueKind
from stockroom.stock.lists import ReorderList, RunOutRow, ShelfRow
from stockroom.stock.money import major
from stockroom.stock.quantities import Unit, plain

VERSION = 1  # grows when a reader would have to change
LISTS = ("shelf", "run-outs", "reorder")
_PLACES = Decimal("1e-12")  # exact for every metric unit: a billionth of a ml, g or dm2, in l, kg or m2


def shelf_json(rows: Sequence[ShelfRow], *, as_of: date) -> str:
    """Write the shelf list."""
    return _document("shelf", as_of, {"rows": [_fields(SHELF, row, digits=0) for row in rows]})


def run_out_json(rows: Sequence[RunOutRow], *, as_of: date) -> str:
    """Write the run-out list."""
    return _document("run-outs", as_of, {"rows": [_fields(RUN_OUTS, row, digits=0) for row in rows]})


def reorder_json(
    lists: Sequence[ReorderList], formats: Formats, *, as_of: date, worth: Mapping[str, object] | None = None
) -> str:
    """Write the reorder list, supplier by supplier; `worth` says what the whole of it is expected to save."""
    suppliers = [_supplier(each, formats.digits) for each in lists]
    whole = {"worth": dict(worth)} if worth else {}
    return _document("reorder", as_of, {"currency": formats.currency, "suppliers": suppliers, **whole})


def schema_of(name: str) -> dict[str, Any]:
    """Give the JSON Schema of a list.

    Raises
    ------
    ValueError
        If no list has that name.
    """
    if name not in LISTS:
        raise ValueError(f"no list is called {name!r}; there are {', '.join(LISTS)}")
    path = Path(__file__).with_name("schemas") / f"{name}.json"
    schema: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return schema


def _document(name: str, as_of: date, content: Mapping[str, object]) -> str:
    written = {"list": name, "version": VERSION, "as_of": as_of.isoformat(), **content}
    return json.dumps(written, ensure_ascii=False, indent=2) + "\n"


def _supplier(order: ReorderList, digits: int) -> dict[str, object]:
    free = order.carriage_free_over
    return {
        "supplier": order.supplier,
        "name": order.name,
        "order_by": _day(order.order_by),
        "expected": _day(order.expected),
        "lines": [_fields(REORDER, line, digits=digits) for line in order.lines],
        "goods": _money(order.goods, digits),
        "carriage": _money(order.carriage, digits),
        "carriage_free_over": None if free is None else _money(free, digits),
        "minimum_order": _money(order.minimum_order, digits),
        "total": _money(order.total, digits),
        "notes": list(order.notes),
    }


def _fields(columns: Sequence[ListColumn[Row]], row: Row, *, digits: int) -> dict[str, object]:
    return {column.key: _plain(column, row, digits) for column in columns}


def _plain(column: ListColumn[Row], row: Row, digits: int) -> object:
    value: Any = column.read(row)
    if column.kind is ValueKind.AMOUNT:
        return _amount(value, row.unit)
    if column.kind is ValueKind.MONEY:
        return _money(value, digits)
    return _WRITTEN.get(column.kind, _same)(value)


def _amount(nano: int, unit: Unit) -> str:
    return plain(unit.count(nano).quantize(_PLACES))


def _money(minor: int, digits: int) -> str:
    return f"{major(minor, digits):f}"


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None


def _moment(moment: datetime | None) -> str | None:
    return moment.isoformat(timespec="seconds") if moment else None


def _same(value: object) -> object:
    return value


_WRITTEN: dict[ValueKind, Callable[[Any], object]] = {
    ValueKind.UNIT: lambda unit: unit.name,
    ValueKind.DAY: _day,
    ValueKind.MOMENT: _moment,
    ValueKind.TEXTS: list,
    ValueKind.SHARES: list,
}
