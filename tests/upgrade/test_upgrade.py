"""Every released schema, with data in it, comes up to this version's; a newer one is refused and left as it is."""

from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from stockroom.errors import BookError
from stockroom.flows.check import check
from stockroom.flows.counter import sell
from stockroom.flows.safekeeping import copy_book
from stockroom.store import tables
from stockroom.store.book import open_book, upgrade_book
from tests import build
from tests.postgres import Server
from tests.upgrade.freeze import HERE, thaw

FROZEN = sorted(HERE.glob("schema-*.sql.gz"))


def test_the_schema_of_today_is_frozen_too() -> None:
    assert FROZEN[-1].name == f"schema-{tables.SCHEMA}.sql.gz"
    assert all(path.stat().st_size < 100_000 for path in FROZEN)


@pytest.mark.parametrize("frozen", FROZEN, ids=lambda path: path.name[:11])
def test_a_released_book_comes_up_whole_and_is_worked_on(frozen: Path, tmp_path: Path) -> None:
    place = str(tmp_path / "book.sqlite")
    documents, figure = thaw(frozen, tmp_path / "book.sqlite")
    upgrade_book(place).close()
    book = open_book(place)
    found = check(book)
    assert (found.faults, found.documents, found.figure) == ((), documents, figure)
    with book.reading() as session:
        assert compare_metadata(MigrationContext.configure(session), tables.metadata) == []
    sell(book, "POLISH", build.amount("1 piece"), build.stamp("2026-03-01"))
    assert check(book).faults == ()
    book.close()


def test_a_released_book_moves_to_a_server(server: Server, tmp_path: Path) -> None:
    documents, figure = thaw(FROZEN[0], tmp_path / "book.sqlite")
    book = upgrade_book(str(tmp_path / "book.sqlite"))
    place = server.create("upgraded")
    assert copy_book(book, place).figure == figure
    there = open_book(place)
    found = check(there)
    assert (found.faults, found.documents) == ((), documents)
    there.close()
    book.close()
    server.drop(place)


def test_a_newer_book_is_refused_and_not_one_byte_of_it_changes(tmp_path: Path) -> None:
    place = tmp_path / "book.sqlite"
    thaw(FROZEN[-1], place)
    book = open_book(str(place))
    with book.writing() as session:
        session.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))
    book.close()
    before = place.read_bytes()
    for opening in (open_book, upgrade_book):
        with pytest.raises(BookError) as caught:
            opening(str(place))
        assert "newer stockroom (schema 9999; this one knows" in caught.value.what
    assert (place.read_bytes(), [path.name for path in tmp_path.iterdir()]) == (before, ["book.sqlite"])
