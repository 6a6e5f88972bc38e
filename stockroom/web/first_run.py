"""The first page of all, while there is no book: what the shop is, and what its book begins with.

It is open to this machine only. The book is begun whole or not at all, or a backup is put back; from then on the shop's
own pages answer.
"""

import threading
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import datetime
from functools import partial
from secrets import token_hex
from typing import Any

from flask import Flask, Response, abort, g, jsonify, redirect, render_template, request, session
from werkzeug.exceptions import HTTPException

from stockroom.errors import StockroomError, UsageError
from stockroom.flows.book import safekeeping
from stockroom.flows.book.opening import (
    Book,
    Session,
    Shop,
    begun,
    changed,
    keep_session_key,
    new_book,
    open_book,
)
from stockroom.flows.loading.starter import enter_starter
from stockroom.phrases import phrase
from stockroom.show.countries import Country, country, country_names
from stockroom.show.languages import LANGUAGES
from stockroom.stock.shop import WEEKDAYS
from stockroom.web import guard, words
from stockroom.web.access import EVERYBODY, may, takes_files
from stockroom.web.app import FAULTS
from stockroom.web.beside import Checks, faults_of, told
from stockroom.web.site import NAME, Entrance, entrance
from stockroom.web.words import language, said

_SEE_OTHER, _BAD, _NOWHERE = 303, 400, 404
_USUALLY_OPEN = ("Tue", "Wed", "Thu", "Fri", "Sat")
WAYS = ("starter", "files", "empty")


class FirstRun:
    """Answers with the first page until the book is begun, then with the shop's own pages."""

    def __init__(self, place: str, at: Entrance, pages_of: Callable[[Book], Callable[..., Iterable[bytes]]]) -> None:
        self.place = place
        self.book: Book | None = None
        self._pages_of = pages_of
        self._key = token_hex(32)
        self._one = threading.Lock()
        self._pages: Callable[..., Iterable[bytes]] = self._first(at)

    def __call__(self, environ: dict[str, Any], start: Callable[..., Any]) -> Iterable[bytes]:
        """Answer a request."""
        return self._pages(environ, start)

    def _first(self, at: Entrance) -> Flask:
        app = Flask(__name__, static_folder="static", template_folder="templates")
        app.config.update(SECRET_KEY=self._key, SESSION_COOKIE_NAME=NAME, SESSION_COOKIE_SAMESITE="Strict")
        app.extensions[NAME] = at
        app.before_request(_as_nobody)
        guard.guard(app)
        words.speak(app)
        app.jinja_env.globals["back"] = lambda: "/"
        app.add_url_rule("/", "begin", may(EVERYBODY)(partial(self.begin)))
        app.add_url_rule("/begin", "make", may(EVERYBODY)(partial(self.make)), methods=["POST"])
        app.add_url_rule("/begin/check", "check", may(EVERYBODY)(_check), methods=["POST"])
        app.add_url_rule(
            "/begin/backup", "put_back", may(EVERYBODY)(takes_files(partial(self.put_back))), methods=["POST"]
        )
        app.add_url_rule(
            "/begin/backup/part", "part", may(EVERYBODY)(takes_files(partial(self.send_part))), methods=["POST"]
        )
        app.add_url_rule("/language", "language", may(EVERYBODY)(_choose_language), methods=["POST"])
        app.register_error_handler(StockroomError, _again)
        app.register_error_handler(HTTPException, _refused)
        return app

    def begin(self) -> str | Response:
        """Ask what the shop is; where its book was begun another way meanwhile, open that."""
        with self._one:
            if self.book is None and begun(self.place):
                self._hand_over(open_book(self.place))
        return _away("/") if self.book is not None else _page()

    def make(self) -> Response:
        """Begin the book."""
        now = entrance().now()
        way = _way()
        facts, shop = _shop(now)
        fill = partial(self._fill, way=way, facts=facts, now=now, tongue=language(), source=_source())
        with self._one:
            if self.book is None:
                self._hand_over(new_book(self.place, shop, at=now, fill=fill))
        return _away(f"/start?way={way}")

    def put_back(self) -> Response:
        """Begin with a backup: checked whole, then put in the book's place."""
        sent = request.files.get("backup")
        with self._one:
            if self.book is None:
                if sent is not None and sent.filename:
                    safekeeping.take_whole(self.place, sent.stream)
                safekeeping.restore_sent(self.place, entrance().now())
                self._hand_over(open_book(self.place))
        return _away("/")

    def send_part(self) -> Response:
        """Take a part of a backup, sent one after the other by the page's script: however large it is in all."""
        with self._one:
            if self.book is not None:
                abort(_NOWHERE)
            return jsonify(size=safekeeping.add_part(self.place, request.args.get("at", ""), request.stream.read()))

    def _fill(self, opened: Session, *, way: str, facts: Country, now: datetime, tongue: str, source: str) -> None:
        keep_session_key(opened, self._key)
        if way == "starter":
            enter_starter(opened, now, language=tongue, country=facts.code, source=source)

    def _hand_over(self, book: Book) -> None:
        self._pages, self.book = self._pages_of(book), book


