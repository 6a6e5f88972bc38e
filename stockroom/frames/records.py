"""The frames of what the book holds, each declared once: made and checked by it, and described to people of it."""

from collections.abc import Callable

from stockroom.flows.records import DeliveredLine, KeptPiece
from stockroom.frames.shape import UNIT_MEANING, Holds, Shape, field
from stockroom.stock.counts import CountReason
from stockroom.stock.moves import DocumentKind, MoveKind
from stockroom.stock.orders import OrderState
from stockroom.stock.tickets import Ticket, TicketState


def _said(name: str) -> Callable[[DeliveredLine], object]:
    """Read what a document says of a line."""
    return lambda line: line.said.get(name)


def _choices(ticket: Ticket) -> str:
    return "; ".join(f"{name}={option}" for name, option in ticket.chosen.items())


def _codes(name: str) -> Callable[[Ticket], str]:
    return lambda ticket: "; ".join(need.material for need in getattr(ticket, name))


MOVES = Shape(
    name="moves",
    row="A line of the ledger, in the order it was entered.",
    index=("document", "line"),
    fields=(
        field("document", Holds.NUMBER, "The document that brought it."),
        field("line", Holds.NUMBER, "Its line in the document."),
        field("happened", Holds.MOMENT, "When it happened."),
        field("site", Holds.TEXT, "Where."),
        field("material", Holds.TEXT, "The material's code."),
        field("kind", Holds.CHOICE, "Why stock moved; a line that takes one back has its kind.", choices=MoveKind),
        field("amount", Holds.AMOUNT, "What came; below zero, what left the shelf.", "nano"),
        field("unit", Holds.UNIT, UNIT_MEANING),
        field("value", Holds.COST, "What it cost, where the document says so; else missing."),
        field("ticket", Holds.TEXT, "The ticket it was used on."),
        field("recipe_line", Holds.TEXT, "The line of the recipe it was used for."),
        field("lot", Holds.TEXT, "The batch."),
        field("expiry", Holds.DAY, "The day it keeps until."),
    ),
)

DOCUMENTS = Shape(
    name="documents",
    row="A document, in the order they were entered.",
    index=("document",),
    fields=(
        field("document", Holds.NUMBER, "Its number.", "id"),
        field("kind", Holds.CHOICE, "What it records.", choices=DocumentKind),
        field("about", Holds.TEXT, "The ticket, order, count or material it is about.", "subject"),
        field("happened", Holds.MOMENT, "When it happened."),
        field("booked_on", Holds.DAY, "The accounting day."),
        field("entered", Holds.MOMENT, "When it was entered."),
        field("site", Holds.TEXT, "Where."),
        field("who", Holds.TEXT, "Who entered it."),
        field("note", Holds.TEXT, "The note kept with it."),
        field("moves", Holds.NUMBER, "How many lines of the ledger it brought."),
        field("reverses", Holds.MAYBE_NUMBER, "The document it takes back."),
        field("taken_back_by", Holds.MAYBE_NUMBER, "The document that takes it back."),
    ),
)

TICKETS = Shape(
    name="tickets",
    row="A ticket, in the order they were taken in. Customers' names are no part of it.",
    index=("ticket",),
    fields=(
        field("ticket", Holds.TEXT, "Its number.", "number"),
        field("job", Holds.TEXT, "The job's code."),
        field("state", Holds.CHOICE, "Where it stands.", choices=TicketState),
        field("size", Holds.TEXT, "The shoe's size.", lambda ticket: str(ticket.size or "")),
        field("shoes", Holds.NUMBER, "How many shoes."),
        field("choices", Holds.TEXT, "What was chosen, as `sole=rubber; hold=glued`.", _choices),
        field("taken_in", Holds.MOMENT, "When it was taken in."),
        field("promised", Holds.DAY, "The day it is promised for."),
        field("finished", Holds.MOMENT, "When it was finished."),
        field("price", Holds.MONEY, "What was charged, with tax."),
        field("redo_of", Holds.TEXT, "The ticket whose work is done again under guarantee."),
        field("by_post", Holds.FLAG, "Whether it goes back by post."),
        field("post_cost", Holds.MONEY, "What the post cost."),
        field("added", Holds.TEXT, "Materials used beyond the recipe, by code.", _codes("added")),
        field("left_out", Holds.TEXT, "Lines of the recipe that are not wanted.", lambda t: "; ".join(t.left_out)),
        field("used_so_far", Holds.TEXT, "Materials used before it was finished, by code.", _codes("drawn")),
        field("site", Holds.TEXT, "Where."),
    ),
)

