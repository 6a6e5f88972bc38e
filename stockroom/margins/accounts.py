"""A period's accounts, whole: one frozen thing that the workbook, the pages and the CSV files only draw."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from stockroom.margins.changes import MarginChange, moved
from stockroom.margins.in_progress import unfinished
from stockroom.margins.income import Books, Coins, Group, PeriodWork, grouped, in_coins, work_done
from stockroom.margins.journal import JournalLine, journal
from stockroom.margins.period import Period
from stockroom.margins.prices import PriceLine, key_prices
from stockroom.margins.purchases import PurchaseLine, purchases
from stockroom.margins.sales import SaleEarned, sales_done
from stockroom.margins.valuation import (
    Aged,
    Policy,
    Roll,
    Valued,
    WriteDown,
    WriteOff,
    aged_stock,
    roll_forward,
    valuation,
    write_downs,
    write_offs,
)
from stockroom.phrases import Figure, Phrase, joined, phrase, plural
from stockroom.stock.going_back import MayGoBack, may_go_back
from stockroom.stock.layers import Costing, LayerEntry, replay
from stockroom.stock.materials import Material
from stockroom.stock.moves import Document
from stockroom.stock.recipes import Job
from stockroom.stock.shop import Shop
from stockroom.stock.tax import CAUTION, ROUNDING, Rate, TaxRules, tax_rules
from stockroom.stock.tickets import Ticket

SPLITS = ("month", "size", "choice")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sources:
    """What the accounts are made from, as the book holds it."""

    documents: Sequence[Document]  # all, in entry order, numbered
    materials: Mapping[str, Material]
    tickets: Mapping[str, Ticket]
    jobs: Mapping[str, Job]
    shop: Shop
    supplier_names: Mapping[str, str] = field(default_factory=dict)
    supplier_rates: Mapping[str, str] = field(default_factory=dict)  # their tax rates, for documents that state none
    counted: Mapping[str, date] = field(default_factory=dict)  # when each material was last counted
    rates: tuple[Rate, ...] = ()  # tax rates by date, where they changed
    account_numbers: Mapping[str, str] = field(default_factory=dict)  # by the names in journal.ACCOUNTS
    policy: Policy = field(default_factory=Policy)
    check_figure: str = ""  # of the chain of documents, at the period's last one
    priced_as: Mapping[str, Material] = field(default_factory=dict)  # as closed: they give usual costs, not `materials`
    method: str = ""  # kept since the first closing; empty: the shop's


@dataclass(frozen=True, slots=True, kw_only=True)
class Accounts:
    """A period's accounts. Money in thousandths of the minor unit unless its noun says otherwise."""

    shop: Shop
    period: Period
    materials: Mapping[str, Material]
    jobs: Mapping[str, Job]
    supplier_names: Mapping[str, str]
    rolls: tuple[Roll, ...]
    valued: tuple[Valued, ...]
    entries: tuple[LayerEntry, ...]  # those booked in the period
    purchases: tuple[PurchaseLine, ...]
    work: PeriodWork
    sales: tuple[SaleEarned, ...]
    aged: tuple[Aged, ...]
    write_offs: tuple[WriteOff, ...]
    write_downs: tuple[WriteDown, ...]
    journal: tuple[JournalLine, ...]
    late: tuple[Document, ...]  # booked in the period, but happened before it
    margins: tuple[Group, ...]  # by job; paid work only
    splits: tuple[tuple[str, tuple[Group, ...]], ...]  # the same by month, size and choice
    moved: MarginChange | None  # against the period it is compared with
    prices: tuple[PriceLine, ...]  # of the materials that cost most
    notes: tuple[tuple[str, str], ...]
    going_back: tuple[MayGoBack, ...] = ()  # what may still go back to suppliers after the last day
    in_progress: tuple[int, int] = (0, 0)  # what unfinished tickets had used, before the first day and after the last

    @property
    def printed(self) -> list[tuple[Group, Coins]]:
        """Margins by job with the figures that are printed of them."""
        return list(zip(self.margins, in_coins(self.margins), strict=True))

    @property
    def on_approval(self) -> int:
        """Cost of what lies there on approval after the last day, in minor units before tax: it is not bought yet."""
        return sum(each.cost for each in self.going_back if each.on_approval)

    @property
    def opening(self) -> int:
        """Value of the shelf before the first day."""
        return sum(roll.opening[1] for roll in self.rolls)

    @property
    def closing(self) -> int:
        """Value of the shelf after the last day."""
        return sum(valued.value for valued in self.valued)