def _as_nobody() -> None:
    """Speak the browser's language, and know no shop yet."""
    asked = request.accept_languages.best_match(list(LANGUAGES)) or "en"
    g.language = words.chosen() or asked
    g.shop = Shop(name="stockroom")


def _source() -> str:
    return str(said(phrase("common practice: check the amounts against your own")))


def _way() -> str:
    way = request.form.get("way", "")
    if way not in WAYS:
        raise UsageError("What the book begins with was not chosen.", fix="Choose one of the three ways.")
    return way


def _shop(now: datetime) -> tuple[Country, Shop]:
    """Read the shop from the form; what was left open is as usual in its country."""
    facts, registered = country(request.form.get("country", ""), language()), _registered()
    return facts, changed(
        Shop(),
        {
            "name": _name(),
            "currency": facts.currency,
            "currency_digits": str(facts.digits),
            "locale": facts.locale,
            "start": now.date().isoformat(),
            "open_weekdays": " ".join(_days()),
            "tax_registered": "yes" if registered else "no",
            "tax_rate": _rate(facts.tax if registered else "0"),
            "prices_include_tax": "yes" if facts.prices_include_tax else "no",
        },
    )


def _name() -> str:
    name = request.form.get("name", "").strip()
    if not name:
        raise UsageError("The shop has no name.", fix="Type its name.")
    return name


def _days() -> list[str]:
    days = [day for day in WEEKDAYS if day in request.form.getlist("open")]
    if not days:
        raise UsageError("No opening day was chosen.", fix="Choose the days on which the shop works.")
    return days


def _registered() -> bool:
    return request.form.get("registered", "") != "no"


def _rate(usual: str) -> str:
    rate = request.form.get("tax", "").strip().removesuffix("%").strip() or usual
    if not rate:
        raise UsageError(
            "The usual tax rate of this country isn't known here.", fix="Type the rate that holds for you."
        )
    return rate


def _checks() -> Checks:
    """Give what refuses each field; without a country its usual rate is no question yet."""
    tongue = language()
    usual = "0"
    if request.form.get("country") and _registered():
        with suppress(StockroomError):
            usual = country(request.form["country"], tongue).tax
    return {
        "name": lambda: changed(Shop(), {"name": _name()}),
        "country": lambda: country(request.form.get("country", ""), tongue),
        "open": _days,
        "tax": lambda: changed(Shop(), {"tax_rate": _rate(usual)}),
    }


def _check() -> Response:
    """Say to the form's script what is wrong so far."""
    return told(faults_of(_checks()))


def _page(fault: StockroomError | None = None) -> str:
    typed = request.form
    faults = faults_of(_checks()) if fault and "name" in typed else {}
    text = f"{said(fault.what)} {said(fault.fix)}".strip() if fault else ""
    return render_template(
        "begin.html",
        fault="" if [text] in faults.values() else text,
        faults=faults,
        typed=typed,
        countries=country_names(language()),
        country=typed.get("country") or _likely_country(),
        weekdays=WEEKDAYS,
        open_days=typed.getlist("open") if typed else _USUALLY_OPEN,
        ways=WAYS,
        languages=LANGUAGES,
        language=language,
    )


def _likely_country() -> str:
    """Guess the country by the browser's languages: 'de-AT' is of Austria, 'de' alone of Germany."""
    known = dict(country_names("en"))
    for tongue, _ in request.accept_languages:
        place = tongue.replace("_", "-").rpartition("-")[2]
        code = place.upper() if "-" in tongue else {"de": "DE"}.get(tongue, "")
        if code in known:
            return code
    return ""


def _again(fault: StockroomError) -> tuple[str, int]:
    return _page(fault), _BAD


def _refused(error: HTTPException) -> Response | tuple[str, int]:
    code = error.code or 500
    if code == _NOWHERE and request.method == "GET":  # a page of the shop, remembered by the browser
        return _away("/")
    what, fix = FAULTS.get(code, FAULTS[500])
    return render_template("no_book.html", what=words.words(what), fix=words.words(fix)), code


def _choose_language() -> Response:
    if request.form.get("language") in LANGUAGES:
        session["language"] = request.form["language"]
    return _away("/")


def _away(address: str) -> Response:
    answer: Any = redirect(address, _SEE_OTHER)
    return answer  # type: ignore[no-any-return]
