"""Whatever is done to a file, it is loaded or refused in plain words: never a traceback, never half of it."""

import contextlib
import os
import random
from collections import Counter
from datetime import datetime
from itertools import cycle
from pathlib import Path

import pytest

from stockroom.errors import StockroomError
from stockroom.flows.book.check import check
from stockroom.flows.book.opening import change_settings
from stockroom.flows.book.snapshot import facts_for_files
from stockroom.flows.loading.load import enter, load_files
from stockroom.intake.columns import KINDS
from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_files
from stockroom.intake.loaded import Loaded
from stockroom.store.book import Book
from tests.conftest import Maker
from tests.nasty.fuzz import check_words, honest, outcome, spoilt_text, spoilt_workbook
from tests.nasty.small_shop import FILES, HISTORY, write
from tests.nasty.workbooks import workbook

TRIES = 8 if os.environ.get("HYPOTHESIS_PROFILE") == "deep" else 1
TEXTS, WORKBOOKS = 700 * TRIES, 300 * TRIES  # of each kind: over ten thousand in all
SPOILT_WORKBOOKS = ("materials", "past-jobs", "counts")
NOW = datetime(2024, 3, 1, 18, 0)
NEEDS = {
    "uses": "past-jobs",
    "standing": "offers",
}  # what a ticket used is entered where there is the ticket, and so on
LOCALES = ("en_IE", "de_DE", "en", "fr_CH")


@pytest.fixture
def small(file_book: Book, tmp_path: Path) -> Book:
    """The small shop's book, its shelf opened."""
    load_files(file_book, [write(tmp_path / "shop", {**FILES, "opening": HISTORY["opening"]})], NOW)
    return file_book


def known_to(book: Book) -> BookFacts:
    with book.reading() as session:
        return facts_for_files(session)


class _TakenBackError(Exception):
    """Nothing is to be kept of what was entered."""


def entered(book: Book, loaded: Loaded) -> str:
    """Enter what was read, and take it back: 'entered', or 'refused by the book' in plain words."""
    try:
        with contextlib.suppress(_TakenBackError), book.writing() as session:
            enter(session, loaded, NOW)
            raise _TakenBackError
    except StockroomError as refused:
        check_words(refused)
        return "refused by the book"
    return "entered"


@pytest.mark.slow
@pytest.mark.parametrize("stem", KINDS)
def test_a_spoilt_text_file_is_loaded_or_refused(stem: str, small: Book, tmp_path: Path) -> None:
    chance, rows, ends, known = random.Random(stem), honest()[stem], Counter[str](), known_to(small)
    if stem in NEEDS:
        load_files(small, [write(tmp_path / "past", {NEEDS[stem]: HISTORY[NEEDS[stem]]})], NOW)
        known = known_to(small)
    before = check(small)
    for locale, _ in zip(cycle(LOCALES), range(TEXTS), strict=False):
        (tmp_path / f"{stem}.csv").write_bytes(spoilt_text(rows, chance))
        loaded = outcome(tmp_path / f"{stem}.csv", known, locale=locale)
        ends["refused" if loaded is None else entered(small, loaded)] += 1
    assert min(ends["refused"], ends["entered"]) > TEXTS // 20, "the tries meet both ends"
    after = check(small)
    assert (after.faults, after.figure) == ((), before.figure), "and what was undone left nothing"


@pytest.mark.slow
@pytest.mark.parametrize("stem", SPOILT_WORKBOOKS)
def test_a_spoilt_workbook_is_loaded_or_refused(stem: str, small: Book, tmp_path: Path) -> None:
    chance, ends, known = random.Random(stem), Counter[str](), known_to(small)
    path = workbook(tmp_path / f"{stem}.xlsx", honest()[stem], title=stem)
    raw = path.read_bytes()
    for _ in range(WORKBOOKS):
        path.write_bytes(spoilt_workbook(raw, chance))
        loaded = outcome(path, known)
        ends["refused" if loaded is None else entered(small, loaded)] += 1
    assert min(ends["refused"], ends["entered"]) > WORKBOOKS // 20, "the tries meet both ends"
    assert check(small).faults == ()


def test_over_ten_thousand_files_are_tried() -> None:
    assert len(KINDS) * TEXTS + len(SPOILT_WORKBOOKS) * WORKBOOKS > 10_000


@pytest.mark.slow
@pytest.mark.parametrize("locale", LOCALES)
def test_spoilt_files_loaded_one_after_the_other_leave_a_sound_book(
    locale: str, sqlite_books: Maker, tmp_path: Path
) -> None:
    book, chance, ends = sqlite_books(), random.Random(locale), Counter[str]()
    load_files(book, [write(tmp_path / "shop", {**FILES, "past-jobs": HISTORY["past-jobs"]})], NOW)
    change_settings(book, {"locale": locale})
    for _ in range(60 * TRIES):
        stem = chance.choice(list(KINDS))
        path = tmp_path / f"{stem}.csv"
        path.write_bytes(spoilt_text(honest()[stem], chance))
        figure = check(book).figure
        try:
            load_files(book, [path], NOW)
        except StockroomError as refused:
            check_words(refused)
            ends["refused"] += 1
            assert check(book).figure == figure, "nothing of it was loaded"
        else:
            ends["loaded"] += 1
            assert load_files(book, [path], NOW).documents == 0, "twice is once"
    assert min(ends.values()) > 5
    assert check(book).faults == ()


def test_honest_files_are_loaded(tmp_path: Path) -> None:
    for stem, rows in honest().items():
        workbook(tmp_path / f"{stem}.xlsx", rows, title=stem)
    assert set(honest()) == set(KINDS)
    assert len(read_files([tmp_path], BookFacts(), locale="en_IE", digits=2).materials) == 5
