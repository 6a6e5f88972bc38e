"""What a page's script asks for when entries were kept on the device: a token, the time, the worker."""

from flask import Blueprint, Response, current_app, jsonify, render_template
from werkzeug.wrappers import Response as AnyResponse

from stockroom.web import access
from stockroom.web.access import may
from stockroom.web.site import csrf_token, role, site

pages = Blueprint("queue", __name__)


@pages.get("/queue/token")
@may(access.EVERYBODY)
def token() -> AnyResponse:
    """Give the session's token to our own pages, and the shop's time; nobody signed in gets neither."""
    if not role():
        return jsonify(signed_in=False)
    return jsonify(signed_in=True, token=csrf_token(), now=site().now().isoformat())


@pages.get("/worker.js")
@may(access.EVERYBODY)
def worker() -> Response:
    """Give the script that opens pages without a connection; it must come from the root to serve all of them."""
    return current_app.send_static_file("worker.js")


@pages.get("/saved")
@may(access.BENCH)
def saved() -> str:
    """Show what is kept on this device; the list itself is the device's own."""
    return render_template("saved.html")


@pages.get("/no-connection")
@may(access.BENCH)
def no_connection() -> str:
    """Stand in for a page that was never opened on this device while there is no connection."""
    return render_template("no_connection.html")
