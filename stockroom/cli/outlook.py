"""Looking ahead: run-outs, jobs still possible, what to order, reports."""

import json
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter
from stockroom.errors import UsageError
from stockroom.flows.book.opening import check_site

NO_PAST = "The book holds no work to look ahead from yet: load past tickets and sales, or finish and sell for a while."

MORE_OF_IT = "Every reason: stockroom reorder --why; all of one material: stockroom reorder --why MATERIAL"

NO_EVENTS = "No event lies in the weeks ahead. To enter one: stockroom add event NAME DAY"

_LEAST_LEVEL, _MOST_LEVEL = 0.5, 0.999  # chances of lasting that can be asked for

NO_JOBS = "No job with a recipe is in the book yet: load jobs and recipes."

if TYPE_CHECKING:
    from datetime import date

    from stockroom.buying.problem import WhatIf
    from stockroom.flows.bench.jobs_possible import CanDo, Choice
    from stockroom.flows.ordering.place import OrderedPacks
    from stockroom.flows.ordering.plan import OrderPlan
    from stockroom.flows.outlook.run_outs import Promised
    from stockroom.stock.lists import ReorderList, RunOutRow

as_of_option = desk.renamed(
    "--as-of", "on", was="--on", metavar="DAY", help="As of a day or moment, with what was known then [now]."
)
site_option = click.option("--site", help="One site only: its work, its shelf, its orders [all].")
models_option = click.option("--models", default="", metavar="NAMES",
                             help="Forecast by these models only, such as pooled,theta [its setting].")  # fmt: skip
weeks_option = click.option("--weeks", type=click.IntRange(1, 104), help="How far to look [the shop's setting].")


@click.command()
@as_of_option
@site_option
@weeks_option
@models_option
@click.option("--all", "every", is_flag=True, help="All materials, not only those likely to run out.")
@desk.view
def run_outs(
    counter: Counter, *, on: str | None, site: str | None, weeks: int | None, models: str, every: bool, as_json: bool
) -> None:  # fmt: skip
    """Show what runs out, when, and which tickets are at risk."""
    from stockroom.flows.outlook.coming import event_line, named_ahead
    from stockroom.flows.outlook.run_outs import look_ahead, run_out_rows
    from stockroom.show.tables.listing import run_out_table
    from stockroom.show.tables.schema import run_out_json

    moment = desk.moment(on) if on else desk.now()
    seen = look_ahead(counter.book, moment, weeks=weeks, site=_the_site(counter, site), models=models)
    rows = run_out_rows(seen)
    shown = to_show(rows, every=every)
    if as_json:
        click.echo(run_out_json(shown, as_of=moment.date()), nl=False)
    elif not rows:
        click.echo(NO_PAST)
    else:
        click.echo(run_out_table(shown, counter.formats, as_of=moment.date(), width=desk.width()))
        for event, words in named_ahead(seen.known, weeks or seen.known.shop.outlook_weeks):
            click.echo(f"Reckoned with: {event_line(event, words, counter.formats)}")


def to_show(rows: "Sequence[RunOutRow]", *, every: bool) -> "Sequence[RunOutRow]":
    """Leave out what is not likely to run out, unless all of it is asked for."""
    from stockroom.flows.outlook.run_outs import LIKELY

    return rows if every else [row for row in rows if row.chance >= LIKELY]


@click.command()
@as_of_option
@site_option
@weeks_option
@desk.view
def events_ahead(counter: Counter, *, on: str | None, site: str | None, weeks: int | None, as_json: bool) -> None:
    """Show the events ahead, and what each is expected to bring.

    Events are entered with add: an order for so many pairs, so many per cent of the usual, or just a day that past
    ones of the same name teach about. Such as: stockroom add event "staff shoes" 2026-12-15 job=FULL jobs=40, or
    stockroom add event "christmas market" 2026-12-12 material=POLISH-BLK pieces=24
    """
    from stockroom.flows.outlook.coming import coming_events, coming_facts, coming_line
    from stockroom.flows.outlook.run_outs import ORDER_WEEKS

    moment = desk.moment(on) if on else desk.now()
    found = coming_events(counter.book, moment, site=_the_site(counter, site), weeks=weeks or ORDER_WEEKS)
    lines = [coming_line(each, counter.formats) for each in found]
    desk.tell([coming_facts(each) for each in found], "\n".join(lines) or NO_EVENTS, as_json=as_json)


