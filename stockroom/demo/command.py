"""The command that builds the invented shop and shows the main job on it."""

import sys
from datetime import datetime, time
from pathlib import Path

import click

from stockroom.demo.files import write_files
from stockroom.demo.seasons import LAST_DAY
from stockroom.demo.shop import files
from stockroom.errors import RefusedError
from stockroom.flows.bench.shelf import shelf_rows
from stockroom.flows.book.opening import Book, new_book, settings
from stockroom.flows.loading.load import load_files
from stockroom.flows.loading.reports import write_reports
from stockroom.flows.ordering.plan import plan_order
from stockroom.flows.outlook.run_outs import LIKELY, run_out_rows
from stockroom.show.formats import formats_of
from stockroom.show.layout import wrap
from stockroom.show.tables import listing

MOMENT = datetime.combine(LAST_DAY, time(18, 30))  # the evening of the last day: emails get read
BOOK = "book.sqlite"
_WIDTH = 100


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), default=Path("stockroom-demo"))
def demo(folder: Path) -> None:
    """Build the invented shop and show the main job on it.

    Everything goes into FOLDER and nowhere else: the shop's files, its book, and reports.
    """
    place = folder / BOOK
    if place.exists():
        raise RefusedError(f"{place} exists already.", fix="Name another folder, or remove this one first.")
    _say(f"Inventing three years of a shop in {folder} …")
    paths = write_files(files(), folder / "data")
    book = new_book(str(place))
    try:
        report = load_files(book, [folder / "data"], MOMENT, progress=_progress)
        _say(f"Loaded {sum(report.rows.values()):,} rows from {len(paths)} files: {report.documents:,} documents.\n")
        _main_job(book, folder)
    finally:
        book.close()
    _say(f"\nTry it yourself:\n  export STOCKROOM_BOOK={place} STOCKROOM_NOW={MOMENT.isoformat()}")
    _say("  stockroom finish HEEL-L --with top=block\n  stockroom shelf block\n  stockroom reorder --cash 300")


def _main_job(book: Book, folder: Path) -> None:
    formats, day = formats_of(settings(book)), MOMENT.date()
    _say(listing.shelf_table(shelf_rows(book, at=MOMENT), formats, as_of=day, width=_WIDTH))
    plan = plan_order(book, MOMENT)
    runs = [row for row in run_out_rows(plan.outlook) if row.chance >= LIKELY]
    _say("\n" + listing.run_out_table(runs, formats, as_of=day, width=_WIDTH))
    _say("\n" + listing.reorder_table(plan.lists, formats, as_of=day, width=_WIDTH))
    _say(wrap(plan.in_short, _WIDTH))
    written = write_reports(book, MOMENT, folder / "reports", plan=plan, progress=_progress)
    _say("\nReports:\n" + "\n".join(f"  {path}" for path in written))


def _say(words: str) -> None:
    click.echo(words)


def _progress(what: str, done: int, of: int | None) -> None:
    if sys.stderr.isatty():
        end = f" of {of:,}" if of else ""
        click.echo(f"\r\033[K{what}: {done:,}{end}\r", err=True, nl=False)
