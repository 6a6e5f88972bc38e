"""Every released schema, with data in it, comes up to this version's; a newer one is refused and left as it is."""

import json
import shutil
import sqlite3
import threading
from contextlib import closing
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from click.testing import CliRunner

from stockroom.cli.main import cli
from stockroom.errors import BookError
from stockroom.flows.bench.counter import sell
from stockroom.flows.book.check import check
from stockroom.flows.book.safekeeping import copy_book, export_book, import_book, restore
from stockroom.flows.book.upgrade import bring_up as upgrade_book
from stockroom.flows.book.upgrade import upgrade_book as upgrade
from stockroom.stock.shop import Shop
from stockroom.store import catalogue, tables, transfer
from stockroom.store.book import STEPS, open_any, open_book
from stockroom.store.snapshots import Snapshot, read_back, written
from tests import build
from tests.postgres import Server
from tests.upgrade.freeze import HERE, thaw, thaw_on_server

FROZEN = sorted(HERE.glob("schema-*.sql.gz"))
OLDEST = FROZEN[0]
EVENING = datetime(2026, 11, 25, 18, 0)


CHANGES = Path(__file__).parents[2] / "CHANGELOG.md"


def test_every_released_schema_is_frozen() -> None:
    """A schema need not be frozen before it is released; one that is must be, and is never left out later."""
    numbers = [path.name[7:11] for path in FROZEN]
    steps = sorted(path.name[:4] for path in STEPS.glob("0*.py"))
    assert numbers == steps[: len(numbers)]
    assert steps[-1] == tables.SCHEMA
    newest = next(line for line in CHANGES.read_text("utf-8").splitlines() if line.startswith("## "))
    assert newest.endswith("(unreleased)") or numbers == steps, "before a release: python -m tests.upgrade.freeze"
    assert all(path.stat().st_size < 100_000 for path in FROZEN)


def _whole(place: str, documents: int, figure: str) -> None:
    """Hold a book that was brought up against what it was, and work on it."""
    with closing(open_book(place)) as book:
        found = check(book, figures=[figure])
        assert (found.faults, found.documents) == ((), documents + 1), "one more says what the lists hold"
        with book.reading() as session:
            assert compare_metadata(MigrationContext.configure(session), tables.metadata) == []
        sell(book, "POLISH", build.amount("1 piece"), build.stamp("2026-03-01"))
        with book.writing() as session:
            catalogue.save_offers(session, [replace(build.offers()[0], supplier_code="NEW")])
        assert check(book).faults == ()


def _schema(place: str | Path) -> str:
    book, found = open_any(str(place))
    book.close()
    return found


@pytest.mark.parametrize("frozen", FROZEN, ids=lambda path: path.name[:11])
def test_a_released_book_comes_up_whole_and_is_worked_on(frozen: Path, tmp_path: Path) -> None:
    place = str(tmp_path / "book.sqlite")
    documents, figure = thaw(frozen, tmp_path / "book.sqlite")
    upgrade_book(place).close()
    _whole(place, documents, figure)


@pytest.mark.parametrize("frozen", FROZEN, ids=lambda path: path.name[:11])
def test_a_released_book_on_a_server_comes_up_whole_too(frozen: Path, server: Server, tmp_path: Path) -> None:
    place = server.create("older")
    documents, figure = thaw_on_server(frozen, place, tmp_path)
    assert _schema(place) == frozen.name[7:11]
    upgrade_book(place).close()
    _whole(place, documents, figure)
    server.drop(place)


