"""Looking at counts: what to count now, and how accurate the stock record has been."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter

if TYPE_CHECKING:
    from stockroom.flows.counts.choose import Chosen
    from stockroom.show.formats import Formats
    from stockroom.show.tables.counts import CountReport


@click.command()
@click.option("--minutes", type=click.FloatRange(1), help="Time there is [15, unless --items is given].")
@desk.renamed("--items", "bins", was="--bins", type=click.IntRange(1), help="Most items to count.")
@desk.renamed("--as-of", "on", was="--on", metavar="DAY", help="As of a day or moment [now].")
@click.option("--site", help="One site only [all sites together].")
@desk.view
def count_next(
    counter: Counter, *, minutes: float | None, bins: int | None, on: str | None, site: str | None, as_json: bool
) -> None:
    """Choose what to count now: where being wrong costs most."""
    from stockroom.flows.counts.choose import next_bins

    moment = desk.moment(on) if on else desk.now()
    time = 15.0 if minutes is None and bins is None else minutes
    if site:
        desk.the_site(counter, site)
    found = next_bins(counter.book, moment, minutes=time, bins=bins, site=site)
    total = counter.formats.number(sum(each.minutes for each in found), 0)
    words = [_words(each) for each in found] + [f"{len(found)} items, about {total} minutes."]
    desk.tell([_facts(each) for each in found], "\n".join(words), as_json=as_json)


def _words(each: "Chosen") -> str:
    place = f" ({each.material.place})" if each.material.place else ""
    return f"{each.material.code}, {each.material.name}{place}\n    {each.words}"


def _facts(each: "Chosen") -> dict[str, object]:
    return {
        "material": each.material.code,
        "name": each.material.name,
        "place": each.material.place,
        "minutes": round(each.minutes, 2),
        "saves_minor_units": round(each.saves, 2),
        "corrects_minor_units": round(each.corrects, 2),
        "overdue": each.overdue,
        "nearly_empty": each.nearly_empty,
        "last_counted": each.last_counted.isoformat() if each.last_counted else None,
        "why": each.words,
    }


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), required=False)
@click.option("--since", help="From this day on [the last year].")
@desk.renamed("--as-of", "on", was="--on", metavar="DAY", help="As of a day or moment [now].")
@desk.view
def count_report(counter: Counter, *, folder: Path | None, since: str | None, on: str | None, as_json: bool) -> None:
    """Show the accuracy of the stock record, why it differed, and which items drift.

    With a FOLDER, also as a spreadsheet, JSON and a chart.
    """
    from stockroom.flows.counts import accuracy as flows
    from stockroom.show.tables.counts import report_tables

    moment = desk.moment(on) if on else desk.now()
    report = flows.count_report(counter.book, moment, since=desk.day(since) if since else None)
    words = report_tables(report, counter.formats, width=desk.width()).rstrip()
    written = _write(folder, report, counter.formats) if folder else []
    desk.tell(_report_facts(report), "\n".join([words, *map(str, written)]), as_json=as_json)


def _write(folder: Path, report: "CountReport", formats: "Formats") -> list[Path]:
    import json

    from stockroom.flows.counts.accuracy import accuracy
    from stockroom.show.charts.past import accuracy_chart
    from stockroom.show.tables.counts import report_xlsx

    facts = json.dumps(_report_facts(report), ensure_ascii=False, indent=2)
    files = {
        "count-report.xlsx": report_xlsx(report, formats),
        "count-report.json": facts.encode(),
        "count-accuracy.png": accuracy_chart(accuracy(report), formats),
    }
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return [folder / name for name in files]


def _report_facts(report: "CountReport") -> dict[str, object]:
    return {
        "since": report.since.isoformat(),
        "until": report.until.isoformat(),
        "accuracy": [
            {"period": p.period, "bins": p.bins, "right": p.right, "share": p.right / p.bins,
             "net_minor_units": p.net, "gross_minor_units": p.gross}
            for p in report.periods
        ],
        "reasons": [
            {"reason": r.reason, "family": r.family, "bins": r.bins, "net_minor_units": r.net,
             "gross_minor_units": r.gross}
            for r in report.reasons
        ],
        "drifting": [
            {"material": d.material, "name": d.name, "counts": d.counts, "less": d.short, "more": d.over,
             "average": desk.exactly(d.average, d.unit), "value_minor_units": d.value, "chance": d.chance}
            for d in report.drifting
        ],
    }  # fmt: skip
