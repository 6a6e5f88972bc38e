"""A folder of nasty files, written when a test asks for it: each with the words in which it must be refused."""

from collections.abc import Callable
from pathlib import Path

from tests.nasty.workbooks import ENTITIES, inline_rows, raw_workbook, sheet_xml, zipped

HEAD = "code,name,family,unit\n"
ROW = "BEND,Oak bend,soling sheet,dm2\n"
GOOD = (("code", "name", "family", "unit"), ("BEND", "Oak bend", "soling sheet", "dm2"))

Write = Callable[[Path], object]


def _text(content: str | bytes) -> Write:
    raw = content.encode() if isinstance(content, str) else content
    return lambda path: path.write_bytes(raw)


def _sheet(xml: str, **more: str | bytes) -> Write:
    named = {name.replace("__", "/").replace("_xml", ".xml"): part for name, part in more.items()}
    return lambda path: raw_workbook(path, xml, more=named)


def _million_blank_rows() -> str:
    return inline_rows(GOOD) + '<row r="1048576"><c r="A1048576" t="inlineStr"><is><t>END</t></is></c></row>'


def _wide_row() -> str:
    return inline_rows(GOOD) + '<row r="3"><c r="A3" t="inlineStr"><is><t>A</t></is></c><c r="XFD3"><v>1</v></c></row>'


def _hollow() -> str:
    return inline_rows(GOOD) + '<row r="3"><c r="A3"><f>CONCATENATE("BE","ND2")</f></c></row>'


def _endless_row() -> str:
    return inline_rows(GOOD) + '<row r="3">' + "".join(f'<c s="{n}"/>' for n in range(320_000)) + "</row>"


def _endless_spaces() -> str:
    return inline_rows(GOOD) + '<row r="3"><c r="A3"><f>1</f>' + " " * 1_000_000 + "</row>"


