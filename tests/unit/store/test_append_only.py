"""The database itself refuses to change the ledger, whoever asks."""

import sqlite3

import pytest
import sqlalchemy as sa

from stockroom.store.book import Book

CHANGES = [
    "UPDATE move SET nano = nano + 1",
    "DELETE FROM move",
    "UPDATE document SET who = 'me'",
    "DELETE FROM document WHERE id = 1",
]


@pytest.mark.parametrize("change", CHANGES)
def test_moves_and_documents_can_not_be_changed_or_deleted(open_shop: Book, change: str) -> None:
    def run() -> None:
        with open_shop.writing() as session:
            session.execute(sa.text(change))

    with pytest.raises(sa.exc.DatabaseError, match=r"the ledger is append-only: no (UPDATE|DELETE) on (move|document)"):
        run()


@pytest.mark.parametrize(
    "change",
    [
        "INSERT INTO move (document, line, material, nano) VALUES (1, 1, 'TIP', 7) ON CONFLICT (document, line) DO UPDATE SET nano = 7",
        "INSERT INTO document (id, key) VALUES (1, 'new') ON CONFLICT (id) DO UPDATE SET key = 'new'",
    ],
)
def test_inserting_over_a_row_is_refused(open_shop: Book, change: str) -> None:
    def run() -> None:
        with open_shop.writing() as session:
            session.execute(sa.text(change))

    with pytest.raises(sa.exc.DatabaseError, match="the ledger is append-only"):
        run()


def test_a_server_refuses_truncate(server_books: object, request: pytest.FixtureRequest) -> None:
    book = request.getfixturevalue("server_books")()

    def run(table: str) -> None:
        with book.writing() as session:
            session.execute(sa.text(f"TRUNCATE {table} CASCADE"))

    for table in ("move", "document"):
        with pytest.raises(sa.exc.DatabaseError, match="the ledger is append-only: no TRUNCATE"):
            run(table)


@pytest.mark.parametrize(
    "change",
    [
        "REPLACE INTO move (document, line, material, nano) VALUES (1, 1, 'TIP', 7)",
        "INSERT OR REPLACE INTO document (id, key) VALUES (1, 'new')",
        "INSERT OR REPLACE INTO document (id, key) VALUES (99, 'opening')",
    ],
)
def test_another_program_can_not_replace_rows_either(file_shop: Book, change: str) -> None:
    """REPLACE deletes silently on a connection with SQLite's own defaults."""
    other = sqlite3.connect(file_shop.place)
    with pytest.raises(sqlite3.IntegrityError, match="the ledger is append-only: no REPLACE"):
        other.execute(change)
    other.close()


def test_a_move_of_an_unknown_material_or_document_is_refused(open_shop: Book) -> None:
    def run(document: int, material: str) -> None:
        with open_shop.writing() as session:
            session.execute(
                sa.text(
                    "INSERT INTO move (document, line, material, nano, kind, happened, site) "
                    "VALUES (:document, 99, :material, 7, 'waste', '2026-01-05T08:00:00', 'main')"
                ),
                {"document": document, "material": material},
            )

    for document, material in ((99, "TIP"), (1, "NOWHERE")):
        with pytest.raises(sa.exc.IntegrityError):
            run(document, material)