@click.command()
@as_of_option
@site_option
@desk.view
def jobs_possible(counter: Counter, *, on: str | None, site: str | None, as_json: bool) -> None:
    """Show how many more of each job the stock allows.

    Open tickets keep what is reserved for them. Where a job can be done in several ways, each is counted by
    itself; what several share can be used once only, so the best mix is worked out for all of them together.
    """
    from stockroom.flows.bench.jobs_possible import can_do as work_out

    found = work_out(counter.book, desk.moment(on) if on else desk.now(), site=_the_site(counter, site))
    facts = [_can_do_facts(each) for each in found]
    desk.tell(facts, "\n".join(map(_can_do_line, found)) or NO_JOBS, as_json=as_json)


def _can_do_facts(each: "CanDo") -> dict[str, object]:
    choices = [
        {
            "chosen": dict(choice.chosen),
            "most": choice.most,
            "sizes": [
                {
                    "size": str(way.size) if way.size else None,
                    "most": way.most,
                    "ended_by": way.ended_by,
                    "in_best_mix": way.in_mix,
                }
                for way in choice.ways
            ],
        }
        for choice in each.choices
    ]
    return {"job": each.job.code, "most": each.most, "choices": choices}


def _can_do_line(each: "CanDo") -> str:
    if len(each.choices) == 1:
        return f"{each.job.name}: {_ended(each.choices[0])}"
    lines = [f"  {choice.words}: {_ended(choice)}" for choice in each.choices]
    return "\n".join([f"{each.job.name}: {each.most} more in the best mix; of one kind alone:", *lines])


def _ended(choice: "Choice") -> str:
    usual = choice.ways[0]
    if len(choice.ways) == 1:
        size = f" in {usual.size}" if usual.size else ""
        return f"{choice.most} more{size}, then {usual.ended_by} runs short"
    return f"{choice.most} more over all sizes; {usual.most} in {usual.size}, then {usual.ended_by} runs short"


@click.command()
@as_of_option
@site_option
@click.option("--cash", help="Spend at most this much.")
@click.option("--skip", multiple=True, metavar="SUPPLIER", help="Leave a supplier out.")
@desk.renamed(
    "--service-level", "wish", was="--wish", metavar="SHARE", help="Least chance of lasting, for each material: 95%."
)
@click.option("--promise", "promises", multiple=True, metavar="JOB=COUNT@DAY", help="A big job, before saying yes.")
@click.option("--edit", "changes", multiple=True, metavar="MATERIAL=PACKS|FILE",
              help="Price a changed basket beside it; 0 takes a line off. A file is the whole basket.")  # fmt: skip
