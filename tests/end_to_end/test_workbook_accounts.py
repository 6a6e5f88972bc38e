"""The accountant's workbook as a file: opened, recalculated by a real spreadsheet program, read back."""

import os
import re
import shutil
import subprocess
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any, cast

import pandas as pd
import pytest
from openpyxl import Workbook, load_workbook

from stockroom.margins.accounts import Accounts, accounts
from stockroom.margins.period import Period
from stockroom.show.accounts_csv import csv_files
from stockroom.show.workbook import in_order, workbook_sheets
from stockroom.show.workbook_paint import FIRST_ROW, HEAD_ROW, TOTAL_ROW, excel_day, workbook_bytes
from stockroom.stock.shop import Shop
from tests.unit.margins.book import YEAR, sources, year_of_documents

BEFORE = Period(first=date(2025, 1, 1), last=date(2025, 12, 31))
SHEETS = [
    "Summary", "Checks", "Valuation", "Aged stock", "Layers", "Stock account", "Movements", "Purchases",
    "Income and tax", "Jobs", "Sales", "Materials by job",
    "Job margins", "Margins split", "Margin changes", "Differences", "Slow and expired", "Journal", "Late documents", "May go back", "Stock-taking list",
    "Notes", "Charts",
]  # fmt: skip


@pytest.fixture(scope="module")
def year() -> Accounts:
    return accounts(sources(year_of_documents()), YEAR, against=BEFORE)


@pytest.fixture(scope="module")
def made(year: Accounts) -> bytes:
    return workbook_bytes(year)


def test_every_sheet_is_there_with_frozen_headings_filter_and_print_area(made: bytes) -> None:
    book = load_workbook(BytesIO(made))
    assert book.sheetnames == SHEETS
    for sheet in book.worksheets:
        assert sheet.print_area
        if sheet.title != "Charts":
            assert sheet.freeze_panes == f"A{HEAD_ROW + 1}"
            assert str(sheet.auto_filter.ref).startswith(f"A{HEAD_ROW}:")
            assert sheet.print_title_rows == f"${HEAD_ROW}:${HEAD_ROW}"
            assert all(sheet.cell(HEAD_ROW, 1 + n).value for n in range(sheet.max_column))


def test_totals_and_checks_are_live_formulas(made: bytes) -> None:
    book = load_workbook(BytesIO(made))
    assert book["Valuation"][f"G{TOTAL_ROW}"].value == f"=SUM(G{FIRST_ROW}:G{book['Valuation'].max_row})"
    assert str(book["Checks"]["B8"].value).startswith("=ABS('Valuation'!G3-'Summary'!")


def test_text_that_begins_like_a_formula_stays_text_and_minus_figures_stay_figures(made: bytes) -> None:
    book = load_workbook(BytesIO(made))
    name = next(row[2] for row in book["Valuation"].iter_rows(min_row=FIRST_ROW) if row[1].value == "WAX")
    assert (name.value, name.data_type, name.quotePrefix) == ("=Neutral cream", "s", True)
    texts = [cell for sheet in book.worksheets for row in sheet.iter_rows() for cell in row if cell.data_type == "s"]
    assert {cell.value for cell in texts if str(cell.value).startswith("=")} == {"=Neutral cream"}
    used = book["Movements"][f"H{FIRST_ROW}"]
    assert used.data_type == "n"
    assert cast("float", used.value) < 0


def test_what_is_past_its_date_stands_with_a_suggestion_to_decide(made: bytes) -> None:
    row = next(load_workbook(BytesIO(made))["Slow and expired"].iter_rows(min_row=FIRST_ROW, values_only=True))
    assert (row[1], row[3], row[7], row[8], row[9]) == (
        "DYE",
        "expired",
        0.8,
        0,
        f"=MAX(H{FIRST_ROW}-I{FIRST_ROW},0)",
    )


@pytest.fixture(scope="module")
def german() -> tuple[Accounts, Workbook]:
    made = accounts(sources(year_of_documents(60), shop=Shop(locale="de_DE")), BEFORE)
    return made, load_workbook(BytesIO(workbook_bytes(made)))


