"""What each finished job brought in and what it used, read from the documents and their costs.

Figures come from documents, not from the state a ticket happens to be in today: a job undone next month is a
minus next month, and this month's figures stay.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction
from math import sqrt
from typing import cast

from stockroom.demand.bench_time import clock_of
from stockroom.demand.student import student_quantile
from stockroom.margins.in_progress import Uses, unfinished
from stockroom.margins.period import Period, month_of
from stockroom.phrases import phrase
from stockroom.stock.layers import SHORT, LayerEntry
from stockroom.stock.money import MILLI, half_up, printed
from stockroom.stock.moves import Document, DocumentKind, MoveKind
from stockroom.stock.recipes import PAIR, Job
from stockroom.stock.shop import Shop
from stockroom.stock.tax import TaxRules, quotient
from stockroom.stock.tickets import Ticket

_WORK = (DocumentKind.FINISH, DocumentKind.REDO)
_USE = (MoveKind.JOB_USE, MoveKind.REDO_USE)
_CLOCK = (DocumentKind.BEGUN, DocumentKind.PAUSED)
_TIMED = (*_CLOCK, *_WORK, DocumentKind.CANCEL)
_MINUTES = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLine:
    """One ticket in one period. Money in thousandths of the minor unit unless said otherwise."""

    ticket: str
    job: str
    day: date  # the accounting day
    count: int  # 1; -1 where a job of an earlier period is undone
    redo: bool
    size: str
    chosen: str  # 'sole=bend; welt=new'
    net: int  # minor units
    tax: int  # minor units
    per_cent: Decimal = Decimal(0)  # the tax rate in the price
    uses: Uses = field(default_factory=dict)
    provisional: int = 0  # part of the cost that waits for its delivery to be entered
    fee: int = 0
    post: int = 0
    bench: int = 0
    minutes: int = 0
    measured: bool = False  # whether its minutes were, or are those stated
    unpriced: bool = False  # what was charged is not known, so it counts as no income
    materials: int = field(init=False)  # what they cost together; asked for again and again

    def __post_init__(self) -> None:
        object.__setattr__(self, "materials", sum(value for _, value in self.uses.values()))

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
class PeriodWork:
    """A period's jobs, and what earlier jobs cost or gave back in it (true-ups, corrections)."""

    lines: tuple[JobLine, ...]
    earlier: int = 0


@dataclass(slots=True)
class _Tally:
    uses: Uses = field(default_factory=dict)
    provisional: int = 0


def work_done(documents: Sequence[Document], entries: Iterable[LayerEntry], books: Books, period: Period) -> PeriodWork:
    """Read the jobs of a period.

    Parameters
    ----------
    documents : sequence of Document
        All documents in entry order; those booked outside the period are passed over.
    entries : iterable of Entry
        The cost entries of their replay.
    books : Books
        Tickets by number, jobs by code, tax rules and the shop's settings.
    period : Period
        The accounting days wanted.

    Returns
    -------
    Work
        A line for every ticket finished (or undone) in the period.
    """
    entries = list(entries)
    tallies = _tallies(entries, period)
    staged = unfinished(documents, entries)
    measured = measured_minutes(documents, books.shop, period.last)
    for day, sign in ((period.first - timedelta(days=1), 1), (period.last, -1)):
        _carry(tallies, staged.on(day), sign)
    posted = posted_of(documents, period)
    lines = [_line(done, tallies, books, (posted, measured)) for done in done_in(documents, period, _WORK)]
    seen = {line.ticket for line in lines}
    earlier = sum(v for number, t in tallies.items() if number not in seen for _, v in t.uses.values())
    earlier += sum(cost * MILLI for name, cost in posted.items() if name not in seen and name in books.tickets)
    return PeriodWork(lines=tuple(lines), earlier=earlier)