@click.option(
    "--most-urgent-first",
    "urgent",
    is_flag=True,
    help="Under a limit: what runs out first takes the money first; priced beside the suggestion.",
)
@click.argument("materials", nargs=-1, metavar="[MATERIAL]...")
@click.option("--why", is_flag=True, help="All that is known, of the whole list or of the materials named.")
@desk.view
def reorder(
    counter: Counter, *, on: str | None, site: str | None, promises: tuple[str, ...], changes: tuple[str, ...],
    why: bool, as_json: bool, **limits: Any,
) -> None:  # fmt: skip
    """Suggest what to order from each supplier, with the reason for every line.

    A line a material: when it runs out, the risk of leaving it until the supplier's next order day, and until when it
    lasts once ordered. With --why, the reasons at length. Of one material, on the list or not, everything that is known
    and why not more or fewer: stockroom reorder --why LACE-90.

    With --edit, the basket as you change it is priced beside the suggested one: LACE-90=3, or LACE-90@CODE=3 where
    there are several packs of it, or the list of suggested orders as 'reports' writes it, with its packs changed.
    """
    from stockroom.flows.ordering.plan import plan_order
    from stockroom.show.layout import wrap
    from stockroom.show.tables.listing import reorder_table
    from stockroom.show.tables.schema import reorder_json

    moment, (materials, urgent) = desk.moment(on) if on else desk.now(), map(limits.pop, ("materials", "urgent"))
    tried = _tried(counter, **limits)
    _say_what_caps(counter, limits["cash"])
    promised = [_promised(counter, text) for text in promises]
    plan = plan_order(counter.book, moment, what_if=tried, promised=promised, site=_the_site(counter, site))
    if materials:
        _tell_materials(counter, plan, materials, as_json=as_json)
    elif changes or urgent:
        _tell_changed(counter, plan, changes, urgent=urgent, as_of=moment.date(), as_json=as_json)
    elif as_json:
        worth = plan.worth(counter.formats.digits)
        click.echo(reorder_json(plan.lists, counter.formats, as_of=moment.date(), worth=worth), nl=False)
    elif not plan.outlook.futures.use.any():
        click.echo(NO_PAST)
    elif not plan.lists and (limits["cash"] or limits["skip"]):
        click.echo(wrap(f"{plan.summary} Without what was asked: stockroom reorder", desk.width()))
    else:
        click.echo(reorder_table(plan.lists, counter.formats, as_of=moment.date(), width=desk.width(), why=why))
        click.echo(wrap(plan.summary if why else plan.in_short, desk.width()))
        _say_hazards(counter, plan.lists, at_length=why)
        if plan.lists and not why:
            click.echo(wrap(MORE_OF_IT, desk.width()))


def _tell_materials(counter: Counter, plan: "OrderPlan", typed: "Sequence[str]", *, as_json: bool) -> None:
    """Tell everything that is known of single materials, on the list or not."""
    from stockroom.flows.ordering.one_material import known_of, material_facts, named_materials, words_about
    from stockroom.show.layout import wrap

    found = [known_of(plan, code) for code in named_materials(plan, typed)]
    told = [
        [
            click.style(f"{each.material.name} ({each.material.code})", bold=True),
            *(wrap(said, desk.width(), indent="  ") for said in words_about(plan, each)),
        ]
        for each in found
    ]
    words = "\n\n".join("\n".join(lines) for lines in told)
    desk.tell({"materials": [material_facts(each, counter.formats.digits) for each in found]}, words, as_json=as_json)


def _tell_changed(
    counter: Counter, plan: "OrderPlan", changes: "Sequence[str]", *, urgent: bool, as_of: "date", as_json: bool
) -> None:
    """Show the basket as it was changed, or the most urgent first, and how it compares."""
    from stockroom.flows.ordering.edit import edited, edits, urgent_first
    from stockroom.show.layout import wrap
    from stockroom.show.tables.listing import reorder_table
    from stockroom.show.tables.schema import reorder_json

    files = [Path(each) for each in changes if "=" not in each]
    if files and len(changes) > 1:
        raise UsageError("A file is a whole basket; it can't be changed further.", fix="Give one file, or only lines.")
    asked = edits(files[0]) if files else [_ordered_packs(each) for each in changes]
    first = urgent_first(plan) if urgent and not changes else None
    found = first or edited(plan, asked, whole=bool(files))
    if as_json:
        worth = plan.worth(counter.formats.digits) | {"changed": found.worth(counter.formats.digits)}
        click.echo(reorder_json(found.lists, counter.formats, as_of=as_of, worth=worth), nl=False)
        return
    click.echo(
        reorder_table(found.lists, counter.formats, as_of=as_of, width=desk.width(), title=_title(first, urgent=urgent))
    )
    click.echo(wrap(found.words, desk.width()))
    _say_hazards(counter, found.lists, at_length=False)


def _title(first: object, *, urgent: bool) -> str:
    """Name what is shown beside the suggestion."""
    if not urgent:
        return "Orders as changed"
    return "The most urgent first" if first else "No limit is in the way: as suggested"


