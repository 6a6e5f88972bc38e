"""Whole files and folders through the one way in: honest ones, nasty ones, and ones the program wrote itself."""

import csv
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from stockroom.errors import BadFileError
from stockroom.intake.columns import KINDS
from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_files
from stockroom.intake.loaded import Loaded
from stockroom.intake.templates import write_csv_templates, write_workbook_template
from stockroom.show.count_sheets import sheet_xlsx
from stockroom.stock.lists import CountSheet, SheetLine
from stockroom.stock.materials import Material
from tests.nasty.files import NASTY
from tests.nasty.workbooks import MOMENT, inline_rows, raw_workbook, sheet_xml

DATA = Path(__file__).parents[2] / "data"


@pytest.fixture(scope="module")
def demo() -> Loaded:
    return read_files([DATA], BookFacts(), locale="en_IE", digits=2)


@pytest.mark.parametrize("case", NASTY)
def test_a_nasty_file_is_refused_in_plain_words(case: str, tmp_path: Path) -> None:
    name, make, words = NASTY[case]
    make(tmp_path / name)
    with pytest.raises(BadFileError) as refused:
        read_files([tmp_path / name], BookFacts(), locale="en_IE", digits=2)
    lines = [str(problem) for problem in refused.value.problems]
    assert any(words in line for line in lines), lines
    assert all(problem.file == name and problem.fix for problem in refused.value.problems)
    assert all(len(line) < 600 and line.isprintable() for line in lines)


def test_the_demo_files_load(demo: Loaded) -> None:
    assert demo.rows["past-jobs"] == len(demo.tickets) > 5_000
    assert len(demo.materials) >= 45
    assert demo.settings["locale"] == "en_IE"


def test_loading_twice_gives_the_same_keys(demo: Loaded) -> None:
    again = read_files([DATA], BookFacts(), locale="en_IE", digits=2)
    for kind in ("opening", "sales", "waste", "counts"):
        keys = [line.key for line in getattr(demo, kind)]
        assert keys == [line.key for line in getattr(again, kind)]
        assert len(set(keys)) == len(keys)


def test_the_same_files_as_a_workbook_give_the_same_nouns(demo: Loaded, tmp_path: Path) -> None:
    small = ("shop", "materials", "suppliers", "offers", "jobs", "recipes", "closures", "events", "opening")
    path = tmp_path / "catalogue.xlsx"
    _as_workbook(path, small)
    again = read_files([path], BookFacts(), locale="de_DE", digits=2)
    for stem in small[1:]:
        assert getattr(again, stem) == getattr(demo, stem), stem


def test_templates_load_empty_and_describe_every_column(tmp_path: Path) -> None:
    write_csv_templates(tmp_path / "csv")
    write_workbook_template(tmp_path / "xlsx")
    for folder in ("csv", "xlsx"):
        loaded = read_files([tmp_path / folder], BookFacts(), locale="en_IE", digits=2)
        assert not loaded.rows
        assert loaded.notes == ()
    told = (tmp_path / "csv" / "columns.md").read_text("utf-8")
    assert all(f"| {column.title} |" in told for kind in KINDS.values() for column in kind.columns)


def test_a_count_sheet_the_program_wrote_is_read_back_when_filled_in(demo: Loaded, tmp_path: Path) -> None:
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet_xlsx(_count_sheet(demo.materials[:6])))
    _fill_in(path, amounts=("3", "0", None, 2.5, None, "1"))
    known = BookFacts(materials={material.code: material for material in demo.materials})
    loaded = read_files([path], known, locale="en_IE", digits=2)
    (count,) = loaded.counts
    assert count.key == "W06-A"
    assert [line.material for line in count.lines] == [demo.materials[i].code for i in (0, 1, 3, 5)]
    assert count.lines[0].amount == demo.materials[0].unit.of(3)
    assert count.lines[0].counted == MOMENT


@pytest.mark.slow
@pytest.mark.parametrize("written", ["csv", "xlsx"])
def test_a_million_rows_are_refused_in_bounded_memory(written: str, tmp_path: Path) -> None:
    path = tmp_path / f"past-jobs.{written}"
    _million_rows(path)
    asked = (
        "import re, sys; from stockroom.intake.known import BookFacts; from stockroom.stock.recipes import Job\n"
        "from stockroom.intake.load import read_files; from stockroom.errors import BadFileError\n"
        "try: read_files([sys.argv[1]], BookFacts(jobs={'X': Job(code='X', name='x')}), locale='en_IE', digits=2)\n"
        "except BadFileError as refused: print(refused.problems[0].what)\n"
        "print(int(re.search(r'VmHWM:\\s+(\\d+)', open('/proc/self/status').read())[1]) // 1024)"  # its own alone
    )
    done = subprocess.run([sys.executable, "-c", asked, path], capture_output=True, text=True, check=True)
    what, megabytes = done.stdout.splitlines()
    assert what == "There are more than 250,000 rows"
    assert int(megabytes) < 400  # measured: 223 for text, 175 for a workbook


def _million_rows(path: Path) -> None:
    if path.suffix == ".csv":
        with path.open("w") as opened:
            opened.write("ticket,taken in,job\n")
            opened.writelines(f"{i},2026-01-05,X\n" for i in range(1_000_000))
        return
    row = '<row r="{n}"><c r="A{n}"><v>{n}</v></c><c r="B{n}" t="str"><v>2026-01-05</v></c><c r="C{n}" t="str"><v>X</v></c></row>'
    rows = "".join(row.format(n=n) for n in range(2, 1_000_002))
    raw_workbook(path, sheet_xml(inline_rows([["ticket", "taken in", "job"]]) + rows), title="past-jobs")


def test_a_flood_of_faults_stops_being_listed(tmp_path: Path) -> None:
    rows = "".join(f"{i},yesterday,X\n" for i in range(5_000))
    (tmp_path / "past-jobs.csv").write_text(f"ticket,taken in,job\n{rows}")
    with pytest.raises(BadFileError) as refused:
        read_files([tmp_path], BookFacts(), locale="en_IE", digits=2)
    assert len(refused.value.problems) == 1_000
    assert "reading stopped here" in str(refused.value.problems[-1])


def _as_workbook(path: Path, stems: tuple[str, ...]) -> None:
    """Write the demo's files as sheets, with true numbers and days where they stand."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for stem in stems:
        sheet = book.create_sheet(stem)
        with (DATA / f"{KINDS[stem].title}.csv").open(encoding="utf-8", newline="") as opened:
            for row in csv.reader(opened):
                sheet.append([_typed(cell) for cell in row])
    book.save(path)


def _typed(cell: str) -> object:
    for kind in (int, float, date.fromisoformat):
        try:
            return kind(cell)
        except ValueError:
            continue
    return cell or None


def _count_sheet(materials: tuple[Material, ...]) -> CountSheet:
    lines = tuple(SheetLine(material=m.code, name=m.name, place="A1", unit=m.unit) for m in materials)
    return CountSheet(shop="The shop", key="W06-A", made=MOMENT, lines=lines)


def _fill_in(path: Path, amounts: tuple[str | float | None, ...]) -> None:
    book = load_workbook(path)
    sheet = book["Counts"]
    place = {str(cell.value): number for number, cell in enumerate(sheet[1], start=1)}
    for row, amount in enumerate(amounts, start=2):
        if amount is not None:
            sheet.cell(row=row, column=place["Amount"]).value = amount
            sheet.cell(row=row, column=place["Counted at"]).value = MOMENT
    book.save(path)
