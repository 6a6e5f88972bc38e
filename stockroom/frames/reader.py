"""A book open to be read as frames. Until the first one is asked for, nothing heavy is loaded."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time
from typing import TYPE_CHECKING, Self, Unpack

from stockroom.errors import UsageError
from stockroom.flows.book.find_book import look_for
from stockroom.margins.period import Period, from_to, period_named
from stockroom.stock.typed import by_clock, day_or_moment, noon_of

if TYPE_CHECKING:
    import pandas as pd

    from stockroom.flows.book.opening import Book, Shop
    from stockroom.flows.outlook.run_outs import Outlook
    from stockroom.frames.shape import Facts, Shape, Written

When = str | date | datetime  # a day or a moment; as text, 2026-03-31 or 2026-03-31T14:30
MOST_AHEAD, MOST_BACK = 104, 156  # weeks, as in the commands
MOST_DAYS = 90


class BookReader:
    """A book's frames: each method gives one, indexed and typed as `stockroom/frames/REFERENCE.md` says.

    Parameters
    ----------
    place : str or path
        The book: a file, or postgresql://…

    Raises
    ------
    stockroom.errors.BookError
        If there is no such file; once a frame is asked for, if it is not a book of this version.

    Notes
    -----
    Every frame takes `exact=True` (beside each amount its whole number of billionths of the base unit, in a column
    ending in `_nano`) and `money="decimal"` (exact decimals instead of floats).

    With `as_of`, a frame shows the book as it stood: for what lies ahead a day means its noon, else its end.

    Examples
    --------
    >>> book = stockroom.open("stockroom.sqlite")
    >>> book.shelf().loc[["TIP", "FILLER"], ["on_hand", "unit"]]
              on_hand  unit
    material
    TIP          39.0  pair
    FILLER        2.4    kg
    >>> used = book.moves(as_of="2026-01-14", exact=True).query("kind == 'job use'")
    >>> used[["material", "amount", "amount_nano", "unit"]].to_dict("records")[0]
    {'material': 'TIP', 'amount': -6.0, 'amount_nano': -12000000000, 'unit': 'pair'}
    >>> book.sales(money="decimal")["price"].tolist()
    [Decimal('70.00')]
    >>> book.margins("2026-01").loc["paid", ["count", "income", "materials"]].round(2)
           count  income  materials
    name
    HEELS      1    59.5       5.82
    >>> book.close()
    """

    def __init__(self, place: str | os.PathLike[str]) -> None:
        self.place = os.fspath(place)
        look_for(self.place)
        self._book: Book | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_wrong: object) -> None:
        self.close()

    def __repr__(self) -> str:
        from stockroom.flows.book.opening import shown

        return f"stockroom.open({shown(self.place)!r})"

    def close(self) -> None:
        """Let go of the file or server; a frame asked for later opens it again."""
        if self._book is not None:
            self._book.close()
            self._book = None

    @property
    def currency(self) -> str:
        """The currency of every figure of money, by its three letters."""
        return self._shop.currency

    def sites(self) -> list[str]:
        """Name the sites, the first one first."""
        from stockroom.flows.book.opening import sites

        return sites(self._open)

    def shelf(self, *, as_of: When | None = None, site: str | None = None, **written: Unpack[Written]) -> pd.DataFrame:
        """Say what is on the shelf, set aside, free and on order."""
        from stockroom.flows.bench.shelf import shelf_rows
        from stockroom.frames.answers import STOCK

        at = None if as_of is None else _read(as_of)
        return self._rows(STOCK, shelf_rows(self._open, at=at, site=self._site(site)), written)

    def moves(self, *, as_of: When | None = None, site: str | None = None, **written: Unpack[Written]) -> pd.DataFrame:
        """Give the ledger's lines."""
        from stockroom.flows.records import moves
        from stockroom.frames.records import MOVES

        told = moves(self._open, until=_until(as_of), site=self._site(site))
        return self._made(MOVES, {**told, "amount": told["nano"]}, written)

    def documents(
        self, *, as_of: When | None = None, site: str | None = None, **written: Unpack[Written]
    ) -> pd.DataFrame:
        """Give the documents behind the ledger's lines."""
        from stockroom.flows.records import documents
        from stockroom.frames.records import DOCUMENTS

        told = documents(self._open, until=_until(as_of), site=self._site(site))
        return self._made(DOCUMENTS, {**told, "document": told["id"], "about": told["subject"]}, written)

    def tickets(
        self, *, as_of: When | None = None, site: str | None = None, **written: Unpack[Written]
    ) -> pd.DataFrame:
        """Give every ticket, whatever its state."""
        from stockroom.flows.records import tickets
        from stockroom.frames.records import TICKETS

        return self._rows(TICKETS, tickets(self._open, until=_until(as_of), site=self._site(site)), written)

    def sales(self, *, as_of: When | None = None, site: str | None = None, **written: Unpack[Written]) -> pd.DataFrame:
        """Give the counter sales that stand."""
        from stockroom.flows.records import sales
        from stockroom.frames.records import SALES

        return self._rows(SALES, sales(self._open, until=_until(as_of), site=self._site(site)), written)

    def deliveries(
        self, *, as_of: When | None = None, site: str | None = None, **written: Unpack[Written]
    ) -> pd.DataFrame:
        """Give what came, of the deliveries that stand."""
        from stockroom.flows.records import deliveries
        from stockroom.frames.records import DELIVERIES

        return self._rows(DELIVERIES, deliveries(self._open, until=_until(as_of), site=self._site(site)), written)

    def orders(self, *, as_of: When | None = None, site: str | None = None, **written: Unpack[Written]) -> pd.DataFrame:
        """Give the lines of every order, open or not."""
        from stockroom.flows.records import orders
        from stockroom.frames.records import ORDERS

        found = orders(self._open, _moment(as_of).date(), until=_until(as_of), site=self._site(site))
        return self._rows(ORDERS, found, written)

    def run_outs(
        self,
        *,
        as_of: When | None = None,
        site: str | None = None,
        weeks: int | None = None,
        models: Sequence[str] = (),
        **written: Unpack[Written],
    ) -> pd.DataFrame:
        """Say what runs out and when, over some weeks, by the models named [the shop's settings]."""
        from stockroom.flows.outlook.run_outs import run_out_rows
        from stockroom.frames.answers import RUN_OUT

        seen = self._look_ahead(as_of, site, weeks, models)
        return self._rows(RUN_OUT, run_out_rows(seen), written)

    def forecast(
        self,
        *,
        as_of: When | None = None,
        site: str | None = None,
        weeks: int | None = None,
        models: Sequence[str] = (),
        **written: Unpack[Written],
    ) -> pd.DataFrame:
        """Forecast each material's use week by week, over some weeks, by the models named [the shop's settings]."""
        from stockroom.flows.outlook.run_outs import weekly_forecast
        from stockroom.frames.answers import FORECAST

        seen = self._look_ahead(as_of, site, weeks, models)
        return self._rows(FORECAST, weekly_forecast(seen), written)

    def events_ahead(
        self,
        *,
        as_of: When | None = None,
        site: str | None = None,
        weeks: int | None = None,
        **written: Unpack[Written],
    ) -> pd.DataFrame:
        """Say what the events of the weeks ahead are expected to bring [half a year]."""
        from stockroom.flows.outlook.coming import coming_events
        from stockroom.flows.outlook.run_outs import ORDER_WEEKS
        from stockroom.frames.answers import EVENTS_AHEAD

        found = coming_events(self._open, _moment(as_of), site=self._site(site), weeks=weeks or ORDER_WEEKS)
        return self._rows(EVENTS_AHEAD, found, written)

    def order_suggestions(
        self, *, as_of: When | None = None, site: str | None = None, **written: Unpack[Written]
    ) -> pd.DataFrame:
        """Suggest what to order from each supplier, with the reason for every line."""
        from stockroom.flows.ordering.plan import plan_order
        from stockroom.frames.answers import SUGGESTIONS

        plan = plan_order(self._open, _moment(as_of), site=self._site(site))
        return self._rows(SUGGESTIONS, [(each, line) for each in plan.lists for line in each.lines], written)

    def priced_orders(
        self,
        packs: Mapping[str, int] | None = None,
        *,
        as_of: When | None = None,
        site: str | None = None,
        **written: Unpack[Written],
    ) -> pd.DataFrame:
        """Price suggested orders that you changed beside those suggested: packs by material, 0 to take one off."""
        from stockroom.flows.ordering.edit import both_priced, edited
        from stockroom.flows.ordering.place import OrderedPacks
        from stockroom.flows.ordering.plan import plan_order
        from stockroom.frames.answers import CHANGED, PRICED, SUGGESTED

        plan = plan_order(self._open, _moment(as_of), site=self._site(site))
        changes = [OrderedPacks(material=material, packs=count) for material, count in (packs or {}).items()]
        priced = both_priced(plan, edited(plan, changes)) if plan.lists or changes else ()
        rows = [(name, *figures) for name, figures in zip((SUGGESTED, CHANGED), priced, strict=False)]
        return self._rows(PRICED, rows, written)

    def year_ahead(
        self, *, as_of: When | None = None, site: str | None = None, **written: Unpack[Written]
    ) -> pd.DataFrame:
        """Say what the orders of a year are expected to come to, by month and supplier."""
        from stockroom.flows.ordering.year import year_ahead
        from stockroom.frames.answers import YEAR

        found = year_ahead(self._open, _moment(as_of), site=self._site(site))
        return self._rows(YEAR, (*found.months, *found.each) if found.suppliers else (), written)

    def stock_or_delays(
        self, *, as_of: When | None = None, site: str | None = None, **written: Unpack[Written]
    ) -> pd.DataFrame:
        """Weigh stock against delayed jobs over a year, at several degrees of caution."""
        from stockroom.flows.ordering.caution import caution
        from stockroom.frames.answers import CAUTION

        points = caution(self._open, _moment(as_of), site=self._site(site)).points
        return self._rows(CAUTION, points if any(each.stock for each in points) else (), written)

    def margins(
        self, period: str | tuple[When, When] = "", *, by: str = "job", **written: Unpack[Written]
    ) -> pd.DataFrame:
        """Say what a period's jobs earned, by ticket, job, size, choice or month.

        The period is a month, a quarter or a year (2026-10, 2026-Q4, 2026), or its first and last day; without one,
        the last twelve months.

        Raises
        ------
        UsageError
            If jobs can't be grouped by that.
        """
        from stockroom.flows.accounts.margins import margins_of
        from stockroom.frames.answers import MARGINS, PAID, REDONE
        from stockroom.margins.income import BY

        if by not in BY:
            raise UsageError(f"Jobs can't be grouped by '{by}'.", fix=f"Group by {', '.join(BY)}.")
        found = margins_of(self._open, _period(period), by)
        pairs = [(PAID, group) for group in found.groups] + [(REDONE, group) for group in found.redone]
        return self._rows(MARGINS, pairs, written)

    def job_minutes(
        self, *, as_of: When | None = None, site: str | None = None, **written: Unpack[Written]
    ) -> pd.DataFrame:
        """Say how long jobs take at the bench: as stated, as measured, and what is reckoned with."""
        from stockroom.flows.bench.work_time import bench_state
        from stockroom.frames.answers import JOB_MINUTES

        jobs = bench_state(self._open, _moment(as_of), site=self._site(site)).jobs
        found = sorted((-each.tickets, code) for code, each in jobs.items())
        return self._rows(JOB_MINUTES, [jobs[code] for _, code in found], written)

    def bench_load(self, *, as_of: When | None = None, days: int = 14, **written: Unpack[Written]) -> pd.DataFrame:
        """Set the work promised against the hours open, for some days; empty where the hours are not known.

        Raises
        ------
        UsageError
            If so many days are too many to ask about.
        """
        from stockroom.flows.bench.work_time import bench_load
        from stockroom.frames.answers import BENCH_LOAD

        if not 1 <= days <= MOST_DAYS:
            raise UsageError(f"{days} is not a number of days to ask about.", fix=f"Give 1 to {MOST_DAYS}.")
        return self._rows(BENCH_LOAD, bench_load(self._open, _moment(as_of), days=days).days, written)

    def services(self, *, as_of: When | None = None, **written: Unpack[Written]) -> pd.DataFrame:
        """Say what is to be done to machines, and what is due."""
        from stockroom.flows.bench.machines import services
        from stockroom.frames.answers import SERVICES

        return self._rows(SERVICES, services(self._open, _moment(as_of)), written)

    def cost_layers(self, *, as_of: When | None = None, **written: Unpack[Written]) -> pd.DataFrame:
        """Say what each cost layer holds at the end of an accounting day [today]."""
        from stockroom.flows.records import cost_layers
        from stockroom.frames.records import LAYERS

        return self._rows(LAYERS, cost_layers(self._open, _moment(as_of).date()), written)

    def counts(self, *, as_of: When | None = None, site: str | None = None, **written: Unpack[Written]) -> pd.DataFrame:
        """Give the counted bins."""
        from stockroom.flows.records import counted
        from stockroom.frames.records import COUNTS

        return self._rows(COUNTS, counted(self._open, until=_until(as_of), site=self._site(site)), written)

    def offcuts(
        self, *, as_of: When | None = None, site: str | None = None, **written: Unpack[Written]
    ) -> pd.DataFrame:
        """Give the offcuts kept as pieces."""
        from stockroom.flows.records import offcuts
        from stockroom.frames.records import OFFCUTS

        return self._rows(OFFCUTS, offcuts(self._open, until=_until(as_of), site=self._site(site)), written)

    def lent(self, *, as_of: When | None = None, site: str | None = None, **written: Unpack[Written]) -> pd.DataFrame:
        """Give what is lent out."""
        from stockroom.flows.records import lent
        from stockroom.frames.records import LENT

        return self._rows(LENT, lent(self._open, until=_until(as_of), site=self._site(site)), written)

    def may_go_back(self, *, as_of: When | None = None, **written: Unpack[Written]) -> pd.DataFrame:
        """Say what may go back to suppliers, and until when."""
        from stockroom.flows.records import may_go_back
        from stockroom.frames.records import MAY_GO_BACK

        found = may_go_back(self._open, _moment(as_of).date(), until=_until(as_of))
        return self._rows(MAY_GO_BACK, found, written)

    def record_accuracy(
        self, *, as_of: When | None = None, since: When | None = None, **written: Unpack[Written]
    ) -> pd.DataFrame:
        """Say how true the book has been, from a day on [the last year]."""
        from stockroom.flows.counts.accuracy import count_report
        from stockroom.frames.answers import ACCURACY

        start = None if since is None else _moment(since).date()
        return self._rows(ACCURACY, count_report(self._open, _moment(as_of), since=start).periods, written)

    def forecast_accuracy(
        self,
        *,
        as_of: When | None = None,
        site: str | None = None,
        days: int = 13,
        models: Sequence[str] = (),
        **written: Unpack[Written],
    ) -> pd.DataFrame:
        """Say how accurate the forecast was: what was said on past days, four weeks apart, and what came."""
        from stockroom.flows.outlook.came_true import forecast_report
        from stockroom.frames.answers import FORECAST_ACCURACY

        found = forecast_report(
            self._open, _moment(as_of), site=self._site(site), most=_weeks(days, MOST_AHEAD) or 1,
            models=" ".join(models),
        )  # fmt: skip
        return self._rows(FORECAST_ACCURACY, found.rows, written)

    def lessons(self, *, as_of: When | None = None, **written: Unpack[Written]) -> pd.DataFrame:
        """Say what counts teach of every recipe line, those the counts confirm included."""
        from stockroom.flows.learning.proposals import offered
        from stockroom.frames.answers import LESSONS

        return self._rows(LESSONS, offered(self._open, _moment(as_of)), written)

    def backtest(
        self,
        *,
        as_of: When | None = None,
        site: str | None = None,
        weeks: int | None = None,
        **written: Unpack[Written],
    ) -> pd.DataFrame:
        """Replay past weeks [52] with stockroom's orders, with plain rules, and as it happened."""
        from stockroom.flows.backtest.report import weekly_rows
        from stockroom.flows.backtest.run import WEEKS, backtest_weeks
        from stockroom.frames.answers import BACKTEST

        past = _weeks(weeks, MOST_BACK) or WEEKS
        played = backtest_weeks(self._open, _moment(as_of), weeks=past, site=self._site(site))
        return self._rows(BACKTEST, weekly_rows(played), written)

    def _look_ahead(self, as_of: When | None, site: str | None, weeks: int | None, models: Sequence[str]) -> Outlook:
        from stockroom.flows.outlook.run_outs import look_ahead

        ahead, names = _weeks(weeks, MOST_AHEAD), " ".join(models)
        return look_ahead(self._open, _moment(as_of), weeks=ahead, site=self._site(site), models=names)

    @property
    def _open(self) -> Book:
        if self._book is None:
            from stockroom.flows.book.opening import open_book

            self._book = open_book(self.place, read_only=True)
        return self._book

    @property
    def _shop(self) -> Shop:
        from stockroom.flows.book.opening import settings

        return settings(self._open)

    def _site(self, named: str | None) -> str | None:
        from stockroom.flows.book.opening import check_site

        return None if named is None else check_site(self._open, named)

    def _rows(self, shape: Shape, rows: Sequence[object], written: Written) -> pd.DataFrame:
        from stockroom.frames.shape import facts

        return self._made(shape, facts(shape, rows), written)

    def _made(self, shape: Shape, told: Facts, written: Written) -> pd.DataFrame:
        from stockroom.frames.shape import made

        if written.get("money", "float") not in ("float", "decimal"):
            raise UsageError(f"Money can't be written as '{written['money']}'.", fix="Ask for 'float' or 'decimal'.")
        return made(shape, told, digits=self._shop.currency_digits, **written)


