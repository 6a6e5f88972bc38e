import csv
import os
import shutil
import sqlite3
from contextlib import closing
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa

from stockroom.errors import BadFileError, BookError, RefusedError, StockroomError
from stockroom.flows.accounts.closing import close_period
from stockroom.flows.bench.counter import sell
from stockroom.flows.bench.shelf import shelf_rows
from stockroom.flows.bench.tickets import Wanted, take_in
from stockroom.flows.book import opening, safekeeping
from stockroom.flows.book.opening import new_book
from stockroom.flows.ordering.place import OrderedPacks, place_order
from stockroom.margins.period import Period
from stockroom.stock.shop import Shop
from stockroom.store import catalogue, identity, tables
from stockroom.store.book import Book, open_book
from stockroom.store.integrity import audit
from tests import build
from tests.postgres import Server

EVENING = datetime(2026, 3, 1, 18, 0)


def _figure(book: Book) -> str:
    with book.reading() as session:
        found = audit(session)
    assert not found.faults
    return found.figure


def _sell(book: Book, day: str = "2026-02-03") -> None:
    sell(book, "POLISH", build.amount("1 piece"), build.stamp(day))


def test_a_backup_is_the_whole_book_with_its_check_figure(open_shop: Book, tmp_path: Path) -> None:
    _sell(open_shop)
    made = safekeeping.back_up(open_shop, tmp_path / "backups", EVENING)
    copied = open_book(str(made.path))
    assert _figure(copied) == made.figure == _figure(open_shop)
    assert shelf_rows(copied) == shelf_rows(open_shop)
    copied.close()


def test_old_backups_go_by_days_weeks_and_months(file_shop: Book, tmp_path: Path) -> None:
    mark = identity.mark_of(file_shop)[: identity.SHOWN]
    for back in range(120):
        safekeeping.back_up(file_shop, tmp_path, EVENING - timedelta(days=120 - back)) if back % 10 == 0 else (
            tmp_path / f"book-{mark}-{EVENING - timedelta(days=120 - back):%Y-%m-%dT%H%M%S}.sqlite"
        ).touch()
    others = [
        tmp_path / "book-of-mine.sqlite",
        *(tmp_path / f"book-{n:08x}-2025-11-0{n}T180000.sqlite" for n in (1, 2)),
    ]
    for other in others:
        other.touch()
    safekeeping.back_up(file_shop, tmp_path, EVENING)
    left = sorted(path.name for path in tmp_path.glob(f"book-{mark}-*.sqlite"))
    days = [datetime.fromisoformat(name[14:24]).date() for name in left]
    assert days[-7:] == [EVENING.date() - timedelta(days=n) for n in range(6, -1, -1)]
    assert {(day.year, day.month) for day in days} == {(2025, 11), (2025, 12), (2026, 1), (2026, 2), (2026, 3)}
    assert len(days) < 7 + 5 + 12
    assert all(other.exists() for other in others), "another book's backup, or another file, is never touched"


def test_two_books_keep_their_backups_in_one_folder(tmp_path: Path) -> None:
    books = [new_book(str(tmp_path / f"{name}.sqlite"), Shop(name=name)) for name in ("north", "south")]
    made = [
        safekeeping.back_up(book, tmp_path / "b", EVENING + timedelta(hours=n)).path for n in range(3) for book in books
    ]  # every one on one day: each book's last is kept
    assert [path.exists() for path in made] == [False] * 4 + [True] * 2
    with closing(open_book(str(made[-1]))) as copy:
        assert identity.mark_of(copy) == identity.mark_of(books[1]) != identity.mark_of(books[0])
    for book in books:
        book.close()


def test_another_books_backup_needs_its_name_typed(file_shop: Book, tmp_path: Path) -> None:
    other = new_book(str(tmp_path / "other.sqlite"), Shop(name="The other shop"))
    build.opened(other)
    made = safekeeping.back_up(other, tmp_path / "b", EVENING)
    other.close()
    file_shop.close()
    before = Path(file_shop.place).read_bytes()
    for over in ("", "The other shop"):
        with pytest.raises(RefusedError, match="is of another book"):
            safekeeping.restore(made.path, file_shop.place, EVENING, over=over)
    assert Path(file_shop.place).read_bytes() == before
    assert safekeeping.restore(made.path, file_shop.place, EVENING, over="The shop") is not None


