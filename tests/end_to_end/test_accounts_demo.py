"""The invented shop's year for its accountant: through the real command line, and through a real spreadsheet program."""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pandas as pd
import pytest

from stockroom.flows.accounts.period import make_accounts
from stockroom.flows.book.opening import open_book
from stockroom.margins.period import Period, period_named
from stockroom.show.workbook_paint import FIRST_ROW, HEAD_ROW, TOTAL_ROW
from stockroom.stock.layers import closing, replay
from stockroom.store import catalogue, ledger
from tests.end_to_end.shop import DATA, EVENING, Indoors
from tests.end_to_end.test_accounts_month import files
from tests.end_to_end.test_workbook_accounts import recalculated
from tests.postgres import Server

pytestmark = pytest.mark.slow
YEAR = "2025"


@pytest.fixture(scope="module")
def invented(tmp_path_factory: pytest.TempPathFactory) -> Indoors:
    """The invented shop, its first two years closed."""
    desk = Indoors(tmp_path_factory.mktemp("invented") / "book.sqlite", now=EVENING)
    desk.says("new-book")
    desk.says("load", str(DATA))
    for year in ("2024", YEAR):
        desk.says("close-period", year)
    return desk


def test_workbook_of_a_closed_year_is_right_in_a_spreadsheet_program(invented: Indoors, tmp_path: Path) -> None:
    said = invented.facts("workbook", YEAR, "--into", str(tmp_path / "made"))
    assert said["closed"] is True
    sheets = pd.read_excel(recalculated(Path(said["files"][0]).read_bytes(), tmp_path), sheet_name=None, header=None)
    texts = [str(cell) for sheet in sheets.values() for cell in sheet.to_numpy().ravel()]
    assert not [text for text in texts if text.startswith(("#", "Err:"))]
    checks = sheets["Checks"].iloc[FIRST_ROW - 1 :]
    assert set(checks[1]) == {0}
    assert set(checks[2]) == {"right"}
    worth = _layers(invented, date(2025, 12, 31))
    for sheet, title in (("Summary", "Closing"), ("Valuation", "Cost")):
        column = list(sheets[sheet].iloc[HEAD_ROW - 1]).index(title)
        shown = sheets[sheet].iloc[TOTAL_ROW - 1, column]
        assert Decimal(str(shown)).quantize(Decimal("0.01")) == round(Decimal(worth) / 100_000, 2)
    assert Decimal(said["closing"]) == Decimal(worth) / 100_000


def test_amounts_and_value_agree_with_ledger_and_layers_on_any_day(invented: Indoors) -> None:
    book = open_book(str(invented.book))
    try:
        for day in (date(2024, 6, 30), date(2025, 12, 31), date(2026, 11, 21)):
            made = make_accounts(book, Period(first=date(day.year, 1, 1), last=day))
            assert made.closing == _layers(invented, day)
            with book.reading() as session:
                documents = ledger.read_documents(session)
            by_code: dict[str, int] = {}
            for document in documents:
                if document.booked_on is not None and document.booked_on <= day:
                    for move in document.moves:
                        by_code[move.material] = by_code.get(move.material, 0) + move.nano
            shown = {roll.material.code: roll.closing[0] for roll in made.rolls}
            assert {code: nano for code, nano in by_code.items() if nano} == {c: n for c, n in shown.items() if n}
    finally:
        book.close()


def test_twelve_months_come_to_the_year(invented: Indoors) -> None:
    """Each month opens where the one before closed, and their purchases and margins sum to the year's."""
    book = open_book(str(invented.book))
    try:
        year = make_accounts(book, period_named(YEAR))
        months = [make_accounts(book, period_named(f"{YEAR}-{month:02d}")) for month in (1, 2, 3)]
        quarter = make_accounts(book, period_named(f"{YEAR}-Q1"))
    finally:
        book.close()
    assert months[0].opening == year.opening
    assert [later.opening for later in months[1:]] == [earlier.closing for earlier in months[:-1]]
    assert quarter.closing == months[-1].closing
    for figure in ("income", "materials", "margin"):
        assert sum(getattr(g, figure) for made in months for g in made.margins) == sum(
            getattr(g, figure) for g in quarter.margins
        )


def test_the_same_year_on_a_server_gives_the_same_files(invented: Indoors, server: Server, tmp_path: Path) -> None:
    place = server.create("invented")
    invented.says("copy-book", place)
    there = Indoors(place, now=EVENING)
    assert there.figure() == invented.figure()
    for desk, name in ((invented, "here"), (there, "there")):
        desk.says("workbook", YEAR, "--into", str(tmp_path / name))
    assert files(tmp_path / "there") == files(tmp_path / "here")
    server.drop(place)


def _layers(desk: Indoors, day: date) -> int:
    """Add the cost layers up by themselves, in thousandths of the minor unit."""
    book = open_book(str(desk.book))
    try:
        with book.reading() as session:
            documents = ledger.read_documents(session)
            materials = {m.code: m for m in catalogue.read_materials(session)}
    finally:
        book.close()
    return sum(standing.value for standing in closing(replay(documents, materials), day))
