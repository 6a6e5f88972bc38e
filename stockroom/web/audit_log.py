"""What the pages did, as lines of the book's journal: the page's own name and the role, nothing typed."""

from http import HTTPStatus

from flask import Flask, Response, request

from stockroom.flows.book.audit_log import note_in
from stockroom.stock.audit_log import LogLine
from stockroom.web.site import role, site

LOOKING = frozenset({"orders.sums", "queue.token"})  # asked by POST, but changing nothing


def keep_journal(app: Flask) -> None:
    """Note every entry made through the pages, done or refused."""
    app.after_request(_note)


def _note(answer: Response) -> Response:
    page = request.endpoint or ""
    if request.method == "POST" and page and page not in LOOKING:
        outcome = "done" if answer.status_code < HTTPStatus.BAD_REQUEST else "refused"
        at, device = site(), request.remote_addr or "unknown device"
        line = LogLine(when=at.now(), door="pages", who=role() or "nobody", device=device, what=page, outcome=outcome)
        note_in(at.book, line)
    return answer
