"""The shelf: find by typing or scanning; a material with its past, its offers and its uses."""

from collections.abc import Mapping, Sequence
from datetime import date
from operator import itemgetter
from urllib.parse import parse_qs, urlsplit

from flask import Blueprint, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.flows.bench import cards
from stockroom.flows.bench.counter import WRITE_OFFS
from stockroom.flows.bench.shelf import on_the_way, shelf_rows, sources_of
from stockroom.flows.bench.tickets import booked
from stockroom.flows.book.opening import sites
from stockroom.flows.ordering.order_forms import supplier_names
from stockroom.show.charts.facts import StockOutlook
from stockroom.show.charts.stock import stock_words
from stockroom.stock.lists import RunOutRow, ShelfRow
from stockroom.stock.quantities import NANO
from stockroom.web import access, drawing
from stockroom.web.access import may
from stockroom.web.result_cache import Outlooks
from stockroom.web.site import formats, look_ahead, role, site
from stockroom.web.words import family, words

pages = Blueprint("shelf", __name__)
_DAYS = (60, 365)
_LOW_DAYS = 14


@pages.get("/shelf")
@may(access.ANYONE)
def shelf() -> str | Response:
    """Show the shelf, narrowed by what was typed; a scanned label opens its material, a number its ticket or order."""
    wanted = scanned(request.args.get("q", ""))
    rows = shelf_rows(site().book)
    if any(row.material == wanted for row in rows):
        return go(url_for("shelf.material", code=wanted))
    if wanted and role() in access.BENCH and any(each.number == wanted for each in booked(site().book)):
        return go(url_for("tickets.card", number=wanted))
    if wanted and any(order.number == wanted for order in on_the_way(site().book, site().now())):
        return go(url_for("orders.card", number=wanted))
    seen = look_ahead()
    runs = {row.material: row for row in seen.result.rows} if seen.result else {}
    chosen = {name: request.args.get(name, "") for name in ("place", "family", "supplier", "low")}
    sources = sources_of(site().book)
    shown = [
        row
        for row in rows
        if row.fits(wanted, family(row.family)) and _narrowed(row, chosen, sources, runs.get(row.material))
    ]
    return render_template("shelf.html", rows=shown, q=wanted, runs=runs, choices=_choices(rows, chosen), **chosen)


def _narrowed(row: ShelfRow, chosen: Mapping[str, str], sources: Mapping[str, set[str]], run: RunOutRow | None) -> bool:
    """Say whether a row is among what was chosen."""
    low = row.below_zero or (run is not None and run.days_left is not None and run.days_left <= _LOW_DAYS)
    return (
        chosen["place"] in {"", row.place}
        and chosen["family"] in {"", row.family}
        and (not chosen["supplier"] or chosen["supplier"] in sources.get(row.material, ()))
        and (low or not chosen["low"])
    )


def _choices(rows: Sequence[ShelfRow], chosen: Mapping[str, str]) -> list[tuple[str, str, str, list[tuple[str, str]]]]:
    """Give what the shelf can be narrowed by: field, label, what is chosen, and each value with its words."""
    places = sorted({row.place for row in rows if row.place})
    families = sorted(((each, family(each)) for each in {row.family for row in rows if row.family}), key=itemgetter(1))
    suppliers = sorted(supplier_names(site().book).items(), key=itemgetter(1))
    return [
        ("place", words("Location"), chosen["place"], [(place, place) for place in places]),
        ("family", words("Family"), chosen["family"], families),
        ("supplier", words("Supplier"), chosen["supplier"], suppliers),
    ]


@pages.get("/shelf/material")
@may(access.ANYONE)
def material() -> str:
    """Show everything the book says of a material."""
    days = _DAYS[1] if request.args.get("days") == str(_DAYS[1]) else _DAYS[0]
    now = site().now()
    card = cards.material_card(site().book, request.args.get("code", ""), now, days=days)
    seen = look_ahead()
    row = seen.result.row(card.material.code) if seen.result else None
    fan = _fan(seen.result, row) if seen.result and row else None
    past = card.days if fan is None else _cut(fan, card)
    facts = {"days": days, "seen": seen, "run": row, "write_offs": WRITE_OFFS, "sites": sites(site().book)}
    facts["picture"] = drawing.past_and_future(past, fan, card.material.unit)
    words_ = stock_words(fan, formats()) if fan else _words(card, days)
    code = card.material.code
    facts["coming"] = [
        order.number
        for order in on_the_way(site().book, now)
        if any(line.material == code and line.outstanding for line in order.lines)
    ]
    return render_template("material.html", card=card, material=card.material, words=words_, **facts)


def _fan(result: Outlooks, row: RunOutRow) -> StockOutlook:
    from stockroom.flows.loading.reports import stock_outlook  # noqa: PLC0415 -- slow import

    return stock_outlook(site().book, result.plan.outlook, row)


def _cut(fan: StockOutlook, card: cards.MaterialCard) -> list[tuple[date, int]]:
    """Keep the past to the days shown, so that what is to come has room."""
    first = card.days[0][0]
    return [(day, round(amount * NANO)) for day, amount in fan.history if day >= first]


def _words(card: cards.MaterialCard, days: int) -> str:
    left = formats().told(card.row.on_hand, card.material.unit)
    facts = {"name": card.material.name, "days": days, "left": left}
    return words("%(name)s over the last %(days)s days; now there is %(left)s.", **facts)


def scanned(text: str) -> str:
    """Read what was typed, or the material's code out of a scanned label's address."""
    plain = text.strip()
    parts = urlsplit(plain) if "://" in plain else None
    return parse_qs(parts.query).get("code", [plain])[0] if parts else plain
