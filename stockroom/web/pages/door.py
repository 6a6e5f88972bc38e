"""The door: sign in and out, choose a language."""

from flask import Blueprint, render_template, request, session, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.errors import RefusedError
from stockroom.flows.book.opening import end_session
from stockroom.phrases import as_phrase, phrase
from stockroom.show.languages import LANGUAGES
from stockroom.web import access, guard
from stockroom.web.access import may
from stockroom.web.site import say, site
from stockroom.web.typed import inside
from stockroom.web.words import words

pages = Blueprint("door", __name__)


@pages.get("/sign-in")
@may(access.EVERYBODY)
def sign_in() -> str:
    """Ask for a passcode."""
    return render_template("sign_in.html", then=_inside(request.args.get("then", "")))


@pages.post("/sign-in")
@may(access.EVERYBODY)
def let_in() -> Response:
    """Let in whoever knows a passcode."""
    address, keeper = request.remote_addr or "", site()
    may_try = [role for role in keeper.passcodes.read() if not keeper.throttle.wait(address, role)]
    if not may_try:
        guard.refuse(429, phrase("too many wrong passcodes"))
    found = keeper.passcodes.role_of(request.form.get("passcode", ""), may_try)
    if not found:
        keeper.throttle.failed(address, may_try)
        keeper.log.note(phrase("wrong passcode"), address=address, path=request.path)
        say(words("That is not a passcode of this shop."), bad=True)
        return go(url_for("door.sign_in", then=_inside(request.form.get("then", ""))), 303)
    keeper.throttle.passed(address, found)
    keeper.log.note(phrase("%(role)s signed in", role=as_phrase(found)), address=address, path=request.path)
    access.sign_in(found, keeper.passcodes)
    return go(_inside(request.form.get("then", "")), 303)


@pages.post("/sign-out")
@may(access.EVERYBODY)
def sign_out() -> Response:
    """End the session, here and wherever its cookie was copied to."""
    if session.get("number"):
        end_session(site().book, str(session["number"]), site().now())
    session.clear()
    return go(url_for("door.sign_in"), 303)


@pages.post("/language")
@may(access.EVERYBODY)
def choose_language() -> Response:
    """Speak another language from now on."""
    chosen = request.form.get("language", "")
    if chosen in LANGUAGES:
        session["language"] = chosen
    return go(_inside(request.form.get("then", "")), 303)


def ask_passcode(wanted: str, passcode: str) -> None:
    """Refuse unless a role's passcode was typed once more; a shop without one has nothing to ask.

    Raises
    ------
    RefusedError
        If it is another.
    """
    address, keeper = request.remote_addr or "", site()
    if wanted not in keeper.passcodes.read():
        return
    if keeper.throttle.wait(address, wanted):
        guard.refuse(429, phrase("too many wrong passcodes"))
    if keeper.passcodes.role_of(passcode, [wanted]) != wanted:
        keeper.throttle.failed(address, [wanted])
        keeper.log.note(phrase("wrong passcode"), address=address, path=request.path)
        raise RefusedError("That is not the owner's passcode.", fix="Type it again.")
    keeper.throttle.passed(address, wanted)


def _inside(address: str) -> str:
    return inside(address) or url_for("today.today")
