"""Every form of every page, sent by every role in every forged way: nothing is entered, and nothing breaks."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from werkzeug.test import TestResponse

import stockroom.web
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


# Entries that can't wait on a device, since their answer decides what is done next, or what they are about may have
# changed by then. They are sent only where the shop answers; otherwise that is said at once, and what was typed stays.
NEED_THE_SHOP = {
    "a number is given, and written on the piece": {"kept.store_offcut", "kept.trim_offcut"},
    "what is ticked is held against what is there now": {"kept.tick_offcuts", "count.settle", "count.drop"},
    "the customer is told at once": {"counter.customer_return", "tickets.cancel", "tickets.change", "counter.sent"},
    "a step of the office, or of setting up": {
        "accounts.add_rate", "accounts.add_site", "accounts.save_numbers", "backtest.start", "count.print_sheet",
        "counter.move", "counter.shelf_price", "documents.charge_later", "documents.correct_price",
        "documents.send_back", "documents.undo_document", "forecast_report.start", "lists.remove", "lists.save",
        "lists.save_table",
        "loading.enter", "loading.look_through", "money.outline", "orders.desk", "orders.end", "orders.place",
        "periods.close", "planning.move", "safekeeping.backup", "safekeeping.check",
        "safekeeping.export", "safekeeping.forget", "safekeeping.look_into", "safekeeping.restore", "settings.change",
        "settings.passcode", "tickets.make_recipe", "usage.answer",
    },
    "the shop has just been asked, on a page of its own": {"tickets.take_in"},
    "the door": {"door.choose_language", "door.let_in", "door.sign_out"},
}  # fmt: skip
OWN_PAGES = {"begin.html", "doubt.html"}  # before there is a book; the same entry once more


def test_whatever_the_bench_enters_can_wait_or_says_that_it_cannot() -> None:
    """Each form is kept on the device, or stands here with why not: a new one is decided about."""
    folder = Path(stockroom.web.__file__).parent / "templates"
    forms = [
        (path.name, form, tuple(re.findall(r"url_for\('([\w.]+)'", form)))
        for path in sorted(folder.glob("*.html"))
        for form in re.findall(r'<form[^>]*method="post"[^>]*(?:\{%[^%]*%\}[^>]*)*>', path.read_text(encoding="utf-8"))
        if path.name not in OWN_PAGES and not path.name.startswith("start_")
    ]
    assert len(forms) > 60
    without = {page for _, form, pages in forms if "data-keep" not in form for page in pages[:1]}
    assert without == set().union(*NEED_THE_SHOP.values())
