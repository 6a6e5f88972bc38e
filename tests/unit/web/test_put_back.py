"""A backup put back at the pages, over the book that is open: looked into, set beside it, swapped in one step."""

import io
import threading
from dataclasses import replace
from pathlib import Path
from typing import cast

import pytest
from flask.testing import FlaskClient
from werkzeug.test import Client

from stockroom.errors import RefusedError
from stockroom.flows.bench.counter import sell
from stockroom.flows.book import safekeeping
from stockroom.flows.book.audit_log import journal_of
from stockroom.flows.book.check import check
from stockroom.flows.book.opening import change_settings, new_book, open_book
from stockroom.store import ledger
from stockroom.store.book import Book
from stockroom.web import access
from stockroom.web.background import Beside
from stockroom.web.server import LOOPBACK, make_site, open_pages
from stockroom.web.swap import Pages
from tests import build
from tests.conftest import Maker
from tests.unit.web.conftest import CODES, NOON, Asleep, Visitor


def pages_of(book: Book, beside: Beside | None = None) -> Pages:
    site = make_site(book, LOOPBACK, beside or Beside(threaded=False))
    return open_pages(replace(site, now=lambda: NOON))


def somebody(pages: Pages) -> Visitor:
    return Visitor(cast("FlaskClient", Client(pages)))


def sold(book: Book, key: str) -> None:
    sell(book, "LACE-BLACK", build.amount("1 pair"), build.stamp("2026-01-06 11:00", key=key))


def documents(place: str) -> int:
    book = open_book(place)
    with book.reading() as session:
        found = ledger.head(session)[0]
    book.close()
    return found


def sends(who: Visitor, backup: bytes) -> str:
    who.reads("/safekeeping")
    answer = who.post("/safekeeping/restore/look", backup=(io.BytesIO(backup), "backup.sqlite"))
    assert answer.status_code == 303, answer.text
    return who.reads("/safekeeping/restore")


def test_a_backup_takes_the_open_books_place_and_that_one_is_kept(file_shop: Book, tmp_path: Path) -> None:
    backup = safekeeping.back_up(file_shop, tmp_path / "backups", NOON).path.read_bytes()
    before = documents(file_shop.place)
    sold(file_shop, "later")
    pages = pages_of(file_shop)
    who = somebody(pages)
    said = sends(who, backup)
    assert "Everything in the backup agrees" in said
    assert "1 document of the open book is not in the backup" in said
    assert "1 material with another stock" in said
    assert documents(file_shop.place) == before + 1, "nothing is changed by looking"
    answer = who.post("/safekeeping/restore")
    assert answer.status_code == 303, answer.text
    said = who.reads(answer.headers["Location"])
    (kept,) = Path(file_shop.place).parent.glob("*.before-restore-*")
    assert kept.name in said
    assert (documents(file_shop.place), documents(str(kept))) == (before, before + 1)
    fresh = open_book(file_shop.place)
    assert check(fresh).faults == ()
    fresh.close()
    journal = journal_of(file_shop.place)
    assert journal is not None
    assert "Backup put back" in journal.read_text()
    assert not safekeeping.beside_book(file_shop.place).exists()
    assert who.post("/safekeeping/restore").status_code == 400, "a second tap finds nothing to put back"


def test_everybody_is_asked_again_and_todays_passcodes_hold(
    file_shop: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(access, "_METHOD", "pbkdf2:sha256:1")
    backup = safekeeping.back_up(file_shop, tmp_path / "backups", NOON).path.read_bytes()
    for role, code in CODES.items():
        access.set_passcode(file_shop, role, code)
    pages = pages_of(file_shop)
    helper, who = (somebody(pages).signs_in(role) for role in ("bench", "owner"))
    assert helper.get("/safekeeping/restore").status_code == 403
    sends(who, backup)
    assert who.post("/safekeeping/restore", passcode="not it").status_code == 400
    assert not list(Path(file_shop.place).parent.glob("*.before-restore-*"))
    assert who.post("/safekeeping/restore", passcode=CODES["owner"]).status_code == 303
    for each in (who, helper):
        assert each.get("/").headers["Location"].startswith("/sign-in"), "the session is over"
    assert "Safekeeping" in somebody(pages).signs_in("owner").reads("/safekeeping")


@pytest.fixture
def open_other(file_shop: Book, tmp_path: Path) -> Book:
    """Give a book of another shop than the one that is open."""
    change_settings(file_shop, {"name": "Old Row"}, at=NOON)
    made = new_book(str(tmp_path / "other.sqlite"), at=NOON)
    change_settings(made, {"name": "North Row"}, at=NOON)
    return made


def test_another_shops_book_needs_the_name_of_the_one_that_goes(
    file_shop: Book, open_other: Book, tmp_path: Path
) -> None:
    backup = safekeeping.back_up(open_other, tmp_path / "backups", NOON).path.read_bytes()
    who = somebody(pages_of(file_shop))
    assert "another book than the one that is open" in sends(who, backup)
    assert who.post("/safekeeping/restore").status_code == 400
    assert who.post("/safekeeping/restore", over="Old Row").status_code == 303
    assert "North Row" in who.reads("/")


@pytest.mark.parametrize("content", [b"", b"no book at all", b"SQLite format 3\x00" + b"\x00" * 4000])
def test_what_is_no_book_is_refused_in_words(file_shop: Book, content: bytes) -> None:
    who = somebody(pages_of(file_shop))
    assert 'class="notice bad"' in sends(who, content)
    assert who.post("/safekeeping/restore").status_code == 400


def test_a_large_backup_comes_in_parts_and_a_missing_one_is_noticed(file_shop: Book, tmp_path: Path) -> None:
    backup = safekeeping.back_up(file_shop, tmp_path / "backups", NOON).path.read_bytes()
    who = somebody(pages_of(file_shop))
    who.reads("/safekeeping")

    def part(at: int, content: bytes) -> int:
        head = {"X-Stockroom-Token": who.token, "Content-Type": "application/octet-stream"}
        return who.client.post(f"/safekeeping/restore/part?at={at}", data=content, headers=head).status_code

    half = len(backup) // 2
    assert part(half, backup[half:]) == 400
    assert (part(0, backup[:half]), part(0, backup[:half]), part(half, backup[half:])) == (200, 200, 200)
    assert part(half, backup[half:]) == 400, "the same part is not added twice"
    assert who.post("/safekeeping/restore/look").status_code == 303
    assert "Everything in the backup agrees" in who.reads("/safekeeping/restore")


def test_a_servers_book_is_not_written_over(server_books: Maker) -> None:
    who = somebody(pages_of(server_books(build.opened), Asleep()))
    assert "kept by a database server" in who.reads("/safekeeping")
    assert who.post("/safekeeping/restore/look", backup=(io.BytesIO(b"x"), "b.sqlite")).status_code == 400


def test_a_request_waits_while_the_book_is_exchanged(file_shop: Book) -> None:
    pages, answered = pages_of(file_shop, Asleep()), threading.Event()
    who = somebody(pages)

    def asks() -> None:
        who.get("/jobs")
        answered.set()

    waiting = threading.Thread(target=asks)
    with pages.alone(Asleep()):
        waiting.start()
        assert not answered.wait(0.1)
        with pytest.raises(RefusedError, match="still being worked with"), pages.alone(Asleep()):
            pytest.fail("two at once")
    assert answered.wait(10)
    waiting.join()
