"""The languages that people are spoken to in: gettext catalogues, read from their sources once."""

import re
from collections.abc import Callable, Mapping
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from functools import cache
from gettext import GNUTranslations, NullTranslations
from io import BytesIO
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from stockroom.phrases import Figure, Named, Number, Phrase, filled
from stockroom.stock.quantities import Quantity

if TYPE_CHECKING:
    from stockroom.show.formats import Formats

FOLDER = Path(__file__).parents[1] / "web" / "locale"  # beside the pages, which say the most
ENGLISH = "en"
_ALONE = {ENGLISH: "en_001"}  # English of the world: 27 Nov 2026, not Nov 27, 2026
LANGUAGES = {ENGLISH: "English", "de": "Deutsch"}


def language_of(locale: str) -> str:
    """Give the language of a locale, such as 'de' for 'de_AT'; English where there is no catalogue of it."""
    return locale[:2] if locale[:2] in LANGUAGES else ENGLISH


def locale_for(locale: str, tongue: str) -> str:
    """Give the locale whose figures and days a reader of a language is used to, in a shop of a locale.

    The shop's own, where that is his language (or where the shop's language isn't spoken here, and he reads another);
    else his language as the shop's country writes it, such as 'en_DE', where that is known; else his language alone.
    """
    if language_of(locale) == tongue:
        return locale
    country = re.search(r"[_-]([A-Z]{2})\b", locale)
    there = f"{tongue}_{country[1]}" if country else ""
    from babel.localedata import exists  # noqa: PLC0415 -- only for a reader of another language than the shop's

    return there if there and exists(there) else _ALONE.get(tongue, tongue)


def say(
    text: str, tongue: str, formats: "Callable[[], Formats]", reworded: Mapping[str, str] = MappingProxyType({})
) -> str:
    """Say what was worded as a phrase, or a name of ours, in a language, and write figures by the formats.

    Any other text stays as it is.

    Parameters
    ----------
    text : str
        What to say.
    tongue : str
        A key of `LANGUAGES`.
    formats : callable
        Gives the way of writing for the days and amounts among the facts; asked only where there are some.
    reworded : mapping of str to str
        Patterns that a door says in other words, also within other sentences.
    """
    if isinstance(text, Figure):
        return formats().anew(text)
    if not isinstance(text, Phrase | StrEnum):
        return text
    speak = translations(tongue)
    if isinstance(text, StrEnum):
        return speak.gettext(text.label if isinstance(text, Named) else text.value)
    if text.many:
        pattern = speak.ngettext(text.pattern, text.many, text.number)
    else:
        pattern = speak.gettext(reworded.get(text.pattern, text.pattern)) if text.pattern else ""
    return filled(pattern, say_facts(text.facts, tongue, formats, reworded)).rstrip(text.trim)


def say_facts(
    facts: Mapping[str, object],
    tongue: str,
    formats: "Callable[[], Formats]",
    reworded: Mapping[str, str] = MappingProxyType({}),
) -> dict[str, object]:
    """Write facts for a sentence: days, figures and amounts by the formats, names of states in the language."""

    def written(fact: object) -> object:
        if isinstance(fact, str):
            return say(fact, tongue, formats, reworded)
        if isinstance(fact, datetime):
            return formats().moment(fact)
        if isinstance(fact, date):
            return formats().day(fact)
        if isinstance(fact, Number | float | Decimal):
            return formats().number(fact)
        if isinstance(fact, Quantity):
            return say(formats().amount(fact.nano, fact.dimension.base), tongue, formats)
        return fact

    return {name: written(fact) for name, fact in facts.items()}


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