def _say_hazards(counter: Counter, lists: "Sequence[ReorderList]", *, at_length: bool) -> None:
    """Name what carries a hazard, and set flammable stock beside the limit where it is over or all is asked for."""
    from collections import Counter as Sums

    from stockroom.flows.bench.shelf import flammable_stock
    from stockroom.show.layout import wrap
    from stockroom.show.tables.listing import hazards_named

    named = "" if at_length else hazards_named(lists)
    if named:
        click.echo(wrap(named, desk.width()))
    more = Sums[str]()
    for line in (line for each in lists for line in each.lines):
        more[line.material] += line.amount
    found = flammable_stock(counter.book, more, more)
    if found is not None and (found.over or at_length):
        click.echo(wrap(found.words, desk.width()))


def _ordered_packs(text: str) -> "OrderedPacks":
    """Read MATERIAL=PACKS or MATERIAL@CODE=PACKS."""
    from stockroom.flows.ordering.place import OrderedPacks

    name, equals, packs = text.rpartition("=")
    if not equals or not packs.isdigit():
        raise UsageError(f"'{text}' is not a line.", fix="Write it like LACE-90=2 (two packs), LACE-90=0 to leave it.")
    material, _, code = name.partition("@")
    return OrderedPacks(material=material, packs=int(packs), supplier_code=code)


def _tried(counter: Counter, *, cash: str | None, skip: tuple[str, ...], wish: str | None) -> "WhatIf":
    from stockroom.flows.ordering.plan import what_if
    from stockroom.stock.typed import share

    most = desk.number(cash) if cash else None
    if most is not None and most < 0:
        raise UsageError("Cash can't be below zero.", fix="Give what may be spent, such as --cash 300.")
    level = float(share(wish)) if wish else None
    if level is not None and not _LEAST_LEVEL <= level <= _MOST_LEVEL:
        raise UsageError(f"A service level of {wish} can't be kept.", fix="Give 50% to 99.9%, such as 95%.")
    return what_if(counter.book, cash=most, skip=skip, service=level)


def _say_what_caps(counter: Counter, cash: str | None) -> None:
    """Say that the shop's own limit is the tighter one: what was asked for can't be spent."""
    most = counter.shop.cash_limit
    if cash and most is not None and most < desk.number(cash):
        said = f"The setting cash_limit allows {most}, less than --cash {cash}."
        click.echo(f"{said} To change it: stockroom settings cash_limit={cash}", err=True)


def _the_site(counter: Counter, typed: str | None) -> str | None:
    return None if typed is None else check_site(counter.book, typed)


def _promised(counter: Counter, text: str) -> "Promised":
    from stockroom.flows.bench.tickets import find_job
    from stockroom.flows.outlook.run_outs import Promised

    job, equals, rest = text.partition("=")
    count, at, day = rest.partition("@")
    if not equals or not at or not count.isdigit() or int(count) < 1:
        raise UsageError(f"'{text}' is not a promise.", fix="Write it like FULL=20@2026-12-15.")
    return Promised(job=find_job(counter.book, job), count=int(count), day=desk.day_ahead(day))


@click.command()
@as_of_option
@site_option
@click.option("--leave", metavar="0-10", help="Of ten customers who must wait for a part, how many don't come back.")
@click.option("--worth", metavar="MONEY", help="What a customer leaves you in a year; with --leave.")
@desk.view
def stock_or_delays(
    counter: Counter, *, on: str | None, site: str | None, leave: str | None, worth: str | None, as_json: bool
) -> None:
    """Weigh stock against delayed jobs over a year, and see where you stand.

    What a delayed job costs you may follow from what you know: stockroom stock-or-delays --leave 2 --worth 60
    """
    if leave or worth:
        _tell_wait(counter, leave or "", worth or "", as_json=as_json)
        return
    from stockroom.flows.ordering.caution import caution as work_out
    from stockroom.flows.ordering.caution import caution_facts, caution_words
    from stockroom.show.layout import wrap
    from stockroom.show.tables.listing import caution_table

    found = work_out(counter.book, desk.moment(on) if on else desk.now(), site=_the_site(counter, site))
    table = caution_table(found.points, counter.formats, width=desk.width())
    desk.tell(caution_facts(found), "\n".join([table, wrap(caution_words(found), desk.width())]), as_json=as_json)