def test_days_are_days_as_the_locale_writes_them(german: tuple[Accounts, Workbook]) -> None:
    cell = german[1]["Bewegungen"][f"A{FIRST_ROW}"]
    assert cast("datetime", cell.value).date() == date(2025, 1, 2)
    assert cell.number_format == "dd.mm.yyyy"
    assert excel_day("d 'de' MMM 'de' y") == 'd "de" mmm "de" yyyy'


def test_a_german_workbook_says_the_same_in_its_own_words(german: tuple[Accounts, Workbook]) -> None:
    """Tab by tab the same figures stand in the same cells; every heading, and every tab, is said in German."""
    made, book = german
    irish = load_workbook(BytesIO(workbook_bytes(replace(made, shop=Shop(locale="en_IE")))))
    assert len(set(book.sheetnames)) == len(irish.sheetnames)
    alike = {"Journal", "Code", "Material", "Post", "Status"}  # the same in both
    tabs = set(book.sheetnames) & set(irish.sheetnames)
    assert tabs <= alike
    for there, here in zip(irish.worksheets, book.worksheets, strict=True):
        heads = {(str(a.value), str(b.value)) for a, b in zip(there[HEAD_ROW], here[HEAD_ROW], strict=True) if a.value}
        assert {a for a, b in heads if a == b} <= alike, there.title
        for row in range(FIRST_ROW, there.max_row + 1):
            figures = [[c.value for c in sheet[row] if isinstance(c.value, int | float)] for sheet in (there, here)]
            assert figures[0] == figures[1], (there.title, row)
    said = {str(cell.value) for sheet in book.worksheets for row in sheet.iter_rows() for cell in row}
    assert "Hauptstandort" in said
    assert "main" not in said
    checks = book["Prüfungen"]
    named = {
        part
        for row in checks.iter_rows(min_row=FIRST_ROW, min_col=2, max_col=2)
        for part in re.findall(r"'([^']+)'!", str(row[0].value))
    }
    assert named
    assert named <= set(book.sheetnames), "checks point at tabs that are there"


def test_same_accounts_give_the_same_file_again(made: bytes, year: Accounts) -> None:
    assert workbook_bytes(year) == made


def test_shop_that_did_nothing_gets_a_workbook_too() -> None:
    book = load_workbook(BytesIO(workbook_bytes(accounts(sources([]), YEAR))))
    assert book.sheetnames == SHEETS
    assert "Nothing in this period." in str(book["Movements"]["A2"].value)


def test_yen_have_no_small_coins() -> None:
    shop = Shop(currency="JPY", currency_digits=0)
    book = load_workbook(BytesIO(workbook_bytes(accounts(sources(year_of_documents(60), shop=shop), BEFORE))))
    assert book["Valuation"][f"G{FIRST_ROW}"].number_format == "#,##0"
    assert book["Movements"][f"J{FIRST_ROW}"].number_format == "#,##0.###"


def test_two_sheets_of_one_name_or_place_are_a_mistake() -> None:
    sheets = workbook_sheets()
    with pytest.raises(ValueError, match="share a name or a place"):
        in_order([*sheets, sheets[0]])


def test_csv_files_hold_the_same_rows(year: Accounts, tmp_path: Path) -> None:
    files = csv_files(year)
    for name, content in files.items():
        (tmp_path / name).write_bytes(content)
    movements = pd.read_csv(tmp_path / "movements.csv", dtype=str)
    assert sum(Decimal(value) for value in movements["Value"]) == Decimal(year.closing - year.opening) / 100_000
    journal = pd.read_csv(tmp_path / "journal.csv")
    assert journal["Debit"].sum() == pytest.approx(journal["Credit"].sum())
    valuation = pd.read_csv(tmp_path / "valuation.csv")
    assert "'=Neutral cream" in set(valuation["Material"])


@pytest.mark.slow
def test_spreadsheet_program_finds_no_error_and_every_check_right(made: bytes, year: Accounts, tmp_path: Path) -> None:
    book = recalculated(made, tmp_path)
    sheets = pd.read_excel(book, sheet_name=None, header=None)
    assert list(sheets) == SHEETS
    texts = [str(cell) for sheet in sheets.values() for cell in sheet.to_numpy().ravel()]
    assert not [text for text in texts if text.startswith(("#", "Err:")) or "{row}" in text]
    checks = sheets["Checks"].iloc[FIRST_ROW - 1 :]
    assert len(checks) > 10
    assert set(checks[1]) == {0}
    assert set(checks[2]) == {"right"}
    _agrees_with_the_ledger(sheets, year)
    _agree_with_the_plain_files(sheets, year)


