"""Every form of every page, sent by every role in every forged way: nothing is entered, and nothing breaks."""

from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask
from werkzeug.test import TestResponse

from stockroom.store import ledger
from stockroom.store.book import Book
from stockroom.web.access import allowed
from stockroom.web.site import Site
from tests.nasty.attacks import HONEST
from tests.unit.web.conftest import Visitor, visitor

Forged = Callable[[Visitor, str, dict[str, Any]], TestResponse]
ROLES = ("", "bench", "owner", "accountant")


def _send(who: Visitor, address: str, fields: dict[str, Any], **headers: str) -> TestResponse:
    return who.client.post(address, data=fields, headers=headers)


FORGERIES: dict[str, Forged] = {
    "without a token": _send,
    "with an empty token": lambda who, address, fields: _send(who, address, fields | {"csrf": ""}),
    "with a wrong token": lambda who, address, fields: _send(who, address, fields | {"csrf": who.token[:-1] + "~"}),
    "with a long token": lambda who, address, fields: _send(who, address, fields | {"csrf": "é" * 5000}),
    "from another site": lambda who, address, fields: _send(
        who, address, fields | {"csrf": who.token}, **{"Sec-Fetch-Site": "cross-site"}
    ),
    "from another origin": lambda who, address, fields: _send(
        who, address, fields | {"csrf": who.token}, Origin="https://elsewhere.example"
    ),
    "to another name": lambda who, address, fields: _send(
        who, address, fields | {"csrf": who.token}, Host="elsewhere.example"
    ),
}


def _posts(app: Flask) -> list[tuple[str, frozenset[str]]]:
    rules = [rule for rule in app.url_map.iter_rules() if "POST" in (rule.methods or ())]
    return sorted(
        (rule.rule.replace("<", "").replace(">", ""), allowed(app.view_functions[rule.endpoint])) for rule in rules
    )


def _head(book: Book) -> tuple[int, str]:
    with book.reading() as session:
        return ledger.head(session)


@pytest.mark.parametrize("forgery", FORGERIES)
def test_no_forged_form_enters_anything_whoever_sends_it(guarded: Flask, site: Site, forgery: str) -> None:
    before, attempts = _head(site.book), 0
    for role in ROLES:
        who = visitor(guarded, role)
        who.get("/sign-in")
        for address, _ in _posts(guarded):
            answer = FORGERIES[forgery](who, address, HONEST | {"key": f"{forgery} {role} {address}"})
            attempts += 1
            assert answer.status_code in (400, 403), (role, address, answer.status_code)
    assert attempts >= 4 * 20
    assert _head(site.book) == before


def test_no_role_sends_what_is_not_its_own(guarded: Flask, site: Site) -> None:
    before = _head(site.book)
    for role in ROLES:
        who = visitor(guarded, role)
        for address, roles in _posts(guarded):
            if role not in roles:
                assert who.post(address, **HONEST).status_code == 403, (role, address)
    assert _head(site.book) == before
