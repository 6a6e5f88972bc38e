"""The shelf and its documents: what is there, what was entered, and undoing it."""

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.errors import RefusedError
from stockroom.flows.bench import shelf as flows
from stockroom.flows.posting import undo as undoing
from stockroom.stock.lists import ShelfRow


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

    WORDS narrow it to materials whose code or name has them all.
    """
    from stockroom.show.tables.listing import shelf_table
    from stockroom.show.tables.schema import shelf_json

    if site is not None:
        desk.the_site(counter, site)
    rows = [
        row
        for row in flows.shelf_rows(counter.book, at=desk.day(on) if on else None, site=site)
        if _asked(row, words) and where in (None, row.place) and family in (None, row.family)
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
        }
        for d, back in found
    ]
    lines = [
        f"{d.id}  {counter.formats.moment(d.happened)}  {d.kind.label} {d.subject}".rstrip()
        + (f"  (undone by {back})" if back else "")
        for d, back in found
    ]
    desk.tell(facts, "\n".join(lines) or "Nothing was entered yet.", as_json=as_json)


@click.command()
@click.argument("document", type=int, required=False)
@desk.entry
def undo(counter: Counter, entry: TypedEntry, *, document: int | None) -> None:
    """Undo a whole document; the undo can itself be undone.

    Without a number, the last document entered.
    """
    number = document if document is not None else undoing.last_number(counter.book)
    if document is None and not number:
        raise RefusedError("Nothing was entered yet.", fix="There is nothing to undo.")
    done = undoing.undo(counter.book, number, entry.stamp)
    facts = {"document": done.number, "took_back": done.document.id, "kind": str(done.document.kind), "new": done.fresh}
    what = f"{done.document.kind.label} {done.document.subject}".strip()
    entry.tell(facts, f"Document {done.document.id} ({what}) is undone by document {done.number}.")


def _asked(row: ShelfRow, words: tuple[str, ...]) -> bool:
    text = f"{row.material} {row.name}".casefold()
    return all(word.casefold() in text for word in words)