def _agree_with_the_plain_files(sheets: dict[str, pd.DataFrame], year: Accounts) -> None:
    """Read every plain file back: what the spreadsheet program works out stands in it as a value, cell by cell."""
    files = csv_files(year)
    assert len(files) == len(SHEETS) - 2, "all but the checks and the pictures"
    for name in set(SHEETS) - {"Checks", "Charts"}:
        plain = pd.read_csv(BytesIO(files[f"{name.lower().replace(' ', '-')}.csv"]), dtype=str, keep_default_na=False)
        sheet = sheets[name].iloc[HEAD_ROW - 1 :].dropna(how="all", axis=1)
        worked = sheet.iloc[FIRST_ROW - HEAD_ROW :].reset_index(drop=True)
        worked.columns = pd.Index([str(title) for title in sheet.iloc[0]])
        assert list(plain.columns) == list(worked.columns), name
        assert len(plain) == len(worked), name
        for title in plain.columns:
            for shown, cell in zip(plain[title], worked[title], strict=True):
                assert not shown.lstrip("'").startswith("=") or shown.startswith("'="), (name, title, shown)
                assert (shown == "") == (pd.isna(cell) or cell == ""), (name, title, shown, cell)
                if isinstance(cell, int | float) and not pd.isna(cell):
                    assert float(shown) == pytest.approx(cell, rel=1e-5, abs=1e-6), (name, title)


def _agrees_with_the_ledger(sheets: dict[str, pd.DataFrame], year: Accounts) -> None:
    total, head = TOTAL_ROW - 1, HEAD_ROW - 1

    def figure(sheet: str, title: str) -> float:
        column = list(sheets[sheet].iloc[head]).index(title)
        return float(cast("Any", sheets[sheet].iloc[total, column]))

    closing, opening = (round(value / 1000) / 100 for value in (year.closing, year.opening))
    assert figure("Summary", "Closing") == pytest.approx(closing, abs=1e-9)
    assert figure("Summary", "Opening") == pytest.approx(opening, abs=1e-9)
    assert figure("Valuation", "Cost") == pytest.approx(closing, abs=1e-9)
    assert figure("Layers", "Cost") == pytest.approx(year.closing / 100_000, abs=1e-7)
    assert figure("Movements", "Value") == pytest.approx((year.closing - year.opening) / 100_000, abs=1e-7)
    margin = sum(line.margin for line in year.work.lines) / 100_000
    assert figure("Jobs", "Margin") == pytest.approx(margin, abs=1e-6)


@pytest.mark.slow
def test_wrong_figure_is_caught_by_the_checks(year: Accounts, tmp_path: Path) -> None:
    """A cost altered by hand in one sheet must not go unnoticed in the recalculated workbook."""
    book = load_workbook(BytesIO(workbook_bytes(year)))
    cell = book["Movements"][f"J{FIRST_ROW}"]
    cell.value = cast("float", cell.value) + 1
    stream = BytesIO()
    book.save(stream)
    checks = pd.read_excel(recalculated(stream.getvalue(), tmp_path), sheet_name="Checks", header=None)
    assert "WRONG" in set(checks[2])


def recalculated(content: bytes, folder: Path) -> Path:
    """Let LibreOffice open the workbook, work out every formula and save it again."""
    program = shutil.which("soffice")
    if program is None:
        words = "LibreOffice Calc is not installed (Debian: apt-get install libreoffice-calc)"
        if os.environ.get("CI", "").lower() == "true":
            pytest.fail(words)
        pytest.skip(words)
    source, out = folder / "accounts.xlsx", folder / "out"
    source.write_bytes(content)
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    command = [program, profile, "--headless", "--convert-to", "xlsx", "--outdir", str(out), str(source)]
    subprocess.run(command, check=True, capture_output=True, timeout=180)
    return out / "accounts.xlsx"


def test_missing_spreadsheet_program_fails_in_ci(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(shutil, "which", lambda _: None)
    monkeypatch.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception, match="not installed"):
        recalculated(b"", tmp_path)
    monkeypatch.setenv("CI", "")
    with pytest.raises(pytest.skip.Exception, match="not installed"):
        recalculated(b"", tmp_path)
