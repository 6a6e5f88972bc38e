"""The small shop, loaded once; tests work on copies of its book."""

import shutil
from pathlib import Path

import pytest

from tests.end_to_end.shop import Bench, Indoors, small_shop


@pytest.fixture(scope="session")
def small_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Load the small shop with its forty weeks."""
    place = tmp_path_factory.mktemp("small")
    desk = Indoors(place / "book.sqlite")
    desk.says("new-book")
    desk.says("load", str(small_shop(place / "files")))
    return desk.book


@pytest.fixture
def desk(small_book: Path, tmp_path: Path) -> Indoors:
    """A copy of the small shop's book, worked on in this process."""
    return Indoors(Path(shutil.copy(small_book, tmp_path / "book.sqlite")))


@pytest.fixture
def bench(small_book: Path, tmp_path: Path) -> Bench:
    """A copy of the small shop's book, worked on in processes of their own."""
    return Bench(Path(shutil.copy(small_book, tmp_path / "bench.sqlite")))


@pytest.fixture
def empty(tmp_path: Path) -> Indoors:
    """An empty book."""
    desk = Indoors(tmp_path / "empty.sqlite")
    desk.says("new-book")
    return desk
