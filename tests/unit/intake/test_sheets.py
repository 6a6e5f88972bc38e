import time
import tracemalloc
import zipfile
from datetime import date, datetime
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from stockroom.errors import BadFileError
from stockroom.intake import sheets
from stockroom.intake import sheets as text_files
from stockroom.intake import sheets as workbooks
from stockroom.intake.columns import KINDS, FileKind
from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_files
from stockroom.intake.loaded import Loaded
from stockroom.intake.sheets import open_sheets
from stockroom.stock.recipes import Job
from tests.nasty.workbooks import ENTITIES, inline_rows, raw_workbook, serial_1904, sheet_xml, workbook


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


MATERIALS: FileKind = KINDS["materials"]
TEXT = "code,name,family,unit\nGARN,Nähgarn,thread,m\nOEL,Öl,finish,ml\n"


def _load(tmp_path: Path, raw: bytes, name: str = "materials.csv") -> Loaded:
    (tmp_path / name).write_bytes(raw)
    return read_files([tmp_path / name], BookFacts(), locale="en_IE", digits=2)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_unicode_files_are_read_without_a_remark(encoding: str, tmp_path: Path) -> None:
    loaded = _load(tmp_path, TEXT.encode(encoding))
    assert [material.name for material in loaded.materials] == ["Nähgarn", "Öl"]
    assert loaded.notes == ()


def test_an_old_encoding_is_read_and_said(tmp_path: Path) -> None:
    loaded = _load(tmp_path, TEXT.encode("cp1252"))
    assert [material.name for material in loaded.materials] == ["Nähgarn", "Öl"]
    assert "materials.csv: read as Windows-1252" in loaded.notes[0]


@pytest.mark.parametrize("mark", [";", "\t", ","])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_separators_and_line_endings_don_t_matter(mark: str, ending: str, tmp_path: Path) -> None:
    loaded = _load(tmp_path, TEXT.replace(",", mark).replace("\n", ending).encode())
    assert len(loaded.materials) == 2


def test_a_stated_separator_is_believed(tmp_path: Path) -> None:
    loaded = _load(tmp_path, b"sep=;\r\ncode;name;family;unit\r\nA;x, y;filler;g\r\n")
    assert loaded.materials[0].name == "x, y"


def test_a_decimal_comma_between_semicolons_is_read_by_the_locale(tmp_path: Path) -> None:
    raw = b"code;name;family;unit;sell price\nA;x;filler;g;12,50\n"
    (tmp_path / "materials.csv").write_bytes(raw)
    loaded = read_files([tmp_path], BookFacts(), locale="de_DE", digits=2)
    assert loaded.materials[0].sell_price == 1250


# RFC 4180 section 2, rules 6 and 7 (REFERENCES C4: the text is from memory): quoted breaks, separators and quotes.
def test_quoted_breaks_and_quotes_are_part_of_the_cell(tmp_path: Path) -> None:
    raw = b'code,name,family,unit\r\nA,"b \r\nbb",filler,g\r\nB,"c""c,c",filler,g\r\n'
    loaded = _load(tmp_path, raw)
    assert [material.name for material in loaded.materials] == ["b bb", 'c"c,c']


def test_rows_are_numbered_as_a_spreadsheet_numbers_them(tmp_path: Path) -> None:
    from stockroom.errors import BadFileError

    raw = b'\n\ncode,name,family,unit\n\nA,"two\nlines",filler,g\nB,x,fillr,g\n'
    with pytest.raises(BadFileError) as refused:
        _load(tmp_path, raw)
    assert [problem.row for problem in refused.value.problems] == [6]


def test_title_lines_trailing_spaces_and_blank_rows_do_no_harm(tmp_path: Path) -> None:
    raw = b"Our materials,,,\n,,,\n Code , NAME,Family ,unit,\n A , x , Filler , g ,\n ,,\t,\n\n"
    loaded = _load(tmp_path, raw)
    assert [(m.code, m.name, m.family) for m in loaded.materials] == [("A", "x", "filler")]


def test_columns_marked_with_a_hash_are_passed_over(tmp_path: Path) -> None:
    loaded = _load(tmp_path, b"code,name,#ours,family,unit\nA,x,=HYPERLINK(1),filler,g\n")
    assert len(loaded.materials) == 1


