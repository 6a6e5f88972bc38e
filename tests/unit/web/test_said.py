"""What the rooms below the pages say, in the reader's language: reasons, differences, causes, errors, charts."""

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from io import BytesIO

import pytest
from flask import Flask

from stockroom.buying.reasons import more, warning
from stockroom.buying.reasons import sentence as sentence_of
from stockroom.counting.lessons import LessonAdvice, Span
from stockroom.counting.proposals import Proposal, Voice, sentence
from stockroom.flows.book.audit_log import note_in
from stockroom.flows.book.opening import settings
from stockroom.flows.counts.settle import take_count
from stockroom.phrases import joined, phrase, plural
from stockroom.show.formats import AMOUNTS, Formats, unit_word
from stockroom.stock.audit_log import LogLine
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.materials import FAMILIES
from stockroom.stock.orders import OrderState
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import UNITS, quantity
from stockroom.web.background import Beside
from stockroom.web.site import Site
from stockroom.web.words import language, said, words
from tests.unit.buying.problems import small_ask, stocked
from tests.unit.buying.test_reasons import PlainWords, given
from tests.unit.web.conftest import NOON, Visitor
from tests.unit.web.test_orders import CEMENT

PAGES = (
    "/", "/tickets", "/tickets/card?number=1001", "/jobs", "/counter", "/shelf", "/shelf/material?code=CEMENT",
    "/run-outs?all=1", "/orders", "/orders/desk", "/orders/desk/supplier?supplier=NORTH", "/orders/card?number=O-0001",
    "/documents", "/count", "/count/place?place=B1", "/usage", "/margins?period=2026-01", "/workbook", "/back-test",
    "/labels", "/hazards", "/load", "/settings", "/more", "/bench", "/parcels", "/run-outs/jobs", "/orders/without",
    "/count/report", "/count/worth", "/margins/alerts", "/margins/cut-or-buy", "/year-ahead", "/stock-or-delays", "/periods",
    "/safekeeping", "/safekeeping/restore", "/tax-and-accounts", "/forecast-report", "/offcuts", "/lent", "/lists",
    "/lists/materials", "/documents/may-go-back", "/lists/recipes/of?job=HEELS", "/start", "/lists/suppliers/table", "/lists/materials/table",
    "/lists/jobs/table", "/lists/recipes/table", "/start/count",
    "/start/orders", "/start/passcodes", "/saved", "/no-connection", "/sign-in",
)  # fmt: skip
NO_PAGES = re.compile(
    r"/state$|\.svg$|^/queue/|^/worker\.js$|^/start/templates$|^/workbook/file$|^/periods/stock-list$|^/year-ahead/file$|^/orders/print$|^/static/|<"
)  # for scripts, files, the supplier
NEED_A_NAME = {
    "/count/bin",
    "/count/sheet",
    "/counter/receipt",
    "/documents/delivery",
    "/jobs/card",
    "/orders/document",
    "/orders/desk/why",
}
OWN = re.compile(r"Tannery by the ford|bag of \d+ pairs")  # the shop's own words
ENGLISH = re.compile(
    r"\b(the|is|are|not|with|about|from|than|until|there|counted|late|runs?|lasts?|order|pieces?|pairs?|every)\b"
)

NAMES = (
    {*FAMILIES, *AMOUNTS, *map(unit_word, UNITS.values()), "dm2", "m2", "fifo", "average", "done", "refused"}
    - set("mgl")
    - {"cm", "mm", "ml", "kg"}
)


@pytest.fixture
def german(owner: Visitor) -> Visitor:
    owner.does("/language", language="de", then="/")
    return owner


@pytest.fixture
def request_in_german(app: Flask) -> Iterator[None]:
    with app.test_request_context("/"):
        from flask import session

        session["language"] = "de"
        assert language() == "de"
        yield


def test_work_on_no_price_list_is_offered_in_german(german: Visitor) -> None:
    assert "Andere Arbeit" in german.reads("/jobs?to=take-in")


