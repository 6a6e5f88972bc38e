"""Files in: load spreadsheets, write empty ones."""

from pathlib import Path

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter
from stockroom.errors import BadFileError
from stockroom.flows.loading.load import LoadReport
from stockroom.intake.columns import KINDS


@click.command()
@click.argument("paths", nargs=-1, required=True)
@desk.renamed("--check-only", "dry_run", was="--try", is_flag=True, help="Check everything, enter nothing.")
@desk.view
def load(counter: Counter, *, paths: tuple[str, ...], dry_run: bool, as_json: bool) -> None:
    """Load spreadsheets into the book, whole or not at all.

    PATHS are folders, files named after what they hold (materials.csv, tickets.xlsx), or KIND=FILE. The same file
    twice changes nothing.
    """
    from stockroom.flows.loading.load import load_files
    from stockroom.show.problems import problem_facts

    if dry_run:
        desk.looked()
    try:
        with desk.progress(quiet=as_json) as told:
            report = load_files(counter.book, paths, desk.now(), dry_run=dry_run, progress=told)
    except BadFileError as refused:
        if as_json:
            desk.tell({"problems": problem_facts(refused.problems)}, "", as_json=True)
        raise
    desk.tell(facts(report), words(report), as_json=as_json)


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), default=Path("templates"))
@desk.renamed(
    "--format",
    "suffix",
    was="--as",
    type=click.Choice(["csv", "xlsx"]),
    default="xlsx",
    show_default=True,
    help="One workbook, or a file for each list.",
)
@click.option("--explain", is_flag=True, help="Explain every column here instead of writing files.")
def templates(folder: Path, suffix: str, *, explain: bool) -> None:
    """Write empty files to fill in, with every column explained."""
    from stockroom.intake.templates import describe, write_csv_templates, write_workbook_template

    if explain:
        click.echo(describe())
        return
    written = write_csv_templates(folder) if suffix == "csv" else [write_workbook_template(folder)]
    click.echo("\n".join(str(path) for path in written))


def facts(report: LoadReport) -> dict[str, object]:
    """Give what a load did to a program."""
    return {
        "rows": dict(report.rows),
        "documents": report.documents,
        "already_there": report.already,
        "notes": list(report.notes),
        "tried_only": report.dry_run,
    }


def words(report: LoadReport) -> str:
    """Say what a load did."""
    said = [f"  {KINDS[kind].title}: {count} {'row' if count == 1 else 'rows'}" for kind, count in report.rows.items()]
    entered = "would be entered" if report.dry_run else "entered"
    new = f"{report.documents} documents {entered}" if report.documents else "No new documents"
    already = f", {report.already} were there already" if report.already else ""
    end = " Checked only: nothing was entered." if report.dry_run else ""
    return "\n".join([*said, f"{new}{already}.{end}", *report.notes])