def _tell_wait(counter: Counter, leave: str, worth: str, *, as_json: bool) -> None:
    """Work out what a delayed job costs from what the owner knows."""
    from stockroom.flows.ordering.caution import Wait, wait_words
    from stockroom.show.layout import wrap
    from stockroom.stock.money import major
    from stockroom.stock.typed import number

    if not (leave and worth):
        raise UsageError("--leave and --worth go together.", fix="Give both, such as --leave 2 --worth 60.")
    wait = Wait(leave=number(leave), worth=major(desk.money(worth, counter.shop), counter.shop.currency_digits))
    words = wait_words(wait, counter.shop)
    desk.tell({"cost_of_delayed_job": f"{wait.cost:f}", "words": words}, wrap(words, desk.width()), as_json=as_json)


@click.command()
@as_of_option
@site_option
@click.option("--chart", type=click.Path(dir_okay=False, path_type=Path), help="Draw it into this file (PNG).")
@click.option("--spreadsheet", type=click.Path(dir_okay=False, path_type=Path), help="Write it into this file (XLSX).")
@desk.view
def year_ahead(
    counter: Counter, *, on: str | None, site: str | None, chart: Path | None, spreadsheet: Path | None, as_json: bool
) -> None:
    """Say what the orders of a year are expected to come to, by month and supplier, for you and the bank.

    Such as: stockroom year-ahead. Orders are made as suggested; the first months may fill shelves up.
    """
    from stockroom.flows.ordering import year as flows
    from stockroom.show.layout import wrap
    from stockroom.show.tables.listing import year_table

    found = flows.year_ahead(counter.book, desk.moment(on) if on else desk.now(), site=_the_site(counter, site))
    if chart is not None:
        from stockroom.show.charts.ahead import year_chart

        chart.write_bytes(year_chart(flows.year_picture(found), counter.formats, flows.picture_words(found)))
    if spreadsheet is not None:
        spreadsheet.write_bytes(flows.year_spreadsheet(found))
    lines = year_table(
        [(counter.formats.month(m.month), m.orders, m.spend, m.low, m.high) for m in found.months],
        [(s.name, s.orders, s.spend, s.carriage, s.low, s.high) for s in found.suppliers],
        counter.formats,
        width=desk.width(),
    )
    words = wrap(flows.year_words(found), desk.width())
    desk.tell(flows.year_facts(found), f"{lines}\n{words}", as_json=as_json)


@click.command()
@as_of_option
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), default=Path("reports"))
@desk.view
def reports(counter: Counter, *, on: str | None, folder: Path, as_json: bool) -> None:
    """Write the lists as spreadsheets and charts into a folder."""
    from stockroom.flows.loading.reports import write_reports

    with desk.progress(quiet=as_json) as told:
        written = write_reports(counter.book, desk.moment(on) if on else desk.now(), folder, progress=told)
    desk.tell([str(path) for path in written], "\n".join(str(path) for path in written), as_json=as_json)


@click.command()
@as_of_option
@click.option("--weeks", type=click.IntRange(4, 156), default=52, show_default=True, help="How many past weeks.")
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), required=False)
@desk.view
def back_test(counter: Counter, *, on: str | None, weeks: int, folder: Path | None, as_json: bool) -> None:
    """Back-test past weeks: see what stockroom's orders would have done.

    The shop's own weeks are worked through again day by day, ordering with only what was known then, beside two plain
    rules and what really happened. With a FOLDER, a chart and the figures are written into it.
    """
    from stockroom.flows.backtest.report import backtest_facts, verdict, write_backtest
    from stockroom.flows.backtest.run import backtest_weeks
    from stockroom.show.layout import wrap

    with desk.progress(quiet=as_json) as told:
        played = backtest_weeks(counter.book, desk.moment(on) if on else desk.now(), weeks=weeks, progress=told)
    written = write_backtest(played, folder, counter.formats) if folder else []
    facts = backtest_facts(played, counter.formats) | {"written": [str(path) for path in written]}
    said = "\n".join([wrap(verdict(played, counter.formats), desk.width()), *map(str, written)])
    desk.tell(facts, said, as_json=as_json)


