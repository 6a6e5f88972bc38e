"""Run-outs: what runs out, when, which tickets it holds up, and how many more of each job the stock allows."""

from flask import Blueprint, jsonify, render_template, request
from werkzeug.wrappers import Response

from stockroom.flows.bench.jobs_possible import can_do
from stockroom.web import access
from stockroom.web.access import may
from stockroom.web.drawing import spans
from stockroom.web.site import look_ahead, site

pages = Blueprint("runouts", __name__)
LIKELY = 0.1  # listed when it runs out in one future of ten


@pages.get("/run-outs")
@may(access.ANYONE)
def runouts() -> str:
    """List the materials likely to run out, soonest first."""
    seen = look_ahead()
    rows = seen.result.rows if seen.result else ()
    every = bool(request.args.get("all"))
    shown = [row for row in rows if every or row.chance >= LIKELY]
    today = site().now().date()
    lines = spans(shown, today)
    return render_template("runouts.html", seen=seen, rows=shown, lines=lines, every=every, today=today)


@pages.get("/run-outs/jobs")
@may(access.ANYONE)
def jobs_possible() -> str:
    """Say how many more of each job the stock allows, the scarcest first."""
    return render_template("jobs_possible.html", found=can_do(site().book, site().now()))


@pages.get("/run-outs/state")
@may(access.ANYONE)
def state() -> Response:
    """Say where the outlook stands, for a page that waits for it."""
    seen = look_ahead()
    return jsonify(fresh=seen.fresh, running=seen.running, fault=seen.fault)
