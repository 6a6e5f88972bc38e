"""The pages as one application: parts put together, faults said in plain words."""

from datetime import timedelta
from functools import partial
from gzip import compress
from urllib.parse import urlsplit

from flask import Flask, Response, current_app, g, jsonify, redirect, render_template, request
from markupsafe import Markup
from werkzeug.exceptions import HTTPException

from stockroom.errors import BadFileError, BookError, DoubtError, StockroomError
from stockroom.flows.book.opening import STAY, session_key
from stockroom.show.formats import unit_word
from stockroom.show.problems import problem_lines
from stockroom.stock.quantities import Quantity, Unit, plain
from stockroom.web import guard, menu, typed, words
from stockroom.web.access import ANYONE, may
from stockroom.web.asking import ask_again
from stockroom.web.audit_log import keep_journal
from stockroom.web.pages import (
    accounts,
    backtest,
    bench,
    count,
    counter,
    documents,
    door,
    forecast_report,
    kept,
    labels,
    lists,
    loading,
    money,
    orders,
    periods,
    planning,
    queue,
    run_outs,
    safekeeping,
    settings,
    shelf,
    start,
    tickets,
    today,
    usage,
)
from stockroom.web.site import NAME, Site, formats, hidden, notices, queued, role, shop, site

_OK, _SEE_OTHER, _NOT_NOW = 200, 303, 503
_TEXT = ("html", "css", "javascript", "json", "svg+xml")  # ends of kinds that packing makes smaller
_SMALL = 1000  # bytes: one parcel of the network carries them anyway
_PAGES = (
    door,
    today,
    tickets,
    bench,
    counter,
    shelf,
    run_outs,
    orders,
    documents,
    count,
    usage,
    queue,
    labels,
    lists,
    loading,
    settings,
    start,
    accounts,
    money,
    periods,
    safekeeping,
    backtest,
    forecast_report,
    kept,
    planning,
)

_MOVED = {"/lessons": "/usage", "/cautions": "/hazards", "/kept": "/saved", "/rehearsal": "/back-test"}  # by 2026-11


def make_app(over: Site, *, secure: bool = False) -> Flask:
    """Put the pages together over an open book.

    Parameters
    ----------
    over : Site
        The book, the clock and the door's keeper.
    secure : bool
        Whether the pages are reached over TLS only; then the session's cookie is, too.
    """
    app = Flask(__name__, static_folder="static", template_folder="templates")
    app.config.update(
        SECRET_KEY=session_key(over.book),
        SESSION_COOKIE_NAME=NAME,
        SESSION_COOKIE_SAMESITE="Strict",
        SESSION_COOKIE_SECURE=secure,
        PERMANENT_SESSION_LIFETIME=STAY,
        SEND_FILE_MAX_AGE_DEFAULT=timedelta(days=1),
        MAX_FORM_PARTS=3000,
    )
    app.url_map.merge_slashes = False
    app.extensions[NAME] = over
    guard.guard(app)
    app.after_request(_packed)  # last of all: later ones run first
    app.after_request(_answer_script)
    keep_journal(app)
    words.speak(app)
    _furnish(app)
    for page in _PAGES:
        app.register_blueprint(page.pages)
    for old, new in _MOVED.items():
        app.add_url_rule(old, f"moved.{new}", may(ANYONE)(partial(redirect, new, 301)))
    app.register_error_handler(StockroomError, _plainly)
    app.register_error_handler(DoubtError, lambda doubt: _plainly(doubt, 409) if queued() else ask_again(doubt))
    app.register_error_handler(BookError, _no_book)
    app.register_error_handler(HTTPException, _refused)
    return app


def _furnish(app: Flask) -> None:
    """Give templates the shop's way of writing."""
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.globals.update(
        formats=formats, shop=shop, role=role, menu=menu.menu, notices=notices, hidden=hidden, back=_back,
        now=lambda: site().now(), guarded=lambda: site().passcodes.wanted, on_server=lambda: site().book.on_server,
    )  # fmt: skip
    app.jinja_env.filters.update(
        money=lambda minor: formats().money(minor),
        day=lambda day: formats().day(day),
        weekday=lambda day: formats().weekday(day),
        moment=lambda moment: formats().moment(moment),
        percent=lambda share: formats().percent(share),
        amount=_amount,
        capital=lambda text: text[:1].upper() + text[1:],  # the rest stays: German writes nouns large
        bare=lambda nano, unit: plain(unit.count(nano)),
        quantity=_quantity,
        unit=unit_word,
        squared=words.squared,
        figures=typed.figures,
    )