NASTY: dict[str, tuple[str, Write, str]] = {
    # name of the case: name of the file, how it is written, words of the refusal
    "empty": ("materials.csv", _text(""), "There are no rows"),
    "blank lines only": ("materials.csv", _text("\n\n,,\n  ,\n"), "There are no rows"),
    "NUL bytes": ("materials.csv", _text(HEAD.encode() + b"BE\0ND,x,filler,g\n"), "NUL bytes"),
    "all NUL": ("materials.csv", _text(b"\0" * 5000), "NUL bytes"),
    "UTF-16 cut in half": ("materials.csv", _text((HEAD + ROW).encode("utf-16")[:-1]), "can't be read"),
    "NUL in UTF-16": ("materials.csv", _text((HEAD + "A\0B,x,filler,g\n").encode("utf-16")), "NUL marks"),
    "mixed encodings": (
        "materials.csv",
        _text(HEAD.encode() + "A,Nähgarn,thread,m\n".encode() + "B,Öl,filler,ml\n".encode("cp1252")),
        "mixes two encodings",
    ),
    "undefined bytes": ("materials.csv", _text(HEAD.encode() + b"A,x\x81\x8d,filler,g\n"), "can't be read"),
    "random bytes": ("materials.csv", _text(bytes(range(1, 256)) * 20), "can't be read"),
    "a picture": ("materials.csv", _text(b"\x89PNG\r\n\x1a\n" + b"\0" * 50), "a picture"),
    "a PDF": ("materials.csv", _text(b"%PDF-1.7 ..."), "a PDF"),
    "a workbook called csv": ("materials.csv", _text(zipped({"a": "b"})), "workbook or a compressed file"),
    "an old workbook": ("materials.xlsx", _text(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600), "old or password"),
    "text called xlsx": ("materials.xlsx", _text(HEAD + ROW), "not a workbook"),
    "an empty zip": ("materials.xlsx", _text(zipped({})), "not a workbook"),
    "a zip of something else": ("materials.xlsx", _text(zipped({"letter.txt": "hello"})), "damaged"),
    "half a workbook": ("materials.xlsx", lambda path: _cut(raw_workbook(path, sheet_xml(inline_rows(GOOD)))), "damaged"),
    "quotes that don't match": ("materials.csv", _text(HEAD + 'A,"oak "bend",filler,g\n'), "quotes of a cell"),
    "a quote never closed": ("materials.csv", _text(HEAD + 'A,"oak\n' + ROW * 50), "quotes of a cell"),
    "a cell of 10 MB": ("materials.csv", _text(HEAD + "A," + "x" * 10_000_000 + ",filler,g\n"), "far too long"),
    "a long cell": ("materials.csv", _text(HEAD + "A," + "x" * 40_000 + ",filler,g\n"), "too long"),
    "a number without end": ("opening.csv", _text("material,amount,day\nA," + "9" * 9_000 + ",2026-01-01\n"), "too long"),
    "commas or semicolons": ("materials.csv", _text("a;b,c\n1;2,3\n"), "can't be told how the columns are separated"),
    "no header": ("materials.csv", _text(ROW), "No column is headed 'code'"),
    "a header in two rows": ("materials.csv", _text("code,name,,unit\n,,family,\n" + ROW), "No column is headed 'family'"),
    "the same header twice": ("materials.csv", _text("code,name,name,family,unit\nA,b,c,filler,g\n"), "Two columns are headed 'name'"),
    "a misspelt header": ("materials.csv", _text("code,name,family,unit,colur\nA,b,filler,g,red\n"), "Did you mean 'colour'?"),
    "a decimal comma among commas": (
        "opening.csv",
        _text("material,amount,unit,day\nA,12,5,g,2026-01-01\n"),
        "stands in a column without a header",
    ),
    "a formula as a code": ("materials.csv", _text(HEAD + "=cmd|' /C calc'!A0,x,filler,g\n"), "not a code"),
    "a path as a code": ("materials.csv", _text(HEAD + "../../etc/passwd,x,filler,g\n"), "not a code"),
    "codes that look alike": ("materials.csv", _text(HEAD + "BEND,x,filler,g\nB\u0415ND,y,filler,g\n"), "mixes alphabets"),
    "codes that differ in capitals": ("materials.csv", _text(HEAD + "BEND,x,filler,g\nbend,y,filler,g\n"), "stands in row 2 already"),
    "a name turned round": ("materials.csv", _text(HEAD + "A,\u202egnos,filler,g\n"), "invisible mark"),
    "errors of a spreadsheet": ("materials.csv", _text(HEAD + "A,#REF!,filler,g\n"), "shows an error"),
    "entities": ("materials.xlsx", _sheet(sheet_xml(inline_rows([("code", "&d;")]), before=ENTITIES)), "declarations"),
    "entities in the shared texts": (
        "materials.xlsx",
        _sheet(sheet_xml(inline_rows(GOOD)), xl__sharedStrings_xml=f'<?xml version="1.0"?>{ENTITIES}<sst/>'),
        "declarations",
    ),
    "entities behind a long comment": (
        "materials.xlsx",
        _sheet(sheet_xml(inline_rows([("code", "&d;")]), before="<!--" + "x" * 1_100_000 + "-->" + ENTITIES)),
        "unpacks to far more",
    ),
    "two-byte XML": ("materials.xlsx", lambda path: raw_workbook(path, "", more=_two_bytes()), "declarations"),
    "a bomb": ("materials.xlsx", _sheet(sheet_xml(" " * 30_000_000)), "unpacks to far more"),
    "a formula without a value": ("materials.xlsx", _sheet(sheet_xml(_hollow())), "cell A3 has no value stored"),
    "merged cells": (
        "materials.xlsx",
        _sheet(sheet_xml(inline_rows(GOOD), after='<mergeCells count="1"><mergeCell ref="A1:B1"/></mergeCells>')),
        "Cells A1:B1 are merged",
    ),
    "a last row a million down": ("materials.xlsx", _sheet(sheet_xml(_million_blank_rows())), "row 1048576"),
    "a row 16,384 wide": ("materials.xlsx", _sheet(sheet_xml(_wide_row())), "wider than 256 columns"),
    "a row without end": ("materials.xlsx", _sheet(sheet_xml(_endless_row())), "far more than a table's rows"),
    "spaces without end": ("materials.xlsx", _sheet(sheet_xml(_endless_spaces())), "damaged"),
    "cells begun without end": ("materials.xlsx", _sheet(sheet_xml("<c " * 300_000)), "damaged"),
    "merged cells begun without end": ("materials.xlsx", _sheet(sheet_xml("", after="<mergeCell " * 90_000)), "damaged"),
    "a line without end": ("materials.csv", _text(HEAD + "A," * 2_000_000), "far too long"),
    "a row over endless lines": ("materials.csv", _text(HEAD + '"\n",' * 1_000_000), "far too long"),
    "broken XML": ("materials.xlsx", _sheet(sheet_xml(inline_rows(GOOD))[:-40]), "damaged"),
    "an endless whole number": (
        "materials.xlsx",
        _sheet(sheet_xml(inline_rows(GOOD) + f'<row r="3"><c r="A3"><v>{"9" * 5_000}</v></c></row>')),
        "damaged",
    ),
    "a date without end": (
        "events.xlsx",
        _sheet(sheet_xml('<row r="1"><c r="A1" t="inlineStr"><is><t>name</t></is></c><c r="B1" t="inlineStr"><is><t>day</t></is></c></row>'
                         '<row r="2"><c r="A2" t="inlineStr"><is><t>x</t></is></c><c r="B2"><v>1e300</v></c></row>')),
        "not a day",
    ),
}  # fmt: skip


def _cut(path: Path) -> None:
    raw = path.read_bytes()
    path.write_bytes(raw[: len(raw) // 2])


def _two_bytes() -> dict[str, bytes]:
    xml = sheet_xml(inline_rows(GOOD), before=ENTITIES).replace("UTF-8", "UTF-16")
    return {"xl/worksheets/sheet1.xml": xml.encode("utf-16")}
