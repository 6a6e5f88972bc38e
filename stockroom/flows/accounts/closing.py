"""Close accounting periods: their figures stand from then on, and late documents land in the open one."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from stockroom.errors import RefusedError, UnknownError, UsageError, nearest
from stockroom.flows.accounts.period import ACCOUNT, Closing, closings_of, gather
from stockroom.flows.book.terms import TAX_RATE, tax_rates
from stockroom.flows.posting.post import CLOSED_THROUGH, closed_through, entered_before, post_one
from stockroom.margins.accounts import Accounts, accounts
from stockroom.margins.journal import ACCOUNTS, FORMERLY, numbers_kept
from stockroom.margins.period import Period
from stockroom.phrases import phrase
from stockroom.stock.layer_order import BY_DAY
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.postings import Stamp
from stockroom.stock.tax import Rate, per_cent
from stockroom.store import catalogue, counts, ledger, list_changes
from stockroom.store.book import Book, Session
from stockroom.store.snapshots import snapshot, written


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed:
    """What closing did."""

    number: int  # of the document that closes
    fresh: bool
    period: Period  # from the first open day
    value: int  # of the shelf at its end, thousandths of the minor unit
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PeriodsState:
    """Which periods are closed, and the documents of closed days that came too late for them."""

    closings: tuple[Closing, ...]
    late: tuple[Document, ...]


def close_period(book: Book, period: Period, stamp: Stamp) -> Closed:
    """Close everything up to a period's last day.

    The document that closes carries the names, rates and settings the figures were made with. There is no reopening:
    whoever was given the figures has them, and a late document shows openly what changed.
    """
    stamp = stamp.asking("close period", last=period.last)
    with book.writing() as session:
        known = entered_before(session, stamp, DocumentKind.PERIOD)
        if known is not None:
            return _again(session, known)
        whole = _open_part(session, period, stamp)
        sources, _ = gather(session, whole)
        made = accounts(sources, whole)
        kept = written(snapshot(session, whole.last))
        first, through = whole.first.isoformat(), whole.last.isoformat()
        document = stamp.document(
            DocumentKind.PERIOD, str(whole), first=first, through=through, value=made.closing, kept=kept, costed=BY_DAY
        )
        posted = post_one(session, document, new=True)
        catalogue.save_note(session, CLOSED_THROUGH, whole.last.isoformat())
        cautions = _cautions(session, made)
    return Closed(number=posted.number, fresh=posted.fresh, period=whole, value=made.closing, cautions=cautions)


def state_of_periods(book: Book) -> PeriodsState:
    """List the closings, and the documents that were booked later than they happened because of them."""
    with book.reading() as session:
        closings = ledger.read_documents(session, kinds=[DocumentKind.PERIOD], with_moves=False)
        documents = ledger.read_documents(session) if closings else []
    late = [d for d in documents if d.moves and d.booked_on and d.booked_on > d.happened.date()]
    return PeriodsState(closings=tuple(closings_of(closings)), late=tuple(late))


def account_numbers(
    book: Book, changes: Mapping[str, str] | None = None, *, at: datetime | None = None
) -> dict[str, str]:
    """Give the shop's number for each account of the journal; change some, an empty one to the name again."""
    if changes:
        give_account_numbers(book, changes, at=at)
    with book.reading() as session:
        kept = catalogue.read_notes(session, ACCOUNT)
    numbers = numbers_kept({name.removeprefix(ACCOUNT): number for name, number in kept.items()})
    return {name: numbers.get(name, "") for name in ACCOUNTS}


def give_account_numbers(
    book: Book, changes: Mapping[str, str], *, at: datetime | None = None, who: str = ""
) -> int | None:
    """Give accounts of the journal the shop's numbers; gives the document that says so.

    Raises
    ------
    UnknownError
        If the journal has no account of a name.
    UsageError
        If a number is too long.
    """
    changes = {FORMERLY.get(name, name): number for name, number in changes.items()}
    for name, number in changes.items():
        check_account_number(name, number)
    with book.writing(at=at, who=who) as session:
        for name, number in changes.items():
            catalogue.save_note(session, f"{ACCOUNT}{name}", number)
        return list_changes.say_now(session)


