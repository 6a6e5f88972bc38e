"""Labels for shelf places: A4 sheets with a code to scan, or a single one again."""

from dataclasses import dataclass

import segno
from flask import Blueprint, render_template, request, url_for
from markupsafe import Markup

from stockroom.flows.bench.shelf import shelf_rows
from stockroom.stock.lists import ShelfRow
from stockroom.web import access
from stockroom.web.access import may
from stockroom.web.site import site

pages = Blueprint("labels", __name__)
_PLACES, _FIGURES = 24, 2  # labels on a sheet, and figures of their number
_LOOPBACK = ("127.0.0.1", "localhost", "[::1]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A label as it is printed."""

    row: ShelfRow
    picture: Markup


@pages.get("/labels")
@may(access.BENCH)
def labels() -> str:
    """Show labels ready to print: of a place, of one material, or of everything."""
    rows = shelf_rows(site().book)
    place, code = request.args.get("place"), request.args.get("code")
    chosen = [row for row in rows if code in (None, row.material) and place in (None, row.place)]
    said = request.args.get("skip", "0")
    skip = min(int(said), _PLACES - 1) if said.isascii() and said.isdecimal() and len(said) <= _FIGURES else 0
    found = [Label(row=row, picture=picture(_scanned(row.material))) for row in chosen]
    places = sorted({row.place for row in rows})
    return render_template("labels.html", labels=found, places=places, place=place, code=code, skip=skip)


def picture(text: str) -> Markup:
    """Draw a code to scan; medium error correction reads through a thumbprint."""
    code = segno.make(text, error="m", micro=False)
    drawn = code.svg_inline(border=4, omitsize=True, svgclass=None, lineclass=None)
    return Markup(drawn)  # noqa: S704 -- drawn by us, without any text in it


def _scanned(code: str) -> str:
    """Give what a label says: the page's address where other devices can reach it, else the code itself."""
    host = request.host.rsplit(":", 1)[0] if not request.host.endswith("]") else request.host
    return code if host in _LOOPBACK else url_for("shelf.material", code=code, _external=True)
