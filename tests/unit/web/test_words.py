"""The pages in another language: nothing left out, nothing that no longer fits, figures by locale."""

import re
from collections.abc import Sequence

import pytest
from flask import Flask, g

from stockroom.errors import UnknownError
from stockroom.flows.book.opening import change_settings
from stockroom.phrases import joined, phrase
from stockroom.show.languages import LANGUAGES
from stockroom.stock.shop import Shop, shown_settings
from stockroom.web.at_the_page import AT_THE_PAGE, TYPED_THERE
from stockroom.web.site import Site
from stockroom.web.words import said
from tests.unit.web.catalogue import calls, catalogue, every_text, texts
from tests.unit.web.conftest import Visitor

OTHERS = sorted(LANGUAGES.keys() - {"en"})


def required() -> dict[str, str]:
    """Settings come and go with the shop; one without a translation shows its own name."""
    settings = {name.replace("_", " ") for name in shown_settings(Shop())}
    return {one: many for one, many in texts().items() if one not in settings}


def parts(text: str | Sequence[str] | None) -> list[str]:
    """One text, or its singular and plural."""
    return [text] if isinstance(text, str) else list(text or ())


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_is_translated(language: str) -> None:
    known = {parts(m.id)[0]: parts(m.string) for m in catalogue(language) if m.id}
    missing = sorted(one for one in required() if not all(known.get(one, [""])))
    assert missing == []


@pytest.mark.parametrize("language", OTHERS)
def test_a_translation_names_the_same_facts(language: str) -> None:
    def facts(text: str) -> list[str]:
        return sorted(re.findall(r"%\(\w+\)s|\{n\}", text))

    for message in catalogue(language):
        if message.id:
            wanted = facts(parts(message.id)[-1])
            assert all(facts(string) == wanted for string in parts(message.string)), message.id


def test_a_sentence_names_the_facts_it_is_given() -> None:
    """A pattern that asks for another fact than it gets would fail only when somebody is to read it."""
    for call in calls():
        if call.facts is not None:
            for text in call.texts:
                asked = set(re.findall(r"%\((\w+)\)s", text)) - {"num"}
                assert asked == set(call.facts), call.place


def test_errors_are_worded_in_one_piece() -> None:
    """What is put together from pieces can be said in no other language: use `phrase`, with its facts named."""
    assert [call.place for call in calls() if call.loose] == []


def test_a_shop_in_another_country_reads_its_own_language(owner: Visitor, site: Site) -> None:
    change_settings(site.book, {"locale": "de_DE"})
    page = owner.reads("/")
    assert '<html lang="de">' in page
    assert "Sofortreparatur (ohne Auftrag)" in page
    assert "Di., 6. Jan. 2026" in page
    assert "12,00" in page


def test_a_language_is_chosen_at_the_page(owner: Visitor) -> None:
    assert "Heute" in owner.does("/language", language="de", then="/")
    assert "Today" in owner.does("/language", language="en", then="/")


def test_a_strange_language_changes_nothing(owner: Visitor) -> None:
    assert "Today" in owner.does("/language", language="../../etc", then="/")


def test_plurals_follow_the_language(owner: Visitor) -> None:
    owner.does("/language", language="de", then="/")
    page = owner.does("/tickets/finish-job", job="HEELS", **{"used:tips": "100 pairs"})
    assert "1 Material hat jetzt einen negativen Buchbestand." in page


def test_no_words_of_a_page_are_for_somebody_at_the_command_line() -> None:
    """Of all that is worded where a page can reach it: a command or option is said in other words, or said there only."""
    typed = re.compile(r"\bstockroom [a-z]|(?<![\w-])--[a-z]|\b[A-Z]{4,}=|%\(command\)s")
    assert {text for text in texts() if typed.search(text)} == set()
    known = every_text()
    for typed_there, at_the_page in AT_THE_PAGE.items():
        assert typed_there in known, "nobody says it any more"
        assert facts_in(at_the_page) <= facts_in(typed_there)
    assert known.keys() >= TYPED_THERE


def facts_in(pattern: str) -> set[str]:
    return set(re.findall(r"%\((\w+)\)", pattern))


def test_a_page_says_what_to_tap_in_either_language(app: Flask) -> None:
    wrong = UnknownError(
        phrase("There is no document %(number)s.", number=7), fix="See the last ones: stockroom documents"
    )
    for tongue, fix in (("en", "See the last ones under 'Documents'."), ("de", "Die letzten stehen unter „Belege“.")):
        with app.test_request_context("/"):
            g.language = tongue
            assert said(wrong.fix) == fix
            assert said(joined(("", wrong.fix))) == fix
    assert str(wrong.fix) == "See the last ones: stockroom documents"
