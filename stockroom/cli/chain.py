"""A chain of shops on one book: every site looked ahead for by itself, side by side."""

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter
from stockroom.cli.outlook import NO_PAST, as_of_option, to_show, weeks_option

if TYPE_CHECKING:
    from stockroom.flows.branches import Workers


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
    from stockroom.flows.branches import Branch, look_ahead_everywhere
    from stockroom.flows.sites import sites
    from stockroom.show.schema import run_out_json
    from stockroom.show.tables import run_out_table

    moment = desk.moment(on) if on else desk.now()
    asked = [Branch(place=counter.book.place, site=s, moment=moment, weeks=weeks) for s in sites(counter.book)]
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
    from stockroom.flows.branches import InTurn, cluster, processes

    count = min(count or os.cpu_count() or 1, sites)
    if address:
        with cluster(address) as hands:
            yield hands
    elif count == 1:
        yield InTurn()
    else:
        with processes(count) as hands:
            yield hands