@click.command()
@as_of_option
@site_option
@models_option
@click.option("--days", type=click.IntRange(1, 26), default=13, show_default=True,
              help="How many past days, four weeks apart.")  # fmt: skip
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), required=False)
@desk.view
def forecast_report(
    counter: Counter, *, on: str | None, site: str | None, models: str, days: int, folder: Path | None, as_json: bool
) -> None:
    """Show the accuracy of the forecast: what was said on past days, and what came.

    Each past day is looked ahead from as `run-outs --as-of` does, with only what was known then, and held against the
    use and the run-outs that followed, beside what a plain average would have said. With a FOLDER, also as a
    spreadsheet, JSON and a chart.
    """
    from stockroom.flows.outlook.came_true import forecast_report as look_back
    from stockroom.flows.outlook.came_true_words import report_facts, report_words, write_report

    moment = desk.moment(on) if on else desk.now()
    with desk.progress(quiet=as_json) as told:
        report = look_back(counter.book, moment, site=_the_site(counter, site), models=models, most=days, progress=told)
    written = write_report(report, folder, counter.formats) if folder else []
    said = "\n".join([report_words(report, counter.formats, width=desk.width()), *map(str, written)])
    desk.tell(report_facts(report, counter.formats), said, as_json=as_json)


if TYPE_CHECKING:
    from stockroom.flows.outlook.by_site import Workers


@click.command()
@as_of_option
@weeks_option
@click.option("--all", "every", is_flag=True, help="All materials, not only those likely to run out.")
@click.option("--workers", type=click.IntRange(1, 256), help="Processes that share the sites [one for each core].")
@click.option("--cluster", metavar="ADDRESS", help="A Dask cluster that shares them; the book must be on a server.")
@desk.view
def run_outs_by_site(
    counter: Counter, *, on: str | None, weeks: int | None, workers: int | None, cluster: str | None, every: bool,
    as_json: bool,
) -> None:  # fmt: skip
    """Show what runs out at every site, each worked out by itself, side by side."""
    from stockroom.flows.book.opening import sites
    from stockroom.flows.outlook.by_site import SiteTask, look_ahead_everywhere
    from stockroom.show.tables.listing import run_out_table
    from stockroom.show.tables.schema import run_out_json

    moment = desk.moment(on) if on else desk.now()
    asked = [SiteTask(place=counter.book.place, site=s, moment=moment, weeks=weeks) for s in sites(counter.book)]
    with desk.progress(quiet=as_json) as told, _workers(len(asked), workers, cluster) as hands:
        found = look_ahead_everywhere(asked, hands, progress=told)
    shown = {one.site: to_show(one.rows, every=every) for one in found}
    if as_json:
        lists = [{"site": site} | json.loads(run_out_json(rows, as_of=moment.date())) for site, rows in shown.items()]
        click.echo(json.dumps(lists, ensure_ascii=False, indent=2))
        return
    for one in found:
        click.echo(click.style(one.site, bold=True))
        table = run_out_table(shown[one.site], counter.formats, as_of=moment.date(), width=desk.width())
        click.echo(f"{table if one.rows else NO_PAST}\n")


@contextmanager
def _workers(sites: int, count: int | None, address: str | None) -> Iterator["Workers"]:
    """Give as many hands as were asked for; a single site, or a single hand, needs no process of its own."""
    from stockroom.flows.outlook.by_site import InTurn, cluster, processes

    count = min(count or os.cpu_count() or 1, sites)
    if address:
        with cluster(address) as hands:
            yield hands
    elif count == 1:
        yield InTurn()
    else:
        with processes(count) as hands:
            yield hands
