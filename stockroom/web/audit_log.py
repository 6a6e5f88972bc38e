"""What was done at the pages, as lines of the book's journal: in our own words and the role, nothing typed."""

from http import HTTPStatus

from flask import Flask, Response, request

from stockroom.flows.book.audit_log import note_in
from stockroom.stock.audit_log import LogLine
from stockroom.web.site import role, site

LOOKING = frozenset(
    {
        "orders.desk",
        "orders.sums",
        "tickets.can_do",
        "tickets.promise",
        "lists.check",
        "accounts.check",
        "lists.check_table",
        "settings.check",
        "safekeeping.send_part",
    }
)  # asked by POST, but changing nothing


def _(text: str) -> str:
    """Mark a text for translation; the journal keeps it in English."""
    return text


DEEDS = {  # by the page that was sent
    "accounts.add_rate": _("Tax rate added"),
    "accounts.add_site": _("Site opened"),
    "accounts.save_numbers": _("Account numbers changed"),
    "backtest.start": _("Back-test started"),
    "count.keep_bin": _("Item counted"),
    "count.settle": _("Count posted"),
    "count.drop": _("Item left out of the count"),
    "count.print_sheet": _("Count sheet printed"),
    "counter.move": _("Moved to another site"),
    "counter.sell": _("Counter sale"),
    "counter.sell_together": _("Counter sale"),
    "counter.customer_return": _("Customer's return"),
    "counter.keep_part": _("Part kept"),
    "counter.sent": _("Parcel sent"),
    "tickets.change": _("Ticket changed"),
    "bench.begin": _("Work begun"),
    "bench.pause": _("Work paused"),
    "bench.serviced": _("Machine serviced"),
    "tickets.use": _("Used so far"),
    "tickets.make_recipe": _("Recipe made of tickets"),
    "counter.write_off": _("Write-off"),
    "counter.shelf_price": _("Shelf price changed"),
    "documents.charge_later": _("Later charge or credit entered"),
    "documents.correct_price": _("Price corrected"),
    "documents.send_back": _("Goods sent back"),
    "documents.undo_document": _("Document undone"),
    "door.let_in": _("Sign-in"),
    "door.sign_out": _("Sign-out"),
    "door.choose_language": _("Language chosen"),
    "kept.store_offcut": _("Offcut stored"),
    "kept.trim_offcut": _("Offcut trimmed"),
    "kept.tick_offcuts": _("Offcuts counted"),
    "kept.lend": _("Lent out"),
    "kept.lent_back": _("Given back"),
    "money.outline": _("Outline of soles kept"),
    "usage.answer": _("Actual usage answered"),
    "forecast_report.start": _("Forecast report started"),
    "planning.move": _("Cost of a delayed job changed"),
    "lists.save": _("List changed"),
    "lists.save_table": _("List changed"),
    "lists.remove": _("Removed from a list"),
    "loading.look_through": _("Files checked"),
    "loading.enter": _("Files entered"),
    "orders.place": _("Order placed"),
    "orders.receive": _("Goods received"),
    "orders.receive_without": _("Goods received without an order"),
    "orders.end": _("Order closed"),
    "periods.close": _("Period closed"),
    "safekeeping.backup": _("Backup taken"),
    "safekeeping.look_into": _("Backup looked into"),
    "safekeeping.restore": _("Backup put back"),
    "safekeeping.check": _("Book checked"),
    "safekeeping.export": _("All tables taken"),
    "safekeeping.forget": _("Customer forgotten"),
    "settings.change": _("Settings changed"),
    "settings.passcode": _("Passcode changed"),
    "start.opening": _("Opening stock entered"),
    "start.save_passcodes": _("Passcode changed"),
    "start.shortcut": _("Shortcut written"),
    "tickets.take_in": _("Ticket taken in"),
    "tickets.finish_job": _("Job finished at once"),
    "tickets.finish": _("Ticket finished"),
    "tickets.redo": _("Guarantee work"),
    "tickets.cancel": _("Ticket cancelled"),
}
_DONE, _REFUSED, _DOOR, _NOBODY = _("done"), _("refused"), _("pages"), _("nobody")
_UNKNOWN = _("unknown device")
TYPED = _("command line")  # the other door, whose lines name commands


def keep_journal(app: Flask) -> None:
    """Note every entry made through the pages, done or refused."""
    app.after_request(_note)


def _note(answer: Response) -> Response:
    page = request.endpoint or ""
    if request.method == "POST" and page and page not in LOOKING:
        outcome = _DONE if answer.status_code < HTTPStatus.BAD_REQUEST else _REFUSED
        at, device, done = site(), request.remote_addr or _UNKNOWN, DEEDS.get(page, page)
        line = LogLine(when=at.now(), door=_DOOR, who=role() or _NOBODY, device=device, what=done, outcome=outcome)
        note_in(at.book, line)
    return answer
