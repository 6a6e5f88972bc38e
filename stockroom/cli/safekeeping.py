"""Backups, restoring, everything out and in, and moving a book."""

from decimal import Decimal
from pathlib import Path

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter
from stockroom.flows.book import privacy, safekeeping
from stockroom.flows.book.opening import shown

_folder = click.Path(file_okay=False, path_type=Path)


@click.command()
@click.argument("folder", type=_folder, default=Path("backups"))
@desk.view
def backup(counter: Counter, *, folder: Path, as_json: bool) -> None:
    """Copy the book while it is in use, check the copy, and let old backups go.

    Backups of other books in the folder are left alone. One is kept for each of the last 7 days, 5 weeks and 12 months.
    """
    made = safekeeping.back_up(counter.book, folder, desk.now())
    facts = {"path": str(made.path), "figure": made.figure, "removed": [str(p) for p in made.removed]}
    words = f"{made.path}: {made.documents} documents, checked (check figure {made.figure[:16]})."
    desk.tell(facts, words, as_json=as_json)


@click.command()
@click.argument("backup_file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--over", default="", metavar="NAME", help="Replace another shop's book: the name of the one that goes.")
@click.pass_obj
def restore(place: str, *, backup_file: Path, over: str) -> None:
    """Put a backup in the book's place; what is there now is kept beside it.

    The backup is checked whole first; nothing changes unless everything in it agrees.
    """
    aside = safekeeping.restore(backup_file, place, desk.now(), over=over)
    kept = f" The book that was there is kept as {aside}." if aside else ""
    click.echo(f"{place} is now {backup_file}.{kept}")


@click.command()
@click.argument("folder", type=_folder)
@desk.view
def export_book(counter: Counter, *, folder: Path, as_json: bool) -> None:
    """Write the whole book as plain CSV files, every column described."""
    found = safekeeping.export_book(counter.book, folder)
    documents, moves = (counter.formats.number(Decimal(each)) for each in (found.documents, found.moves))
    words = f"{folder}: {documents} documents, {moves} moves, check figure {found.figure[:16]}."
    desk.tell({"documents": found.documents, "figure": found.figure}, words, as_json=as_json)


@click.command()
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.pass_obj
def import_book(place: str, *, folder: Path) -> None:
    """Make a new book from an exported one; it must come to the same check figure."""
    found = safekeeping.import_book(folder, place)
    click.echo(f"{shown(place)}: {found.documents} documents, check figure {found.figure[:16]}. Everything agrees.")


@click.command()
@click.argument("new_place")
@desk.view
def copy_book(counter: Counter, *, new_place: str, as_json: bool) -> None:
    """Copy the book to a new file or a PostgreSQL database, and check the copy."""
    found = safekeeping.copy_book(counter.book, new_place)
    words = f"{shown(new_place)}: {found.documents} documents, check figure {found.figure[:16]}. Everything agrees."
    desk.tell({"documents": found.documents, "figure": found.figure}, words, as_json=as_json)


@click.command()
@click.argument("name")
@click.option("--notes", "empty", is_flag=True, help="Empty the notes of tickets that hold the whole name, too.")
@desk.view
def forget(counter: Counter, *, name: str, empty: bool, as_json: bool) -> None:
    """Remove a customer's name from every ticket; the ledger's numbering is unbroken.

    Tickets whose notes name the person are named, and so are documents: what was typed as --note, --who or --reason
    is part of the chain and can't be changed, so keep names out of it. Backups made before still hold the name.
    """
    found = privacy.forget(counter.book, name, notes=empty)
    facts = {
        "tickets": len(found.tickets),
        "notes": list(found.notes),
        "notes_emptied": empty,
        "perhaps_in_notes": list(found.perhaps),
        "documents": list(found.documents),
    }
    desk.tell(facts, "\n".join(_forgotten_words(name, found, emptied=empty)), as_json=as_json)


def _forgotten_words(name: str, found: privacy.Forgotten, *, emptied: bool) -> list[str]:
    many = len(found.tickets)
    said = ["Removed from 1 ticket." if many == 1 else f"Removed from {many or 'no'} tickets."]
    if found.notes:
        listed = ", ".join(found.notes)
        how = f"To empty them: stockroom forget '{name}' --notes"
        said.append(f"Notes emptied: {listed}." if emptied else f"Named in the notes of tickets {listed}. {how}")
    if found.perhaps:
        said.append(f"A part of the name stands in the notes of tickets {', '.join(found.perhaps)}: look at them.")
    if found.documents:
        listed = ", ".join(map(str, found.documents))
        said.append(f"Documents that name the person are chained and stay as they are: {listed}.")
    return said
