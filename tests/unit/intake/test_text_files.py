from pathlib import Path

import pytest

from stockroom.intake.columns import KINDS
from stockroom.intake.fields import Kind
from stockroom.intake.known import Known
from stockroom.intake.load import read_files
from stockroom.intake.loaded import Loaded

MATERIALS: Kind = KINDS["materials"]
TEXT = "code,name,family,unit\nGARN,Nähgarn,thread,m\nOEL,Öl,finish,ml\n"


def _load(tmp_path: Path, raw: bytes, name: str = "materials.csv") -> Loaded:
    (tmp_path / name).write_bytes(raw)
    return read_files([tmp_path / name], Known(), locale="en_IE", digits=2)


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
    loaded = read_files([tmp_path], Known(), locale="de_DE", digits=2)
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
