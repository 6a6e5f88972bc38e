"""What counts say is actually used: what jobs really use, to be accepted or kept."""

from flask import Blueprint, render_template, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.site import formats, look_ahead, say, site
from stockroom.web.words import words

pages = Blueprint("usage", __name__)


@pages.get("/usage")
@may(access.OWNER)
def usage() -> str:
    """List what the counts propose."""
    return render_template("usage.html", seen=look_ahead())


@pages.post("/usage/answer")
@may(access.OWNER)
def answer() -> Response:
    """Take the owner's answer to a proposal."""
    from stockroom.flows.learning import proposals  # noqa: PLC0415 -- slow import

    job, line, now = typed.field("job"), typed.field("line"), site().now()
    if typed.field("answer") == "accept":
        done = proposals.accept(site().book, job, line, now)
        after, before = (formats().told(each.nano, done.unit) for each in (done.after, done.before))
        facts = {"job": done.job, "line": done.line, "after": after, "before": before}
        say(words("%(job)s, %(line)s: %(after)s instead of %(before)s from today.", **facts))
    else:
        proposals.keep_recipe(site().book, job, line, now)
        say(words("%(job)s, %(line)s stays as it is.", job=job, line=line))
    return go(url_for("usage.usage"), 303)