@pytest.mark.parametrize("name", ["materials.txt", "Materials.CSV", "MATERIALS.tsv"])
def test_other_endings_of_text_files_are_read_too(name: str, tmp_path: Path) -> None:
    assert len(_load(tmp_path, TEXT.encode(), name).materials) == 2


KNOWN = BookFacts(jobs={"SHINE": Job(code="SHINE", name="Shine")})
HEAD = ("ticket", "taken in", "job", "price", "by post")


def _load_workbook(path: Path, *, locale: str = "en_IE") -> Loaded:
    return read_files([path], KNOWN, locale=locale, digits=2)


def test_true_numbers_days_and_yes_no_are_read_whatever_the_locale(tmp_path: Path) -> None:
    rows = [HEAD, (10421, datetime(2026, 2, 3, 10, 5), "SHINE", 5.5, True)]
    (ticket,) = _load_workbook(workbook(tmp_path / "past-jobs.xlsx", rows), locale="de_DE").tickets
    assert (ticket.number, ticket.taken_in, ticket.price, ticket.by_post) == (
        "10421",
        datetime(2026, 2, 3, 10, 5),
        550,
        True,
    )


def test_serial_numbers_are_days_by_the_workbook_s_own_calendar(tmp_path: Path) -> None:
    # 1 January 2024 is serial 45292 in the 1900 system and 43830 in the 1904 system (from memory).
    (one,) = _load_workbook(workbook(tmp_path / "past-jobs.xlsx", [HEAD, ("1", 45292, "SHINE", 5, False)])).tickets
    (two,) = _load_workbook(serial_1904(tmp_path / "past-jobs-2.xlsx", HEAD, ("1", 43830, "SHINE", 5, False))).tickets
    (three,) = _load_workbook(
        serial_1904(tmp_path / "past-jobs-3.xlsx", HEAD, ("1", date(2024, 1, 1), "SHINE", 5, False))
    ).tickets
    assert one.taken_in == two.taken_in == three.taken_in == datetime(2024, 1, 1, 9)


def test_a_sheet_s_name_says_what_it_holds(tmp_path: Path) -> None:
    book = Workbook()
    book.worksheets[0].title = "Notes"
    sheets: dict[str, list[tuple[object, ...]]] = {
        "Events": [("name", "day"), ("fair", date(2026, 5, 1))],
        "closures": [("first",), (date(2026, 8, 3),)],
    }
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    book.save(tmp_path / "everything.xlsx")
    loaded = _load_workbook(tmp_path / "everything.xlsx")
    assert loaded.events[0].day == date(2026, 5, 1)
    assert loaded.closures[0].last == date(2026, 8, 3)
    assert loaded.notes == (
        "everything.xlsx, sheet Notes: the sheet wasn't loaded: its name isn't that of a kind of file asked for.",
    )


def test_only_the_kind_asked_for_is_taken_from_a_workbook(tmp_path: Path) -> None:
    test_a_sheet_s_name_says_what_it_holds(tmp_path)
    loaded = read_files([f"events={tmp_path / 'everything.xlsx'}"], KNOWN, locale="en_IE", digits=2)
    assert loaded.events
    assert not loaded.closures


def test_hidden_sheets_are_not_read(tmp_path: Path) -> None:
    path = workbook(tmp_path / "x.xlsx", [("name", "day"), ("fair", date(2026, 5, 1))], title="events")
    book = load_workbook(path)
    book.create_sheet("front")
    book["events"].sheet_state = "hidden"
    book.active = 1
    book.save(path)
    with pytest.raises(BadFileError) as refused:
        _load_workbook(path)
    assert "No visible sheet is named after what it holds" in str(refused.value.problems[0])


def test_formulas_with_their_values_are_read(tmp_path: Path) -> None:
    rows = inline_rows([("name", "day")]) + (
        '<row r="2"><c r="A2" t="str"><f>"fa"&amp;"ir"</f><v>fair</v></c><c r="B2"><f>DATE(2026,5,1)</f><v>46143</v></c></row>'
    )
    loaded = _load_workbook(raw_workbook(tmp_path / "events.xlsx", sheet_xml(rows), title="events"))
    assert loaded.events[0].day == date(2026, 5, 1)