@pytest.mark.parametrize(
    "spoilt",
    [
        "UPDATE ticket SET state = 'finished'",
        "DELETE FROM purchase_order",
        "UPDATE setting SET value = 'soon' WHERE name = 'start'",
        "UPDATE month_total SET nano = nano + 1",
    ],
)
def test_a_backup_in_which_anything_does_not_agree_is_not_restored(
    file_shop: Book, tmp_path: Path, spoilt: str
) -> None:
    place_order(file_shop, "NORTH", [OrderedPacks(material="THREAD", packs=3)], build.stamp("2026-01-06"))
    take_in(file_shop, Wanted(job="HEEL"), build.stamp("2026-01-07"))
    made = safekeeping.back_up(file_shop, tmp_path / "b", EVENING)
    file_shop.close()
    with closing(sqlite3.connect(made.path)) as raw, raw:
        raw.execute(spoilt)
    before = Path(file_shop.place).read_bytes()
    with pytest.raises(StockroomError):
        safekeeping.restore(made.path, file_shop.place, EVENING)
    assert Path(file_shop.place).read_bytes() == before


def test_a_backup_with_a_page_written_over_is_not_restored(file_shop: Book, tmp_path: Path) -> None:
    made = safekeeping.back_up(file_shop, tmp_path / "b", EVENING)
    file_shop.close()
    whole = made.path.read_bytes()
    for page in range(0, len(whole), 4096):
        made.path.write_bytes(whole[:page] + b"\xa5" * 4096 + whole[page + 4096 :])
        with pytest.raises(StockroomError):
            safekeeping.restore(made.path, file_shop.place, EVENING)
    assert not list(Path(file_shop.place).parent.glob("*before-restore*"))


def test_a_link_to_a_book_stays_a_link(file_shop: Book, tmp_path: Path) -> None:
    made = safekeeping.back_up(file_shop, tmp_path / "b", EVENING)
    _sell(file_shop)
    file_shop.close()
    (tmp_path / "desk").mkdir()
    link = tmp_path / "desk" / "book.sqlite"
    link.symlink_to(file_shop.place)
    aside = safekeeping.restore(made.path, str(link), EVENING)
    assert link.is_symlink()
    assert aside is not None
    assert aside.parent == Path(file_shop.place).parent
    for place in (str(link), file_shop.place):
        with closing(open_book(place)) as book:
            assert _figure(book) == made.figure


def test_no_new_book_is_advised_where_something_of_one_lies(file_shop: Book, tmp_path: Path) -> None:
    made = safekeeping.back_up(file_shop, tmp_path / "b", EVENING)
    file_shop.close()
    aside = safekeeping.restore(made.path, file_shop.place, EVENING)
    Path(file_shop.place).unlink()
    with pytest.raises(BookError) as gone:
        open_book(file_shop.place)
    assert gone.value.fix == f"One that was kept lies beside. To have it back: stockroom restore '{aside}'"
    lost = tmp_path / "lost.sqlite"
    lost.with_name("lost.sqlite-wal").write_bytes(b"what was entered last")
    with pytest.raises(BookError) as gone:
        open_book(str(lost))
    assert "new-book" not in gone.value.fix
    with pytest.raises(BookError, match="still lies beside it"):
        new_book(str(lost))


def test_what_a_backup_cut_short_left_goes_the_day_after(file_shop: Book, tmp_path: Path) -> None:
    mark = identity.mark_of(file_shop)[: identity.SHOWN]
    left, fresh = (tmp_path / f"book-{mark}-2026-02-0{n}T180000.sqlite.part" for n in (1, 2))
    for part in (left, fresh):
        part.write_bytes(b"half a book")
    os.utime(left, (0, 0))
    safekeeping.back_up(file_shop, tmp_path, build.at("2026-02-03 18:00"))
    assert (left.exists(), fresh.exists()) == (False, True)