SALES = Shape(
    name="sales",
    row="A line of a counter sale that stands.",
    index=("document", "line"),
    fields=(
        field("document", Holds.NUMBER, "The sale's document.", "document.id"),
        field("line", Holds.NUMBER, "Its line.", "position"),
        field("happened", Holds.MOMENT, "When it was sold.", "document.happened"),
        field("site", Holds.TEXT, "Where.", "document.site"),
        field("material", Holds.TEXT, "The material's code.", "part.material"),
        field("amount", Holds.AMOUNT, "What was sold; below zero was brought back.", "part.nano"),
        field("unit", Holds.UNIT, UNIT_MEANING),
        field("price", Holds.MONEY, "What was taken for it, with tax; missing where nobody said.", "part.price"),
    ),
)

DELIVERIES = Shape(
    name="deliveries",
    row="A line of a delivery that stands; costs as entered, before any price correction.",
    index=("document", "line"),
    fields=(
        field("document", Holds.NUMBER, "The delivery's document.", "document.id"),
        field("line", Holds.NUMBER, "Its line.", "position"),
        field("happened", Holds.MOMENT, "When it came.", "document.happened"),
        field("site", Holds.TEXT, "Where.", "document.site"),
        field("order", Holds.TEXT, "The order it came against.", "document.subject"),
        field("supplier", Holds.TEXT, "The supplier's code.", lambda came: came.document.content.get("supplier", "")),
        field("reference", Holds.TEXT, "The delivery note.", lambda came: came.document.content.get("reference", "")),
        field("material", Holds.TEXT, "The material's code.", "move.material"),
        field("supplier_code", Holds.TEXT, "The supplier's own code for the goods.", _said("code")),
        field("packs", Holds.MAYBE_NUMBER, "Packs that came; missing where only the amount is known.", _said("packs")),
        field("amount", Holds.AMOUNT, "What came.", "move.nano"),
        field("unit", Holds.UNIT, UNIT_MEANING),
        field("cost", Holds.MONEY, "Cost of the line before tax, without carriage.", _said("cost")),
        field("landed", Holds.COST, "Cost with its share of carriage and duties.", "move.value"),
        field("lot", Holds.TEXT, "The batch.", "move.lot"),
        field("expiry", Holds.DAY, "The day it keeps until.", "move.expiry"),
    ),
)

ORDERS = Shape(
    name="orders",
    row="A line of an order, in the order they were placed.",
    index=("order", "line"),
    fields=(
        field("order", Holds.TEXT, "The order's number.", "order.number"),
        field("line", Holds.NUMBER, "Its line.", "position"),
        field("supplier", Holds.TEXT, "The supplier's code.", "order.supplier"),
        field("state", Holds.CHOICE, "Where the order stands.", "order.state", choices=OrderState),
        field("placed", Holds.MOMENT, "When it was placed.", "order.placed"),
        field("expected", Holds.DAY, "The day the goods are expected.", "order.expected"),
        field("closed", Holds.DAY, "The day it was closed.", "order.closed"),
        field("late_days", Holds.NUMBER, "By how many days what is still to come is late."),
        field("site", Holds.TEXT, "Where the goods go.", "order.site"),
        field("material", Holds.TEXT, "The material's code.", "line.material"),
        field("supplier_code", Holds.TEXT, "The supplier's own code for the goods.", "line.supplier_code"),
        field("packs", Holds.NUMBER, "Packs ordered.", "line.packs"),
        field("ordered", Holds.AMOUNT, "What they should bring.", "line.expected"),
        field("received", Holds.AMOUNT, "What has come.", "line.received"),
        field("outstanding", Holds.AMOUNT, "What is still to come.", "line.outstanding"),
        field("unit", Holds.UNIT, UNIT_MEANING),
        field("cost", Holds.MONEY, "Cost of the line before tax, without carriage.", "line.cost"),
        field("carriage", Holds.MONEY, "Carriage agreed on the whole order, on its first line; 0 on the others.",
              lambda asked: asked.order.carriage if asked.position == 1 else 0),
    ),
)  # fmt: skip

COUNTS = Shape(
    name="counts",
    row="A counted bin, in the order they were counted.",
    index=("count",),
    fields=(
        field("count", Holds.NUMBER, "Its number.", "id"),
        field("sheet", Holds.TEXT, "The sheet it was counted on."),
        field("site", Holds.TEXT, "Where.", "line.site"),
        field("material", Holds.TEXT, "The material's code.", "line.material"),
        field("counted", Holds.MOMENT, "When it was counted.", "line.counted"),
        field("amount", Holds.AMOUNT, "What was found.", "line.amount.nano"),
        field("difference", Holds.AMOUNT, "Found less booked, once posted; else missing."),
        field("error", Holds.AMOUNT, "One standard error of the measuring.",
              lambda bin_: bin_.line.error.nano if bin_.line.error else None),
        field("unit", Holds.UNIT, UNIT_MEANING),
        field("aid", Holds.TEXT, "How it was measured.", "line.aid"),
        field("state", Holds.TEXT, "Open, settled, recounted or dropped, as it stands today."),
        field("reason", Holds.CHOICE, "Why it differs.", "line.reason", choices=CountReason),
        field("note", Holds.TEXT, "The note kept with it.", "line.note"),
    ),
)  # fmt: skip

