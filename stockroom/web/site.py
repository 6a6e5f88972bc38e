"""What every page works with: the open book, the clock, who is signed in, and what is said back."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime
from secrets import token_urlsafe
from typing import Any

from flask import Flask, Response, current_app, g, jsonify, request, session
from markupsafe import Markup

from stockroom.errors import UsageError
from stockroom.flows.book.opening import Book, Shop, settings
from stockroom.phrases import phrase
from stockroom.show.formats import Formats, formats_of
from stockroom.show.languages import ENGLISH, LANGUAGES, language_of
from stockroom.stock.postings import Stamp
from stockroom.stock.typed import noon_of
from stockroom.web import result_cache
from stockroom.web.access import Passcodes
from stockroom.web.background import Beside
from stockroom.web.result_cache import CachedView, Keeper
from stockroom.web.security_log import SecurityLog
from stockroom.web.swap import Pages
from stockroom.web.throttle import Throttle

NAME = "stockroom"
_LONGEST_KEY = 100
_OWN_STYLES = {"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'"}
_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_NOTICES = 5  # kept at most: they live in a cookie


@dataclass(frozen=True, slots=True, kw_only=True)
class Entrance:
    """What the door goes by, before there is a book too."""

    now: Callable[[], datetime]
    hosts: frozenset[str]  # names it answers to, in lower case, without port
    passcodes: Passcodes
    log: SecurityLog


@dataclass(frozen=True, slots=True, kw_only=True)
class Site(Entrance):
    """A running site."""

    book: Book
    throttle: Throttle
    beside: Beside
    keeper: Keeper
    pages: Pages = field(default_factory=Pages)  # which answer for this site, and can be another book's
    open_pages: Callable[[Book], Flask] | None = None  # makes those of another book


def entrance() -> Entrance:
    """Give what the door goes by that the request under way came to."""
    found: Entrance = current_app.extensions[NAME]
    return found


def site() -> Site:
    """Give the site that answers the request under way."""
    found: Site = current_app.extensions[NAME]
    return found


def shop() -> Shop:
    """Give the shop's settings, read once a request."""
    if "shop" not in g:
        g.shop = settings(site().book)
    found: Shop = g.shop
    return found


def look_ahead() -> CachedView[result_cache.Outlooks]:
    """Give the newest outlook, and whether it still holds."""
    return result_cache.look(site().keeper, site().now())


def formats(tongue: str = "") -> Formats:
    """Give the reader's way of writing figures, or that of readers of another language."""
    return formats_of(shop()).for_reader(tongue or language())


def language() -> str:
    """Give the reader's language: chosen at the page, or the browser's, or the shop's."""
    if "language" not in g:
        g.language = chosen() or _of_browser() or language_of(shop().locale)
    return str(g.language)


def chosen() -> str:
    """Give the language chosen at the page, if one was."""
    said = str(session.get("language", ""))
    return said if said in LANGUAGES else ""


def _of_browser() -> str:
    """Give the language the browser asks for; English is what most come with, so it says nothing."""
    asked = request.accept_languages.best_match(list(LANGUAGES)) or ENGLISH
    return "" if asked == ENGLISH else asked


def stamp() -> Stamp:
    """Stamp the document that a form asks for; the form's own key makes it single however often it is sent.

    Raises
    ------
    UsageError
        If the form has no key.
    """
    now = site().now()
    key = request.form.get("key", "").strip()
    if not key or len(key) > _LONGEST_KEY:
        raise UsageError("This form has no key of its own.", fix="Open the page again and repeat the entry.")
    return Stamp(
        key=f"web:{key}",
        happened=_happened(now),
        entered=now,
        who=role(),
        note=request.form.get("note", ""),
        sure=bool(request.form.get("sure")),
    )


def hidden() -> Markup:
    """Give the fields every form carries: the session's token and a mark of its own."""
    made = Markup('<input type="hidden" name="csrf" value="{}"><input type="hidden" name="key" value="{}">')
    return made.format(csrf_token(), token_urlsafe(12))


def csrf_token() -> str:
    """Give the session's token, which every form carries back."""
    if "csrf" not in session:
        session["csrf"] = token_urlsafe(24)
    return str(session["csrf"])


def role() -> str:
    """Name who is at the page: bench, owner, accountant, or nobody (empty)."""
    return str(g.get("role", ""))


def say(text: str, *, undo: int | None = None, link: tuple[str, str] | None = None, bad: bool = False) -> None:
    """Leave a notice for the next page, with the document to undo, and a page to go on to with its name."""
    said = [*session.get("said", []), {"text": text, "undo": undo, "link": link, "bad": bad}]
    session["said"] = said[-_NOTICES:]


def queued() -> bool:
    """Say whether a page's script sent the form: it is answered in a line, not with a page."""
    return bool(request.headers.get("X-Stockroom-Queue"))


def queued_later() -> bool:
    """Say whether the form was kept on the device and is sent now that there is a connection."""
    return request.headers.get("X-Stockroom-Queue") == "later"


def progress(name: str) -> Response:
    """Say how far work beside the pages has come, for a page that waits for it."""
    task = site().beside.task(name)
    if task is None:
        return jsonify(running=False)
    return jsonify(running=task.under_way, what=task.what, done=task.done, of=task.of)


def to_print(html: str, name: str) -> Response:
    """Give a page for paper, which carries its styles with it, under a file's name."""
    head = _OWN_STYLES | {"Content-Disposition": f'inline; filename="{name}"'}
    return Response(html, content_type="text/html; charset=utf-8", headers=head)


def spreadsheet(content: bytes, name: str) -> Response:
    """Give a spreadsheet to keep, under the name of its file."""
    head = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, content_type=_XLSX, headers=head)


def notices() -> list[dict[str, Any]]:
    """Give the notices left for this page; each is shown once."""
    found: list[dict[str, Any]] = session.pop("said", [])
    return found


def _happened(now: datetime) -> datetime:
    """Say when it happened: on the day typed, or at the moment that a form kept on a phone carries; else now."""
    earlier = request.form.get("on", "").strip()
    if earlier:
        return _on(earlier, now)
    said = request.form.get("happened", "")
    if not said:
        return now
    try:
        then = datetime.fromisoformat(said)
    except ValueError as wrong:
        raise UsageError(phrase("'%(said)s' is not a moment.", said=said), fix="Enter it again by hand.") from wrong
    if then.tzinfo is not None:
        raise UsageError(
            phrase("'%(text)s' names a time zone.", text=said), fix="Give the time as the shop's own clock shows it."
        )
    return min(then.replace(microsecond=0), now)


def _on(text: str, now: datetime) -> datetime:
    """Give an earlier day's noon, as a day alone means everywhere, or now for today."""
    try:
        day = date.fromisoformat(text)
    except ValueError as wrong:
        raise UsageError(phrase("'%(text)s' is not a day.", text=text), fix="Choose it from the calendar.") from wrong
    if day > now.date():
        raise UsageError(phrase("%(day)s is still to come.", day=day), fix="Choose today or an earlier day.")
    return now if day == now.date() else noon_of(day)