def _read(when: When) -> date | datetime:
    """Take a day or a moment as it is given, to the second, in the shop's own time."""
    if isinstance(when, str):
        return day_or_moment(when)
    if isinstance(when, datetime):
        return when.replace(microsecond=0, tzinfo=None)
    if isinstance(when, date):
        return when
    raise UsageError(f"{when!r} is not a day or a moment.", fix="Give a date, a datetime or a text.")


def _until(as_of: When | None) -> datetime | None:
    """Give the last moment that counts: of a day, its end."""
    when = None if as_of is None else _read(as_of)
    return when if when is None or isinstance(when, datetime) else datetime.combine(when, time.max)


def _moment(as_of: When | None) -> datetime:
    """Give the moment to look ahead from: of a day its noon; without one, what the clock says."""
    return by_clock(datetime.now) if as_of is None else noon_of(_read(as_of))


def _weeks(weeks: int | None, most: int) -> int | None:
    """Hold within reason how many weeks are asked about."""
    if weeks is not None and not 1 <= weeks <= most:
        raise UsageError(f"{weeks} is not a number of weeks to ask about.", fix=f"Give 1 to {most}.")
    return weeks


def _period(asked: str | tuple[When, When]) -> Period:
    """Read a named period, or one from day to day; without either, the twelve months up to today."""
    if isinstance(asked, str) and asked:
        return period_named(asked)
    last = _moment(asked[1] if asked else None).date()
    return from_to(_moment(asked[0]).date() if asked else None, last)