def _carry(tallies: dict[str, _Tally], unfinished_: Mapping[str, Uses], sign: int) -> None:
    """Bring in what unfinished tickets had used before a period; leave out what they have at its end."""
    for number, uses in unfinished_.items():
        tally = tallies.setdefault(number, _Tally())
        for material, (nano, value) in uses.items():
            held = tally.uses.get(material, (0, 0))
            tally.uses[material] = (held[0] + sign * nano, held[1] + sign * value)


def measured_minutes(documents: Sequence[Document], shop: Shop, through: date) -> dict[str, int]:
    """Give the minutes of tickets that were measured, by what was booked until a day: a closed period keeps its own."""
    until = [d for d in documents if (d.booked_on or d.happened.date()) <= through]
    by_id = {document.id: document for document in until}
    standing: dict[int | None, int] = {}
    for document in until:
        if document.kind in _TIMED or document.reverses is not None:
            first, sign = _root(document, by_id)
            standing[first.id] = standing.get(first.id, 0) + sign
    told = [by_id[number] for number, stands in standing.items() if stands > 0 and by_id[number].kind in _TIMED]
    if not any(document.kind in _CLOCK for document in told):
        return {}
    ends = {document.subject: document.happened for document in told if document.kind not in _CLOCK}
    return clock_of(told, ends, shop, datetime.combine(through, time.max)).whole


def posted_of(documents: Sequence[Document], period: Period) -> dict[str, int]:
    """Add up what the post cost of parcels sent in a period, by ticket or sale, in minor units."""
    found: dict[str, int] = {}
    for sent in done_in(documents, period, (DocumentKind.SENT,)):
        cost = cast("int", sent.document.content.get("post_cost", 0))
        found[sent.document.subject] = found.get(sent.document.subject, 0) + sent.count * cost
    return {number: cost for number, cost in found.items() if cost}


def _tallies(entries: Iterable[LayerEntry], period: Period) -> dict[str, _Tally]:
    found: dict[str, _Tally] = {}
    for entry in entries:
        if entry.kind in _USE and entry.booked_on in period:
            tally = found.setdefault(entry.move.ticket, _Tally())
            nano, value = tally.uses.get(entry.move.material, (0, 0))
            tally.uses[entry.move.material] = (nano - entry.nano, value - entry.value)
            tally.provisional -= entry.value if entry.layer == SHORT else 0
    return found


@dataclass(frozen=True, slots=True)
class Done:
    """A document in force in a period, or one of an earlier period that is taken back there."""

    document: Document  # the one that says what was done, and the price
    day: date
    count: int  # 1, or -1 where it is taken back


def done_in(documents: Sequence[Document], period: Period, kinds: Sequence[DocumentKind]) -> list[Done]:
    """Find a period's documents of some kinds, by subject or number; what is undone within it leaves no trace."""
    by_id = {document.id: document for document in documents}
    net: dict[str | int | None, Done] = {}
    for document in documents:
        if document.reverses is None and document.kind not in kinds:
            continue
        day = document.booked_on or document.happened.date()
        if day in period:
            first, sign = _root(document, by_id)
            if first.kind in kinds:
                key = first.subject if first.kind in _WORK else first.id
                before = net.get(key)
                net[key] = Done(first, day, sign + (before.count if before else 0))
    return sorted((done for done in net.values() if done.count), key=lambda done: (done.day, done.document.happened))


def _root(document: Document, by_id: Mapping[int | None, Document]) -> tuple[Document, int]:
    sign = 1
    while document.reverses is not None and document.reverses in by_id:
        document, sign = by_id[document.reverses], -sign
    return document, sign


