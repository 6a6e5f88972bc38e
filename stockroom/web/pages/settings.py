"""Settings, passcodes, what was refused at the door, and what is to be minded in store."""

from flask import Blueprint, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.errors import UsageError
from stockroom.flows.bench.shelf import storage
from stockroom.flows.book import audit_log
from stockroom.flows.book.opening import change_settings, keep_passcode
from stockroom.phrases import as_phrase, joined, phrase
from stockroom.stock.shop import WEEKDAYS, in_words, setting_options, shown_settings
from stockroom.web import access, guard, typed
from stockroom.web.access import ROLES, may, set_passcode
from stockroom.web.audit_log import TYPED
from stockroom.web.site import role, say, shop, site
from stockroom.web.words import words

pages = Blueprint("settings", __name__)

_NEWEST = 20  # lines shown, the last one first


@pages.get("/settings")
@may(access.OWNER)
def settings() -> str:
    """Show every setting, the passcodes that are set, the newest refusals, and what was done last."""
    return render_template(
        "settings.html",
        settings={name: (in_words(name), text, setting_options(name)) for name, text in _shown().items()},
        roles=ROLES,
        weekdays=WEEKDAYS,
        kept=site().passcodes.read(),
        refusals=site().log.newest()[:_NEWEST],
        lines=audit_log.newest(site().book, _NEWEST)[::-1],
        typed=TYPED,
    )


@pages.post("/settings")
@may(access.OWNER)
def change() -> Response:
    """Change settings, all or none."""
    before = _shown()
    asked = {
        name: " ".join(request.form.getlist(f"set:{name}")).strip() for name in before if f"set:{name}" in request.form
    }
    changes = {name: text for name, text in asked.items() if text != before[name]}
    if changes:
        change_settings(site().book, changes, at=site().now(), who=role())
        say(words("Changed: %(names)s.", names=joined(map(in_words, changes), ", ")))
    return go(url_for("settings.settings"), 303)


def _shown() -> dict[str, str]:
    """Write every setting as the reader types it: days of the week in the language of the page."""
    found = shown_settings(shop())
    return found | {"open_weekdays": " ".join(map(words, found["open_weekdays"].split()))}


@pages.post("/settings/passcode")
@may(access.OWNER)
def passcode() -> Response:
    """Set a role's passcode, or close the role; the owner's own can be changed, not removed."""
    who, chosen = typed.field("role"), request.form.get("passcode", "")
    if who not in ROLES:
        raise UsageError("There is no such role.", fix="Choose one from the list.")
    if not chosen and who == "owner":
        raise UsageError("The owner's passcode can't be empty.", fix="Type a new one.")
    if who != "owner" and "owner" not in site().passcodes.read():
        raise UsageError("The owner needs a passcode first.", fix="Set the owner's, then the others.")
    if chosen:
        set_passcode(site().book, who, chosen)
    else:
        keep_passcode(site().book, who, "")
    if who == "owner" and role() == "owner":
        access.sign_in("owner", site().passcodes)
    guard.note(phrase("passcode of %(role)s set" if chosen else "passcode of %(role)s removed", role=as_phrase(who)))
    say(words("The passcode of %(role)s is changed.", role=words(who)))
    return go(url_for("settings.settings"), 303)


@pages.get("/hazards")
@may(access.ANYONE)
def hazards() -> str:
    """Show what is to be minded in store."""
    return render_template("hazards.html", found=storage(site().book))