@pytest.mark.usefixtures("request_in_german")
def test_facts_are_put_in_as_the_reader_says_them() -> None:
    assert said(phrase("Order %(number)s is %(state)s.", number="O-1", state=OrderState.PLACED)) == (
        "Bestellung O-1 ist offen."
    )
    assert said(phrase("Order by %(day)s.", day=date(2026, 3, 31))) == "Bestellen bis 31.03.2026."
    assert said(phrase("Order by %(day)s.", day=datetime(2026, 3, 31, 14, 5))).startswith("Bestellen bis 31.03.2026 ")
    assert (
        said(phrase("%(material)s: %(doubt)s", material="X", doubt=phrase("Lasts beyond the outlook.")))
        == "X: Reicht über die Vorschau hinaus."
    )
    assert said(phrase("Lasts until about %(day)s.", day=quantity("2.5 dm2"))) == "Reicht dann etwa bis 2,5 dm²."
    assert words("%(number)s", number=phrase("none")) == "keine"


@pytest.mark.usefixtures("request_in_german")
def test_plurals_and_units_follow_the_language() -> None:
    one, many = "Waits for order %(order)s, %(num)s day late", "Waits for order %(order)s, %(num)s days late"
    assert [said(plural(one, many, days, order="O-1")) for days in (1, 2)] == [
        "Wartet auf Bestellung O-1, 1 Tag verspätet",
        "Wartet auf Bestellung O-1, 2 Tage verspätet",
    ]
    assert said(Formats().amount(6 * 10**9, UNITS["pair"])) == "3 Paar"
    assert said(Formats().amount(6 * 10**9, UNITS["g"])) == "6 g"


@pytest.mark.usefixtures("request_in_german")
def test_what_no_phrase_is_stays_as_it_is() -> None:
    assert said("Order now.") == "Order now."  # a customer's words may be anything
    assert said(joined(["Order now.", phrase("Order now."), ""])) == "Order now. Jetzt bestellen."
    assert said(phrase("Nobody has said this before.")) == "Nobody has said this before."
    assert said(phrase("Order now."), "en") == "Order now."


@pytest.mark.usefixtures("request_in_german")
@pytest.mark.parametrize(
    ("verdict", "blurred", "ends"),
    [
        (LessonAdvice.KEEP, (), "die Materialvorgabe stimmt."),
        (LessonAdvice.LATER, (), "noch nicht sicher genug; nach 1 weiteren Zählung wieder fragen."),
        (
            LessonAdvice.LATER,
            ("edge", "waste on no ticket"),
            "von „edge“ und Schwund ohne Auftrag unterscheiden; nach 1 ",
        ),
        (
            LessonAdvice.PROPOSE,
            (),
            "4 ct mehr je Reparatur, etwa 61 ct im Jahr. Übernehmen, so lassen oder nach weiteren ",
        ),
    ],
)
def test_a_lesson_is_said_in_german(verdict: LessonAdvice, blurred: tuple[str, ...], ends: str) -> None:
    voice = Voice(material=lambda _: "Leim", amount=lambda _, g: f"{g:g} g", money=lambda minor: f"{minor:g} ct")
    voice = Voice(material=voice.material, amount=voice.amount, money=voice.money, per=phrase("a coat"))
    found = Proposal(
        material="GLUE", line="cement", recipe=20.0, use=Span(estimate=24.0, low=22.0, high=26.0), uses=90,
        verdict=verdict, extra=4.0, ask_after=1, blurred_with=blurred,
    )  # fmt: skip
    told = said(sentence(found, voice, yearly=61.0))
    assert told.startswith(
        "Leim in „cement“: Vorgabe 20 g je Schicht, laut Zählungen 24 g (22 g bis 26 g, zu 90 % sicher); "
    )
    assert ends in told


