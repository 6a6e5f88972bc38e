"""A share of the bad inputs that `tests.nasty.attacks` sends by the thousand, on both databases."""

import pytest

from tests import build
from tests.conftest import Maker
from tests.nasty.attacks import WAYS, by_files

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("way", WAYS)
def test_nothing_bad_ends_in_a_traceback_or_in_a_book_that_does_not_agree(books: Maker, way: str) -> None:
    book = books(None if WAYS[way] is by_files else build.opened)
    book.engine.dispose()
    found = WAYS[way](book.place, 150, 3)
    assert (dict(found.tracebacks), found.wrong) == ({}, [])
    assert found.refused > found.attempts // 4
