"""The small shop, loaded once for each kind of database; tests work on copies of its book."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from stockroom.store.book import Book
from tests.conftest import KINDS, Fill, Moulds
from tests.end_to_end.shop import Bench, Indoors, small_shop
from tests.postgres import Server

Copier = Callable[[str, Fill | None], str]  # a kind of database, what fills the book -> the place of a copy


@pytest.fixture(scope="session")
def small(tmp_path_factory: pytest.TempPathFactory) -> Fill:
    """Load the small shop with its forty weeks into an empty book."""
    files = small_shop(tmp_path_factory.mktemp("small"))

    def load(book: Book) -> None:
        Indoors(book.place).says("load", str(files))

    return load


@pytest.fixture
def copied(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Copier]:
    """Give a copier of books: into this test's folder, or on the server until the test is over."""
    made: list[str] = []

    def copy(kind: str, fill: Fill | None) -> str:
        if kind == "sqlite":
            moulds: Moulds = request.getfixturevalue("file_moulds")
            place = tmp_path / ("book.sqlite" if fill else "empty.sqlite")
            return str(shutil.copyfile(moulds.place(fill), place))
        moulds = request.getfixturevalue("server_moulds")
        made.append(moulds.copy(moulds.place(fill)))
        return made[-1]

    yield copy
    server: Server | None = request.getfixturevalue("server") if made else None
    for place in made:
        assert server is not None
        server.drop(place)


@pytest.fixture(params=KINDS)
def kind(request: pytest.FixtureRequest) -> str:
    """Say on which database the book is."""
    return str(request.param)


@pytest.fixture
def desk(kind: str, copied: Copier, small: Fill) -> Indoors:
    """A copy of the small shop's book on either database, worked on in this process."""
    return Indoors(copied(kind, small))


@pytest.fixture
def bench(kind: str, copied: Copier, small: Fill) -> Bench:
    """A copy of the small shop's book on either database, worked on in processes of their own."""
    return Bench(copied(kind, small))


@pytest.fixture
def empty(kind: str, copied: Copier) -> Indoors:
    """An empty book on either database."""
    return Indoors(copied(kind, None))
