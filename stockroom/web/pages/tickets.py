"""Tickets: take in, finish (booked or at once), cancel, redo, and take back on the spot."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from flask import Blueprint, jsonify, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.errors import DoubtError, StockroomError, UsageError
from stockroom.flows.bench import cards, changes, counter, offcuts, recipes_made, stages, tickets
from stockroom.flows.bench.can_do import can_do_job, free_now
from stockroom.flows.bench.changes import TicketChanges
from stockroom.flows.bench.in_place import if_used_instead, in_place_words
from stockroom.flows.bench.stages import DrawnWork, Used
from stockroom.flows.bench.tickets import Wanted
from stockroom.flows.bench.work_time import bench_clock
from stockroom.phrases import joined
from stockroom.stock.offcuts import OffcutWanted
from stockroom.stock.postings import Actual, Stamp
from stockroom.stock.quantities import Quantity
from stockroom.stock.recipes import PAIR, Extra
from stockroom.stock.shoe_sizes import ShoeSize, shoe_size
from stockroom.stock.tickets import Ticket, extra_line
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.site import formats, look_ahead, queued_later, say, shop, site, stamp
from stockroom.web.words import counted, words
from stockroom.web.words import said as worded

pages = Blueprint("tickets", __name__)
_ANEW = ("csrf", "key", "promised")  # what the form has of its own when it is sent on


@pages.get("/tickets")
@may(access.BENCH)
def booked() -> str:
    """List the open tickets, those promised soonest first."""
    wanted = request.args.get("q", "").strip()
    book, now = site().book, site().now()
    found = tickets.booked(book)
    known = tickets.job_names(book)
    shown = [t for t in found if _fits(t, wanted, known)] or (cards.find_tickets(book, wanted) if wanted else [])
    shown.sort(key=lambda t: (t.promised is None, t.promised or now.date(), t.taken_in))
    return render_template("tickets.html", tickets=shown, jobs=known, q=wanted, today=now.date())


@pages.get("/tickets/card")
@may(access.BENCH)
def card() -> str:
    """Show a ticket with what it draws."""
    now = site().now()
    found = cards.ticket_card(site().book, request.args.get("number", ""), now)
    asked = Stamp(key="", happened=now, entered=now, site=found.ticket.site)
    cut = tickets.could_be_cut_from(site().book, found.ticket.number, asked) if not found.unclear else []
    worked = bench_clock(site().book, now, [found.ticket.number])
    return render_template("ticket.html", card=found, ticket=found.ticket, cut=cut, worked=worked)


@pages.get("/jobs")
@may(access.BENCH)
def jobs() -> str:
    """List the jobs, the usual ones first, to take in or to finish at once."""
    wanted = "take-in" if request.args.get("to") == "take-in" else "finish"
    return render_template("jobs.html", jobs=cards.job_cards(site().book, site().now()), to=wanted)


@pages.get("/jobs/card")
@may(access.BENCH)
def job() -> str:
    """Show a job's size and choices, to take in or to finish at once."""
    found = cards.job_card(site().book, request.args.get("job", ""), site().now())
    wanted = "take-in" if request.args.get("to") == "take-in" else "finish"
    sizes, now = cards.usual_sizes(found), site().now()
    pieces = offcuts.offcuts_for(site().book, found.recipe) if wanted == "finish" and found.recipe else []
    said = _cut_said(found, sizes) if pieces else []
    facts = {"to": wanted, "today": now.date(), "pieces": pieces, "cut_said": said}
    return render_template("job.html", card=found, sizes=sizes, **facts)


@pages.post("/jobs/can-do")
@may(access.BENCH)
def can_do() -> str:
    """Say whether a job can be done as it stands on the form, and from when; nothing is entered."""
    asked = stamp()
    asked, wanted = replace(asked, note=asked.note or "asked"), _wanted()
    seen, free = look_ahead(), free_now(site().book, wanted, asked)
    found = can_do_job(site().book, seen.result.plan.outlook, wanted, asked) if seen.result is not None else None
    fields = [(name, text) for name, text in request.form.items(multi=True) if name not in _ANEW]
    instead = [in_place_words(each, free.materials, formats()) for each in free.in_place]
    return render_template("can_do.html", found=found, free=free, fields=fields, seen=seen, instead=instead)


@pages.post("/jobs/promise")
@may(access.BENCH)
def promise() -> Response:
    """Give the earliest day that can honestly be promised for a job as it stands on the form, for the page's script."""
    asked, seen = stamp(), look_ahead()
    if seen.result is None:
        return jsonify(day="", said="")
    wanted = replace(_wanted(), promised=None)
    found = can_do_job(site().book, seen.result.plan.outlook, wanted, replace(asked, note=asked.note or "asked"))
    if found.day is None:
        return jsonify(day="", said=words("No day of the next three months is sure enough."))
    said = words("earliest by the material: %(day)s", day=formats().weekday(found.day))
    return jsonify(day=found.day.isoformat(), said=said)