def _amount(nano: int, unit: Unit) -> Markup:
    """Write an amount as people say it, on one line: a few ml are no thousandths of a litre, and areas have a ²."""
    return Markup('<span class="nowrap">{}</span>').format(words.said(formats().told(nano, unit)))


def _quantity(amount: Quantity, unit: Unit) -> str:
    """Write what a recipe takes as people say it, in the material's unit or in its own kind where that is another."""
    return words.said(
        formats().told(amount.nano, unit if unit.dimension is amount.dimension else amount.dimension.base)
    )


def _answer_script(response: Response) -> Response:
    """Answer a page's script with where to go next and, for an entry kept earlier, what was said of it."""
    if not queued() or response.status_code != _SEE_OTHER:
        return response
    later = request.headers["X-Stockroom-Queue"] == "later"
    said = [note["text"] for note in notices()] if later else []
    return jsonify(to=response.headers["Location"], said=said)


def _packed(response: Response) -> Response:
    """Send text packed to whoever can read it so: pages reach a phone in a third of the bytes.

    What is packed with a secret can betray it to whoever makes the reader's browser ask again and again; the session's
    cookie is never sent for another site (SameSite=Strict), so nobody else can ask in the reader's name.
    """
    response.vary.add("Accept-Encoding")
    able = (
        request.accept_encodings["gzip"] and response.status_code == _OK and "Content-Encoding" not in response.headers
    )
    if not able or not (response.mimetype or "").endswith(_TEXT):
        return response
    response.direct_passthrough, file = False, response.response
    content = response.get_data()
    getattr(file, "close", lambda: None)()
    if len(content) > _SMALL:
        response.set_data(compress(content, compresslevel=5, mtime=0))
        response.headers["Content-Encoding"] = "gzip"
    return response


def _plainly(error: StockroomError, code: int = 400) -> tuple[str, int]:
    problems = problem_lines(error.problems) if isinstance(error, BadFileError) else ()
    return _fault(words.said(error.what), words.said(error.fix), code, [words.said(line) for line in problems])


def _no_book(error: BookError) -> tuple[str, int]:
    """Say that the book can't be reached, without asking it anything: not even the shop's name, or its language."""
    g.setdefault("language", words.chosen() or "en")
    current_app.logger.error("%s %s", error.what, error.fix)
    if role():
        what, fix = words.said(error.what), words.said(error.fix)
    else:  # without the book nobody can be signed in, and a stranger must not learn where it is kept
        what = words.words("The book can't be reached just now.")
        fix = words.words("Try again. If it stays so, look at the window the pages were started in.")
    return _fault(what, fix, _NOT_NOW, [], page="no_book.html")


FAULTS = {
    400: ("This can't be answered.", "Open the page again from the menu."),
    403: ("This page is not open to you, or the form is outdated.", "Go back, open the page anew and try again."),
    404: ("There is no such page.", "Choose from the menu."),
    405: ("This can't be done that way.", "Go back and use the buttons."),
    413: ("That is too much at once.", "Send a smaller file."),
    500: ("Something is wrong with the program.", "Look at the window it was started in."),
    429: ("Too many wrong passcodes.", "Wait a little, then try again."),
}


def _refused(error: HTTPException) -> tuple[str, int] | Response:
    code = error.code or 500
    what, fix = FAULTS.get(code, FAULTS[500])
    return _fault(words.words(what), words.words(fix), code, [])


def _back() -> str:
    """Give the page a person came from, if it is ours."""
    came = urlsplit(request.referrer or "")
    return came.path + (f"?{came.query}" if came.query else "") if came.netloc == request.host and came.path else "/"


def _fault(what: str, fix: str, code: int, problems: list[str], *, page: str = "fault.html") -> tuple[str, int]:
    """Say what is wrong: in a line for a page's script, on a page for a person."""
    if queued():
        return f"{what} {fix}".strip(), code
    return render_template(page, what=what, fix=fix, problems=problems, code=code), code