def test_a_formula_that_gives_an_empty_text_is_a_blank_cell(tmp_path: Path) -> None:
    rows = inline_rows([("first", "last")]) + (
        '<row r="2"><c r="A2"><v>46143</v></c><c r="B2" t="str"><f>IF(1,"","")</f><v></v></c></row>'
    )
    loaded = _load_workbook(raw_workbook(tmp_path / "closures.xlsx", sheet_xml(rows)))
    assert loaded.closures[0].last == loaded.closures[0].first


def test_formulas_without_values_are_named_by_their_cells(tmp_path: Path) -> None:
    book = Workbook()
    book.worksheets[0].append(("name", "day"))
    book.worksheets[0].append(("fair", "=TODAY()"))
    book.save(tmp_path / "events.xlsx")
    with pytest.raises(BadFileError) as refused:
        _load_workbook(tmp_path / "events.xlsx")
    (problem,) = refused.value.problems
    assert (problem.row, problem.sheet) == (2, "Sheet")
    assert "cell B2 has no value" in problem.what


def test_error_cells_are_refused(tmp_path: Path) -> None:
    rows = (
        inline_rows([("name", "day")]) + '<row r="2"><c r="A2" t="e"><v>#REF!</v></c><c r="B2"><v>46143</v></c></row>'
    )
    with pytest.raises(BadFileError) as refused:
        _load_workbook(raw_workbook(tmp_path / "events.xlsx", sheet_xml(rows)))
    assert "shows an error" in str(refused.value.problems[0])


def test_a_wrong_stated_size_cuts_nothing_off(tmp_path: Path) -> None:
    rows = inline_rows([("first", "last"), ("2026-08-03", "2026-08-15"), ("2026-12-24", "2026-12-26")])
    xml = sheet_xml(rows).replace("<sheetData>", '<dimension ref="A1:A1"/><sheetData>')
    loaded = _load_workbook(raw_workbook(tmp_path / "closures.xlsx", xml))
    assert [closure.last for closure in loaded.closures] == [date(2026, 8, 15), date(2026, 12, 26)]


def test_merged_cells_above_the_header_do_no_harm(tmp_path: Path) -> None:
    rows = inline_rows([("Days shut",), ("first", "last"), ("2026-08-03", "2026-08-15")])
    xml = sheet_xml(rows, after='<mergeCells><mergeCell ref="A1:B1"/></mergeCells>')
    assert _load_workbook(raw_workbook(tmp_path / "closures.xlsx", xml)).closures


def test_merged_cells_among_the_rows_are_refused_by_name(tmp_path: Path) -> None:
    rows = inline_rows([("first", "reason"), ("2026-08-03", "summer"), ("2026-12-24",)])
    xml = sheet_xml(rows, after='<mergeCells><mergeCell ref="B2:B3"/></mergeCells>')
    with pytest.raises(BadFileError) as refused:
        _load_workbook(raw_workbook(tmp_path / "closures.xlsx", xml))
    (problem,) = refused.value.problems
    assert problem.row == 2
    assert "Cells B2:B3 are merged" in problem.what


def test_what_is_looked_for_is_found_across_the_pieces_a_sheet_is_read_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = inline_rows([("first",), ("2026-08-03",)])
    xml = sheet_xml(rows, after='<mergeCells><mergeCell ref="A2:A3"/></mergeCells>')
    for size in (7, 64, 333):
        monkeypatch.setattr(workbooks, "_CHUNK", size)
        path = raw_workbook(tmp_path / "closures.xlsx", xml)
        with pytest.raises(BadFileError) as refused:
            _load_workbook(path)
        assert len(refused.value.problems) == 1


def test_links_to_other_workbooks_are_not_followed(tmp_path: Path) -> None:
    link = (
        '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        '<Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/'
        'externalLinkPath" Target="file:///etc/passwd" TargetMode="External"/></Relationships>'
    )
    rows = inline_rows([("first",)]) + '<row r="2"><c r="A2"><f>[1]Sheet1!A1</f><v>46143</v></c></row>'
    more = {"xl/externalLinks/_rels/externalLink1.xml.rels": link, "xl/externalLinks/externalLink1.xml": "<x/>"}
    loaded = _load_workbook(raw_workbook(tmp_path / "closures.xlsx", sheet_xml(rows), more=more))
    assert loaded.closures[0].first == date(2026, 5, 1)


