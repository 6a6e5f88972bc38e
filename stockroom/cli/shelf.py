"""The shelf and its documents: what is there, what was entered, and undoing it."""

import sys

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry, last_typed_refused
from stockroom.errors import RefusedError
from stockroom.flows.bench import shelf as flows
from stockroom.flows.book.opening import check_site
from stockroom.flows.posting import undo as undoing
from stockroom.flows.posting.post import changes_said


@click.command()
@desk.renamed("--as-of", "on", was="--on", metavar="DAY", help="As of the end of a day [now].")
@click.option("--site", help="One site only [all].")
@desk.renamed("--location", "where", was="--place", help="One location only.")
@click.option("--family", help="One family of materials only.")
@click.argument("words", nargs=-1)
@desk.view
def shelf(
    counter: Counter, *, on: str | None, site: str | None, where: str | None, family: str | None,
    words: tuple[str, ...], as_json: bool,
) -> None:  # fmt: skip
    """Show what is on hand, reserved, available and on order.

    WORDS narrow it to materials whose code, name, other words, family or location have them all.
    """
    from stockroom.show.tables.listing import shelf_table
    from stockroom.show.tables.schema import shelf_json

    if site is not None:
        check_site(counter.book, site)
    rows = [
        row
        for row in flows.shelf_rows(counter.book, at=desk.day(on) if on else None, site=site)
        if row.fits(" ".join(words)) and where in (None, row.place) and family in (None, row.family)
    ]
    as_of = desk.day(on) if on else desk.now().date()
    if as_json:
        click.echo(shelf_json(rows, as_of=as_of), nl=False)
    elif not rows and (words or where or family):
        click.echo("No material on the shelf fits what was asked.")
    else:
        click.echo(shelf_table(rows, counter.formats, as_of=as_of, width=desk.width()))


@click.command()
@click.option("--count", "how_many", type=click.IntRange(1, 1000), default=10, show_default=True, help="How many.")
@desk.view
def documents(counter: Counter, *, how_many: int, as_json: bool) -> None:
    """List the last documents entered."""
    found = undoing.newest(counter.book, how_many)
    facts = [
        {
            "document": d.id,
            "kind": str(d.kind),
            "about": d.subject,
            "happened": d.happened.isoformat(),
            "entered": d.entered.isoformat(),
            "moves": len(d.moves),
            "taken_back_by": back,
            "changed": changes_said(d),
        }
        for d, back in found
    ]
    lines = [
        f"{d.id}  {counter.formats.moment(d.happened)}  {d.called} {d.subject}".rstrip()
        + (f"  (undone by {back})" if back else "")
        + "".join(f"\n      {each}" for each in changes_said(d))
        for d, back in found
    ]
    desk.tell(facts, "\n".join(lines) or "Nothing was entered yet.", as_json=as_json)


@click.command()
@click.argument("document", type=int, required=False)
@desk.entry
def undo(counter: Counter, entry: TypedEntry, *, document: int | None) -> None:
    """Undo a whole document; the undo can itself be undone.

    Without a number, the last document entered: at a terminal you are asked first, and where the last thing typed
    was refused, its number must be given.
    """
    number = document if document is not None else _last(counter, entry)
    if number is None:
        desk.looked()
        click.echo("Nothing was undone.")
        return
    done = undoing.undo(counter.book, number, entry.stamp)
    facts = {"document": done.number, "took_back": done.document.id, "kind": str(done.document.kind), "new": done.fresh}
    what = f"{done.document.called} {done.document.subject}".strip()
    entry.tell(facts, f"Document {done.document.id} ({what}) is undone by document {done.number}.")


def at_a_terminal() -> bool:
    """Say whether somebody can be asked."""
    return sys.stdin.isatty()


def _last(counter: Counter, entry: TypedEntry) -> int | None:
    """Find the document meant by 'the last one'; None where the person, being asked, says no."""
    again = undoing.taken_back_under(counter.book, entry.key) if entry.key else None
    if again is not None:
        return again
    last = undoing.last_document(counter.book)
    if last is None:
        raise RefusedError("Nothing was entered yet.", fix="There is nothing to undo.")
    what = f"{last.called} {last.subject}".strip() + f", {counter.formats.moment(last.happened)}"
    if last.reverses is not None:
        raise RefusedError(
            f"The last document, {last.id}, took document {last.reverses} back ({last.subject or 'no subject'}).",
            fix=f"To undo the undo: stockroom undo {last.id}. To undo another: stockroom documents",
        )
    refused = last_typed_refused(counter.book)
    if refused and not at_a_terminal():
        raise RefusedError(
            f"The last thing typed was refused: nothing of it is in the book. Document {last.id} ({what}) came before.",
            fix=f"To undo that: stockroom undo {last.id}",
        )
    if not at_a_terminal():
        return last.id
    before = "The last thing typed was refused. What came before it: " if refused else ""
    return last.id if click.confirm(f"{before}Undo document {last.id} ({what})?", err=True) else None
