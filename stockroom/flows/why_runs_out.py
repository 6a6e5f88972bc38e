"""Why a shelf looks as it does: what is not entered, not counted or late, in a plain sentence."""

from datetime import date, datetime

from stockroom.counting.belief import Belief
from stockroom.flows.known import Known
from stockroom.phrases import joined, phrase, plural
from stockroom.show.formats import Formats
from stockroom.stock.materials import Material
from stockroom.stock.orders import Order
from stockroom.stock.quantities import NANO
from stockroom.store.orders import OPEN

LONG_AGO = 8  # weeks without a count that are worth a word
UNSURE = 0.25  # of what is there, or of a week's use, that the book could be out by before it is worth a word
NINE_IN_TEN = 1.645  # standard deviations each side of the middle


def why(known: Known, material: Material, formats: Formats, *, believed: Belief | None, weekly_use: float) -> str:
    """Say what stands behind a row of the run-outs; nothing where the figures speak for themselves."""
    said = [
        _below_zero(known, material),
        *(_late(order, known.day) for order in _open_orders(known, material.code)),
        _uncounted(known, material, formats, believed, weekly_use),
    ]
    return joined(said, ". ")


def _below_zero(known: Known, material: Material) -> str:
    if known.on_hand.get(material.code, 0) >= 0:
        return ""
    return phrase("The book is below zero: enter the missing delivery, or count")


def _open_orders(known: Known, code: str) -> list[Order]:
    mine = [order for order in known.orders if order.state in OPEN]
    return [order for order in mine if any(line.material == code and line.outstanding for line in order.lines)]


def _late(order: Order, today: date) -> str:
    if order.expected is None:
        return phrase("Waits for order %(order)s", order=order.number)
    days = (today - order.expected).days
    if days <= 0:
        return phrase("Waits for order %(order)s", order=order.number)
    return plural(
        "Waits for order %(order)s, %(num)s day late",
        "Waits for order %(order)s, %(num)s days late",
        days,
        order=order.number,
    )


def _uncounted(known: Known, material: Material, formats: Formats, believed: Belief | None, use: float) -> str:
    if believed is None:
        return ""
    weeks = _weeks_since(known.last_counted.get(material.code), known.moment)
    if weeks is not None and weeks < LONG_AGO:
        return ""
    out = NINE_IN_TEN * believed.spread
    if out <= UNSURE * max(known.on_hand.get(material.code, 0) / NANO, use):
        return ""
    much = formats.amount(_roughly(out), material.unit)
    if weeks is None:
        return phrase("Never counted: could be out by %(amount)s", amount=much)
    return phrase("Not counted for %(weeks)s weeks: could be out by %(amount)s", weeks=weeks, amount=much)


def _roughly(amount: float) -> int:
    """Round to two figures: nobody knows a doubt more exactly than that."""
    return round(float(f"{amount:.1e}") * NANO)


def _weeks_since(counted: datetime | None, now: datetime) -> int | None:
    return None if counted is None else (now - counted).days // 7
