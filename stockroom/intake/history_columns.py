"""Columns of the files that say what happened: opening stock, deliveries, past jobs, sales, waste, counts."""

from datetime import time

from stockroom.intake.fields import Column, Kind, Type
from stockroom.stock.counts import Reason
from stockroom.stock.moves import MoveKind

MORNING, EVENING, NIGHT = time(9), time(17), time(20)  # goods come before the work, counts after it

_MATERIAL = Column(name="material", meaning="The material's code.", type=Type.REFERENCE, required=True,
                   example="SOLE-RUB-42", refers_to="materials")  # fmt: skip
_AMOUNT = Column(name="amount", meaning="How much.", type=Type.NUMBER, required=True, above_zero=True, example="12")
_UNIT = Column(name="unit", meaning="Unit of the amount. Blank: the material's.", type=Type.UNIT, example="pair")
_LOT = Column(name="lot", meaning="Lot on the pack.", example="L2207")
_EXPIRY = Column(name="expiry", meaning="Day it expires.", type=Type.DATE, example="2027-01-31")

OPENING = Kind(
    stem="opening",
    what="What lay on the shelf when the book began, one material (or lot) a row.",
    identity="material, day and lot",
    columns=(
        _MATERIAL,
        Column(name="amount", meaning="How much; 0 adds nothing.", type=Type.NUMBER, required=True, example="12"),
        _UNIT,
        Column(name="day", meaning="The day it was counted; it is booked before that day's work.", type=Type.DATE,
               required=True, example="2026-01-02"),
        Column(name="value", meaning="What this stock cost before tax, in all. Blank: worked out from the usual cost.",
               type=Type.MONEY, example="38.40"),
        _LOT,
        _EXPIRY,
    ),
)  # fmt: skip

DELIVERIES = Kind(
    stem="deliveries",
    what="Goods ordered and received, one material a row. Rows with the same supplier and reference are one delivery; "
    "rows without a day received are still on order.",
    identity="supplier and reference (still on order: supplier and order)",
    columns=(
        Column(name="reference", meaning="Number of the supplier's delivery note. Needed once received.",
               example="DN-1043"),
        Column(name="order", meaning="Number of your order. Needed while nothing was received.", example="PO-211"),
        Column(name="supplier", meaning="The supplier's code.", type=Type.REFERENCE, required=True, example="NORTH",
               refers_to="suppliers"),
        Column(name="ordered", meaning="Day it was ordered. Needed while nothing was received.", type=Type.DATE,
               example="2026-02-02"),
        Column(name="expected", meaning="Day the supplier promised, for what is still on order.", type=Type.DATE,
               example="2026-02-06"),
        Column(name="received", meaning="When it arrived; without a time, 09:00. Blank: still on order.",
               type=Type.MOMENT, at=MORNING,
               example="2026-02-06 10:15"),
        _MATERIAL,
        Column(name="supplier code", meaning="The supplier's own code for the pack.", example="R6-4243"),
        Column(name="packs", meaning="Number of packs. Needed while on order.", type=Type.WHOLE, above_zero=True,
               example="2"),
        Column(name="amount", meaning="How much in all, as counted or measured on arrival.", type=Type.NUMBER,
               required=True, above_zero=True, example="20"),
        _UNIT,
        Column(name="cost", meaning="Cost of the row before tax.", type=Type.MONEY, required=True, example="64.00"),
        Column(name="carriage", meaning="Carriage on the whole delivery before tax; on one of its rows, or the same on "
               "each.", type=Type.MONEY, example="8.50"),
        Column(name="duties", meaning="Duties on the whole delivery; on one of its rows, or the same on each.",
               type=Type.MONEY, example="0"),
        _LOT,
        _EXPIRY,
        Column(name="tax %", meaning="Tax rate on the invoice. Blank: the supplier's.", type=Type.PERCENT, example=""),
    ),
)  # fmt: skip

