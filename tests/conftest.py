"""Books to test on: SQLite files and databases on a real PostgreSQL server, each copied from one made before."""

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from typing import Protocol

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, settings

from stockroom.flows.book.opening import new_book
from stockroom.store.book import Book, open_book
from tests import build
from tests.postgres import Server, ServerMissingError

# Quick by default, so that the whole suite stays at hand; `HYPOTHESIS_PROFILE=deep` searches for hours' worth.
_CALM = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.function_scoped_fixture]
settings.register_profile(
    "quick", max_examples=40, stateful_step_count=20, deadline=None, derandomize=True, database=None,
    suppress_health_check=_CALM,
)  # fmt: skip
settings.register_profile(
    "deep", max_examples=1500, stateful_step_count=60, deadline=None, print_blob=True, suppress_health_check=_CALM
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "quick"))

KINDS = ("sqlite", "postgresql")
_SERVERS = {"server", "server_books", "server_moulds"}
Fill = Callable[[Book], object]
_numbers = count(1)


@pytest.hookimpl(tryfirst=True)  # before what is marked is chosen from
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what works on a server: by its fixtures, or by the kind of database it is run on."""
    for item in items:
        given = item.callspec.params if isinstance(item, pytest.Function) and hasattr(item, "callspec") else {}
        if _SERVERS & set(getattr(item, "fixturenames", ())) or "postgresql" in (given.get("kind"), given.get("books")):
            item.add_marker(pytest.mark.on_server)


class Maker(Protocol):
    """Makes books, each its own: an empty one, or one that a function filled. It is called once; the rest are copies."""

    def __call__(self, fill: Fill | None = None) -> Book: ...


@dataclass
class Moulds:
    """Books to copy on one kind of database: an empty one, and one for each function that fills a book."""

    empty: str
    copy: Callable[[str], str]  # a book's place -> the place of its copy
    filled: dict[Fill, str] = field(default_factory=dict)

    def place(self, fill: Fill | None) -> str:
        """Say where the book to copy is."""
        if fill is None:
            return self.empty
        if fill not in self.filled:
            place = self.copy(self.empty)
            book = open_book(place)
            fill(book)
            book.close()
            self.filled[fill] = place
        return self.filled[fill]


def _copied(place: str, folder: Path) -> str:
    """Copy a book in a file into a folder, under a name of its own."""
    return str(shutil.copyfile(place, folder / f"shop-{next(_numbers)}.sqlite"))


def _hurry(book: Book) -> None:
    """Spare a book that no power cut will ever meet the waiting for the disk."""
    book.engine.dispose()
    sa.event.listen(book.engine, "connect", lambda raw, _record: raw.execute("PRAGMA synchronous=OFF"))


@pytest.fixture(scope="session")
def file_moulds(tmp_path_factory: pytest.TempPathFactory) -> Moulds:
    """Make an empty book in a file once."""
    folder = tmp_path_factory.mktemp("moulds")
    empty = folder / "empty.sqlite"
    new_book(str(empty)).close()
    return Moulds(str(empty), lambda place: _copied(place, folder))


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """Start a PostgreSQL server of our own; skipped where none is installed, never in CI."""
    try:
        started = Server.start()
    except ServerMissingError as missing:
        if os.environ.get("CI", "").casefold() == "true":
            pytest.fail(str(missing))
        pytest.skip(str(missing))
    yield started
    started.stop()


@pytest.fixture(scope="session")
def server_moulds(server: Server) -> Moulds:
    """Make an empty book on the server once."""
    empty = server.create("empty_book")
    new_book(empty).close()
    return Moulds(empty, server.copy)


@pytest.fixture
def sqlite_books(file_moulds: Moulds, tmp_path: Path) -> Iterator[Maker]:
    """Give a maker of books, each a file of its own."""
    made: list[Book] = []

    def make(fill: Fill | None = None) -> Book:
        made.append(open_book(_copied(file_moulds.place(fill), tmp_path)))
        _hurry(made[-1])
        return made[-1]

    yield make
    for book in made:
        book.close()


@pytest.fixture
def server_books(server: Server, server_moulds: Moulds) -> Iterator[Maker]:
    """Give a maker of books, each a database of its own on the server."""
    made: list[Book] = []

    def make(fill: Fill | None = None) -> Book:
        made.append(open_book(server.copy(server_moulds.place(fill))))
        return made[-1]

    yield make
    for book in made:
        book.close()
        server.drop(book.place)


@pytest.fixture(params=KINDS)
def books(request: pytest.FixtureRequest) -> Maker:
    """Give a maker of empty books, on either database."""
    maker: Maker = request.getfixturevalue("sqlite_books" if request.param == "sqlite" else "server_books")
    return maker


@pytest.fixture
def book(books: Maker) -> Book:
    """Give an empty book, on either database."""
    return books()


@pytest.fixture
def shop(books: Maker) -> Book:
    """Give the tiny shop's book with its catalogue, nothing posted; on either database."""
    return books(build.stock_up)


@pytest.fixture
def open_shop(books: Maker) -> Book:
    """Give the tiny shop's book with its catalogue and its opening stock; on either database."""
    return books(build.opened)


@pytest.fixture
def file_book(sqlite_books: Maker) -> Book:
    """Give an empty book in a file, where the kind of database plays no part."""
    return sqlite_books()


@pytest.fixture
def file_shop(sqlite_books: Maker) -> Book:
    """Give the tiny shop's book, catalogue and opening stock, in a file."""
    return sqlite_books(build.opened)
