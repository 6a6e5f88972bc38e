"""The pages over the tiny shop's book, asked without a network."""

import logging
import re
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import count
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from stockroom.store.book import Book
from stockroom.web import access
from stockroom.web.app import make_app
from stockroom.web.background import Beside
from stockroom.web.security_log import LOGGER
from stockroom.web.server import LOOPBACK, make_site
from stockroom.web.site import NAME, Site

_marks = count(1)  # every form of every visitor has its own
NOON = datetime(2026, 1, 6, 12, 0)  # the day after the tiny shop opened: a Tuesday
CODES = {"owner": "owner of the shop", "bench": "at the bench", "accountant": "once a year"}


@dataclass
class Visitor:
    """Somebody at a page: keeps cookies, reads the token and the mark off the forms."""

    client: FlaskClient
    token: str = ""

    def get(self, address: str, **how: Any) -> TestResponse:
        """Open a page."""
        answer = self.client.get(address, **how)
        found = re.search(r'name="csrf" value="([^"]+)"', answer.text if answer.mimetype == "text/html" else "")
        self.token = found[1] if found else self.token
        return answer

    def reads(self, address: str) -> str:
        """Open a page that must be there, and read it."""
        answer = self.get(address)
        assert answer.status_code == 200, (address, answer.status_code, answer.text)
        return answer.text

    def post(self, address: str, headers: Any = None, **fields: Any) -> TestResponse:
        """Send a form with the session's token and a mark of its own."""
        if not self.token:
            self.get("/sign-in")
        sent = {"csrf": self.token, "key": f"mark {next(_marks)}"} | fields
        return self.client.post(address, data=sent, headers=headers)

    def does(self, address: str, **fields: Any) -> str:
        """Send a form that must be taken, and read the page it leads to."""
        answer = self.post(address, **fields)
        assert answer.status_code == 303, (address, answer.status_code, answer.text)
        return self.reads(answer.headers["Location"])

    def signs_in(self, role: str) -> "Visitor":
        """Sign in."""
        self.get("/sign-in")
        answer = self.post("/sign-in", passcode=CODES[role])
        assert answer.status_code == 303
        self.token = ""
        self.get("/")
        return self


class Asleep(Beside):
    """A worker that never gets to its work: most pages are quicker without the outlook."""

    def start(self, _name: str, _work: Any) -> bool:
        return False


@pytest.fixture
def worker() -> Beside:
    """The worker beside the pages; tests that are about its work take one that works on the spot."""
    return Asleep()


@pytest.fixture
def site(open_shop: Book, worker: Beside) -> Site:
    """The pages' surroundings, over the tiny shop's book on either database."""
    logging.getLogger(LOGGER).propagate = True
    return replace(make_site(open_shop, LOOPBACK, worker), now=lambda: NOON)


@pytest.fixture(scope="session")
def built() -> list[Flask]:
    """The application, built once; each test puts its own site under it."""
    return []


@pytest.fixture
def app(site: Site, built: list[Flask]) -> Flask:
    if not built:
        built.append(make_app(site))
    built[0].extensions[NAME] = site
    return built[0]


@pytest.fixture
def owner(app: Flask) -> Visitor:
    """Whoever sits at the machine of a shop without passcodes."""
    return Visitor(app.test_client())


@pytest.fixture
def guarded(app: Flask, site: Site, monkeypatch: pytest.MonkeyPatch) -> Flask:
    """The pages of a shop where everybody signs in; hashes are made quickly here."""
    monkeypatch.setattr(access, "_METHOD", "pbkdf2:sha256:1")
    for role, code in CODES.items():
        access.set_passcode(site.book, role, code)
    return app


def visitor(app: Flask, role: str = "") -> Visitor:
    made = Visitor(app.test_client())
    return made.signs_in(role) if role else made


def refused(site: Site) -> list[str]:
    """What the door noted, newest first."""
    return [line.what for line in site.log.newest()]
