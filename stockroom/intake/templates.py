"""Empty files to fill in, and the description of every column."""

import csv
import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from stockroom.errors import RefusedError
from stockroom.intake.columns import KINDS, README, Field, FileKind, Type
from stockroom.phrases import phrase

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

WORKBOOK = "stockroom.xlsx"
_HEADINGS = ("File", "Column", "Needed", "What it means", "What it holds", "Example")
_FORMATS = {
    Type.DATE: "yyyy-mm-dd",
    Type.MOMENT: "yyyy-mm-dd hh:mm",
    Type.CODE: "@",
    Type.REFERENCE: "@",
    Type.SIZE: "@",
}
_ROWS_READY = 1_000  # rows that are given their lists of words
_WIDTHS = (14, 20, 10, 70, 50, 30)


def describe() -> str:
    """Describe every column of every kind of file, as Markdown."""
    return "\n".join(map(_section, KINDS.values()))


def write_csv_templates(folder: Path) -> list[Path]:
    """Write an empty CSV file for each kind, and a description of the columns beside them.

    Raises
    ------
    RefusedError
        If a file is there already; nothing is written then.
    """
    texts = {folder / f"{kind.title}.csv": _header_line(kind) for kind in KINDS.values()}
    texts[folder / "columns.md"] = describe()
    _refuse_present(texts)
    folder.mkdir(parents=True, exist_ok=True)
    for path, text in texts.items():
        path.write_text(text, "utf-8", newline="")
    return list(texts)


def write_workbook_template(folder: Path) -> Path:
    """Write one workbook with an empty sheet for each kind and a sheet that describes the columns.

    Raises
    ------
    RefusedError
        If the workbook is there already.
    """
    from openpyxl import Workbook

    path = folder / WORKBOOK
    _refuse_present([path])
    folder.mkdir(parents=True, exist_ok=True)
    book = Workbook()
    _write_readme(book)
    for kind in KINDS.values():
        _write_sheet(book.create_sheet(kind.title), kind)
    book.save(path)
    return path


def _refuse_present(paths: Sequence[Path] | dict[Path, str]) -> None:
    present = [path.name for path in paths if path.exists()]
    if present:
        raise RefusedError(
            phrase("There already: %(present)s.", present=", ".join(present)),
            fix="Name another folder; nothing is ever written over.",
        )


def _section(kind: FileKind) -> str:
    rows = "\n".join(f"| {' | '.join(_cells(column))} |" for column in kind.columns)
    return (
        f"## {kind.title}\n\n{kind.what}\n\nA row is known again by: {kind.identity}.\n\n"
        f"| {' | '.join(_HEADINGS[1:])} |\n|{'---|' * (len(_HEADINGS) - 1)}\n{rows}\n"
    )


def _cells(column: Field) -> tuple[str, ...]:
    holds = ", ".join(column.choices) if column.choices else str(column.type)
    if column.refers_to:
        holds = f"a code from {'materials, or a group there' if column.refers_to == 'stock' else column.refers_to}"
    return column.title, "yes" if column.required else "", column.meaning, holds, column.example


def _header_line(kind: FileKind) -> str:
    line = io.StringIO()
    csv.writer(line).writerow([column.title for column in kind.columns])
    return line.getvalue()


def _write_readme(book: "Workbook") -> None:
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    sheet = book.worksheets[0]
    sheet.title = README
    sheet.append(_HEADINGS)
    for kind in KINDS.values():
        for column in kind.columns:
            sheet.append((kind.title, *_cells(column)))
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    for place, width in enumerate(_WIDTHS, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = width
    sheet.freeze_panes = "A2"


def _write_sheet(sheet: "Worksheet", kind: FileKind) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    sheet.append([column.title for column in kind.columns])
    sheet.freeze_panes = "A2"
    for place, column in enumerate(kind.columns, start=1):
        head = sheet.cell(row=1, column=place)
        head.font = Font(bold=column.required)
        head.comment = Comment(f"{column.meaning}\n{_cells(column)[3]}\ne.g. {column.example}", "template")
        letter = get_column_letter(place)
        sheet.column_dimensions[letter].width = max(len(column.title) + 3, len(column.example) + 2)
        if column.type in _FORMATS:
            sheet.column_dimensions[letter].number_format = _FORMATS[column.type]
        if column.choices or column.type is Type.YES_NO:
            _offer_words(sheet, letter, column.choices or ("yes", "no"))


def _offer_words(sheet: "Worksheet", letter: str, words: Sequence[str]) -> None:
    from openpyxl.worksheet.datavalidation import DataValidation

    listed = ",".join(words)
    if len(listed) > 250:  # noqa: PLR2004 -- what a spreadsheet takes in one list
        return
    offered = DataValidation(type="list", formula1=f'"{listed}"', allow_blank=True, showErrorMessage=True)
    sheet.add_data_validation(offered)
    offered.add(f"{letter}2:{letter}{_ROWS_READY + 1}")
