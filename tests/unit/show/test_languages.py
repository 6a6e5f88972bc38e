"""What leaves the shop, or is read on paper, is in the shop's language."""

import pickle
import re
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from stockroom.phrases import phrase, plural
from stockroom.show.count_sheets import sheet_html
from stockroom.show.formats import Formats
from stockroom.show.languages import language_of, locale_for, say
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


@pytest.mark.parametrize(
    ("locale", "tongue", "used_to"),
    [
        ("de_DE", "de", "de_DE"), ("de_DE", "en", "en_DE"), ("de-AT", "en", "en_AT"), ("fr_CH", "de", "de_CH"),
        ("en_IE", "de", "de"), ("en_US", "en", "en_US"), ("fr_FR", "en", "fr_FR"), ("de", "en", "en_001"),
    ],
)  # fmt: skip
def test_a_reader_is_used_to_his_language_as_the_country_writes_it(locale: str, tongue: str, used_to: str) -> None:
    """Which locales there are is CLDR's to say: it has English for Germany, no German for Ireland."""
    assert locale_for(locale, tongue) == used_to


PLACES = st.sampled_from(["en_IE", "de_DE", "de_CH", "fr_FR", "en_DE", "en_001", "sv_SE"]).map(
    lambda x: Formats(locale=x)
)
DAYS = st.dates(date(2000, 1, 1), date(2100, 1, 1))


@given(PLACES, PLACES, st.integers(-(10**9), 10**9), DAYS, st.decimals(-(10**6), 10**6, places=3))
def test_a_figure_is_written_anew_as_if_it_had_been_written_so(
    shop: Formats, reader: Formats, minor: int, day: date, number: Decimal
) -> None:
    """Alone, in a sentence within a sentence, and after a journey between processes; the shop's own text stays."""
    made: list[tuple[str, str]] = [
        (shop.money(minor), reader.money(minor)), (shop.day(day), reader.day(day)), (shop.month(day), reader.month(day)),
        (shop.number(number, 1), reader.number(number, places=1)), (shop.percent(number), reader.percent(number)),
        (shop.round_money(float(number)), reader.round_money(float(number))), (shop.hours(minor), reader.hours(minor)),
        (str(shop.amount(minor, UNITS["l"])), str(reader.amount(minor, UNITS["l"]))),
    ]  # fmt: skip
    for written, anew in made[:-1]:
        inner = phrase("by %(it)s", it=written)
        whole = pickle.loads(pickle.dumps(phrase("%(inner)s!", inner=inner)))  # noqa: S301 -- our own
        assert say(written, "en", lambda: reader) == anew
        assert say(whole, "en", lambda: reader) == f"by {anew}!"
        assert str(whole) == f"by {written}!"
    assert say(shop.amount(minor, UNITS["l"]), "en", lambda: reader) == made[-1][1]