def _line(
    finish: Done, tallies: Mapping[str, _Tally], books: Books, told: tuple[Mapping[str, int], Mapping[str, int]]
) -> JobLine:
    document, number, (posted, measured) = finish.document, finish.document.subject, told
    ticket, redo = books.tickets.get(number), document.kind is DocumentKind.REDO
    code = cast("str", document.content.get("job", "")) or (ticket.job if ticket else "")
    job = books.jobs.get(code)
    price = _price(document, ticket, redo=redo)
    taxed = books.rules.sale((price or 0) * finish.count, code, finish.day)
    tally = tallies.get(number, _Tally())
    shoes = cast("int", document.content.get("shoes", ticket.shoes if ticket else PAIR))
    stated = half_up(Fraction((job.bench_minutes if job else 0) * shoes, PAIR))
    minutes = measured.get(number, stated) * finish.count
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
        per_cent=taxed.per_cent,
        uses=tally.uses,
        provisional=tally.provisional,
        fee=quotient(taxed.gross * MILLI * books.fee.numerator, 100 * books.fee.denominator),
        post=_post_cost(document, ticket) * MILLI * finish.count + posted.get(number, 0) * MILLI,
        bench=quotient(minutes * books.per_minute.numerator, books.per_minute.denominator),
        minutes=minutes,
        measured=number in measured,
        unpriced=price is None,
    )


def _price(document: Document, ticket: Ticket | None, *, redo: bool) -> int | None:
    """Give what was charged: by the document, else by the ticket, else None."""
    if redo:
        return 0
    stated = cast("int | None", document.content.get("price"))
    return stated if stated is not None or ticket is None else ticket.price


def _post_cost(document: Document, ticket: Ticket | None) -> int:
    """Give what the post cost by the finish, else by the ticket: older documents don't say."""
    stated = cast("int | None", document.content.get("post_cost"))
    return stated if stated is not None else (ticket.post_cost or 0) if ticket else 0


def _per_minute(shop: Shop) -> Fraction:
    return Fraction(shop.bench_hour_rate * Decimal(10) ** shop.currency_digits * MILLI) / _MINUTES


NO_SIZE = phrase("no size")
BY: dict[str, Callable[[JobLine], str]] = {
    "ticket": lambda line: line.ticket,
    "job": lambda line: line.job,
    "size": lambda line: line.size or NO_SIZE,
    "choice": lambda line: f"{line.job}: {line.chosen or 'as usual'}",
    "month": lambda line: month_of(line.day),
}
_CONFIDENCE = 0.90


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Tickets added up. Money in thousandths of the minor unit."""

    name: str
    count: int
    income: int
    materials: int
    fee: int
    post: int
    bench: int
    minutes: int
    measured: int  # tickets of which the minutes were
    hour_least: int | None  # margin an hour lies between them, nine times in ten
    hour_most: int | None
    least: int | None  # the mean margin of a ticket lies between least and most, with nine chances in ten
    most: int | None
    lost: int  # what materials cost beyond their share at the owner's minimum margin

    @property
    def margin(self) -> int:
        """Income less materials, card fee and post."""
        return self.income - self.materials - self.fee - self.post

    @property
    def after_bench(self) -> int:
        """Margin less bench time at the shop's rate."""
        return self.margin - self.bench

    @property
    def share(self) -> Fraction | None:
        """Margin as a part of income."""
        return Fraction(self.margin, self.income) if self.income else None

    @property
    def materials_share(self) -> Fraction | None:
        """Materials as a part of income."""
        return Fraction(self.materials, self.income) if self.income else None

    @property
    def per_hour(self) -> int | None:
        """Margin for an hour at the bench."""
        return half_up(Fraction(self.margin * _MINUTES, self.minutes)) if self.minutes > 0 else None


def grouped(lines: Iterable[JobLine], by: str, *, floor: Decimal) -> list[Group]:
    """Add tickets up, the most money first.

    Parameters
    ----------
    lines : iterable of JobLine
        Paid work; guarantee work is shown apart and belongs elsewhere.
    by : str
        'ticket', 'job', 'size', 'choice' or 'month'.
    floor : Decimal
        Per cent of income that should be left after materials.

    Returns
    -------
    list of Group
        By margin in money, greatest first.

    Raises
    ------
    ValueError
        If there is no such grouping.

    Notes
    -----
    Interval of the mean: Student's t, two-sided 90 %, from the tickets' own spread; none for a single ticket. It
    tells chance in which tickets came; it knows nothing of prices to come.
    """
    if by not in BY:
        raise ValueError(f"no grouping by {by}")
    parts: dict[str, list[JobLine]] = {}
    for line in lines:
        parts.setdefault(BY[by](line), []).append(line)
    groups = [_group(name, part, floor) for name, part in parts.items()]
    return sorted(groups, key=lambda group: (-group.margin, group.name))


