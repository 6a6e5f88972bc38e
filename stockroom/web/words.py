"""The pages' words in other languages: gettext catalogues, read from their sources once."""

from collections.abc import Mapping
from datetime import date, datetime
from enum import StrEnum
from functools import cache
from gettext import GNUTranslations, NullTranslations
from io import BytesIO
from pathlib import Path
from typing import Any

from flask import Flask, g, session

from stockroom.phrases import Named, Number, Phrase, filled
from stockroom.stock.materials import FAMILIES, Family
from stockroom.stock.quantities import Quantity
from stockroom.web.site import formats, shop

FOLDER = Path(__file__).parent / "locale"
LANGUAGES = {"en": "English", "de": "Deutsch"}


def words(text: str, **facts: object) -> str:
    """Say a text in the reader's language; facts are put in where it names them, as in '%(name)s'."""
    return filled(translations(language()).gettext(text), _said(facts))


def counted(one: str, many: str, number: int, **facts: object) -> str:
    """Say a text for one or several, in the reader's language; the number itself is '%(num)s'."""
    return filled(translations(language()).ngettext(one, many, number), _said({"num": number} | facts))


def said(text: str, tongue: str = "") -> str:
    """Say what was worded below the doors in the reader's language, or another; any other text stays as it is."""
    if not isinstance(text, Phrase | StrEnum):
        return text
    speak = translations(tongue or language())
    if isinstance(text, StrEnum):
        return speak.gettext(text.label if isinstance(text, Named) else text.value)
    if text.many:
        pattern = speak.ngettext(text.pattern, text.many, text.number)
    else:
        pattern = speak.gettext(text.pattern) if text.pattern else ""
    return filled(pattern, _said(text.facts, tongue)).rstrip(text.trim)


def _said(facts: Mapping[str, object], tongue: str = "") -> dict[str, object]:
    return {name: _fact(fact, tongue) for name, fact in facts.items()}


def _fact(fact: object, tongue: str) -> object:
    """Write a fact as the pages do: days and amounts by the shop's locale, names of states in the language."""
    if isinstance(fact, str):
        return said(fact, tongue)
    if isinstance(fact, datetime):
        return formats().moment(fact)
    if isinstance(fact, date):
        return formats().day(fact)
    if isinstance(fact, Number):
        return formats().number(fact, 0)
    return said(formats().amount(fact.nano, fact.dimension.base), tongue) if isinstance(fact, Quantity) else fact


def family(name: str) -> str:
    """Name a family of materials in the reader's language."""
    return said(Family(name)) if name in FAMILIES else name


def language() -> str:
    """Give the reader's language: chosen at the page, or the shop's."""
    if "language" not in g:
        said = chosen() or shop().locale[:2]
        g.language = said if said in LANGUAGES else "en"
    return str(g.language)


def chosen() -> str:
    """Give the language chosen at the page, if one was."""
    said = str(session.get("language", ""))
    return said if said in LANGUAGES else ""


@cache
def translations(tongue: str) -> NullTranslations:
    """Read a language's catalogue."""
    source = FOLDER / tongue / "LC_MESSAGES" / "pages.po"
    if not source.exists():
        return NullTranslations()
    from babel.messages.mofile import write_mo  # noqa: PLC0415 -- only another language than English needs it
    from babel.messages.pofile import read_po  # noqa: PLC0415 -- as above

    made = BytesIO()
    with source.open("rb") as file:
        write_mo(made, read_po(file, locale=tongue))
    made.seek(0)
    return GNUTranslations(made)


def speak(app: Flask) -> None:
    """Let an app's templates speak."""
    app.jinja_env.add_extension("jinja2.ext.i18n")
    app.jinja_env.finalize = lambda shown: said(shown) if isinstance(shown, Phrase) else shown
    app.jinja_env.filters.update(said=said, family=family)
    environment: Any = app.jinja_env  # the extension gives it a method more
    environment.install_gettext_callables(
        lambda text: translations(language()).gettext(text),
        lambda one, many, number: translations(language()).ngettext(one, many, number),
        newstyle=True,
    )
    app.jinja_env.globals["languages"] = LANGUAGES
    app.jinja_env.globals["language"] = language