@pytest.mark.parametrize("frozen", FROZEN, ids=lambda path: path.name[:11])
def test_a_book_put_on_a_server_goes_on_numbering_after_its_last_row(
    frozen: Path, server: Server, tmp_path: Path
) -> None:
    """Whatever its schema: no step that comes later has to mend it."""
    place = server.create("numbered")
    thaw_on_server(frozen, place, tmp_path)
    book, _ = open_any(place)
    numbered = "SELECT table_name FROM information_schema.columns WHERE column_default LIKE 'nextval(%' ORDER BY 1"
    with closing(book), book.writing() as session:
        names = session.execute(sa.text(numbered)).scalars().all()
        for name in names:
            last, then = session.execute(
                sa.text(f"SELECT coalesce(max(id), 0), nextval(pg_get_serial_sequence('{name}', 'id')) FROM {name}")
            ).one()
            assert (name, then) == (name, last + 1)
    assert {"count_line", "offer", "recipe"} <= set(names)
    server.drop(place)


def test_a_released_book_moves_to_a_server(server: Server, tmp_path: Path) -> None:
    documents, figure = thaw(FROZEN[0], tmp_path / "book.sqlite")
    book = upgrade_book(str(tmp_path / "book.sqlite"))
    place = server.create("upgraded")
    assert copy_book(book, place).figure == check(book).figure
    book.close()
    _whole(place, documents, figure)
    server.drop(place)


def test_the_older_book_is_kept_beside_it_to_the_last_row(tmp_path: Path) -> None:
    place = tmp_path / "book.sqlite"
    documents, figure = thaw(OLDEST, place)
    with closing(sqlite3.connect(place)) as raw:
        before = list(raw.iterdump())
    kept = upgrade(str(place), EVENING)
    assert kept == tmp_path / "book.sqlite.before-upgrade.2026-11-25T180000"
    with closing(sqlite3.connect(kept)) as raw:
        assert list(raw.iterdump()) == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["book.sqlite", kept.name]
    assert upgrade(str(place), EVENING) is None, "nothing is copied where nothing is to be done"
    _whole(str(place), documents, figure)
    _whole_again(kept, place, documents, figure)


def test_a_closing_that_lacks_a_later_column_is_read_with_what_held_before() -> None:
    taken = Snapshot(
        shop=Shop(), materials={m.code: m for m in build.materials()}, jobs={}, supplier_names={}, supplier_rates={},
        counted={}, notes={},
    )  # fmt: skip
    said = json.loads(json.dumps(written(taken)))
    later = tables.come_later(tables.material)
    for row in said["materials"]:
        for column in later:
            del row[column]
    read = [catalogue.material_row(m) for m in read_back(said).materials.values()]
    assert read == [catalogue.material_row(m) | later for m in build.materials()]


def _whole_again(kept: Path, place: Path, documents: int, figure: str) -> None:
    """Change one's mind: the copy kept is a backup like any other, and is brought up as it is restored."""
    as_kept = kept.read_bytes()
    restore(kept, str(place), EVENING)
    assert (kept.read_bytes(), _schema(kept)) == (as_kept, "0001")
    _whole(str(place), documents, figure)


def test_a_copy_is_never_written_over(tmp_path: Path) -> None:
    place = tmp_path / "book.sqlite"
    thaw(OLDEST, place)
    first = upgrade(str(place), EVENING)
    assert first is not None
    before = first.read_bytes()
    shutil.copyfile(first, place)
    second = upgrade(str(place), EVENING, tmp_path / "kept" / "here")
    shutil.copyfile(first, place)
    third = upgrade(str(place), EVENING)
    assert (second, third) == (tmp_path / "kept" / "here" / first.name, first.with_name(f"{first.name}-2"))
    assert first.read_bytes() == before