@pytest.mark.usefixtures("request_in_german")
def test_why_a_line_is_on_the_order_is_said_in_german() -> None:
    ask = stocked(small_ask(), 0.3)
    reason = given(ask)[0]
    assert reason.other is not None
    told = said(sentence_of(reason, PlainWords()))
    assert re.match(r"Geht etwa am day \d+ aus\. Erst am day \d+ bestellt, käme es etwa am day \d+: ", told)
    assert "durch verzögerte Reparaturen und entgangenen Verkauf. Reicht dann etwa bis day " in told
    assert re.search(
        r" Stattdessen \d+ x offer \d von .*: insgesamt [\d.]+ (mehr|weniger)\.$", said(more(reason, PlainWords(), ask))
    )
    late = said(warning(reason, PlainWords(), ask))
    assert late.startswith("Geht aus, bevor diese Bestellung kommen kann (etwa am day ")
    assert late.endswith("Versprechen Sie bis dahin weniger: jobs of 0.")
    ahead = replace(reason, ahead=2.0, free_carriage=9.0, packs_alone=0, lasts_until=float("inf"))
    assert (
        "Vorgezogen: 2.00 teurer als Warten, aber die Bestellung wird damit versandkostenfrei und spart 9.00."
        in said(sentence_of(ahead, PlainWords()))
    )


def test_an_error_is_said_in_german_with_what_to_do(german: Visitor) -> None:
    page = german.post("/counter/sell", material="no such thing", amount="1").text
    assert "Zu „no such thing“ passt nichts (Material)." in page
    assert "Es gibt: " in page
    assert "Schreiben Sie sie so" in german.post("/counter/sell", material="CEMENT", amount="a lot").text
    assert "Die Rolle" not in page


def test_a_cause_is_named_in_german(german: Visitor) -> None:
    german.does("/tickets/finish-job", job="HEELS", **{"used:tips": "100 Paar"})  # read as the page writes it
    page = german.reads("/")
    assert re.search(r"eine Zählung ist fällig|vielleicht fehlt ein Wareneingang", page)


def test_a_count_is_doubted_and_judged_in_german(german: Visitor, site: Site) -> None:
    line = CountLine(material="CEMENT", amount=quantity("1 l"), counted=NOON)
    take_count(site.book, Count(key="week", lines=(line,)), Stamp(key="k", happened=NOON, entered=NOON))
    page = german.reads("/count/sheet?sheet=week")
    assert re.search(r"außerhalb der Toleranz von Klasse [ABC]", page)
    assert "noch einmal zählen" in page


def test_prices_that_differ_are_named_in_german(german: Visitor) -> None:
    german.does("/orders/place", packs="1", **CEMENT)
    line = {"material": "CEMENT", "code": "N-CEMENT", "packs": "1", "cost": "45"}
    rest = dict.fromkeys(("amount", "lot", "expiry"), "")
    page = german.does("/orders/receive", number="O-0001", part="1", **line, **rest)
    assert "berechnet 45,00 €, bestellt zu 43,00 €" in page.replace("\xa0", " ")


def test_settings_are_shown_and_read_in_german(german: Visitor, site: Site) -> None:
    page = german.reads("/settings")
    assert '<option value="yes" selected>ja</option>' in page
    assert re.findall(r'name="set:open_weekdays" value="(\w+)" checked', page) == ["Di", "Mi", "Do", "Fr", "Sa"]
    page = german.does("/settings", **{"set:open_weekdays": "Mo Di", "set:costing": "average", "set:tax_rate": "21"})
    assert "Geändert: Öffnungstage, Bewertung." in page
    assert settings(site.book).open_weekdays == "Mon Tue"
    assert (
        "„viel“ ist für „MwSt.-Satz in Prozent“ nicht möglich."
        in german.post("/settings", **{"set:tax_rate": "viel"}).text
    )


def test_what_was_done_and_refused_is_listed_in_german(german: Visitor, site: Site) -> None:
    typed = LogLine(when=NOON, door="command line", who="anna", device="desk", what="count", outcome="refused")
    note_in(site.book, typed)
    german.client.post("/counter/sell", data={"material": "POLISH"})
    page = german.reads("/settings")
    assert "Sprache gewählt, erledigt" in page
    assert "gefälschtes oder veraltetes Formular" in page
    assert "Seiten, Inhaber, 127.0.0.1" in page
    assert '<code>count</code>, abgewiesen · <span class="soft">Befehlszeile, anna, desk</span>' in page


