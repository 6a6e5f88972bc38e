"""Many rows into a sheet quickly: openpyxl makes the workbook and one model row, the rest is written as plain XML.

A year of 200,000 moves is 2.4 million cells. Made one by one as cell objects they take a minute and more; written as
text after the model row's styles they take seconds and no memory.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from textwrap import wrap
from typing import IO
from xml.sax.saxutils import escape
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from stockroom.show.layout import plain_text
from stockroom.show.spreadsheet import begins_like_formula
from stockroom.show.workbook_page import CellKind, Value

_DAY_ZERO = datetime(1899, 12, 30)
_SECONDS = 86400
_BATCH = 2000
_ROW = re.compile(rb'<row r="(\d+)".*?</row>', re.DOTALL)
_STYLE = re.compile(rb'<c r="([A-Z]+)\d+"(?: s="(\d+)")?')
_MADE = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")
_LINE = 14.5  # points
_LONGEST = 32767  # characters a cell holds

Writer = Callable[[int, Value], str]


def pour(model: Path, target: IO[bytes], fills: "Mapping[str, Fill]", day: date) -> None:
    """Copy a workbook, putting rows in place of the two model rows of the sheets named by their part in the file.

    Every part is dated `day`, so that the same accounts always give the same file.
    """
    with ZipFile(model) as source, ZipFile(target, "w", ZIP_DEFLATED, compresslevel=4) as made:
        for part in source.infolist():
            fill, content = fills.get(part.filename), source.read(part.filename)
            dated = ZipInfo(part.filename, (max(day.year, 1980), day.month, day.day, 0, 0, 0))
            dated.compress_type = ZIP_DEFLATED
            with made.open(dated, "w", force_zip64=fill is not None) as stream:
                if fill is None:
                    stream.write(_MADE.sub(rb"\g<1>" + f"{day}T00:00:00Z".encode(), content))
                else:
                    _fill_sheet(content, fill, stream)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """The rows of one sheet: kinds of its columns, letters to a line where words wrap (else 0), the first row."""

    kinds: Sequence[CellKind]
    widths: Sequence[int]
    rows: Sequence[Sequence[Value]]
    first: int


def _fill_sheet(xml: bytes, fill: Fill, stream: IO[bytes]) -> None:
    spots = {int(found[1]): found for found in _ROW.finditer(xml)}
    plain, guarded = spots[fill.first], spots[fill.first + 1]
    stream.write(xml[: plain.start()])
    styles, guards = _styles(plain[0]), _styles(guarded[0])
    writers = [_writer(kind, at, styles, guards) for at, kind in enumerate(fill.kinds)]
    for batch in _batches(_rows(fill, writers)):
        stream.write("".join(batch).encode())
    stream.write(xml[guarded.end() :])


def _rows(fill: Fill, writers: Sequence[Writer]) -> Iterator[str]:
    wraps = any(fill.widths)
    for row, values in enumerate(fill.rows, fill.first):
        cells = "".join(
            [writer(row, value) for writer, value in zip(writers, values, strict=True) if value is not None]
        )
        yield f'<row r="{row}"{_height(values, fill.widths) if wraps else ""}>{cells}</row>'


def _height(values: Sequence[Value], widths: Sequence[int]) -> str:
    """Make a row as high as its wrapped words need: not every program does so itself."""
    texts = [(str(value), width) for value, width in zip(values, widths, strict=True) if width and value]
    lines = max((len(wrap(text, max(width - 2, 4))) for text, width in texts), default=1)
    return f' ht="{lines * _LINE}" customHeight="1"' if lines > 1 else ""


def _batches(parts: Iterable[str]) -> Iterator[list[str]]:
    batch: list[str] = []
    for part in parts:
        batch.append(part)
        if len(batch) == _BATCH:
            yield batch
            batch = []
    yield batch


def _styles(row: bytes) -> list[tuple[str, str]]:
    """Read each model cell's column and style."""
    return [(found[1].decode(), (found[2] or b"0").decode()) for found in _STYLE.finditer(row)]


def _writer(kind: CellKind, at: int, styles: Sequence[tuple[str, str]], guards: Sequence[tuple[str, str]]) -> Writer:
    column, style = styles[at]
    made = {
        CellKind.TEXT: lambda: _text(column, style, guards[at][1]),
        CellKind.DAY: lambda: _day(column, style),
        CellKind.MOMENT: lambda: _moment(column, style),
        CellKind.WORKED: lambda: _formula(column, style),
    }
    return made.get(kind, lambda: _number(column, style))()


def _text(column: str, style: str, guard: str) -> Writer:
    seen: dict[str, str] = {}

    def write(row: int, value: Value) -> str:
        text = str(value)
        tail = seen.get(text)
        if tail is None:
            shown = escape(plain_text(text[:_LONGEST]))
            kept = guard if begins_like_formula(text) else style
            tail = f'" s="{kept}" t="inlineStr"><is><t xml:space="preserve">{shown}</t></is></c>'
            if len(seen) < _BATCH:
                seen[text] = tail
        return f'<c r="{column}{row}{tail}'

    return write


def _day(column: str, style: str) -> Writer:
    seen: dict[Value, int] = {}

    def write(row: int, value: Value) -> str:
        number = seen.get(value)
        if number is None and isinstance(value, date):
            number = seen[value] = value.toordinal() - _DAY_ZERO.toordinal()
        return f'<c r="{column}{row}" s="{style}"><v>{number}</v></c>'

    return write


def _moment(column: str, style: str) -> Writer:
    def write(row: int, value: Value) -> str:
        past = value - _DAY_ZERO if isinstance(value, datetime) else None
        number = past.days + past.seconds / _SECONDS if past else ""
        return f'<c r="{column}{row}" s="{style}"><v>{number}</v></c>'

    return write


def _number(column: str, style: str) -> Writer:
    worked = _formula(column, style)

    def write(row: int, value: Value) -> str:
        if isinstance(value, str):
            return worked(row, value)
        number = f"{value:f}" if isinstance(value, Decimal) else value
        return f'<c r="{column}{row}" s="{style}"><v>{number}</v></c>'

    return write


def _formula(column: str, style: str) -> Writer:
    def write(row: int, value: Value) -> str:
        if not (isinstance(value, str) and value.startswith("=")):
            raise ValueError(f"{value!r} is no formula")
        return f'<c r="{column}{row}" s="{style}"><f>{escape(value[1:].format(row=row))}</f></c>'

    return write
