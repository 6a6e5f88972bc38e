"""The first page, where there is no book: begun whole or not at all, from this machine, by nobody's forged form."""

import logging
import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from http import HTTPStatus
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from werkzeug.test import Client, TestResponse

from stockroom.errors import RefusedError
from stockroom.flows.book.check import check
from stockroom.flows.book.opening import begun, new_book, settings
from stockroom.flows.book.safekeeping import back_up
from stockroom.flows.loading import first_steps
from stockroom.flows.loading.list_tables import TABLES
from stockroom.web import first_run, server
from stockroom.web.access import Passcodes
from stockroom.web.app import make_app
from stockroom.web.first_run import FirstRun
from stockroom.web.security_log import LOGGER, SecurityLog
from stockroom.web.server import LOOPBACK, Where, make_site
from stockroom.web.site import Entrance
from tests.postgres import Server
from tests.unit.web.conftest import Asleep

NOON = datetime(2026, 1, 6, 12, 0)
SHOP = {"name": "Example", "country": "DE", "open": ["Mon", "Tue"], "way": "starter"}


@dataclass
class Newcomer:
    """Somebody at the first page."""

    pages: FirstRun
    language: str = "en"
    client: Client = field(init=False)

    def __post_init__(self) -> None:
        self.client = Client(self.pages)

    def get(self, address: str = "/") -> TestResponse:
        return self.client.get(address, headers={"Accept-Language": self.language})

    @property
    def token(self) -> str:
        found = re.search(r'name="csrf" value="([^"]+)"', self.get().text)
        assert found is not None
        return found[1]

    def begins(self, **more: Any) -> TestResponse:
        fields = SHOP | {"csrf": self.token} | more
        return self.client.post("/begin", data=fields, headers={"Accept-Language": self.language})


@pytest.fixture
def place(tmp_path: Path) -> str:
    return str(tmp_path / "shop.sqlite")


@pytest.fixture
def start(place: str) -> Iterator[Callable[..., Newcomer]]:
    logging.getLogger(LOGGER).propagate = True
    at = Entrance(now=lambda: NOON, hosts=LOOPBACK, passcodes=Passcodes(read=dict), log=SecurityLog(now=lambda: NOON))
    made: list[FirstRun] = []

    def started(language: str = "en", where: str = place) -> Newcomer:
        made.append(FirstRun(where, at, lambda book: make_app(make_site(book, LOOPBACK, Asleep()))))
        return Newcomer(made[-1], language)

    yield started
    for each in made:
        if each.book is not None:
            each.book.close()


def test_a_shop_is_begun_and_its_own_pages_answer_from_then_on(start: Callable[..., Newcomer], place: str) -> None:
    new = start("de-AT,de;q=0.8")
    assert '<option value="AT" selected>Österreich</option>' in new.get().text
    answer = new.begins(country="AT", tax="")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/start?way=starter")
    book = new.pages.book
    assert book is not None
    shop = settings(book)
    assert (shop.name, shop.currency, shop.locale, shop.tax_rate) == ("Example", "EUR", "de_AT", Decimal(20))
    assert (shop.open_weekdays, shop.start) == ("Mon Tue", date(2026, 1, 6))
    assert "Halbsohlen" in new.get("/lists/materials").text
    assert check(book).faults == ()


def test_who_was_there_before_stays_signed_in_and_keeps_the_language(start: Callable[..., Newcomer]) -> None:
    """The key that signed the first page's session is the book's from then on: its token still fits."""
    new = start("en")
    token = new.token
    new.client.post("/language", data={"csrf": token, "language": "de"})
    new.begins(csrf=token)
    done = new.client.post("/lists/jobs/table", data={"csrf": token, "week:HALF": "7", "price:HALF": "40"})
    assert done.status_code == 303
    assert "Geführter Einstieg" in new.get("/start").text


@pytest.mark.parametrize("way", ["files", "empty"])
def test_a_book_may_begin_with_nothing(start: Callable[..., Newcomer], way: str) -> None:
    new = start()
    assert new.begins(way=way).headers["Location"] == f"/start?way={way}"
    page = new.get(f"/start?way={way}").text
    assert "Download the templates" in page
    assert new.client.get("/start/templates").data[:2] == b"PK"
    assert all(new.get(f"/lists/{stem}/table").status_code == HTTPStatus.OK for stem in TABLES)


def test_the_first_form_says_what_is_wrong_beside_its_field(start: Callable[..., Newcomer], place: str) -> None:
    new = start()
    wrong = SHOP | {"csrf": new.token, "name": " ", "tax": "much", "open": []}
    said = new.client.post("/begin/check", data=wrong, headers={"X-Stockroom-Queue": "1"}).get_json()
    assert set(said["faults"]) == {"name", "tax", "open"}
    answer = new.begins(tax="much")
    assert answer.status_code == HTTPStatus.BAD_REQUEST
    assert re.search(r'data-fault="tax"[^>]*>[^<]+<', answer.text)
    assert 'value="much"' in answer.text
    assert not begun(place)


