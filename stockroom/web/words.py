"""The pages' words in other languages: gettext catalogues, read from their sources once."""

from functools import cache
from gettext import GNUTranslations, NullTranslations
from io import BytesIO
from pathlib import Path
from typing import Any

from flask import Flask, g, session

from stockroom.web.site import shop

FOLDER = Path(__file__).parent / "locale"
LANGUAGES = {"en": "English", "de": "Deutsch"}


def words(text: str, **facts: object) -> str:
    """Say a text in the reader's language; facts are put in where it names them, as in '%(name)s'."""
    said = translations(language()).gettext(text)
    return said % facts if facts else said


def counted(one: str, many: str, number: int, **facts: object) -> str:
    """Say a text for one or several, in the reader's language; the number itself is '%(num)s'."""
    return translations(language()).ngettext(one, many, number) % ({"num": number} | facts)


def language() -> str:
    """Give the reader's language: chosen at the page, or the shop's."""
    if "language" not in g:
        said = str(session.get("language") or shop().locale[:2])
        g.language = said if said in LANGUAGES else "en"
    return str(g.language)


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
    environment: Any = app.jinja_env  # the extension gives it a method more
    environment.install_gettext_callables(
        lambda text: translations(language()).gettext(text),
        lambda one, many, number: translations(language()).ngettext(one, many, number),
        newstyle=True,
    )
    app.jinja_env.globals["languages"] = LANGUAGES
    app.jinja_env.globals["language"] = language