def accounts(sources: Sources, period: Period, *, against: Period | None = None) -> Accounts:
    """Make the accounts of a period.

    Parameters
    ----------
    sources : Sources
        The book.
    period : Period
        The accounting days.
    against : Period, optional
        A period to compare margins with.

    Returns
    -------
    Accounts
        The same for ever once the period is closed: it reads only what is booked up to its last day.

    Raises
    ------
    ValueError
        If the layers don't add up to the ledger: a fault in this program, never hidden.
    """
    booked = [d for d in sources.documents if (d.booked_on or d.happened.date()) <= period.last]
    costing = costs_of(sources)
    past = Costing(entries=tuple(e for e in costing.entries if e.booked_on <= period.last), births=costing.births)
    rolls = roll_forward(past.entries, period, sources.materials)
    valued = valuation(past, period.last, sources.materials, sources.counted)
    if sum(r.closing[1] for r in rolls) != sum(v.value for v in valued):
        raise ValueError("the layers do not add up to the ledger")
    staged = unfinished(booked, past.entries)
    rules = rules_of(sources)
    books = Books(tickets=sources.tickets, jobs=sources.jobs, rules=rules, shop=sources.shop)
    work = work_done(booked, past.entries, books, period)
    paid = [line for line in work.lines if not line.redo]
    within = tuple(entry for entry in past.entries if entry.booked_on >= period.first)
    late = late_documents(booked, period)
    return Accounts(
        shop=sources.shop,
        period=period,
        materials=sources.materials,
        jobs=sources.jobs,
        supplier_names=sources.supplier_names,
        rolls=tuple(rolls),
        valued=tuple(valued),
        entries=within,
        purchases=tuple(purchases(sources.documents, past.entries, period, rules, sources.supplier_rates)),
        work=work,
        sales=tuple(sales_done(booked, books, period)),
        aged=tuple(aged_stock(valued, past.entries, period.last)),
        write_offs=tuple(write_offs(within, {d.id or 0: d for d in sources.documents}, period)),
        write_downs=tuple(write_downs(valued, past.entries, period.last, rules, sources.policy)),
        journal=tuple(journal(past.entries, period, sources.account_numbers, staged.value)),
        in_progress=(staged.value(period.first - timedelta(days=1)), staged.value(period.last)),
        late=late,
        going_back=tuple(_going_back(booked, valued, period.last)),
        margins=tuple(grouped(paid, "job", floor=sources.shop.margin_floor)),
        splits=tuple((by, tuple(grouped(paid, by, floor=sources.shop.margin_floor))) for by in SPLITS),
        moved=moved(work_done(booked, past.entries, books, against), work) if against else None,
        prices=key_prices(booked, past.entries, sources.materials, period),
        notes=notes(
            sources.shop,
            period,
            (booked, late),
            check_figure=sources.check_figure,
            unpriced=sum(line.unpriced for line in paid),
        ),
    )


def _going_back(booked: Sequence[Document], valued: Sequence[Valued], day: date) -> list[MayGoBack]:
    """Say what may still go back after a day."""
    taken = {d.reverses: d.id or 0 for d in booked if d.reverses is not None}
    return may_go_back(booked, taken, {each.material.code: each.nano for each in valued}, day)


def costs_of(sources: Sources) -> Costing:
    """Replay the book into cost entries by the shop's method."""
    known = {**sources.materials, **sources.priced_as}
    return replay(sources.documents, known, method=sources.method or sources.shop.costing)


def rules_of(sources: Sources) -> TaxRules:
    """Gather the tax rules of the book's items."""
    own = {code: m.tax_rate for code, m in sources.materials.items()}
    own |= {code: job.tax_rate for code, job in sources.jobs.items()}
    return tax_rules(sources.shop, own, sources.rates)