@dataclass(frozen=True, slots=True, kw_only=True)
class Coins:
    """A group's figures in whole minor units, as they are printed: they add up along the line and down the column."""

    income: int
    materials: int
    fee: int
    post: int

    @property
    def margin(self) -> int:
        """Income less what is subtracted from it."""
        return self.income - self.materials - self.fee - self.post


def in_coins(groups: Sequence[Group]) -> list[Coins]:
    """Round groups so that what is printed adds up: each column to its rounded sum (largest remainders first)."""
    columns = {
        name: printed([getattr(group, name) for group in groups]) for name in ("income", "materials", "fee", "post")
    }
    return [Coins(**{name: column[n] for name, column in columns.items()}) for n in range(len(groups))]


def by_money_lost(groups: Iterable[Group]) -> list[Group]:
    """Rank groups by the money their materials cost below the minimum margin's share, then by materials' share."""
    return sorted(groups, key=lambda g: (-g.lost, -(g.materials_share or 0), g.name))


def _group(name: str, lines: Sequence[JobLine], floor: Decimal) -> Group:
    income = sum(line.net for line in lines) * MILLI
    materials = sum(line.materials for line in lines)
    allowed = half_up(income * (100 - Fraction(floor)) / 100)
    done = [line for line in lines if line.count > 0]
    least, most = mean_interval([line.margin for line in done])
    hour_least, hour_most = hour_interval([(line.margin, line.minutes) for line in done])
    return Group(
        name=name,
        count=sum(line.count for line in lines),
        income=income,
        materials=materials,
        fee=sum(line.fee for line in lines),
        post=sum(line.post for line in lines),
        bench=sum(line.bench for line in lines),
        minutes=sum(line.minutes for line in lines),
        measured=sum(line.measured for line in lines),
        hour_least=hour_least,
        hour_most=hour_most,
        least=least,
        most=most,
        lost=max(materials - max(allowed, 0), 0),  # work only taken back lost nothing here
    )


def mean_interval(values: Sequence[int]) -> tuple[int | None, int | None]:
    """Give the 90 % interval of a mean, or nothing from fewer than two values.

    Notes
    -----
    mean +/- t(0.95, n - 1) s / sqrt(n), s the sample standard deviation.
    """
    n = len(values)
    if n < 2:  # noqa: PLR2004 -- one ticket says nothing of the next
        return None, None
    mean = sum(values) / n
    spread = sqrt(sum((value - mean) ** 2 for value in values) / (n - 1))
    reach = student_quantile(n - 1, (1 + _CONFIDENCE) / 2) * spread / sqrt(n)
    return round(mean - reach), round(mean + reach)


def hour_interval(tickets: Sequence[tuple[int, int]]) -> tuple[int | None, int | None]:
    """Give the 90 % interval of the margin an hour, from each ticket's margin and minutes.

    Notes
    -----
    A ratio of sums r = sum(margin) / sum(minutes); its standard error is that of the mean of margin - r minutes,
    divided by the mean minutes (Cochran, Sampling Techniques, 3rd ed. 1977, section 6.4), with Student's t of n - 1.
    Where all take the same time it is the interval of the mean margin.
    """
    n, minutes = len(tickets), sum(minutes for _, minutes in tickets)
    if n < 2 or minutes <= 0:  # noqa: PLR2004 -- as above
        return None, None
    ratio = sum(margin for margin, _ in tickets) / minutes
    rest = sqrt(sum((margin - ratio * spent) ** 2 for margin, spent in tickets) / (n - 1))
    reach = student_quantile(n - 1, (1 + _CONFIDENCE) / 2) * rest / sqrt(n) / (minutes / n)
    return round((ratio - reach) * _MINUTES), round((ratio + reach) * _MINUTES)
