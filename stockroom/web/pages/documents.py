"""Documents: the last ones entered, and taking one back."""

from flask import Blueprint, render_template, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.errors import RefusedError
from stockroom.flows.posting import undo as flows
from stockroom.flows.posting.undo import undo
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.site import role, say, site, stamp
from stockroom.web.typed import inside
from stockroom.web.words import said, words

pages = Blueprint("documents", __name__)
_SHOWN = 40


@pages.get("/documents")
@may(access.ANYONE)
def documents() -> str:
    """List the last documents entered."""
    found = flows.newest(site().book, _SHOWN)
    return render_template("documents.html", documents=found, daily=flows.DAILY)


@pages.post("/documents/undo")
@may(access.BENCH)
def undo_document() -> Response:
    """Take a document back, or put it in force again; at the bench, only what is done there."""
    number = typed.whole(typed.field("document"), words("documents"))
    if role() != "owner" and flows.work_behind(site().book, number) not in flows.DAILY:
        raise RefusedError("Only the owner can undo that.", fix="Ask the owner.")
    done = undo(site().book, number, stamp())
    what = f"{said(done.document.kind)} {done.document.subject}".strip()
    say(words("Undone: %(what)s.", what=what), undo=done.number)
    return go(inside(typed.field("then")) or url_for("documents.documents"), 303)