@pages.post("/recipes/make")
@may(access.OWNER)
def make_recipe() -> Response:
    """Make a recipe of finished tickets."""
    numbers = typed.field("tickets").replace(",", " ").split()
    made = recipes_made.make_recipe(
        site().book, typed.field("code"), numbers, stamp(), name=typed.field("name"), price=_money("price")
    )
    say(words("%(job)s has a recipe of %(n)s tickets now.", job=made.job.name, n=made.tickets))
    return go(url_for("tickets.jobs"), 303)


@pages.post("/tickets/take-in")
@may(access.BENCH)
def take_in() -> Response:
    """Book a job."""
    ticket = tickets.take_in(site().book, _wanted(), stamp())
    card_ = url_for("tickets.card", number=ticket.number)
    say(words("Ticket %(number)s is taken in.", number=ticket.number), link=(card_, words("To the ticket")))
    _mind_one_shoe(ticket)
    return go(typed.inside(typed.field("then")) or card_, 303)


@pages.post("/tickets/finish-job")
@may(access.BENCH)
def finish_job() -> Response:
    """Finish a job that was never taken in."""
    wanted, asked, actual = _wanted(), stamp(), _actual()
    if not actual.offcuts:
        _ask_which(wanted, asked)
    drawn = tickets.finish_at_once(site().book, wanted, asked, actual)
    _said(drawn)
    _mind_one_shoe(drawn.ticket)
    return go(url_for("today.today"), 303)


@pages.post("/tickets/finish")
@may(access.BENCH)
def finish() -> Response:
    """Finish a open ticket."""
    number, asked = typed.field("number"), stamp()
    if not any(name.startswith("offcut:") for name in request.form):
        _ask_which(number, asked)
    _said(tickets.finish_ticket(site().book, number, asked, _actual()))
    return go(url_for("tickets.booked"), 303)


@pages.post("/tickets/change")
@may(access.BENCH)
def change() -> Response:
    """Change an open ticket."""
    number = typed.field("number")
    done = changes.change_ticket(site().book, number, _changes(number), stamp())
    if done.fresh:
        said = "; ".join(map(worded, done.said))
        say(words("Ticket %(number)s is changed: %(said)s.", number=number, said=said), undo=done.document)
    return go(url_for("tickets.card", number=number), 303)


@pages.post("/tickets/use")
@may(access.BENCH)
def use() -> Response:
    """Enter what a ticket has used so far."""
    number, pairs = typed.field("number"), typed.field("pairs")
    shoes = typed.whole(pairs, words("pairs")) * PAIR if pairs else None
    extras = _extras()
    named = [extra_line(tickets.find_material(site().book, each.material)) for each in extras]
    lines = () if shoes else (*request.form.getlist("line"), *named)
    used = Used(lines=lines, actual=_actual(), shoes=shoes)
    done = stages.use_so_far(site().book, number, used, stamp(), TicketChanges(add=extras))
    if done.fresh:
        lines_said = ", ".join(need.line for need in done.used)
        say(words("Used so far on ticket %(number)s: %(lines)s.", number=number, lines=lines_said), undo=done.document)
    return go(url_for("tickets.card", number=number), 303)


@pages.post("/tickets/redo")
@may(access.BENCH)
def redo() -> Response:
    """Do a finished ticket again under guarantee."""
    _said(tickets.redo_ticket(site().book, typed.field("number"), stamp(), _actual()))
    return go(url_for("tickets.booked"), 303)


@pages.post("/tickets/cancel")
@may(access.BENCH)
def cancel() -> Response:
    """Cancel a open ticket."""
    back = request.form.getlist("back")
    ticket = tickets.cancel_ticket(
        site().book, typed.field("number"), stamp(), back=back, wasted=bool(typed.field("wasted"))
    )
    say(words("Ticket %(number)s is cancelled.", number=ticket.number))
    return go(url_for("tickets.booked"), 303)


def _ask_which(what: str | Wanted, asked: Stamp) -> None:
    """Ask what to cut from, where an offcut fits; what was kept on a device and sent later is entered as it is."""
    if asked.sure or queued_later():
        return
    choices = tickets.could_be_cut_from(site().book, what, asked)
    if choices:
        from stockroom.flows.bench.offcut_cuts import choice_said  # noqa: PLC0415 -- draws outlines: slow to import

        raise DoubtError(
            joined(choice_said(choice, formats()) for choice in choices),
            fix="To cut from the offcut, choose it on the ticket or the job; all the same: it is cut from the sheet.",
        )