def test_a_name_with_a_path_in_it_is_only_a_name(tmp_path: Path) -> None:
    rows = inline_rows([("first",), ("2026-08-03",)])
    more = {"../../outside.xml": "<x/>"}
    path = raw_workbook(tmp_path / "closures.xlsx", sheet_xml(rows), title="..\\..\\closures", more=more)
    assert _load_workbook(path).closures
    assert sorted(each.name for each in tmp_path.rglob("*")) == ["closures.xlsx"]


def test_too_many_parts_or_too_much_text_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    more = {"xl/sharedStrings.xml": "<sst/>"}
    path = raw_workbook(tmp_path / "events.xlsx", sheet_xml(inline_rows([("name", "day")])), more=more)
    for limit in ("MOST_PARTS", "MOST_UNPACKED", "MOST_HELD"):
        with monkeypatch.context() as patched:
            patched.setattr(workbooks, limit, 3)
            with pytest.raises(BadFileError) as refused:
                _load_workbook(path)
            assert "too large once unpacked" in str(refused.value.problems[0])


def test_too_many_rows_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbooks, "MOST_ROWS", 3)
    path = workbook(tmp_path / "closures.xlsx", [("first",)] + [("2026-08-03",)] * 4)
    with pytest.raises(BadFileError) as refused:
        _load_workbook(path)
    assert "more than 3 rows" in str(refused.value.problems[0])


@pytest.mark.parametrize("rows", ["".join(f'<row r="{n}"/>' for n in range(2, 500)), '<row r="99999999999"/>'])
def test_blank_rows_without_end_are_refused(rows: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbooks, "MOST_NUMBERED", 300)
    with pytest.raises(BadFileError) as refused:
        _load_workbook(raw_workbook(tmp_path / "events.xlsx", sheet_xml(inline_rows([("name", "day")]) + rows)))
    assert "more than 250,000 rows" in str(refused.value.problems[0])


def test_a_column_of_serial_numbers_out_of_range_is_refused_cell_by_cell(tmp_path: Path) -> None:
    path = workbook(tmp_path / "closures.xlsx", [("first",), (1,), (1e15,), (date(1999, 1, 1),), (20260803,)])
    with pytest.raises(BadFileError) as refused:
        _load_workbook(path)
    assert [problem.row for problem in refused.value.problems] == [2, 3, 4, 5]


def test_entities_are_refused_by_the_parser_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbooks, "_check_part", lambda *_: None)
    rows = inline_rows([("name", "day")]) + '<row r="2"><c r="A2" t="inlineStr"><is><t>&d;</t></is></c></row>'
    path = raw_workbook(tmp_path / "events.xlsx", sheet_xml(rows, before=ENTITIES))
    with pytest.raises(BadFileError) as refused:
        _load_workbook(path)
    assert "damaged" in str(refused.value.problems[0])


def _a_million(folder: Path, kind: str) -> Path:
    """Write a million rows, as a text or as a sheet that doesn't say how large it is."""
    path = folder / f"sales.{kind}"
    if kind == "csv":
        path.write_text("when,material\n" + "2026-02-01,POLISH\n" * 1_000_000, "utf-8")
        return path
    book = Workbook()
    book.save(path)
    with zipfile.ZipFile(path) as small:
        parts = {name: small.read(name) for name in small.namelist()}
    head = (
        b'<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    )
    rows = b"".join(b'<row r="%d"><c r="A%d"><v>%d</v></c></row>' % (n, n, n * 7) for n in range(1, 1_000_001))
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as large:
        for name, part in parts.items():
            large.writestr(name, head + rows + b"</sheetData></worksheet>" if "sheet1" in name else part)
    return path


def _read_through(path: Path) -> None:
    for sheet in open_sheets(path, frozenset({"when"})):
        list(sheet.rows)


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_million_rows_are_refused_in_seconds_and_little_memory(tmp_path: Path, kind: str) -> None:
    path = _a_million(tmp_path, kind)
    tracemalloc.start()
    began = time.process_time()
    with pytest.raises(BadFileError) as caught:
        _read_through(path)
    took, most = time.process_time() - began, tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert "There are more than 250,000 rows" in str(caught.value.problems[0])
    assert took < 20, "with tracing, on a busy machine; the old way took a minute and more"
    assert most < 64 * 2**20
