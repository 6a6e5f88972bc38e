"""Workbooks put together part by part, so that they can be as wrong as a test needs."""

import io
import zipfile
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
RELS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACK = "http://schemas.openxmlformats.org/package/2006"

Written = object


def workbook(path: Path, rows: Sequence[Sequence[Written]], *, title: str = "materials") -> Path:
    """Write an honest workbook."""
    from openpyxl import Workbook

    book = Workbook()
    book.worksheets[0].title = title
    for row in rows:
        book.worksheets[0].append(list(row))
    book.save(path)
    return path


def sheet_xml(rows: str, *, after: str = "", before: str = "") -> str:
    """Give a sheet's part around its rows."""
    return f'<?xml version="1.0" encoding="UTF-8"?>{before}<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData>{after}</worksheet>'


def inline_rows(rows: Sequence[Sequence[str]]) -> str:
    """Give rows of texts as XML."""
    made = []
    for number, row in enumerate(rows, start=1):
        cells = "".join(
            f'<c r="{chr(65 + i)}{number}" t="inlineStr"><is><t>{text}</t></is></c>' for i, text in enumerate(row)
        )
        made.append(f'<row r="{number}">{cells}</row>')
    return "".join(made)


def raw_workbook(
    path: Path, sheet: str, *, title: str = "materials", more: Mapping[str, str | bytes] | None = None
) -> Path:
    """Write a workbook from the XML of its only sheet, other parts replaced or added at will."""
    parts: dict[str, str | bytes] = {
        "[Content_Types].xml": f'<?xml version="1.0"?><Types xmlns="{PACK}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="xml" ContentType="application/xml"/>'
        '<Override PartName="/xl/workbook.xml" '
        'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>'
        '<Override PartName="/xl/worksheets/sheet1.xml" '
        'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>',
        "_rels/.rels": f'<?xml version="1.0"?><Relationships xmlns="{PACK}/relationships">'
        f'<Relationship Id="rId1" Type="{RELS}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<?xml version="1.0"?><workbook xmlns="{MAIN}" xmlns:r="{RELS}">'
        f'<sheets><sheet name="{title}" sheetId="1" r:id="rId1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<?xml version="1.0"?><Relationships xmlns="{PACK}/relationships">'
        f'<Relationship Id="rId1" Type="{RELS}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>',
        "xl/worksheets/sheet1.xml": sheet,
        **(more or {}),
    }
    path.write_bytes(zipped(parts))
    return path


def zipped(parts: Mapping[str, str | bytes]) -> bytes:
    """Pack parts into a zip."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return held.getvalue()


def serial_1904(path: Path, header: Sequence[str], row: Sequence[Written]) -> Path:
    """Write a workbook that counts its days from 1904."""
    from openpyxl import Workbook
    from openpyxl.utils.datetime import CALENDAR_MAC_1904

    book = Workbook()
    book.epoch = CALENDAR_MAC_1904
    book.worksheets[0].append(list(header))
    book.worksheets[0].append(list(row))
    book.save(path)
    return path


ENTITIES = (
    '<!DOCTYPE worksheet [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">'
    '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;"><!ENTITY d "&c;&c;&c;&c;&c;&c;&c;&c;&c;&c;">]>'
)

MOMENT = datetime(2026, 2, 3, 10, 5)