def test_restoring_keeps_the_book_that_was_there(file_shop: Book, tmp_path: Path) -> None:
    made = safekeeping.back_up(file_shop, tmp_path / "backups", EVENING)
    _sell(file_shop)
    later = _figure(file_shop)
    file_shop.close()
    aside = safekeeping.restore(made.path, file_shop.place, EVENING)
    assert aside is not None
    restored, kept = open_book(file_shop.place), open_book(str(aside))
    assert (_figure(restored), _figure(kept)) == (made.figure, later)
    restored.close()
    kept.close()


def test_a_book_that_is_open_elsewhere_is_not_replaced_under_whoever_writes_in_it(
    file_shop: Book, tmp_path: Path
) -> None:
    made = safekeeping.back_up(file_shop, tmp_path / "backups", EVENING)
    _sell(file_shop)  # its connection stays, idle, as that of the pages does
    with pytest.raises(RefusedError, match="is open elsewhere"):
        safekeeping.restore(made.path, file_shop.place, EVENING)
    _sell(file_shop)
    assert not list(tmp_path.glob("*before-restore*"))
    file_shop.close()
    assert safekeeping.restore(made.path, file_shop.place, EVENING) is not None


def test_a_restore_that_finds_no_room_leaves_the_book_where_it_is(
    file_shop: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = safekeeping.back_up(file_shop, tmp_path / "backups", EVENING)
    _sell(file_shop)
    file_shop.close()

    def full(_source: Path, target: Path) -> None:
        Path(target).write_bytes(b"SQLite format 3")
        raise OSError(28, "No space left on device", str(target))

    monkeypatch.setattr(shutil, "copyfile", full)
    before = sorted(path.name for path in tmp_path.iterdir())
    with pytest.raises(OSError, match="No space left"):
        safekeeping.restore(made.path, file_shop.place, EVENING)
    assert sorted(path.name for path in tmp_path.iterdir()) == before
    again = open_book(file_shop.place)
    assert _figure(again) != made.figure, "with what was entered after the backup"
    again.close()


def test_two_restores_within_a_second_write_over_nothing(file_shop: Book, tmp_path: Path) -> None:
    made = safekeeping.back_up(file_shop, tmp_path / "backups", EVENING)
    file_shop.close()
    aside = safekeeping.restore(made.path, file_shop.place, EVENING)
    assert aside is not None
    before = aside.read_bytes()
    with pytest.raises(RefusedError, match="exists already"):
        safekeeping.restore(made.path, file_shop.place, EVENING)
    assert aside.read_bytes() == before
    assert Path(file_shop.place).exists()


def test_a_damaged_backup_is_not_restored(file_shop: Book, tmp_path: Path) -> None:
    made = safekeeping.back_up(file_shop, tmp_path / "backups", EVENING)
    damaged = open_book(str(made.path))
    with damaged.engine.connect() as session:
        session.execute(sa.text("DROP TRIGGER move_no_update"))
        session.execute(sa.text("UPDATE move SET nano = nano + 1 WHERE document = 1 AND line = 1"))
        session.commit()
    damaged.close()
    with closing(sqlite3.connect(made.path)) as raw, raw:
        raw.execute("CREATE TRIGGER move_no_update BEFORE UPDATE ON move BEGIN SELECT RAISE(ABORT, 'no'); END")
    before = Path(file_shop.place).read_bytes()
    with pytest.raises(BookError, match="does not check clean: Document 1 was changed"):
        safekeeping.restore(made.path, file_shop.place, EVENING)
    assert Path(file_shop.place).read_bytes() == before


def test_the_whole_book_goes_out_as_files_and_comes_back_the_same(open_shop: Book, tmp_path: Path) -> None:
    _sell(open_shop)
    out = safekeeping.export_book(open_shop, tmp_path / "out")
    back = safekeeping.import_book(tmp_path / "out", str(tmp_path / "back.sqlite"))
    assert back == out
    again = open_book(str(tmp_path / "back.sqlite"))
    assert shelf_rows(again) == shelf_rows(open_shop)
    again.close()
    described = (tmp_path / "out" / "columns.md").read_text("utf-8")
    for path in (tmp_path / "out").glob("*.csv"):
        for column in path.read_text("utf-8").splitlines()[0].split(","):
            assert f"`{column}`" in described


def test_an_export_lets_nobody_in(open_shop: Book, tmp_path: Path) -> None:
    opening.keep_passcode(open_shop, "owner", "a hash of the owner's")
    key = opening.session_key(open_shop)
    opening.end_session(open_shop, "a session", EVENING)
    safekeeping.export_book(open_shop, tmp_path / "out")
    written = "".join(path.read_text("utf-8") for path in (tmp_path / "out").iterdir())
    assert "a hash of" not in written
    assert key not in written
    assert "passcode:" not in written
    assert "signed out:" not in written
    assert "Left out are the pages' passcodes" in (tmp_path / "out" / "columns.md").read_text("utf-8")
    safekeeping.import_book(tmp_path / "out", str(tmp_path / "back.sqlite"))
    with closing(open_book(str(tmp_path / "back.sqlite"))) as back:
        assert opening.kept_passcodes(back) == {}
        assert opening.session_key(back) != key
    safekeeping.copy_book(open_shop, str(tmp_path / "moved.sqlite"))
    with closing(open_book(str(tmp_path / "moved.sqlite"))) as moved:
        assert (opening.kept_passcodes(moved), opening.session_key(moved)) == ({"owner": "a hash of the owner's"}, key)


def test_an_exported_book_that_was_changed_is_refused_and_leaves_nothing(file_shop: Book, tmp_path: Path) -> None:
    safekeeping.export_book(file_shop, tmp_path / "out")
    moves = tmp_path / "out" / "move.csv"
    moves.write_text(moves.read_text("utf-8").replace("000000000,", "000000001,", 1), "utf-8")
    with pytest.raises(BookError, match="do not make a true book"):
        safekeeping.import_book(tmp_path / "out", str(tmp_path / "back.sqlite"))
    assert not (tmp_path / "back.sqlite").exists()


def test_a_closed_period_of_a_large_catalogue_goes_out_and_comes_back(file_shop: Book, tmp_path: Path) -> None:
    """A closing holds every material's facts: with hundreds of them, more than csv reads unless it is told to."""
    many = [build.material(f"M{n:04}", name=f"Material {n}", note="kept in the back room " * 5) for n in range(400)]
    with file_shop.writing() as session:
        catalogue.save_materials(session, many)
    close_period(file_shop, Period(first=date(2026, 1, 1), last=date(2026, 1, 31)), build.stamp("2026-02-02"))
    out = safekeeping.export_book(file_shop, tmp_path / "out")
    assert safekeeping.import_book(tmp_path / "out", str(tmp_path / "back.sqlite")) == out


@pytest.mark.parametrize("spoilt", [b'1,"', b"\xff", b"\0"])
def test_an_exported_file_that_can_not_be_read_is_named(file_shop: Book, tmp_path: Path, spoilt: bytes) -> None:
    safekeeping.export_book(file_shop, tmp_path / "out")
    with (tmp_path / "out" / "move.csv").open("ab") as moves:
        moves.write(spoilt)
    with pytest.raises(BadFileError) as bad:
        safekeeping.import_book(tmp_path / "out", str(tmp_path / "back.sqlite"))
    assert str(bad.value.problems[0]).startswith("move.csv, row ")
    assert not (tmp_path / "back.sqlite").exists()


def _first_row(folder: Path, name: str, column: str, value: str) -> None:
    """Put another value into a cell of a file's first row."""
    path = folder / f"{name}.csv"
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file))
    rows[1][rows[0].index(column)] = value
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)


