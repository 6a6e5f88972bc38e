"""What each finished job brought in and what it used, read from the papers and their costs.

Figures come from documents, not from the state a ticket happens to be in today: a job taken back next month is a
minus next month, and this month's figures stay.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import cast

from stockroom.margins.period import Period
from stockroom.stock.layers import SHORT, Entry
from stockroom.stock.money import MILLI
from stockroom.stock.moves import Document, DocumentKind, MoveKind
from stockroom.stock.recipes import Job
from stockroom.stock.shop import Shop
from stockroom.stock.tax import TaxRules, quotient
from stockroom.stock.tickets import Ticket

_WORK = (DocumentKind.FINISH, DocumentKind.REDO)
_USE = (MoveKind.JOB_USE, MoveKind.REDO_USE)
_MINUTES = 60

Uses = dict[str, tuple[int, int]]  # material: amount in nano and cost in thousandths, both as used (positive)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLine:
    """One ticket in one period. Money in thousandths of the minor unit unless said otherwise."""

    ticket: str
    job: str
    day: date  # the accounting day
    count: int  # 1; -1 where a job of an earlier period is taken back
    redo: bool
    size: str
    chosen: str  # 'sole=bend; welt=new'
    net: int  # minor units
    tax: int  # minor units
    uses: Uses = field(default_factory=dict)
    provisional: int = 0  # part of the cost that waits for its delivery to be entered
    fee: int = 0
    post: int = 0
    bench: int = 0
    minutes: int = 0
    unpriced: bool = False  # nobody said what was charged, so that it counts as no income

    @property
    def materials(self) -> int:
        """What the materials cost."""
        return sum(value for _, value in self.uses.values())

    @property
    def margin(self) -> int:
        """Income less materials, card fee and post; bench time is shown beside it."""
        return self.net * MILLI - self.materials - self.fee - self.post


@dataclass(frozen=True, slots=True, kw_only=True)
class Books:
    """What job lines are read with."""

    tickets: Mapping[str, Ticket]
    jobs: Mapping[str, Job]
    rules: TaxRules
    shop: Shop
    fee: Fraction = field(init=False)  # per cent
    per_minute: Fraction = field(init=False)  # thousandths of the minor unit for a minute at the bench

    def __post_init__(self) -> None:
        object.__setattr__(self, "fee", Fraction(self.shop.card_fee))
        object.__setattr__(self, "per_minute", _per_minute(self.shop))


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """A period's jobs, and what earlier jobs cost or gave back in it (true-ups, corrections)."""

    lines: tuple[JobLine, ...]
    earlier: int = 0


@dataclass(slots=True)
class _Tally:
    uses: Uses = field(default_factory=dict)
    provisional: int = 0


def work_done(documents: Sequence[Document], entries: Iterable[Entry], books: Books, period: Period) -> Work:
    """Read the jobs of a period.

    Parameters
    ----------
    documents : sequence of Document
        All papers in entry order; those booked outside the period are passed over.
    entries : iterable of Entry
        The cost entries of their replay.
    books : Books
        Tickets by number, jobs by code, tax rules and the shop's settings.
    period : Period
        The accounting days wanted.

    Returns
    -------
    Work
        A line for every ticket finished (or taken back) in the period.
    """
    tallies = _tallies(entries, period)
    lines = [_line(paper, tallies, books) for paper in _finished(documents, period)]
    seen = {line.ticket for line in lines}
    earlier = sum(v for number, t in tallies.items() if number not in seen for _, v in t.uses.values())
    return Work(lines=tuple(lines), earlier=earlier)


def _tallies(entries: Iterable[Entry], period: Period) -> dict[str, _Tally]:
    found: dict[str, _Tally] = {}
    for entry in entries:
        if entry.kind in _USE and entry.booked_on in period:
            tally = found.setdefault(entry.move.ticket, _Tally())
            nano, value = tally.uses.get(entry.move.material, (0, 0))
            tally.uses[entry.move.material] = (nano - entry.nano, value - entry.value)
            tally.provisional -= entry.value if entry.layer == SHORT else 0
    return found


@dataclass(frozen=True, slots=True)
class _Finish:
    paper: Document  # the one that says job and price
    day: date
    count: int


def _finished(documents: Sequence[Document], period: Period) -> list[_Finish]:
    """Find a period's finished tickets; what is taken back within it leaves no trace."""
    by_id = {document.id: document for document in documents}
    net: dict[str, _Finish] = {}
    for document in documents:
        day = document.booked_on or document.happened.date()
        if day in period:
            first, sign = _root(document, by_id)
            if first.kind in _WORK:
                before = net.get(first.subject)
                net[first.subject] = _Finish(first, day, sign + (before.count if before else 0))
    return [finish for finish in net.values() if finish.count]


def _root(document: Document, by_id: Mapping[int | None, Document]) -> tuple[Document, int]:
    sign = 1
    while document.reverses is not None and document.reverses in by_id:
        document, sign = by_id[document.reverses], -sign
    return document, sign


def _line(finish: _Finish, tallies: Mapping[str, _Tally], books: Books) -> JobLine:
    paper, number = finish.paper, finish.paper.subject
    ticket, redo = books.tickets.get(number), paper.kind is DocumentKind.REDO
    code = cast("str", paper.content.get("job", "")) or (ticket.job if ticket else "")
    job = books.jobs.get(code)
    price = _price(paper, ticket, redo=redo)
    taxed = books.rules.sale((price or 0) * finish.count, code, finish.day)
    tally = tallies.get(number, _Tally())
    minutes = (job.bench_minutes if job else 0) * finish.count
    return JobLine(
        ticket=number,
        job=code,
        day=finish.day,
        count=finish.count,
        redo=redo,
        size=str(ticket.size) if ticket and ticket.size else "",
        chosen="; ".join(f"{k}={v}" for k, v in sorted(ticket.chosen.items())) if ticket else "",
        net=taxed.net,
        tax=taxed.tax,
        uses=tally.uses,
        provisional=tally.provisional,
        fee=quotient(taxed.gross * MILLI * books.fee.numerator, 100 * books.fee.denominator),
        post=(ticket.post_cost or 0) * MILLI * finish.count if ticket else 0,
        bench=quotient(minutes * books.per_minute.numerator, books.per_minute.denominator),
        minutes=minutes,
        unpriced=price is None,
    )


def _price(paper: Document, ticket: Ticket | None, *, redo: bool) -> int | None:
    """Give what was charged: by the paper, else by the ticket, else nobody knows."""
    if redo:
        return 0
    stated = cast("int | None", paper.content.get("price"))
    return stated if stated is not None or ticket is None else ticket.price


def _per_minute(shop: Shop) -> Fraction:
    return Fraction(shop.bench_hour_rate * Decimal(10) ** shop.currency_digits * MILLI) / _MINUTES