PAST_JOBS = Kind(
    stem="past-jobs",
    what="Tickets, one a row: finished, cancelled, or still booked.",
    identity="the ticket's number",
    columns=(
        Column(name="ticket", meaning="Number of the ticket.", type=Type.CODE, required=True, example="10421"),
        Column(name="taken in", meaning="When the shoes were taken in; without a time, 09:00.", type=Type.MOMENT,
               required=True, at=MORNING,
               example="2026-02-03 10:05"),
        Column(name="finished", meaning="When the work was done; without a time, 17:00. Blank: still booked.",
               type=Type.MOMENT, at=EVENING,
               example="2026-02-05 15:30"),
        Column(name="promised", meaning="Day it was promised for.", type=Type.DATE, example="2026-02-06"),
        Column(name="job", meaning="The job's code.", type=Type.REFERENCE, required=True, example="HALF-SOLE",
               refers_to="jobs"),
        Column(name="size", meaning="Shoe size; needed for jobs that are sized.", type=Type.SIZE, example="EU 42"),
        Column(name="pairs", meaning="Number of pairs; 0.5 is a single shoe. Blank: one pair.", type=Type.NUMBER,
               above_zero=True,
               example="1"),
        Column(name="shoes", meaning="Number of shoes, instead of pairs.", type=Type.WHOLE, above_zero=True,
               example=""),
        Column(name="choices", meaning="What the customer chose. Blank: the recipe's usual.", type=Type.PAIRS,
               example="sole=rubber; colour=black"),
        Column(name="price", meaning="Price as charged. Blank: the price list's.", type=Type.MONEY, example="38.00"),
        Column(name="redo of", meaning="Ticket whose work was done again under guarantee.", example=""),
        Column(name="by post", meaning="Whether it came by post. Blank: no.", type=Type.YES_NO, example="no"),
        Column(name="post cost", meaning="What the post cost you.", type=Type.MONEY, example=""),
        Column(name="cancelled", meaning="Whether the customer took it back undone. Blank: no.", type=Type.YES_NO,
               example="no"),
        Column(name="note", meaning="Anything else. Leave customers' names out unless you need them.",
               example="wants thin edge"),
    ),
)  # fmt: skip

SALES = Kind(
    stem="sales",
    what="Sales over the counter, one material a row.",
    identity="the whole row; rows of one file that are exactly alike are told apart by their number",
    columns=(
        Column(name="when", meaning="When it was sold; without a time, 17:00.", type=Type.MOMENT, required=True,
               at=EVENING, example="2026-02-03 11:20"),
        _MATERIAL,
        _AMOUNT,
        _UNIT,
        Column(name="price", meaning="What was paid for the row. Blank: the price on the tag.", type=Type.MONEY,
               example="13.00"),
        Column(name="receipt", meaning="Number of the receipt.", example="R-5512"),
    ),
)  # fmt: skip

WASTE_KINDS = (MoveKind.WASTE, MoveKind.EXPIRY, MoveKind.OWN_USE)

WASTE = Kind(
    stem="waste",
    what="What was thrown away, expired or used by the shop itself, one material a row.",
    identity="the whole row; rows of one file that are exactly alike are told apart by their number",
    columns=(
        Column(name="when", meaning="When it was noticed; without a time, 17:00.", type=Type.MOMENT, required=True,
               at=EVENING,
               example="2026-02-03 17:40"),
        _MATERIAL,
        _AMOUNT,
        _UNIT,
        Column(name="kind", meaning="What sort of loss. Blank: waste.", type=Type.CHOICE, example="waste",
               choices=tuple(WASTE_KINDS)),
        Column(name="reason", meaning="Why.", example="tin left open"),
        _LOT,
    ),
)  # fmt: skip

COUNTS = Kind(
    stem="counts",
    what="What was found on the shelf, one bin a row. A bin that wasn't counted stays blank or is left out.",
    identity="the sheet (without a sheet: the day), whole",
    columns=(
        Column(name="counted at", meaning="When the bin was counted; without a time, 20:00.", type=Type.MOMENT,
               headed=True, at=NIGHT,
               example="2026-02-07 17:55"),
        _MATERIAL,
        Column(name="amount", meaning="How much was found; 0 for an empty bin. Blank: not counted.", type=Type.NUMBER,
               headed=True,
               example="7"),
        _UNIT,
        Column(name="error", meaning="How far off the measuring may usually be (one standard error), in the same unit.",
               type=Type.NUMBER, example=""),
        Column(name="aid", meaning="How it was measured.", example="weighed"),
        Column(name="who", meaning="Who counted.", example="bench 1"),
        Column(name="reason", meaning="Why book and shelf differ, if known. Blank: other.", type=Type.CHOICE,
               choices=tuple(Reason)),
        Column(name="sheet", meaning="The count sheet's own mark; entering a sheet twice changes nothing.",
               example="2026-W06"),
        Column(name="place", meaning="Where it lies: for the reader of the sheet, not loaded.", example=""),
        Column(name="name", meaning="The material's name: for the reader of the sheet, not loaded.", example=""),
        Column(name="answers", meaning="On a count sheet, instead of the amount: what the aid asks for. Not loaded.",
               example="gross=1860 g"),
        Column(name="book", meaning="What the book said: for the reader of the sheet, not loaded.", example=""),
        Column(name="note", meaning="Anything else.", example=""),
    ),
)  # fmt: skip

HISTORY = (OPENING, DELIVERIES, PAST_JOBS, SALES, WASTE, COUNTS)
