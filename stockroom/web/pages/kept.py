"""What the shop keeps or lends beside its stock: offcuts by their numbers, and what is lent out."""

from flask import Blueprint, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.errors import UsageError
from stockroom.flows.bench import counter, lending
from stockroom.flows.bench import offcuts as flows
from stockroom.flows.counts.offcuts import count_offcuts
from stockroom.stock.offcuts import PieceSize, is_size, piece_size
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.site import say, site, stamp
from stockroom.web.words import counted, words

pages = Blueprint("kept", __name__)


@pages.get("/offcuts")
@may(access.BENCH)
def offcuts() -> str:
    """List the offcuts kept, by what they are kept as."""
    book = site().book
    found = flows.offcuts(book)
    codes = {code for piece in found for code in (piece.material, piece.sheet)}
    names = {code: counter.find_material(book, code) for code in codes}
    kept = {code: [piece for piece in found if piece.material == code] for code in sorted({p.material for p in found})}
    return render_template("offcuts.html", kept=kept, materials=names, sheet=request.args.get("sheet", ""))


@pages.post("/offcuts/store")
@may(access.BENCH)
def store_offcut() -> Response:
    """Store an offcut with its size."""
    book = site().book
    sheet = counter.find_material(book, typed.field("sheet"))
    kept = counter.find_material(book, typed.field("kept_as"))
    text = typed.field("size")
    size = piece_size(text) if is_size(text) else None
    much = size.area if size else typed.amount(text, sheet.unit)
    piece: PieceSize | flows.Odd = size or "odd"
    whole = bool(typed.field("from_sheet"))
    done = flows.keep_offcut(book, sheet.code, kept.code, (much, much), stamp(), from_sheet=whole, piece=piece)
    say(words("Stored: write %(number)s on it.", number=done.piece), undo=done.moved.document)
    return go(url_for("kept.offcuts"), 303)


@pages.post("/offcuts/trim")
@may(access.BENCH)
def trim_offcut() -> Response:
    """Enter that an offcut is smaller than it was, or gone."""
    number = typed.whole(typed.field("number"), words("offcuts"))
    left = "none" if typed.field("gone") else typed.field("left")
    done = flows.trim_offcut(site().book, number, left, stamp(), reason=typed.field("reason"))
    say(words("Offcut %(number)s is trimmed.", number=number), undo=done.document)
    return go(url_for("kept.offcuts"), 303)


@pages.post("/offcuts/count")
@may(access.BENCH)
def tick_offcuts() -> Response:
    """Enter which offcuts of a location are there; the others are written off."""
    there = [typed.whole(number, words("offcuts")) for number in request.form.getlist("there")]
    done = count_offcuts(site().book, typed.field("material"), there, stamp())
    if not done.fresh:
        say(words("That was entered already; nothing changed."))
        return go(url_for("kept.offcuts"), 303)
    say(counted("%(num)s offcut is there.", "%(num)s offcuts are there.", len(done.found)), undo=done.document)
    if done.missing:
        gone = ", ".join(str(piece.number) for piece in done.missing)
        say(words("Written off as missing: %(numbers)s.", numbers=gone), undo=done.lost)
    return go(url_for("kept.offcuts"), 303)


@pages.get("/lent")
@may(access.BENCH)
def lent() -> str:
    """List what is lent out."""
    return render_template("lent.html", loans=lending.loans(site().book), today=site().now().date())


@pages.post("/lent/lend")
@may(access.BENCH)
def lend() -> Response:
    """Lend something out."""
    found = counter.find_material(site().book, typed.field("material"))
    days, ticket = typed.field("days"), typed.field("ticket")
    amount = typed.amount(typed.field("amount") or "1", found.unit)
    for_days = typed.whole(days, words("days")) if days else None
    done = lending.lend(site().book, found.code, amount, stamp(), ticket=ticket, days=for_days)
    say(words("Lent out: %(name)s.", name=done.material.name), undo=done.document)
    return go(url_for("kept.lent"), 303)


@pages.post("/lent/back")
@may(access.BENCH)
def lent_back() -> Response:
    """Enter that something lent is back, or lost."""
    number = typed.whole(typed.field("document"), words("documents"))
    outcome = typed.field("outcome")
    if outcome not in {"back", "lost"}:
        raise UsageError("Is it back, or lost?", fix="Choose one of the two.")
    done = lending.lent_back(site().book, number, stamp(), amount=typed.field("amount"), lost=outcome == "lost")
    name = done.material.name
    said = (
        words("Written off as lost: %(name)s.", name=name)
        if outcome == "lost"
        else words("Given back: %(name)s.", name=name)
    )
    say(said, undo=done.document)
    return go(url_for("kept.lent"), 303)
