import pytest

from stockroom.flows.journal import journal_of
from stockroom.store.book import Book
from stockroom.web.site import Site
from tests.unit.web.conftest import Visitor


@pytest.fixture
def open_shop(file_shop: Book) -> Book:
    """Stay on files: this journal lies beside one."""
    return file_shop


def journal(site: Site) -> str:
    path = journal_of(site.book.place)
    assert path is not None
    return path.read_text("utf-8") if path.exists() else ""


def test_entries_on_the_pages_are_noted_without_what_was_typed(owner: Visitor, site: Site) -> None:
    owner.does("/counter/sell", material="POLISH", amount="1", price="5")
    owner.post("/counter/sell", material="NOT-ANYWHERE", amount="1", note="Nobody Atall")
    lines = [line for line in journal(site).splitlines() if "pages" in line and "counter" in line]
    assert len(lines) == 2
    assert lines[0].endswith("counter.sell, done")
    assert lines[1].endswith("counter.sell, refused")
    assert "POLISH" not in journal(site)
    assert "Atall" not in journal(site)


def test_looking_at_pages_is_not_noted(owner: Visitor, site: Site) -> None:
    owner.reads("/shelf")
    assert "pages" not in journal(site)
