"""What a reader of the accounts must know: method, rounding, the period's state, its documents, what to beware of."""

from collections.abc import Sequence

from stockroom.margins.period import Period
from stockroom.stock.moves import Document
from stockroom.stock.shop import Shop
from stockroom.stock.tax import CAUTION, ROUNDING

_METHODS = {
    "fifo": "First in, first out: each use is costed from the oldest delivery still on the shelf.",
    "average": "Moving average: each use is costed at the average of what is on the shelf at that moment.",
}
_COST = (
    "Cost is what the supplier asked {tax}, with carriage and duties spread over the lines by {by}. "
    "Discounts lower it. Work at the bench is not part of it."
)
_BY = {"value": "value", "weight": "weight (by value where a line's weight is not known)"}
_COST_TAX = {
    True: "before tax",
    False: "with its tax, because a shop that is not registered can't recover it (IAS 2.11, FRS 102 section 13)",
}
_ORDER = (
    "Costs follow the days on the documents, not the order of typing: within the open period a delivery entered "
    "late is what the work after it used. At one moment, goods come before they go, and a count comes last. A "
    "document undone, or a price corrected, before its period is closed leaves no trace in these figures, though "
    "both stay in the book. A closed period does not change: what comes after it stands on the first open day, "
    "with what it changes in what was closed as a cost correction."
)
_PROVISIONAL = (
    "What is used before its delivery came is costed at the last known price and marked 'provisional'. When the "
    "delivery comes, the difference is posted on the delivery's day and marked 'cost correction'."
)
_MONEY = (
    "Costs are kept to a thousandth of the smallest coin. Lines shown in whole coins are rounded to the nearest, "
    "halves up; what that leaves stands on a line called 'Rounding', so that every total is the ledger's."
)
_WRITE_DOWN = (
    "Stock is carried at cost. Where it may be worth less, the sheet 'Slow and expired' suggests a write-down to net "
    "realisable value (IAS 2, FRS 102 section 13). Nothing is posted: the accountant decides."
)
_JOURNAL = (
    "The journal covers stock only. Purchases stand against 'goods received, not invoiced': the suppliers' invoices "
    "with "
    "their tax are recorded elsewhere."
)


def late_documents(booked: Sequence[Document], period: Period) -> tuple[Document, ...]:
    """Pick the documents booked in a period that happened before it."""
    return tuple(
        d for d in booked if d.moves and d.booked_on and d.booked_on in period and d.happened.date() < period.first
    )


def notes(
    shop: Shop,
    period: Period,
    documents: tuple[Sequence[Document], Sequence[Document]],
    *,
    check_figure: str,
    unpriced: int = 0,
) -> tuple[tuple[str, str], ...]:
    """Write the notes, each with its heading; `documents` are those booked so far, and the period's late ones."""
    booked, late = documents
    within = [d.id or 0 for d in booked if (d.booked_on or d.happened.date()) in period]
    noun = "document" if len(within) == 1 else "documents"
    counted = f"{len(within)} {noun}, numbers {min(within)} to {max(within)}" if within else "no documents"
    state = "Closed: these figures do not change." if period.closed else "Open: figures can still change."
    registered = "The shop is registered for tax." if shop.tax_registered else "The shop is not registered for tax."
    return (
        ("Period", f"{period}. {state}"),
        ("Documents", f"In the period: {counted}. Late documents, of earlier days: {len(late)}."),
        *((("Jobs without a price", f"{unpriced}: they count as no income."),) if unpriced else ()),
        ("Check figure", check_figure or "none given"),
        ("Method", _METHODS[shop.costing]),
        ("Cost", _COST.format(by=_BY[shop.carriage_by], tax=_COST_TAX[shop.tax_registered])),
        ("Order of events", _ORDER),
        ("Provisional costs", _PROVISIONAL),
        ("Rounding", _MONEY),
        ("Tax", f"{registered} {ROUNDING} {CAUTION}"),
        ("Write-downs", _WRITE_DOWN),
        ("Journal", _JOURNAL),
    )