@pytest.mark.parametrize(
    ("name", "column", "value"),
    [
        ("move", "nano", "9" * 30),
        ("move", "line", "3000000000"),
        ("document", "id", "9" * 4400),
        ("material", "extra", '{"a":' * 5000 + "1" + "}" * 5000),
        ("material", "extra", "[" * 5000),
        ("material", "name", "a name with \0"),
        ("material", "sell_price", "1.5"),
        ("document", "content", '{"a":' * 5000 + "1" + "}" * 5000),
        ("document", "happened", "0001-01-01T00:00:00"),
        ("recipe_line", "waste", "1/0"),
        ("job", "active", "2"),
        ("offer", "price", "-" + "9" * 25),
    ],
)
def test_an_export_with_an_impossible_cell_is_refused_whole(
    file_shop: Book, tmp_path: Path, name: str, column: str, value: str
) -> None:
    safekeeping.export_book(file_shop, tmp_path / "out")
    _first_row(tmp_path / "out", name, column, value)
    with pytest.raises(StockroomError):
        safekeeping.import_book(tmp_path / "out", str(tmp_path / "back.sqlite"))
    assert not (tmp_path / "back.sqlite").exists()


@pytest.mark.parametrize("name", ["material", "document", "move", "setting", "recipe_line"])
def test_an_export_with_a_row_twice_is_refused_and_named(file_shop: Book, tmp_path: Path, name: str) -> None:
    safekeeping.export_book(file_shop, tmp_path / "out")
    path = tmp_path / "out" / f"{name}.csv"
    lines = path.read_text("utf-8").splitlines(keepends=True)
    path.write_text("".join([*lines, lines[-1]]), "utf-8")
    with pytest.raises(BadFileError) as twice:
        safekeeping.import_book(tmp_path / "out", str(tmp_path / "back.sqlite"))
    assert f"{name}.csv: a row is there twice, or does not fit the others" in str(twice.value.problems[0])


