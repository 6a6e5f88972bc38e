"""The invented shop's pages in German, every one that links lead to: no family, unit, setting or sentence in English."""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from html import unescape
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from stockroom.flows.book.opening import Book, open_book
from stockroom.show.formats import AMOUNTS, unit_word
from stockroom.stock.materials import FAMILIES
from stockroom.stock.quantities import UNITS
from stockroom.store import catalogue
from stockroom.web.app import make_app
from stockroom.web.background import Beside
from stockroom.web.server import LOOPBACK, make_site
from tests.end_to_end.shop import DATA, EVENING, Indoors

pytestmark = pytest.mark.slow
_APART = ("/static", "/orders/print")  # an order on paper is in the shop's language
OF_A_KIND = 4  # pages looked at that differ only in what they are about
SIGNS = {"m", "g", "l", "cm", "mm", "ml", "kg", "in", "oz", "lb", "fl oz UK", "fl oz US"}
ENGLISH = {
    *FAMILIES, *AMOUNTS, *map(unit_word, UNITS.values()), "yes", "no", "True", "False", "fifo", "value", "done", "refused",
    "the", "is", "are", "not", "with", "about", "from", "than", "until", "there", "counted", "late", "runs", "lasts",
    "order", "every", "of", "which", "more", "less", "cost", "weeks", "days", "used", "learnt", "nobody", "pages",
} - SIGNS  # fmt: skip


# What a book keeps and nobody says: a day as 2026-11-24, a decimal point, True, cut_a, usual=130.
RAW = re.compile(
    r"\b\d{4}-\d\d(?:-\d\d)?\b|(?<![\d.])\d+\.(?!\d{3}(?:[.,]\d|\D|$))\d+(?![\d.])|\b(?:True|False|None)\b"
    r"|\b[a-z]+_[a-z_]+\b|[\w%]+=[\w,.]+"
)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    desk = Indoors(tmp_path / "book.sqlite", now=EVENING)
    desk.says("new-book")
    desk.says("load", str(DATA))
    opened = open_book(str(desk.book))
    yield opened
    opened.close()


def test_no_page_of_the_invented_shop_is_mixed(book: Book) -> None:
    site = make_site(book, LOOPBACK, Beside(threaded=False))
    client = make_app(replace(site, now=lambda: datetime.fromisoformat(EVENING))).test_client()
    client.get("/")
    with client.session_transaction() as session:
        session["language"] = "de"
    own = re.compile("|".join(map(re.escape, sorted(names(book), key=len, reverse=True))))
    pages = walked(client)
    assert len(pages) > 50
    english = re.compile(rf"(?<![\w/-])({'|'.join(map(re.escape, ENGLISH))})(?![\w-])")
    mixed = {(word, address) for address, page in pages.items() for word in english.findall(own.sub("", shown(page)))}
    assert mixed == set()
    raw = {(found[0], address) for address, page in pages.items() for found in RAW.finditer(own.sub("", shown(page)))}
    assert raw == set()


def walked(client: FlaskClient) -> dict[str, str]:
    """Follow the links from the first page, a few of each kind."""
    found: dict[str, str] = {}
    waiting, kinds = ["/"], Counter[str]()
    while waiting:
        address = waiting.pop(0)
        kinds[kind := re.sub(r"=[^&]*", "", address)] += 1
        if address in found or kinds[kind] > OF_A_KIND or address.startswith(_APART):
            continue
        answer = client.get(address, buffered=True)
        if answer.mimetype == "text/html":
            assert answer.status_code == 200, address
            found[address] = answer.text
            waiting += [unescape(link) for link in re.findall(r'href="(/[^"#]*)"', answer.text)]
    return found


def shown(page: str) -> str:
    """Give what a person reads of a page; the text to a supplier is in his language, commands are typed as they are."""
    main = page.split("<main")[1].split("</main>", maxsplit=1)[0]
    plain = re.sub(r"<(textarea|code|svg).*?</\1>", "|", main, flags=re.DOTALL)
    said = re.findall(r'(?:placeholder|aria-label|alt|data-(?:keep|done))="([^"]*)"', plain)
    return unescape("|".join([re.sub(r"<[^>]*>", "|", plain), *said]))


def names(book: Book) -> set[str]:
    """What the shop's own files call things."""
    with book.reading() as session:
        materials, jobs = catalogue.read_materials(session), catalogue.read_jobs(session)
        recipes = catalogue.read_recipes(session)
        offers = catalogue.read_offers(session, catalogue.dimensions(session))
        own = {supplier.name for supplier in catalogue.read_suppliers(session)}
    own |= {text for m in materials for text in (m.name, m.place, m.code, m.colour)} | {job.name for job in jobs}
    own |= {text for r in recipes for line in r.lines for text in (line.name, line.choice, line.option)}
    return (own | {offer.pack_name for offer in offers}) - {""}
