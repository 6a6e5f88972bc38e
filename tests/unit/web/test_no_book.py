"""When the book can't be reached while the pages are open: said plainly, nothing lost, and on they go once it is back."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from stockroom.flows.bench.shelf import shelf_rows
from stockroom.store import book as books
from stockroom.store.book import Book
from stockroom.web.site import Site
from tests.conftest import Maker
from tests.postgres import Server
from tests.unit.web.conftest import Visitor

NOT_NOW = 503
SALE = {"material": "POLISH", "amount": "1"}


@pytest.fixture
def open_shop(file_shop: Book) -> Book:
    """A book in a file: what can happen to one."""
    return file_shop


def polish(site: Site) -> int:
    return next(row.on_hand for row in shelf_rows(site.book) if row.material == "POLISH")


def test_a_book_another_program_holds_is_said_to_be_busy_and_the_entry_can_be_sent_again(
    owner: Visitor, site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(books, "PATIENCE", 0.1)
    before = polish(site)
    owner.reads("/counter")
    with closing(sqlite3.connect(site.book.place, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        held = owner.post("/counter/sell", key="the sale", **SALE)
        line = owner.post("/counter/sell", headers={"X-Stockroom-Queue": "now"}, key="the sale", **SALE)
    assert (held.status_code, line.status_code) == (NOT_NOW, NOT_NOW), "a device keeps what was answered so"
    assert "The book is busy: another program holds it." in held.text
    assert line.text.startswith("The book is busy")
    assert "<html" not in line.text
    assert polish(site) == before
    for _ in range(2):
        owner.does("/counter/sell", key="the sale", **SALE)
    assert before - polish(site) == 10**9, "taken once"


def test_a_damaged_file_is_named_in_the_window_and_no_page_fails(
    owner: Visitor, site: Site, caplog: pytest.LogCaptureFixture
) -> None:
    site.book.close()
    os.truncate(site.book.place, 20_000)
    for address in ("/", "/shelf", "/orders/desk", "/no-such-page"):
        answer = owner.get(address)
        assert answer.status_code == NOT_NOW, address
        assert Path(site.book.place).name not in answer.text, "where it lies is no stranger's business"
        assert "be reached just now" in answer.text
    assert "The book's file is damaged" in caplog.text
    assert "Restore the newest backup" in caplog.text


class TestServer:
    """A book on a server that goes away."""

    @pytest.fixture
    def open_shop(self, server_books: Maker) -> Book:
        """A book on a server."""
        return server_books()

    def test_a_lost_server_is_survived(
        self, owner: Visitor, site: Site, server: Server, caplog: pytest.LogCaptureFixture
    ) -> None:
        assert owner.get("/shelf").status_code == 200
        name = site.book.place.partition("@/")[2].partition("?")[0]
        moved = server.rename(site.book.place, "elsewhere")
        answer = owner.get("/shelf")
        assert answer.status_code == NOT_NOW
        assert "be reached just now" in answer.text
        assert "no such database" in caplog.text
        server.rename(moved, name)
        assert owner.get("/shelf").status_code == 200, "and on it goes"