def test_a_missing_file_and_a_bad_cell_are_named(file_shop: Book, tmp_path: Path) -> None:
    safekeeping.export_book(file_shop, tmp_path / "out")
    moves = tmp_path / "out" / "move.csv"
    moves.write_text(moves.read_text("utf-8").replace("\n1,1,", "\n1,one,", 1), "utf-8")
    with pytest.raises(BadFileError) as bad:
        safekeeping.import_book(tmp_path / "out", str(tmp_path / "back.sqlite"))
    assert "move.csv, row 2: a cell can't be read" in str(bad.value.problems[0])
    (tmp_path / "out" / "closure.csv").unlink()
    with pytest.raises(BadFileError) as missing:
        safekeeping.import_book(tmp_path / "out", str(tmp_path / "back.sqlite"))
    assert "closure.csv: the file is missing" in str(missing.value.problems[0])


def test_an_export_older_than_a_column_comes_back_with_what_it_then_held(
    file_shop: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every column that says the same in each row is left out in turn, as if it had come later."""
    with file_shop.reading() as session:
        before = catalogue.read_materials(session)
    safekeeping.export_book(file_shop, tmp_path / "out")
    path = tmp_path / "out" / "material.csv"
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file))
    alike = [n for n in range(len(rows[0])) if len({row[n] for row in rows[1:]}) == 1]
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([[cell for n, cell in enumerate(row) if n not in alike] for row in rows])
    with pytest.raises(BadFileError):
        safekeeping.import_book(tmp_path / "out", str(tmp_path / "back.sqlite"))
    assert alike
    for n in alike:
        column = tables.material.columns[rows[0][n]]
        monkeypatch.setitem(column.info, "before", catalogue.material_row(before[0])[column.name])
    safekeeping.import_book(tmp_path / "out", str(tmp_path / "back.sqlite"))
    with closing(open_book(str(tmp_path / "back.sqlite"))) as book, book.reading() as session:
        assert catalogue.read_materials(session) == before


def test_nothing_is_written_over(file_shop: Book, tmp_path: Path) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").touch()
    with pytest.raises(RefusedError, match="is not empty"):
        safekeeping.export_book(file_shop, tmp_path / "full")
    with pytest.raises(RefusedError, match="exists already"):
        safekeeping.copy_book(file_shop, file_shop.place)
    assert _figure(file_shop)


def test_a_book_moves_to_a_server_and_back_with_the_same_check_figure(
    file_shop: Book, server: Server, tmp_path: Path
) -> None:
    _sell(file_shop)
    place = server.create("moved_book")
    there = safekeeping.copy_book(file_shop, place)
    on_server = open_book(place)
    _sell(on_server, "2026-02-04")  # the moved book goes on
    back = safekeeping.copy_book(on_server, str(tmp_path / "back.sqlite"))
    assert (back.documents, there.figure) == (there.documents + 1, _figure(file_shop))
    assert _figure(on_server) == back.figure
    on_server.close()
    server.drop(place)
