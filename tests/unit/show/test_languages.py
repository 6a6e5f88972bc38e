"""What leaves the shop, or is read on paper, is in the shop's language."""

import re
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO

import pytest
from openpyxl import load_workbook

from stockroom.phrases import phrase, plural
from stockroom.show.count_sheets import sheet_html
from stockroom.show.formats import Formats
from stockroom.show.languages import language_of
from stockroom.show.order_form import OrderFacts
from stockroom.show.orders import order_format
from stockroom.show.receipts import receipt_html, receipt_text
from stockroom.stock.quantities import NANO, UNITS
from stockroom.stock.receipts import Receipt, ReceiptLine
from stockroom.stock.shop import Shop
from stockroom.stock.tax import Taxed
from tests.contract.test_orders import FACTS, ORDER
from tests.unit.show.samples import SHEET

GERMAN = Formats(locale="de_AT")
ENGLISH = r"\b(the|of|to|from|order|total|carriage|goods|date|expected|hazards?|price|pack|count|counted|sheet|write|where|made|done|amount|time|each|your|flammable|keep)\b"


def plain(html: str) -> str:
    return re.sub(r"<style>.*?</style>|<[^>]+>", " ", html, flags=re.DOTALL)


def in_german() -> OrderFacts:
    return OrderFacts(
        shop=FACTS.shop, supplier=FACTS.supplier, materials=FACTS.materials, formats=GERMAN, tax=3400
    )  # fmt: skip


def left_english(text: str, *ours: str) -> list[str]:
    """Give the English words left once what the shop itself typed is taken out."""
    for typed in ours:
        text = text.replace(typed, "")
    return re.findall(ENGLISH, text, re.IGNORECASE)


TYPED = (ORDER.note, "Contact cement, all purpose", "Rubber top piece, 45 mm", "tin of 5 l", "The Last Bench")


def test_an_order_goes_to_the_supplier_in_the_shops_language() -> None:
    text = order_format("text").render(ORDER, in_german()).decode()
    assert "Bestellung P-14" in text
    assert "Summe mit Steuer" in text
    assert left_english(text, *TYPED) == []
    sheet = load_workbook(BytesIO(order_format("xlsx").render(ORDER, in_german()))).active
    assert sheet is not None
    words = [str(cell) for row in sheet.iter_rows(values_only=True) for cell in row if isinstance(cell, str)]
    assert "Ihre Artikelnummer" in words
    assert left_english("\n".join([sheet.title, *words]), *TYPED) == []


def test_a_count_sheet_on_paper_is_in_the_shops_language() -> None:
    text = sheet_html(SHEET, GERMAN)
    assert '<html lang="de">' in text
    names = [each for line in SHEET.lines for each in (line.name, line.material, line.place, line.aid, line.hint)]
    assert left_english(plain(text), SHEET.shop, *filter(None, names)) == []


@pytest.mark.parametrize(("locale", "language"), [("de_DE", "de"), ("en_IE", "en"), ("fr_FR", "en"), ("", "en")])
def test_a_language_nobody_wrote_words_for_is_english(locale: str, language: str) -> None:
    assert language_of(locale) == language


def test_facts_are_written_as_the_shop_writes_them() -> None:
    said = GERMAN.say(phrase("Stock at the end of %(day)s", day=date(2026, 1, 31)))
    assert said == f"Bestand am Ende des {GERMAN.day(date(2026, 1, 31))}"
    assert GERMAN.say("typed by the owner") == "typed by the owner"
    assert GERMAN.say(GERMAN.amount(2_000_000_000, next(iter(SHEET.lines)).unit)) != ""
    assert GERMAN.say(plural("%(num)s item", "%(num)s items", 3)) != "3 items"
    assert Formats().say(phrase("Receipt %(number)s", number=Decimal(3))) == "Receipt 3"
    assert GERMAN.moment(datetime(2026, 1, 31, 9, 5)) in GERMAN.say(
        phrase("%(shop)s, made %(moment)s", shop="x", moment=GERMAN.moment(datetime(2026, 1, 31, 9, 5)))
    )


def test_a_receipt_is_in_the_customers_tongue() -> None:
    shop = Shop(name="Die Bank", locale="de_AT", tax_registered=True)
    tax = Taxed(net=1000, tax=200, gross=1200, per_cent=Decimal(20))
    lines = (
        ReceiptLine(what="Absätze", nano=None, unit=None, tax=tax),
        ReceiptLine(what="Creme", nano=-2 * NANO, unit=UNITS["pair"], tax=Taxed(net=-500, tax=-100, gross=-600, per_cent=Decimal(20))),
    )  # fmt: skip
    made = Receipt(number=7, shop=shop, happened=datetime(2026, 1, 31, 9, 5), about="12", lines=lines, discount=100)
    text = receipt_text(made, GERMAN)
    assert left_english(text) == []
    assert all(word in text for word in ("Quittung 7", "Auftrag 12", "Zurück: Creme, 1 Paar", "Summe", "20% Steuer"))
    assert '<html lang="de">' in receipt_html(made, GERMAN)