def test_a_servers_book_is_kept_as_a_file(server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    place = server.create("older")
    documents, figure = thaw_on_server(OLDEST, place, tmp_path)
    kept = upgrade(place, EVENING)
    assert kept == Path("older.before-upgrade.2026-11-25T180000")
    assert _schema(kept) == "0001"
    upgrade_book(str(kept)).close()
    _whole(str(kept), documents, figure)
    _whole(place, documents, figure)
    server.drop(place)


def test_a_book_that_can_not_be_kept_is_not_touched(tmp_path: Path) -> None:
    place = tmp_path / "book.sqlite"
    thaw(OLDEST, place)
    with closing(sqlite3.connect(place)) as raw, raw:
        at = raw.execute("SELECT rootpage FROM sqlite_master WHERE name = 'ix_move_happened'").fetchone()[0]
        page = raw.execute("PRAGMA page_size").fetchone()[0]
    spoilt = bytearray(place.read_bytes())
    spoilt[at * page - 40] ^= 1  # an entry of an index that no longer fits its row
    place.write_bytes(spoilt)
    with pytest.raises(BookError, match="does not agree with the book") as caught:
        upgrade(str(place), EVENING)
    assert caught.value.fix.startswith("Nothing was changed.")
    assert (place.read_bytes(), [path.name for path in tmp_path.iterdir()]) == (bytes(spoilt), ["book.sqlite"])


def test_two_who_upgrade_at_once_do_it_once(tmp_path: Path) -> None:
    place = tmp_path / "book.sqlite"
    documents, figure = thaw(OLDEST, place)
    kept: list[Path | None] = []
    hands = [threading.Thread(target=lambda: kept.append(upgrade(str(place), EVENING))) for _ in range(2)]
    for hand in hands:
        hand.start()
    for hand in hands:
        hand.join(30)
    assert len(kept) == 2
    assert len(list(tmp_path.glob("*before-upgrade*"))) == 1
    _whole(str(place), documents, figure)


def test_an_export_of_a_version_that_knew_no_deeds_is_read(tmp_path: Path) -> None:
    documents, figure = thaw(FROZEN[-1], tmp_path / "book.sqlite")
    with closing(upgrade_book(str(tmp_path / "book.sqlite"))) as book:
        out = export_book(book, tmp_path / "out")
    (tmp_path / "out" / "deed.csv").unlink()
    assert import_book(tmp_path / "out", str(tmp_path / "back.sqlite")).figure == out.figure
    _whole(str(tmp_path / "back.sqlite"), documents, figure)


def test_a_newer_book_is_refused_and_not_one_byte_of_it_changes(tmp_path: Path) -> None:
    place = tmp_path / "book.sqlite"
    thaw(FROZEN[-1], place)
    book = upgrade_book(str(place))
    with book.writing() as session:
        session.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))
    book.close()
    before = place.read_bytes()
    for opening in (open_book, upgrade_book):
        with pytest.raises(BookError) as caught:
            opening(str(place))
        assert "newer stockroom (schema 9999; this one knows" in caught.value.what
    assert (place.read_bytes(), [path.name for path in tmp_path.iterdir()]) == (before, ["book.sqlite"])


@pytest.mark.parametrize("frozen", FROZEN, ids=lambda path: path.name[:11])
def test_what_an_older_export_lacks_is_known(frozen: Path, tmp_path: Path) -> None:
    """Every table and column that came after a released schema is named where exports are read."""
    thaw(frozen, tmp_path / "book.sqlite")
    with closing(sqlite3.connect(tmp_path / "book.sqlite")) as old:
        for table in transfer.ORDER:
            there = {row[1] for row in old.execute(f"PRAGMA table_info({table.name})")}
            later = {column.name for column in table.columns} - there
            if there:
                assert later <= set(tables.come_later(table))
            else:
                assert table.name in transfer._CAME_LATER


@pytest.mark.parametrize(("answer", "opened"), [("y\n", True), ("n\n", False)])
def test_who_opens_the_pages_over_an_older_book_is_asked_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, answer: str, *, opened: bool
) -> None:
    place, shown = tmp_path / "book.sqlite", list[str]()
    thaw(OLDEST, place)
    before = _schema(place)
    monkeypatch.setattr("stockroom.web.command._is_asked", lambda: True)
    monkeypatch.setattr("stockroom.web.server.run", lambda *_, **__: shown.append("the pages"))
    CliRunner().invoke(cli, ["--book", str(place), "serve"], input=answer)
    assert (shown == ["the pages"]) is opened
    assert (_schema(place) == before) is not opened
    assert any("before-upgrade" in each.name for each in tmp_path.iterdir()) is opened