def test_a_backup_is_put_back_on_a_new_machine(start: Callable[..., Newcomer], place: str, tmp_path: Path) -> None:
    first = start("en", str(tmp_path / "old.sqlite"))
    first.begins(name="Put back")
    assert first.pages.book is not None
    made = back_up(first.pages.book, tmp_path / "backups", NOON).path
    new = start()
    for name, content in (
        ("", b""),
        ("torn.sqlite", made.read_bytes()[: made.stat().st_size // 2]),
        ("no.sqlite", b"no"),
    ):
        sent = {"csrf": new.token, "backup": (BytesIO(content), name)}
        assert new.client.post("/begin/backup", data=sent).status_code == 400
        assert not begun(place), "what can't be put back leaves nothing"
    sent = {"csrf": "forged", "backup": (BytesIO(made.read_bytes()), "book.sqlite")}
    assert new.client.post("/begin/backup", data=sent).status_code == 403
    sent = {"csrf": new.token, "backup": (BytesIO(made.read_bytes()), "book.sqlite")}
    assert new.client.post("/begin/backup", data=sent).status_code == 303
    assert new.pages.book is not None
    assert settings(new.pages.book).name == "Put back"
    assert check(new.pages.book).faults == ()


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"name": " "}, "The shop has no name."),
        ({"country": "XX"}, "There is no such country."),
        ({"open": []}, "No opening day was chosen."),
        ({"way": "other"}, "What the book begins with was not chosen."),
        ({"tax": "many"}, "tax rate"),
        ({"country": "US"}, "The usual tax rate of this country"),
    ],
)
def test_what_is_missing_is_said_and_nothing_is_begun(
    start: Callable[..., Newcomer], place: str, wrong: dict[str, Any], said: str
) -> None:
    new = start()
    answer = new.begins(**wrong)
    assert answer.status_code == 400
    assert said in answer.text
    assert not Path(place).exists()


def test_no_forged_form_begins_a_book(start: Callable[..., Newcomer], place: str) -> None:
    new = start()
    token = new.token
    forged: list[tuple[dict[str, Any], dict[str, str]]] = [
        (SHOP, {}),
        (SHOP | {"csrf": token[:-1] + "~"}, {}),
        (SHOP | {"csrf": token}, {"Sec-Fetch-Site": "cross-site"}),
        (SHOP | {"csrf": token}, {"Origin": "https://elsewhere.example"}),
        (SHOP | {"csrf": token}, {"Host": "elsewhere.example"}),
    ]
    for fields, headers in forged:
        assert new.client.post("/begin", data=fields, headers=headers).status_code in (400, 403)
    assert new.client.get("/", headers={"Host": "elsewhere.example"}).status_code == 400
    assert not Path(place).exists()


def test_other_addresses_lead_to_the_first_page(start: Callable[..., Newcomer]) -> None:
    assert start().get("/tickets").headers["Location"] == "/"


def test_a_book_begun_elsewhere_meanwhile_is_opened_and_never_begun_again(
    start: Callable[..., Newcomer], place: str
) -> None:
    one, other = start(), start()
    token = other.token
    one.begins(name="First")
    answer = other.client.post("/begin", data=SHOP | {"csrf": token, "name": "Second"})
    assert answer.status_code == 400
    assert other.get().headers["Location"] == "/"
    assert other.pages.book is not None
    assert settings(other.pages.book).name == "First"


def test_a_start_cut_short_leaves_no_book(
    start: Callable[..., Newcomer], place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(first_run, "enter_starter", _fails)
    new = start()
    assert new.begins().status_code == 500
    assert not begun(place)
    monkeypatch.undo()
    assert new.begins().status_code == 303


def _fails(*_given: object, **_named: object) -> None:
    raise RuntimeError("no power")


_KILLED = """
import os, signal
from datetime import datetime
from stockroom.flows.book.opening import new_book
from stockroom.flows.loading.starter import enter_starter
def fill(session):
    enter_starter(session, datetime(2026, 1, 6))
    os.kill(os.getpid(), signal.SIGKILL)
new_book({place!r}, fill=fill)
"""


@pytest.mark.kills
def test_a_kill_at_the_last_moment_leaves_no_book(place: str) -> None:
    done = subprocess.run([sys.executable, "-c", _KILLED.format(place=place)], check=False, env=os.environ)
    assert done.returncode == -signal.SIGKILL
    assert Path(place).exists()
    assert not begun(place)
    new_book(place).close()
    assert begun(place)


def test_on_a_server_too_it_is_begun_once_and_whole(
    start: Callable[..., Newcomer], server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = server.create("first")
    new = start(where=address)
    assert not begun(address)
    monkeypatch.setattr(first_run, "enter_starter", _fails)
    assert new.begins().status_code == 500
    assert not begun(address)
    monkeypatch.undo()
    assert new.begins().status_code == 303
    assert begun(address)
    assert new.pages.book is not None
    assert first_steps.never_moved(new.pages.book)


@pytest.mark.parametrize(
    "where",
    [
        Where(host="0.0.0.0", port=0),  # noqa: S104 -- refused
        Where(host="127.0.0.1", port=0, secure=True),
        Where(host="127.0.0.1", port=0, names=("shop.example",)),
    ],
)
def test_a_book_is_begun_on_this_machine_only(place: str, where: Where) -> None:
    with pytest.raises(RefusedError, match="begun on this machine only"):
        server.begin(place, where, log=None, told=lambda _: pytest.fail("opened"))


def test_where_something_of_a_lost_book_lies_none_is_begun(place: str) -> None:
    Path(f"{place}-wal").write_bytes(b"pages")
    with pytest.raises(Exception, match="There is no book"):
        begun(place)
