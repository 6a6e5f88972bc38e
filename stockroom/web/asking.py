"""What looks like a slip is asked about: the form is shown again with a button that says it is meant."""

from flask import render_template, request

from stockroom.errors import StockroomError
from stockroom.web.site import site
from stockroom.web.words import said

_ANEW = ("csrf", "key", "happened", "sure")  # every form has its own


def ask_again(doubt: StockroomError) -> tuple[str, int]:
    """Show what is doubted, and the form that enters it all the same, at the moment it was first sent."""
    fields = [(name, text) for name, text in request.form.items(multi=True) if name not in _ANEW]
    happened = request.form.get("happened") or site().now().isoformat()
    page = render_template("doubt.html", what=said(doubt.what), fields=fields, happened=happened, action=request.path)
    return page, 409