def _cut_said(card: cards.JobCard, sizes: Sequence[ShoeSize]) -> list[str]:
    """Say what the job can be cut from in its usual size, and what each way costs."""
    from stockroom.flows.bench.offcut_cuts import choice_said  # noqa: PLC0415 -- draws outlines: slow to import

    now = site().now()
    wanted = Wanted(job=card.job.code, size=sizes[len(sizes) // 2] if sizes else None)
    try:
        found = tickets.could_be_cut_from(site().book, wanted, Stamp(key="", happened=now, entered=now))
    except StockroomError:  # it asks for a choice that has no usual one
        return []
    return [choice_said(choice, formats()) for choice in found]


def _mind_one_shoe(ticket: Ticket) -> None:
    if tickets.one_shoe_at_a_pairs_price(site().book, ticket, stated=bool(typed.field("price"))):
        price = formats().money(ticket.price or 0)
        say(words("One shoe at the price of a pair, %(price)s: is that meant?", price=price), bad=True)


def _fits(ticket: Ticket, wanted: str, jobs: Mapping[str, str]) -> bool:
    text = f"{ticket.number} {ticket.job} {jobs.get(ticket.job, '')} {ticket.size or ''}".casefold()
    return all(word in text for word in wanted.casefold().split())


def _wanted() -> Wanted:
    """Read a job's facts from the form."""
    size = typed.field("other_size") or typed.field("size")
    price = typed.field("price")
    return Wanted(
        job=typed.field("job"),
        shoes=_shoes(typed.field("shoes")),
        size=shoe_size(size) if size else None,
        chosen=_chosen(),
        promised=typed.day_ahead(typed.field("promised"), site().now().date()),
        price=typed.money(price, shop()) if price else None,
        by_post=bool(typed.field("by_post") or typed.field("post_cost")),
        post_cost=_money("post_cost"),
        customer=typed.field("customer"),
        add=_extras(),
        leave_out=tuple(request.form.getlist("leave_out")),
    )


def _changes(number: str) -> TicketChanges:
    """Read what is to be otherwise; the form shows how the ticket stands, and only what differs changes."""
    ticket, size, price = _the_ticket(number), typed.field("size"), _money("price")
    promised, cost = typed.day_ahead(typed.field("promised"), site().now().date()), _money("post_cost")
    by_post = bool(typed.field("by_post") or cost is not None)
    kept, left_out = set(request.form.getlist("kept")), set(ticket.left_out)
    shoes, note = typed.field("shoes"), typed.field("note")
    return TicketChanges(
        shoes=typed.whole(shoes, words("shoes")) if shoes else None,
        size=shoe_size(size) if size else None,
        chosen={name: option for name, option in _chosen().items() if ticket.chosen.get(name) != option},
        promised=promised,
        no_promise=promised is None and ticket.promised is not None,
        price=price,
        customer=typed.field("customer"),
        note=note if note != ticket.note else None,
        by_post=by_post if by_post != ticket.by_post else None,
        post_cost=cost,
        add=_extras(),
        leave_out=tuple(line for line in request.form.getlist("line") if line not in kept | left_out),
        put_back=tuple(sorted(kept & left_out)),
    )


def _the_ticket(number: str) -> Ticket:
    return cards.ticket_card(site().book, number, site().now()).ticket


def _money(name: str) -> int | None:
    text = typed.field(name)
    return typed.money(text, shop()) if text else None


def _extras() -> tuple[Extra, ...]:
    """Read the materials used beyond the recipe, each with its amount."""
    pairs = typed.rows("extra", "extra_amount")
    return tuple(Extra(material=name, amount=_amount_of(name, much)) for name, much in pairs if name)


def _amount_of(material: str, much: str) -> Quantity:
    return typed.amount(much or "1", counter.find_material(site().book, material).unit)


def _shoes(text: str) -> int:
    return typed.whole(text, words("shoes")) if text else PAIR


def _chosen() -> dict[str, str]:
    named = [(name.removeprefix("choice:"), text) for name, text in request.form.items() if name.startswith("choice:")]
    return {name: text for name, text in named if text}


def _actual() -> Actual:
    """Read what was really used, where it was changed on the page."""
    amounts: dict[str, Quantity] = {}
    for name, text in request.form.items():
        if name.startswith("used:") and text.strip() and text.strip() != request.form.get(f"by_card:{name[5:]}", ""):
            amounts[name[5:]] = typed.amount(text, None)
    instead = {name[8:]: text.strip() for name, text in request.form.items() if name.startswith("instead:") and text}
    if any(not line for line in (*amounts, *instead)):
        raise UsageError("A recipe line without a name can't be changed.", fix="Open the ticket again.")
    cut = {
        name[7:]: OffcutWanted(number=typed.whole(text, words("offcuts")), left=typed.field(f"left:{name[7:]}"))
        for name, text in request.form.items()
        if name.startswith("offcut:") and text.strip()
    }
    return Actual(amounts=amounts, instead=instead, offcuts=cut)


def _said(drawn: DrawnWork) -> None:
    number = drawn.ticket.number
    if not drawn.fresh:
        say(words("Ticket %(number)s was finished already; nothing changed.", number=number))
        return
    name = tickets.job_names(site().book)[drawn.ticket.job]
    say(words("Ticket %(number)s is finished: %(job)s.", number=number, job=name), undo=drawn.document)
    for piece, left in drawn.cut:
        stays = left or words("nothing")
        say(words("Of offcut %(number)s stays: %(size)s.", number=piece, size=stays))
    below = sum(left < 0 for left in drawn.left.values())
    if below:
        said = counted(
            "%(num)s material is now below zero in the book.",
            "%(num)s materials are now below zero in the book.",
            below,
        )
        instead = if_used_instead(site().book, [code for code, left in drawn.left.items() if left < 0])
        say(f"{said} {worded(instead)}".strip(), bad=True)
