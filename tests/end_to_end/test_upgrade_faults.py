"""What goes wrong while an older book is brought up: each is said plainly, and leaves the book as it was."""

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from stockroom.store import book as books
from tests.end_to_end.shop import Indoors
from tests.end_to_end.test_faults import _fill, _no_power, as_nobody, elsewhere, mounted
from tests.upgrade.freeze import HERE, thaw

OLDEST = HERE / "schema-0001.sql.gz"


@dataclass(frozen=True)
class Older:
    """A book that an older version wrote."""

    desk: Indoors
    figure: str
    whole: bytes

    def on(self, folder: Path) -> "Older":
        """Put it on another disk."""
        return replace(self, desk=Indoors(Path(shutil.copy(self.desk.book, folder / "book.sqlite"))))

    def untouched(self) -> bool:
        """Say whether nothing was changed, and no copy left beside it."""
        beside = list(self.desk.book.parent.glob("*upgrade*"))
        return (self.desk.book.read_bytes(), beside) == (self.whole, [])

    def comes_up(self) -> bool:
        """Run the upgrade undisturbed."""
        said = self.desk.says("upgrade-book")
        agrees = "Everything agrees." in self.desk.says("check", "--figure", self.figure)
        return "is up to date.\nAs it was before, it is kept as " in said and agrees


@pytest.fixture
def older(tmp_path: Path) -> Older:
    """A book of the first schema."""
    place = tmp_path / "older" / "book.sqlite"
    place.parent.mkdir()
    _, figure = thaw(OLDEST, place)
    return Older(Indoors(place), figure, place.read_bytes())


@pytest.fixture
def disk() -> Iterator[Path]:
    """A disk of two megabytes."""
    with mounted(2048) as folder:
        yield folder


def test_an_older_book_says_what_to_do_and_comes_up(older: Older) -> None:
    told = older.desk("shelf")
    assert (told.code, "Fix: Run: stockroom upgrade-book" in told.err) == (6, True)
    assert older.untouched()
    assert older.comes_up()
    assert older.desk.says("upgrade-book").count("\n") == 1, "nothing to do, nothing kept"
    assert older.desk("shelf").code == 0


def test_a_full_disk_is_said_and_changes_nothing(older: Older, disk: Path, tmp_path: Path) -> None:
    full, kept = older.on(disk), tmp_path / "kept"
    _fill(disk)
    for words in ([], ["--keep", str(kept)]):  # no copy fits; with the copy elsewhere, the new table does not
        tried = full.desk("upgrade-book", *words)
        assert (tried.code, "nothing was changed" in tried.err) == (6, True), tried
        assert "full" in tried.err
        assert full.untouched()
    (disk / "ballast").unlink()
    assert full.comes_up()
    assert all(path.name.startswith("book.sqlite.before-upgrade.2026-11-24T100000") for path in kept.iterdir())


def test_a_lock_held_by_another_program_is_said_and_changes_nothing(
    older: Older, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(books, "PATIENCE", 0.2)
    with closing(sqlite3.connect(older.desk.book, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        tried = older.desk("upgrade-book")
        assert (tried.code, "The book is busy: another program holds it." in tried.err) == (6, True)
    assert older.untouched()
    assert older.comes_up()


def test_a_read_only_folder_is_said_and_nothing_is_changed(older: Older) -> None:
    with tempfile.TemporaryDirectory(prefix="stockroom-faults-", dir="/tmp") as folder:
        shut = older.on(Path(folder))
        _no_power(shut.desk)
        kept = elsewhere(shut.desk, "upgrade-book", before=as_nobody)
        assert (kept.code, f"The older book can't be kept in {folder}." in kept.err) == (6, True), kept
        tried = elsewhere(shut.desk, "upgrade-book", "--keep", tempfile.gettempdir(), before=as_nobody)
        assert (tried.code, "is read-only" in tried.err) == (6, True), tried
        assert shut.untouched()
