"""The door: host, size, forged forms and roles are checked before any page; headers are set after."""

from hmac import compare_digest
from urllib.parse import urlsplit

from flask import Flask, Response, abort, current_app, g, redirect, request, session, url_for
from werkzeug.wrappers import Response as AnyResponse

from stockroom.phrases import as_phrase, phrase
from stockroom.web import access
from stockroom.web.site import csrf_token, entrance, role

FORM_BYTES = 256 * 1024
FILE_BYTES = 32 * 1024 * 1024
_SAFE = {"GET", "HEAD", "OPTIONS"}
_TOKEN_HEADER = "X-Stockroom-Token"  # noqa: S105 -- a header's name

CSP = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "Content-Security-Policy": CSP,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=(), payment=()",
}


def guard(app: Flask) -> None:
    """Set the door before an app's pages."""
    app.before_request(_check_host)
    app.before_request(_check_size)
    app.before_request(_check_letters)
    app.before_request(_check_role)
    app.before_request(_check_forged)
    app.after_request(_headers)
    app.jinja_env.globals["csrf"] = csrf_token


def note(what: str) -> None:
    """Note something about the request under way."""
    entrance().log.note(what, address=request.remote_addr or "", path=f"{request.method} {request.path}")


def refuse(code: int, why: str) -> None:
    """Refuse the request and note it."""
    note(why)
    abort(code)


def _check_host() -> None:
    name = urlsplit(f"//{request.host}").hostname or ""
    if name.rstrip(".").casefold() not in entrance().hosts:
        refuse(400, phrase("strange host name"))


def _check_size() -> None:
    view = current_app.view_functions.get(request.endpoint or "")
    limit = FILE_BYTES if getattr(view, "takes_files", False) else FORM_BYTES
    request.max_content_length = limit
    if (request.content_length or 0) > limit:
        refuse(413, phrase("too much sent"))


def _check_letters() -> None:
    """Refuse what holds a NUL: no form sends one, and not every database keeps or seeks it."""
    said = (text for given in (request.args, request.form) for pair in given.items(multi=True) for text in pair)
    if "\0" in request.path or any("\0" in text for text in said):
        refuse(400, "a character that can't be saved")


def _check_role() -> AnyResponse | None:
    g.role = access.find_role(entrance().passcodes)
    if request.endpoint is None:
        return None  # an address that leads nowhere
    view = current_app.view_functions.get(request.endpoint)
    roles = access.EVERYBODY if request.endpoint == "static" else access.allowed(view)
    if role() in roles:
        return None
    if role() or request.method not in _SAFE:
        refuse(403, phrase("not for the role %(role)s", role=as_phrase(role())) if role() else phrase("not signed in"))
    return redirect(url_for("door.sign_in", then=request.full_path.rstrip("?")))


def _check_forged() -> None:
    if request.method in _SAFE:
        return
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in {"same-origin", "none"}:
        refuse(403, phrase("form from another site"))
    origin = request.headers.get("Origin")
    if origin is not None and origin != "null" and urlsplit(origin).netloc != request.host:
        refuse(403, phrase("form from another origin"))
    sent = request.headers.get(_TOKEN_HEADER) or request.form.get("csrf", "")
    kept = str(session.get("csrf", ""))
    if not kept or not compare_digest(sent.encode(), kept.encode()):
        refuse(403, phrase("forged or outdated form"))


def _headers(response: Response) -> Response:
    for name, value in _HEADERS.items():
        response.headers.setdefault(name, value)
    if request.endpoint != "static":
        response.headers.setdefault("Cache-Control", "no-store")
    return response