def test_a_family_is_found_by_its_german_name(german: Visitor) -> None:
    assert "CEMENT" in german.reads("/shelf?q=klebstoff")
    assert "Klebstoff" in german.reads("/shelf/material?code=CEMENT")


def test_settings_keep_their_nouns_large(german: Visitor) -> None:
    assert "Währung" in german.reads("/settings")
    assert "Grenze für Brennbares in Litern" in german.reads("/settings")


@pytest.mark.parametrize(
    ("asked", "said"), [("de-AT,de;q=0.9,en;q=0.8", "de"), ("en-US,en;q=0.9,de;q=0.5", "en"), ("fr", "en"), ("", "en")]
)
def test_a_browser_starts_in_its_language(owner: Visitor, asked: str, said: str) -> None:
    assert f'<html lang="{said}">' in owner.get("/shelf", headers={"Accept-Language": asked}).text


def test_every_page_is_walked(app: Flask) -> None:
    there = {
        r.rule for r in app.url_map.iter_rules() if "GET" in (r.methods or ()) and not r.endpoint.startswith("moved.")
    }
    walked = {address.split("?")[0] for address in PAGES}
    assert {rule for rule in there if not NO_PAGES.search(rule)} - walked == NEED_A_NAME


class TestAhead:
    """With an outlook worked out."""

    @pytest.fixture
    def worker(self) -> Beside:
        return Beside(threaded=False)

    @pytest.mark.parametrize("address", PAGES)
    def test_no_page_is_mixed(self, german: Visitor, address: str) -> None:
        german.does("/settings", **{"set:costing": "average"})
        german.does("/tickets/take-in", job="RESOLE", size="EU 42", **{"choice:sole": "leather"}, promised="2026-01-09")
        german.does("/tickets/finish-job", job="HEELS", **{"used:tips": "100 pairs"})
        german.does("/orders/place", packs="1", **CEMENT)
        main = german.reads(address).split("<main")[1].split("</main>")[0]
        shown = re.sub(r"<textarea.*?</textarea>|<[^>]*>", "|", main, flags=re.DOTALL)
        assert [part for part in OWN.sub("", shown).split("|") if ENGLISH.search(part)] == []
        offered = {text.strip() for text in re.findall(r">([^<]*)</option>", main)}
        assert offered & {"yes", "no", "fifo", "value"} == set()
        assert not [name for name in NAMES if re.search(rf"· {name} *(·|<)|\d {name}\b", OWN.sub("", main))]

    def test_the_desk_says_in_german_what_orders_are_worth(self, german: Visitor) -> None:
        page = german.reads("/orders/desk")
        assert re.search(r"Diese Bestellungen kosten|Auf einen späteren Bestelltag zu warten", page)

    def test_faults_of_a_file_are_named_in_german(self, german: Visitor) -> None:
        rows = b"code,name,family,unit\nX,Y,other,furlong\nZ,,other,piece\n"
        page = german.does("/load", files=(BytesIO(rows), "materials.csv")).replace("&#39;", "'")
        assert "2 Fehler gefunden; nichts wurde geladen. Berichtigen Sie die genannten Zeilen" in page
        assert (
            "materials.csv, Zeile 2, Spalte „unit“: Keine Einheit heißt „furlong“ (gefunden: „furlong“). Einheiten: "
        ) in page
        assert "Zeile 3, Spalte „name“: Die Zelle ist leer, wird aber gebraucht. Füllen Sie sie aus: Der Name." in page

    def test_bins_worth_counting_are_explained_in_german(self, german: Visitor) -> None:
        page = german.reads("/count")
        assert re.search(r"Nie gezählt|Zuletzt gezählt vor", page)
        assert "ast counted" not in page


def test_a_change_of_lists_names_them_in_the_readers_language(owner: Visitor) -> None:
    assert "materials, offers" in owner.reads("/documents")
    owner.does("/language", language="de", then="/")
    page = owner.reads("/documents")
    assert "Materialien, Angebote" in page
    assert "recipe_line" not in page
