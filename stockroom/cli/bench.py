"""At the bench: take in, finish, guarantee work, cancel, list tickets."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.errors import UsageError
from stockroom.flows.bench import tickets as bench
from stockroom.flows.bench.tickets import FinishedTicket, Wanted
from stockroom.stock.bounds import MOST_PAIRS
from stockroom.stock.money import major
from stockroom.stock.postings import Actual
from stockroom.stock.quantities import Quantity, Unit
from stockroom.stock.recipes import PAIR
from stockroom.stock.shoe_sizes import shoe_size
from stockroom.stock.tickets import Ticket

job_options = (
    click.option("--size", help="Shoe size with its system: 'EU 42', 'UK 8.5', 'US M 9', 'Mondo 265'."),
    click.option("--single", is_flag=True, help="One shoe instead of a pair."),
    click.option("--pairs", type=click.IntRange(1, MOST_PAIRS), default=1, show_default=True, help="How many pairs."),
    click.option("--with", "chosen", multiple=True, metavar="CHOICE=OPTION", help="A choice, such as sole=bend."),
    click.option("--price", help="Price charged [the price list's]."),
    click.option("--by-post", is_flag=True, help="Came and goes by post."),
)
actual_options = (
    click.option("--used", multiple=True, metavar="LINE=AMOUNT", help="What was actually used: 'cork filler=40 g'."),
    click.option("--instead", multiple=True, metavar="LINE=MATERIAL", help="A substitute: 'sole=RUB-4'."),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedJob:
    """A job's facts as typed."""

    job: str
    size: str | None
    single: bool
    pairs: int
    chosen: Sequence[str]
    price: str | None
    by_post: bool

    def wanted(self, counter: Counter, **more: Any) -> Wanted:
        """Read the facts."""
        return Wanted(
            job=self.job,
            shoes=1 if self.single else self.pairs * PAIR,
            size=shoe_size(self.size) if self.size else None,
            chosen=desk.choices(tuple(self.chosen)),
            price=desk.money(self.price, counter.shop) if self.price else None,
            by_post=self.by_post,
            **more,
        )


@click.command()
@click.argument("job")
@desk.opted(*job_options)
@click.option("--promised", help="Day it is promised for.")
@click.option("--number", default="", help="Ticket number [the next one].")
@click.option("--customer", default="", help="Name, if you must: not needed, and can be forgotten.")
@desk.entry
def take_in(
    counter: Counter, entry: TypedEntry, *, promised: str | None, number: str, customer: str, **typed: Any
) -> None:  # fmt: skip
    """Take in a ticket: its materials are reserved.

    JOB is the job's code, or enough of its name to be sure: stockroom take-in heel --size 'EU 38'
    """
    more = {"promised": desk.day(promised) if promised else None, "number": number, "customer": customer}
    ticket = bench.take_in(counter.book, TypedJob(**typed).wanted(counter, **more), entry.stamp)
    said = f"Ticket {_ticket_line(ticket, counter, bench.job_names(counter.book))}"
    entry.tell(ticket_facts(ticket, counter), said + _single_words(ticket, counter, typed["price"]))


@click.command()
@click.argument("what")
@desk.opted(*job_options, *actual_options)
@desk.entry
def finish(
    counter: Counter, entry: TypedEntry, *, what: str, used: Sequence[str], instead: Sequence[str], **typed: Any
) -> None:
    """Finish a ticket, or a job that was never taken in: its materials leave the shelf.

    WHAT is a ticket's number, or a job: stockroom finish 1042, or stockroom finish 'heel tops' --size 'EU 38'
    """
    actual = _actual(used, instead)
    if what.isdigit() or bench.is_ticket(counter.book, what):
        _refuse_job_facts(what, typed)
        drawn = bench.finish_ticket(counter.book, what, entry.stamp, actual)
    else:
        drawn = bench.finish_at_once(counter.book, TypedJob(job=what, **typed).wanted(counter), entry.stamp, actual)
    facts, said = _told(drawn, counter)
    entry.tell(facts, said + _single_words(drawn.ticket, counter, typed["price"]))


@click.command()
@click.argument("ticket")
@desk.opted(*actual_options)
@desk.entry
def guarantee(counter: Counter, entry: TypedEntry, *, ticket: str, used: Sequence[str], instead: Sequence[str]) -> None:
    """Do a finished ticket's work again under guarantee: materials, no income.

    TICKET is the number of the work to do again.
    """
    entry.tell(*_told(bench.redo_ticket(counter.book, ticket, entry.stamp, _actual(used, instead)), counter))


@click.command()
@click.argument("ticket")
@desk.entry
def cancel(counter: Counter, entry: TypedEntry, *, ticket: str) -> None:
    """Cancel an open ticket: what was reserved is available again."""
    done = bench.cancel_ticket(counter.book, ticket, entry.stamp)
    entry.tell(ticket_facts(done, counter), f"Ticket {done.number} is cancelled.")


@click.command()
@click.option("--risk", is_flag=True, help="With the risk that each is delayed, and by what.")
@desk.view
def tickets(counter: Counter, *, risk: bool, as_json: bool) -> None:
    """List the open tickets."""
    if risk:
        _tell_risks(counter, as_json=as_json)
        return
    booked = bench.booked(counter.book)
    names = bench.job_names(counter.book)
    soonest = sorted(booked, key=lambda t: (t.promised is None, t.promised or t.taken_in.date(), t.taken_in))
    lines = [_ticket_line(t, counter, names) for t in soonest] or ["No ticket is waiting."]
    desk.tell([ticket_facts(t, counter) for t in booked], "\n".join(lines), as_json=as_json)


