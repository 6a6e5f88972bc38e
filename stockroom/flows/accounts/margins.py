"""What jobs earn, what moved it, and which prices a supplier's rise has made too low."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from stockroom.flows.accounts.period import against_before, gather, make_accounts
from stockroom.flows.book.terms import terms_of
from stockroom.margins.accounts import Sources, costs_of, rules_of
from stockroom.margins.alerts import Alert, alerts, offered_costs, priced_jobs
from stockroom.margins.changes import MarginChange
from stockroom.margins.income import Books, Group, by_money_lost, grouped, work_done
from stockroom.margins.period import Period
from stockroom.margins.valuation import PRICE_DIFFERENCES, column_of
from stockroom.show.formats import Formats
from stockroom.stock.layers import LayerEntry
from stockroom.stock.money import minor
from stockroom.stock.moves import MOVES, Role
from stockroom.stock.recipes import Job
from stockroom.stock.shop import Shop
from stockroom.store import catalogue
from stockroom.store.book import Book

YEAR = timedelta(days=365)
_EARNING = (Role.COMES_IN, Role.USED)
_APART = (*(facts.column for facts in MOVES.values() if facts.role not in _EARNING), PRICE_DIFFERENCES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Earned:
    """A period's paid work, grouped; what is not part of it stands apart. Money in thousandths of the minor unit."""

    period: Period
    by: str
    groups: tuple[Group, ...]  # the most money lost below the minimum margin first
    whole: Group | None  # all of it together
    redone: tuple[Group, ...]  # work under guarantee, by job: no income, materials and bench time only
    apart: tuple[tuple[str, int], ...]  # what else left the shelf (minus) or came back, by kind
    unpriced: int  # jobs without a price: they count as no income
    provisional: int  # materials in it that wait for their delivery to be entered
    earlier: int  # what earlier periods' jobs cost more (true-ups, corrections)
    names: Mapping[str, str]  # of jobs


@dataclass(frozen=True, slots=True, kw_only=True)
class Warned:
    """Jobs that suppliers' prices brought below the minimum margin between two days."""

    since: date
    day: date
    alerts: tuple[Alert, ...]
    jobs: Mapping[str, Job]
    names: Mapping[str, str]  # of materials
    shop: Shop


def margins_of(book: Book, period: Period, by: str = "job") -> Earned:
    """Say what a period's jobs earned, by ticket, job, size, choice or month."""
    with book.reading() as session:
        sources, _ = gather(session, period, since=period.first)
    entries = [entry for entry in costs_of(sources).entries if entry.booked_on in period]
    booked = [d for d in sources.documents if (d.booked_on or d.happened.date()) <= period.last]
    work, floor = work_done(booked, entries, _books(sources), period), sources.shop.margin_floor
    paid = [line for line in work.lines if not line.redo]
    groups = grouped(paid, by, floor=floor)
    return Earned(
        period=period,
        by=by,
        groups=tuple(by_money_lost(groups)),
        whole=together(groups if by == "job" else grouped(paid, "job", floor=floor)),
        redone=tuple(grouped((line for line in work.lines if line.redo), "job", floor=floor)),
        apart=_apart(entries),
        unpriced=sum(line.unpriced for line in paid),
        provisional=sum(line.provisional for line in work.lines),
        earlier=work.earlier,
        names={code: job.name for code, job in sources.jobs.items()},
    )


def what_moved(book: Book, period: Period, against: Period) -> MarginChange:
    """Explain how the margin of one period became another's; both by the second one's names and rates."""
    made = make_accounts(book, period, against=against).moved
    if made is None:
        raise ValueError("accounts were made against nothing")
    return made


def price_alerts(book: Book, day: date, since: date) -> Warned:
    """Find jobs that were on or over the owner's minimum margin at the offers of one day and are under it at another's.

    What a job uses is the mean of its finished tickets in the year up to `day`.
    """
    with book.reading() as session:
        year = Period(first=day - YEAR, last=day)
        sources, _ = gather(session, year, since=year.first)
        offers = catalogue.read_offers(session, catalogue.dimensions(session))
        terms = terms_of(session)
    rules, shop = rules_of(sources), sources.shop
    work = work_done(sources.documents, costs_of(sources).entries, _books(sources), year)
    found = alerts(
        priced_jobs(work, sources.jobs, rules, day),
        offered_costs(offers, since, terms),
        offered_costs(offers, day, terms),
        floor=shop.margin_floor,
        step=minor(shop.price_step, shop.currency_digits),
        ending=minor(shop.price_ending, shop.currency_digits),
    )
    names = {code: m.name for code, m in sources.materials.items()}
    return Warned(since=since, day=day, alerts=tuple(found), jobs=sources.jobs, names=names, shop=shop)


def job_names(book: Book) -> dict[str, str]:
    """Name the jobs by their codes."""
    with book.reading() as session:
        return {job.code: job.name for job in catalogue.read_jobs(session)}


def together(groups: Sequence[Group]) -> Group | None:
    """Add groups up; what each lost below the minimum margin is summed, and the whole has no interval of its own."""
    if not groups:
        return None
    names = ("count", "income", "materials", "fee", "post", "bench", "minutes", "measured", "lost")
    sums = {name: sum(getattr(group, name) for group in groups) for name in names}
    return Group(name="All", least=None, most=None, hour_least=None, hour_most=None, **sums)


def _apart(entries: Iterable[LayerEntry]) -> tuple[tuple[str, int], ...]:
    sums = dict.fromkeys(_APART, 0)
    for entry in entries:
        name = column_of(entry)
        if name in sums:
            sums[name] += entry.value
    return tuple((name, value) for name, value in sums.items() if value)


def _books(sources: Sources) -> Books:
    return Books(tickets=sources.tickets, jobs=sources.jobs, rules=rules_of(sources), shop=sources.shop)


DAYS = 91  # a quarter of a year, whole weeks: the same days of the week on both sides


def money_pictures(book: Book, day: date, formats: Formats) -> dict[str, bytes]:
    """Draw the thirteen weeks up to a day against those before; nothing where no paid work was done."""
    from stockroom.show.charts import margins  # noqa: PLC0415 -- charts are slow to import

    period = Period(first=day - timedelta(days=DAYS - 1), last=day)
    made = make_accounts(book, period, against=against_before(book, period))
    if not made.margins:
        return {}
    named = [replace(group, name=made.jobs[group.name].name) for group in made.margins if group.name in made.jobs]
    drawn = {"margins.png": margins.margin_chart(named, formats)}
    if made.moved:
        drawn["margin-changes.png"] = margins.waterfall_chart(made.moved, formats)
    if made.prices:
        drawn["prices.png"] = margins.price_chart(made.prices, formats)
    return drawn
