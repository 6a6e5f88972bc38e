"""Shoe trees, gauges and other things lent out and given back."""

from typing import Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.flows.bench import counter as flows
from stockroom.flows.bench import lending
from stockroom.flows.bench.lending import Lent


@click.command()
@click.argument("material")
@click.argument("how_much", default="1")
@click.option("--ticket", default="", help="The customer's ticket; it is due when that is promised.")
@click.option("--days", type=click.IntRange(0, 3650), help="For so many days.")
@desk.anyway_option
@desk.entry
def lend(counter: Counter, entry: TypedEntry, *, material: str, how_much: str, ticket: str, days: int | None) -> None:
    """Lend something out, such as shoe trees for drying: it costs nothing and stays in the book.

    MATERIAL is a code or enough of a name: stockroom lend tree 1 --days 7. What is overdue stands on Today; a count
    knows what is out. Its number is what lent-back asks for.
    """
    found = flows.find_material(counter.book, material)
    done = lending.lend(
        counter.book, found.code, desk.amount(how_much, found.unit), entry.stamp, ticket=ticket, days=days
    )
    due = f", due {counter.formats.weekday(done.due)}" if done.due else ""
    _told(counter, entry, done, f"Lent out: {done.material.name}{due}")


@click.command()
@click.argument("document", type=click.IntRange(1))
@click.argument("how_much", default="")
@click.option("--lost", is_flag=True, help="It does not come back: it is written off as waste.")
@desk.entry
def lent_back(counter: Counter, entry: TypedEntry, *, document: int, how_much: str, lost: bool) -> None:
    """Enter that something lent is back, or lost.

    DOCUMENT is the one that lent it: see stockroom lent. HOW_MUCH where only a part of it is back.
    """
    done = lending.lent_back(counter.book, document, entry.stamp, amount=how_much, lost=lost)
    _told(counter, entry, done, f"{'Lost' if lost else 'Given back'}: {done.material.name}")


@click.command()
@desk.view
def lent(counter: Counter, *, as_json: bool) -> None:
    """List what is lent out, the first to be back first."""
    day, write = desk.now().date(), counter.formats
    lines, facts = [], []
    for loan, material in lending.loans(counter.book):
        to = f", ticket {loan.ticket}" if loan.ticket else ""
        due = f", due {write.weekday(loan.due)}" if loan.due else ""
        late = f"  <- {loan.overdue(day)} days overdue" if loan.overdue(day) else ""
        lines.append(f"{loan.document}: {write.amount(loan.nano, material.unit)} {material.name}{to}{due}{late}")
        facts.append({
            "document": loan.document,
            "material": loan.material,
            **desk.exactly(loan.nano, material.unit),
            "lent": loan.lent.isoformat(),
            "ticket": loan.ticket or None,
            "due": loan.due.isoformat() if loan.due else None,
            "days_overdue": loan.overdue(day),
            "site": loan.site,
        })  # fmt: skip
    desk.tell(facts, "\n".join(lines) or "Nothing is lent out.", as_json=as_json)


def _told(counter: Counter, entry: TypedEntry, done: Lent, what: str) -> None:
    out = counter.formats.amount(done.out, done.material.unit)
    facts: dict[str, Any] = {
        "document": done.document,
        "new": done.fresh,
        "material": done.material.code,
        "out": desk.exactly(done.out, done.material.unit),
        "due": done.due.isoformat() if done.due else None,
    }
    again = "" if done.fresh else " That was entered already; nothing changed."
    entry.tell(facts, f"{what} (document {done.document}); {out} out.{again}")