def _tell_risks(counter: Counter, *, as_json: bool) -> None:
    from stockroom.flows.outlook.run_outs import look_ahead, tickets_at_risk

    seen = look_ahead(counter.book, desk.now())
    found = tickets_at_risk(seen)
    names = {m.code: m.name for m in seen.known.materials}
    jobs = bench.job_names(counter.book)
    facts = [
        ticket_facts(r.ticket, counter) | {"held_up": round(r.chance, 3), "missing": r.material or None} for r in found
    ]
    lines = [
        f"{_ticket_line(r.ticket, counter, jobs)}: delayed {counter.formats.percent(r.chance)}"
        + (f", short of {names[r.material]} ({r.material})" if r.material else "")
        for r in found
    ]
    desk.tell(facts, "\n".join(lines) or "No ticket is waiting.", as_json=as_json)


def ticket_facts(ticket: Ticket, counter: Counter) -> dict[str, Any]:
    """Give a ticket's facts to a program."""
    price = ticket.price
    return {
        "ticket": ticket.number,
        "job": ticket.job,
        "state": str(ticket.state),
        "size": str(ticket.size or ""),
        "shoes": ticket.shoes,
        "choices": dict(ticket.chosen),
        "taken_in": ticket.taken_in.isoformat(),
        "promised": ticket.promised.isoformat() if ticket.promised else None,
        "finished": ticket.finished.isoformat() if ticket.finished else None,
        "price": None if price is None else str(major(price, counter.shop.currency_digits)),
        "redo_of": ticket.redo_of or None,
    }


def _refuse_job_facts(ticket: str, typed: Mapping[str, Any]) -> None:
    """Refuse what the ticket says itself: taking no notice of it would look like obeying."""
    given = [name for name in ("size", "single", "chosen", "price", "by_post") if typed[name]]
    given += ["pairs"] if typed["pairs"] > 1 else []
    if given:
        option = "--" + {"chosen": "with"}.get(given[0], given[0]).replace("_", "-")
        raise UsageError(
            f"{option} can't be given with a ticket's number.",
            fix=f"Ticket {ticket} keeps what it was taken in with: cancel it and take it in anew.",
        )


def _told(drawn: FinishedTicket, counter: Counter) -> tuple[dict[str, Any], str]:
    """Give what finishing did, for a program and for a person."""
    units = bench.units(counter.book, [need.material for need in drawn.used])
    return _drawn_facts(drawn, counter, units), _drawn_words(drawn, counter, units)


def _drawn_facts(drawn: FinishedTicket, counter: Counter, units: Mapping[str, Unit]) -> dict[str, Any]:
    used = [{"line": n.line, "material": n.material, **desk.exactly(n.nano, units[n.material])} for n in drawn.used]
    return ticket_facts(drawn.ticket, counter) | {
        "document": drawn.document,
        "new": drawn.fresh,
        "used": used,
        "left": {code: desk.exactly(drawn.left[code], units[code]) for code in units if code in drawn.left},
        "changed": list(drawn.changed),
    }


def _drawn_words(drawn: FinishedTicket, counter: Counter, units: Mapping[str, Unit]) -> str:
    said = [f"Ticket {drawn.ticket.number} finished: {drawn.ticket.job} (document {drawn.document})."]
    if not drawn.fresh:
        said = [f"Ticket {drawn.ticket.number} was finished already (document {drawn.document}); nothing changed."]
    for need in drawn.used:
        left = drawn.left.get(need.material, 0)
        short = "  <- below zero" if left < 0 else ""
        used_up, rest = (counter.formats.amount(n, units[need.material]) for n in (need.nano, left))
        said.append(f"  {need.material}: {used_up} for {need.line}, {rest} left{short}")
    below = sorted(code for code in units if drawn.left.get(code, 0) < 0)
    if below:
        said.append(f"The book has less than nothing of {', '.join(below)}: count it, or enter what came.")
    return "\n".join(said)


def _single_words(ticket: Ticket, counter: Counter, price: str | None) -> str:
    if not bench.one_shoe_at_a_pairs_price(ticket, stated=price is not None):
        return ""
    much = counter.formats.money(ticket.price or 0)
    return f"\nOne shoe at the price of a pair, {much}: to charge another, undo and give --price."


def _ticket_line(ticket: Ticket, counter: Counter, names: Mapping[str, str]) -> str:
    chosen = ", ".join(f"{name} {option}" for name, option in ticket.chosen.items())
    facts = [names.get(ticket.job, ticket.job), str(ticket.size or ""), chosen]
    facts += [f"promised {counter.formats.weekday(ticket.promised)}"] if ticket.promised else []
    facts += [counter.formats.money(ticket.price)] if ticket.price is not None else []
    return f"{ticket.number}: {', '.join(fact for fact in facts if fact)}"


def _actual(used: Sequence[str], instead: Sequence[str]) -> Actual:
    amounts: dict[str, Quantity] = {}  # a bare number would leave open which unit is meant
    for pair in used:
        name, equals, text = pair.rpartition("=")
        if not equals:
            raise UsageError(f"'{pair}' is not an amount used.", fix="Write it like 'cork filler=40 g'.")
        amounts[name.strip()] = desk.amount(text, None)
    return Actual(amounts=amounts, instead=desk.choices(tuple(instead)))