def check_account_number(name: str, number: str) -> None:
    """Refuse a number that an account of the journal can't have.

    Raises
    ------
    UnknownError
        If the journal has no account of that name.
    UsageError
        If it is too long.
    """
    if name not in ACCOUNTS:
        known = nearest(name, ACCOUNTS) or phrase("Accounts: %(accounts)s.", accounts=", ".join(ACCOUNTS))
        raise UnknownError(phrase("The journal has no account '%(name)s'.", name=name), fix=known)
    if len(number) > 40:  # noqa: PLR2004 -- longer than any chart of accounts numbers
        raise UsageError(
            phrase("'%(number)s' is too long for an account number.", number=number), fix="Forty signs at most."
        )


def dated_tax_rates(
    book: Book, day: date | None = None, rate: str = "", *, item: str = "", at: datetime | None = None
) -> tuple[Rate, ...]:
    """Give the tax rates in force from a day on; add one, for all or for one material's or job's code."""
    if day is not None:
        add_tax_rate(book, day, rate, item=item, at=at)
    with book.reading() as session:
        return tax_rates(catalogue.read_notes(session, TAX_RATE))


def add_tax_rate(
    book: Book, day: date, rate: str, *, item: str = "", at: datetime | None = None, who: str = ""
) -> int | None:
    """Add a tax rate from a day on; gives the document that says so.

    Raises
    ------
    UnknownError
        If nothing on the price list has the code, or alone the name.
    RefusedError
        If the day is closed.
    """
    with book.writing(at=at, who=who) as session:
        _refuse_closed(session, day)
        item = _rated(session, item)
        catalogue.save_note(session, f"{TAX_RATE}{day.isoformat()}:{item}", f"{per_cent(rate):f}")
        return list_changes.say_now(session)


def check_rate_day(book: Book, day: date) -> None:
    """Refuse a day from which no rate can hold any more.

    Raises
    ------
    RefusedError
        If it is closed.
    """
    with book.reading() as session:
        _refuse_closed(session, day)


def rated_item(book: Book, item: str) -> str:
    """Give the code of a material or job by its code, or by a name that only one has.

    Raises
    ------
    UnknownError
        If there is none.
    """
    with book.reading() as session:
        return _rated(session, item)


def _rated(session: Session, item: str) -> str:
    names = {m.code: m.name for m in catalogue.read_materials(session)}
    names |= {j.code: j.name for j in catalogue.read_jobs(session)}
    called = [code for code, name in names.items() if name.casefold() == item.casefold()]
    if not item or item in names:
        return item
    if len(called) == 1:
        return called[0]
    raise UnknownError(
        phrase("No material or job has the code or name '%(item)s'.", item=item), fix=nearest(item, names)
    )


def _refuse_closed(session: Session, day: date) -> None:
    closed = closed_through(session)
    if closed is not None and day <= closed:
        raise RefusedError(
            phrase("The books are closed through %(closed)s.", closed=closed),
            fix="Give a later day: closed figures stand.",
        )


def _open_part(session: Session, period: Period, stamp: Stamp) -> Period:
    """Give the days that closing a period closes; refuses what is closed, not over, or before the book."""
    _refuse_closed(session, period.last)
    if period.last >= stamp.entered.date():
        raise RefusedError(
            phrase("The period %(period)s is not over.", period=period),
            fix=phrase("Close it after %(last)s.", last=period.last),
        )
    days = [d.booked_on or d.happened.date() for d in ledger.read_documents(session, with_moves=False)]
    if not days or min(days) > period.last:
        raise RefusedError(phrase("The book has nothing up to %(last)s.", last=period.last), fix="Check the year.")
    closed = closed_through(session)
    first = min(period.first, *days) if closed is None else closed + timedelta(days=1)
    return Period(first=first, last=period.last, closed=True)


def _again(session: Session, number: int) -> Closed:
    closing = closings_of(ledger.read_documents(session, numbers=[number]))[0]
    period = Period(first=closing.first, last=closing.through, closed=True)
    return Closed(number=number, fresh=False, period=period, value=closing.value, cautions=())


def _cautions(session: Session, made: Accounts) -> tuple[str, ...]:
    """Say what a careful owner would have settled before closing; none of it forbids to close."""
    end = datetime.combine(made.period.last, time.max)
    waiting = [valued.material.code for valued in made.valued if valued.waiting]
    uncounted = {
        k.sheet
        for k in counts.read_lines(session, catalogue.dimensions(session), state="open")
        if k.line.counted <= end
    }
    said = []
    if waiting:
        said.append(f"Used before its delivery was entered, at a provisional cost: {', '.join(waiting)}.")
    if uncounted:
        said.append(f"Counted but not settled: sheet {', '.join(sorted(uncounted))}.")
    return tuple(said)
