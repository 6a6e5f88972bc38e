"""Books to test on: an SQLite file and a real PostgreSQL server, each copied from a template."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, settings

from stockroom.flows.books import new_book
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


class Maker(Protocol):
    """Makes books, each its own: empty ones, or the tiny shop's with its catalogue and opening stock."""

    def __call__(self, *, opened: bool = False) -> Book: ...


def _hurry(book: Book) -> None:
    """Spare a book that no power cut will ever meet the waiting for the disk."""
    book.engine.dispose()
    sa.event.listen(book.engine, "connect", lambda raw, _record: raw.execute("PRAGMA synchronous=OFF"))


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make an empty book once; tests copy it."""
    place = tmp_path_factory.mktemp("template") / "book.sqlite"
    new_book(str(place)).close()
    return place


@pytest.fixture(scope="session")
def sqlite_opened(sqlite_template: Path) -> Path:
    """Open the tiny shop's book once; tests copy it."""
    place = sqlite_template.with_name("opened.sqlite")
    shutil.copyfile(sqlite_template, place)
    build.opened(open_book(str(place))).close()
    return place


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """Start a PostgreSQL server of our own; skipped where none is installed, never in CI."""
    try:
        started = Server.start()
    except ServerMissingError as missing:
        if os.environ.get("CI", "").casefold() == "true":
            pytest.fail(str(missing))
        pytest.skip(str(missing))
    new_book(started.create("template_book")).close()
    build.opened(open_book(started.create("template_opened", "template_book"))).close()
    yield started
    started.stop()


@pytest.fixture
def sqlite_books(sqlite_template: Path, sqlite_opened: Path, tmp_path: Path) -> Iterator[Maker]:
    """Give a maker of books, each a file of its own."""
    made: list[Book] = []

    def make(*, opened: bool = False) -> Book:
        place = tmp_path / f"book-{len(made)}.sqlite"
        shutil.copyfile(sqlite_opened if opened else sqlite_template, place)
        made.append(open_book(str(place)))
        _hurry(made[-1])
        return made[-1]

    yield make
    for book in made:
        book.close()


@pytest.fixture
def server_books(server: Server) -> Iterator[Maker]:
    """Give a maker of books, each a database of its own on the server."""
    made: list[tuple[str, Book]] = []

    def make(*, opened: bool = False) -> Book:
        place = server.copy("template_opened" if opened else "template_book")
        made.append((place, open_book(place)))
        return made[-1][1]

    yield make
    for place, book in made:
        book.close()
        server.drop(place)


@pytest.fixture(params=["sqlite", "postgresql"])
def books(request: pytest.FixtureRequest) -> Maker:
    """Give a maker of empty books, on either database."""
    maker: Maker = request.getfixturevalue("sqlite_books" if request.param == "sqlite" else "server_books")
    return maker


@pytest.fixture
def book(books: Maker) -> Book:
    """Give an empty book, on either database."""
    return books()


@pytest.fixture
def shop(book: Book) -> Book:
    """Give the tiny shop's book with its catalogue, nothing posted; on either database."""
    return build.stock_up(book)


@pytest.fixture
def open_shop(books: Maker) -> Book:
    """Give the tiny shop's book with its catalogue and its opening stock; on either database."""
    return books(opened=True)


@pytest.fixture
def file_book(sqlite_books: Maker) -> Book:
    """Give an empty book in a file, where the kind of database plays no part."""
    return sqlite_books()


@pytest.fixture
def file_shop(sqlite_books: Maker) -> Book:
    """Give the tiny shop's book, catalogue and opening stock, in a file."""
    return sqlite_books(opened=True)