_METHODS = {
    "fifo": phrase("First in, first out: each use is costed from the oldest delivery still on the shelf."),
    "average": phrase("Moving average: each use is costed at the average of what is on the shelf at that moment."),
}
COST = (
    "Cost is what the supplier asked %(tax)s, with carriage and duties spread over the lines by %(by)s. "
    "Discounts lower it. Work at the bench is not part of it."
)
_BY = {"value": phrase("value"), "weight": phrase("weight (by value where a line's weight is not known)")}
_COST_TAX = {
    True: phrase("before tax"),
    False: phrase(
        "with its tax, because a shop that is not registered can't recover it (IAS 2.11, FRS 102 section 13)"
    ),
}
_ORDER = phrase(
    "Costs follow the days on the documents, not the order of typing: within the open period a delivery entered "
    "late is what the work after it used. At one moment, goods come before they go, and a count comes last. A "
    "document undone, or a price corrected, before its period is closed leaves no trace in these figures, though "
    "both stay in the book. A closed period does not change: what comes after it stands on the first open day, "
    "with what it changes in what was closed as a cost correction."
)
_PROVISIONAL = phrase(
    "What is used before its delivery came is costed at the last known price and marked 'provisional'. When the "
    "delivery comes, the difference is posted on the delivery's day and marked 'cost correction'."
)
_MONEY = phrase(
    "Costs are kept to a thousandth of the smallest coin. Lines shown in whole coins are rounded to the nearest, "
    "halves up; what that leaves stands on a line called 'Rounding', so that every total is the ledger's."
)
_WRITE_DOWN = phrase(
    "Stock is carried at cost. Where it may be worth less, the sheet 'Slow and expired' suggests a write-down to net "
    "realisable value (IAS 2, FRS 102 section 13). Nothing is posted: the accountant decides."
)
_JOURNAL = phrase(
    "The journal covers stock only. Purchases stand against 'goods received, not invoiced': the suppliers' invoices "
    "with their tax are recorded elsewhere."
)


def late_documents(booked: Sequence[Document], period: Period) -> tuple[Document, ...]:
    """Pick the documents booked in a period that happened before it."""
    return tuple(
        d for d in booked if d.moves and d.booked_on and d.booked_on in period and d.happened.date() < period.first
    )


def _days_of(period: Period) -> Phrase:
    first, last = (Figure(str(day), "day", (day,)) for day in (period.first, period.last))
    return phrase("%(first)s to %(last)s.", first=first, last=last)


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
    between = {"least": min(within), "most": max(within)} if within else {}
    counted = (
        plural(
            "%(num)s document, numbers %(least)s to %(most)s",
            "%(num)s documents, numbers %(least)s to %(most)s",
            len(within),
            **between,
        )
        if within
        else phrase("no documents")
    )
    state = phrase("Closed: these figures do not change." if period.closed else "Open: figures can still change.")
    registered = phrase(
        "The shop is registered for tax." if shop.tax_registered else "The shop is not registered for tax."
    )
    return (
        ("Period", joined([_days_of(period), state])),
        (
            "Documents",
            phrase(
                "In the period: %(counted)s. Late documents, of earlier days: %(late)s.",
                counted=counted,
                late=len(late),
            ),
        ),
        *(
            (("Jobs without a price", phrase("%(unpriced)s: they count as no income.", unpriced=unpriced)),)
            if unpriced
            else ()
        ),
        ("Check figure", check_figure or phrase("none given")),
        ("Method", _METHODS[shop.costing]),
        ("Cost", phrase(COST, by=_BY[shop.carriage_by], tax=_COST_TAX[shop.tax_registered])),
        ("Order of events", _ORDER),
        ("Provisional costs", _PROVISIONAL),
        ("Rounding", _MONEY),
        ("Tax", joined([registered, phrase(ROUNDING), phrase(CAUTION)])),
        ("Write-downs", _WRITE_DOWN),
        ("Journal", _JOURNAL),
    )