LAYERS = Shape(
    name="cost_layers",
    row="What a delivery or opening left on the shelf, and at what cost.",
    index=("material", "site", "layer"),
    fields=(
        field("material", Holds.TEXT, "The material's code.", "standing.material"),
        field("site", Holds.TEXT, "Where.", "standing.site"),
        field("layer", Holds.NUMBER, "The layer's number; 0: used before its delivery was entered, at a provisional "
              "cost.", "standing.layer"),
        field("amount", Holds.AMOUNT, "What it holds.", "standing.nano"),
        field("unit", Holds.UNIT, UNIT_MEANING),
        field("value", Holds.COST, "What it is worth at cost.", "standing.value"),
        field("since", Holds.DAY, "Since when; missing for a moving average.", "standing.since"),
        field("document", Holds.MAYBE_NUMBER, "The document it came from.", "standing.document"),
    ),
)  # fmt: skip


def _side(which: int) -> Callable[[KeptPiece], object]:
    """Read a side of a piece in mm, the longer first."""
    return lambda kept: round(kept.piece.size.mm[which]) if kept.piece.size else None


OFFCUTS = Shape(
    name="offcuts",
    row="An offcut kept as a piece, by its number.",
    index=("number",),
    fields=(
        field("number", Holds.NUMBER, "The number written on it.", "piece.number"),
        field("sheet", Holds.TEXT, "What it was cut from, by code.", "piece.sheet"),
        field("material", Holds.TEXT, "What it is kept as, by code.", "piece.material"),
        field("long_mm", Holds.MAYBE_NUMBER, "Its longer side, to a millimetre; missing for an odd shape.", _side(0)),
        field("wide_mm", Holds.MAYBE_NUMBER, "Its shorter side, to a millimetre; missing for an odd shape.", _side(1)),
        field("amount", Holds.AMOUNT, "What it measures.", "piece.nano"),
        field("unit", Holds.UNIT, UNIT_MEANING),
        field("since", Holds.DAY, "The day it was stored.", lambda kept: kept.piece.stored.date()),
        field("site", Holds.TEXT, "Where.", "piece.site"),
    ),
)

LENT = Shape(
    name="lent",
    row="Something lent out, the first to be back first.",
    index=("document",),
    fields=(
        field("document", Holds.NUMBER, "The document that lent it.", "loan.document"),
        field("material", Holds.TEXT, "The material's code.", "loan.material"),
        field("amount", Holds.AMOUNT, "What is still out.", "loan.nano"),
        field("unit", Holds.UNIT, UNIT_MEANING),
        field("lent", Holds.MOMENT, "When it was lent.", "loan.lent"),
        field("ticket", Holds.TEXT, "The customer's ticket.", "loan.ticket"),
        field("due", Holds.DAY, "The day it is due.", "loan.due"),
        field("site", Holds.TEXT, "Where.", "loan.site"),
    ),
)

MAY_GO_BACK = Shape(
    name="may_go_back",
    row="What of a delivery may go back to its supplier, the first last day first.",
    index=("delivery", "material"),
    fields=(
        field("delivery", Holds.NUMBER, "The document it came with.", "goods.delivery"),
        field("supplier", Holds.TEXT, "The supplier's code.", "goods.supplier"),
        field("material", Holds.TEXT, "The material's code.", "goods.material"),
        field("amount", Holds.AMOUNT, "What may go back: whole packs.", "goods.nano"),
        field("there", Holds.AMOUNT, "What lies there of the delivery.", "goods.there"),
        field("unit", Holds.UNIT, UNIT_MEANING),
        field("credit", Holds.MONEY, "What is credited for it, or need not be paid, before tax.", "goods.credit"),
        field("came", Holds.DAY, "The day it came.", "goods.came"),
        field("until", Holds.DAY, "The last day on which it may go back.", "goods.until"),
        field("on_approval", Holds.FLAG, "Whether only what is used is paid for.", "goods.on_approval"),
    ),
)

RECORDS = (MOVES, DOCUMENTS, TICKETS, SALES, DELIVERIES, ORDERS, COUNTS, LAYERS, OFFCUTS, LENT, MAY_GO_BACK)
