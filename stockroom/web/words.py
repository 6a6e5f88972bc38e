"""The pages' words in the reader's language: chosen at the page, or the shop's."""

import re
from typing import Any

from flask import Flask

from stockroom.phrases import Figure, Phrase, filled
from stockroom.show.languages import LANGUAGES, say, say_facts, translations
from stockroom.stock.materials import FAMILIES, Family
from stockroom.web.at_the_page import AT_THE_PAGE
from stockroom.web.site import chosen as chosen  # noqa: PLC0414 -- offered on
from stockroom.web.site import formats
from stockroom.web.site import language as language  # noqa: PLC0414 -- as above

_SQUARE = re.compile(r"(?<=\d )(dm|cm|m)2\b")  # typed without the small figure, read with it


def words(text: str, **facts: object) -> str:
    """Say a text in the reader's language; facts are put in where it names them, as in '%(name)s'."""
    return squared(filled(translations(language()).gettext(text), say_facts(facts, language(), formats, AT_THE_PAGE)))


def counted(one: str, many: str, number: int, **facts: object) -> str:
    """Say a text for one or several, in the reader's language; the number itself is '%(num)s'."""
    return filled(
        translations(language()).ngettext(one, many, number),
        say_facts({"num": number} | facts, language(), formats, AT_THE_PAGE),
    )


def said(text: str, tongue: str = "") -> str:
    """Say what was worded below the doors in the reader's language, or another, its figures as he is used to them."""
    tongue = tongue or language()
    spoken = say(text, tongue, lambda: formats(tongue), AT_THE_PAGE)
    return squared(spoken) if isinstance(text, Phrase) else spoken


def squared(spoken: str) -> str:
    """Write the areas in a sentence as they are read: '8.5 dm²'."""
    return _SQUARE.sub(r"\1²", spoken)


def family(name: str) -> str:
    """Name a family of materials in the reader's language."""
    return said(Family(name)) if name in FAMILIES else name


def speak(app: Flask) -> None:
    """Let an app's templates speak."""
    app.jinja_env.add_extension("jinja2.ext.i18n")
    app.jinja_env.finalize = lambda shown: said(shown) if isinstance(shown, Phrase | Figure) else shown
    app.jinja_env.filters.update(said=said, family=family)
    environment: Any = app.jinja_env  # the extension gives it a method more
    environment.install_gettext_callables(
        lambda text: translations(language()).gettext(text),
        lambda one, many, number: translations(language()).ngettext(one, many, number),
        newstyle=True,
    )
    app.jinja_env.globals["languages"] = LANGUAGES
    app.jinja_env.globals["language"] = language
