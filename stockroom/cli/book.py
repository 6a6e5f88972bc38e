"""The book itself: start, upgrade, settings, check, and what was done to it."""

from contextlib import closing
from decimal import Decimal
from pathlib import Path

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter
from stockroom.flows.book import check as checking
from stockroom.flows.book import opening
from stockroom.show.formats import formats_of
from stockroom.stock.shop import setting_texts, shown_settings


@click.command()
@click.option("--set", "changes", multiple=True, metavar="NAME=VALUE", help="A setting, such as currency=EUR.")
@click.pass_obj
def new_book(place: str, changes: tuple[str, ...]) -> None:
    """Start an empty book."""
    opening.new_book(place, opening.changed(opening.Shop(), desk.choices(changes)), at=desk.now()).close()
    click.echo(f"A new book is at {opening.shown(place)}. Next: stockroom templates, fill them in, stockroom load.")


@click.command()
@click.option("--keep", "folder", type=click.Path(file_okay=False, path_type=Path),
              help="Folder for the copy kept [beside the book; a server's: the current one].")  # fmt: skip
@click.pass_obj
def upgrade_book(place: str, *, folder: Path | None) -> None:
    """Bring an older book to this version.

    First it is copied as it is into a file of its own, and the copy compared with it row by row.
    """
    from stockroom.flows.book import upgrade

    kept = upgrade.upgrade_book(place, desk.now(), folder)
    click.echo(f"The book at {opening.shown(place)} is up to date.")
    if kept:
        click.echo(f"As it was before, it is kept as {kept}.")


@click.command()
@click.option("--newest", type=click.IntRange(1, 100_000), default=20, show_default=True, help="How many lines.")
@desk.view
def log(counter: Counter, *, newest: int, as_json: bool) -> None:
    """Show the activity log: what was done to the book, when, by whom and from where.

    The newest line stands last. What only looks is not noted, and what was typed never is.
    """
    from stockroom.flows.book import audit_log

    found = audit_log.newest(counter.book, newest)
    facts = [
        {
            "when": d.when.isoformat(),
            "door": d.door,
            "who": d.who,
            "from": d.device,
            "what": d.what,
            "outcome": d.outcome,
        }
        for d in found
    ]
    desk.tell({"deeds": facts}, "\n".join(map(str, found)) or "No entries yet.", as_json=as_json)


@click.command()
@click.argument("changes", nargs=-1, metavar="[NAME=VALUE]...")
@desk.view
def settings(counter: Counter, *, changes: tuple[str, ...], as_json: bool) -> None:
    """Show the shop's settings, or change some."""
    if not changes:
        desk.looked()
    said = desk.choices(changes)
    shop = opening.change_settings(counter.book, said, at=desk.now()) if changes else counter.shop
    every = shown_settings(shop)
    named = {name: value for name, value in every.items() if name in said} or every  # what was changed, as it is now
    shown = "\n".join(f"{name} = {value}" for name, value in named.items())
    desk.tell(setting_texts(shop), shown, as_json=as_json)


@click.command()
@click.option("--add", "name", help="Open a site of this name.")
@desk.view
def sites(counter: Counter, *, name: str | None, as_json: bool) -> None:
    """List the sites stock is kept at, or open one more."""
    from stockroom.flows.book import opening as places

    if name is None:
        desk.looked()
    found = places.sites(counter.book) if name is None else places.add_site(counter.book, name, at=desk.now())
    desk.tell({"sites": found}, "\n".join(found), as_json=as_json)


@click.command()
@click.option("--figure", "figures", multiple=True, help="A check figure printed earlier: it must be in the book.")
@desk.json_option
@click.pass_obj
def check(place: str, *, figures: tuple[str, ...], as_json: bool) -> None:
    """Add the whole book up again and report anything that does not agree.

    The chain of documents, balances, cost layers, tickets, orders, counts, closed periods, units, and the file itself.
    Only a figure that left the book (on the accountant's workbook, or told by a backup) can tell that the whole
    ledger was written anew: give it with --figure.
    """
    with closing(opening.open_book(place)) as book:  # without its settings: they may be what is wrong
        found, formats = checking.check(book, figures=figures), formats_of(checking.settings_or_usual(book))
    words = [*found.faults, *found.cautions]
    documents, moves = formats.number(Decimal(found.documents)), formats.number(Decimal(found.moves))
    words.append(f"{documents} documents, {moves} moves; check figure {found.figure[:16]}.")
    words += [] if found.faults else ["Everything agrees."]
    facts = {
        "documents": found.documents,
        "moves": found.moves,
        "figure": found.figure,
        "faults": list(found.faults),
        "cautions": list(found.cautions),
    }
    desk.tell(facts, "\n".join(words), as_json=as_json)
    if found.faults:
        raise SystemExit(8)
