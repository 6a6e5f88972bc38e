"""At the bench: take in, finish, guarantee work, cancel, list tickets."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.errors import DoubtError, UsageError
from stockroom.flows.bench import changes, stages
from stockroom.flows.bench import tickets as bench
from stockroom.flows.bench.changes import TicketChanges
from stockroom.flows.bench.stages import DrawnWork, Used
from stockroom.flows.bench.tickets import Wanted
from stockroom.stock.bounds import MOST_PAIRS
from stockroom.stock.money import major
from stockroom.stock.offcuts import OffcutWanted
from stockroom.stock.postings import Actual, Stamp
from stockroom.stock.quantities import Unit
from stockroom.stock.recipes import PAIR, Extra, Need
from stockroom.stock.shoe_sizes import shoe_size
from stockroom.stock.tickets import Ticket, extra_line

if TYPE_CHECKING:
    from stockroom.flows.bench.can_do import CanDoJob

_NONE = "none"
job_options = (
    click.option("--size", help="Shoe size with its system: 'EU 42', 'UK 8.5', 'US M 9', 'Mondo 265'."),
    click.option("--single", is_flag=True, help="One shoe instead of a pair."),
    click.option("--pairs", type=click.IntRange(1, MOST_PAIRS), help="How many pairs [1]."),
    click.option("--with", "chosen", multiple=True, metavar="CHOICE=OPTION", help="A choice, such as sole=bend."),
    click.option("--price", help="Price charged [the price list's]; +6.00 adds to it."),
    click.option("--by-post", is_flag=True, help="Came and goes by post."),
    click.option("--post-cost", help="What the post costs you; or a name on your list of postage, with its packing."),
    click.option("--add", "added", multiple=True, metavar="MATERIAL=AMOUNT", help="Used beyond the recipe."),
    click.option("--leave-out", multiple=True, metavar="LINE", help="A line of the recipe that is not wanted."),
)
actual_options = (
    click.option("--used", multiple=True, metavar="LINE=AMOUNT", help="What was actually used: 'cork filler=40 g'."),
    click.option("--instead", multiple=True, metavar="LINE=MATERIAL", help="A substitute: 'sole=RUB-4'."),
    click.option("--offcut", "offcut", multiple=True, metavar="[LINE=]NUMBER[:LEFT]",
                 help="Cut from this offcut; LEFT is what stays of it, as in '7:30 x 20 cm'. Or none: from no offcut."),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedJob:
    """A job's facts as typed."""

    size: str | None
    single: bool
    pairs: int | None
    chosen: Sequence[str]
    price: str | None
    by_post: bool
    post_cost: str | None
    added: Sequence[str]
    leave_out: Sequence[str]

    def wanted(self, job: str, counter: Counter, **more: Any) -> Wanted:
        """Read the facts of a new ticket."""
        price, (cost, packing) = self._money(counter, "price"), desk.postage_of(counter, self.post_cost)
        if price and self.price and self.price.startswith("+"):
            price += bench.list_price(counter.book, job)
        return Wanted(
            job=job,
            shoes=self._shoes or PAIR,
            size=shoe_size(self.size) if self.size else None,
            chosen=desk.choices(tuple(self.chosen)),
            price=price,
            by_post=self.by_post or self.post_cost is not None,
            post_cost=cost,
            add=(*self._extras, *packing),
            leave_out=tuple(self.leave_out),
            **more,
        )

    def changes(self, counter: Counter, **more: Any) -> TicketChanges:
        """Read what is to be otherwise on a ticket that is there."""
        price, adds = self._money(counter, "price"), (self.price or "").startswith("+")
        cost, packing = desk.postage_of(counter, self.post_cost)
        return TicketChanges(
            shoes=self._shoes,
            size=shoe_size(self.size) if self.size else None,
            chosen=desk.choices(tuple(self.chosen)),
            price=None if adds else price,
            more=price or 0 if adds else 0,
            by_post=True if self.by_post or self.post_cost is not None else None,
            post_cost=cost,
            add=(*self._extras, *packing),
            leave_out=tuple(self.leave_out),
            **more,
        )

    @property
    def _shoes(self) -> int | None:
        if self.single:
            return 1
        return None if self.pairs is None else self.pairs * PAIR

    @property
    def _extras(self) -> tuple[Extra, ...]:
        return desk.extras(self.added)

    def _money(self, counter: Counter, name: str) -> int | None:
        typed: str | None = getattr(self, name)
        return desk.money(typed.removeprefix("+"), counter.shop) if typed else None


@click.command()
@click.argument("job")
@desk.opted(*job_options)
@click.option("--promised", help="Day it is promised for, such as 2026-12-04 or friday.")
@click.option("--number", default="", help="Ticket number [the next one].")
@click.option("--customer", default="", help="Name, if you must: not needed, and can be forgotten.")
@desk.entry
def take_in(
    counter: Counter, entry: TypedEntry, *, job: str, promised: str | None, number: str, customer: str, **typed: Any
) -> None:  # fmt: skip
    """Take in a ticket: its materials are reserved.

    JOB is the job's code, or enough of its name to be sure: stockroom take-in heel --size 'EU 38'. Work that is on no
    price list is 'other': stockroom take-in other --price 25 --note 'Resew a bag strap'
    """
    from stockroom.flows.bench import cards

    more = {"promised": desk.day_ahead(promised) if promised else None, "number": number, "customer": customer}
    ticket = bench.take_in(counter.book, TypedJob(**typed).wanted(job, counter, **more), entry.stamp)
    said = f"Ticket {_ticket_line(ticket, counter, bench.job_names(counter.book))}"
    said += _single_words(ticket, counter, typed["price"]) + _no_recipe_words(ticket, counter)
    card = cards.ticket_card(counter.book, ticket.number, entry.stamp.happened)
    entry.tell(ticket_facts(ticket, counter), "\n".join([said, *card.in_place, *card.care]))


@click.command()
@click.argument("job")
@desk.opted(*job_options)
@click.option("--sure", type=click.FloatRange(1, 99), default=90, show_default=True,
              help="Per cent of futures in which the day must be kept.")  # fmt: skip
@desk.view
def can_take_in(counter: Counter, *, job: str, sure: float, as_json: bool, **typed: Any) -> None:
    """Say whether a job can be taken in: what is missing, and from when.

    JOB with its size and choices, as for take-in: stockroom can-take-in 'full soles' --size 'EU 43' --with sole=bend
    """
    from stockroom.flows.bench.can_do import can_do_job
    from stockroom.flows.bench.in_place import in_place_words
    from stockroom.flows.outlook.run_outs import look_ahead

    now = desk.now()
    wanted = TypedJob(**typed).wanted(job, counter)
    stamp = Stamp(key="", happened=now, entered=now, note="asked")
    bench.would_take(counter.book, wanted, stamp)  # what is wrong with it is said before the long look ahead
    seen = look_ahead(counter.book, now)
    found = can_do_job(counter.book, seen, wanted, stamp, sure=sure / 100)
    units = {m.code: m.unit for m in seen.known.materials}
    write, facts = counter.formats, can_do_facts(found, units)
    materials = {m.code: m for m in seen.known.materials}
    lines = [in_place_words(each, materials, write) for each in found.in_place]
    if found.lacking or not found.in_place:
        lines.append("Missing:" if found.lacking else "All of it is there and free.")
    for each in found.lacking:
        there = f"there about {write.weekday(each.there)}" if each.there else "nobody supplies it"
        how = "on order" if each.ordered else f"if ordered from {each.supplier}" if each.supplier else ""
        much = write.amount(each.nano, units[each.material])
        lines.append(f"  {much} {each.material}: {', '.join(filter(None, (there, how)))}")
    if found.day is None:
        lines.append(f"No day of the next three months is kept in {sure:g}% of futures.")
        if found.scarce:
            lines.append(
                f"{found.scarce} may be short, whatever the book says, as long as none is ordered: "
                "count it, or order it (stockroom reorder)."
            )
    else:
        lines.append(f"Earliest day to promise: {write.weekday(found.day)} (kept in {write.percent(found.chance)}).")
    lines += _bench_words(found, counter)
    desk.tell(facts, "\n".join(lines), as_json=as_json)


def _bench_words(found: "CanDoJob", counter: Counter) -> list[str]:
    """Say what the bench says to a job."""
    bench, write = found.bench, counter.formats
    if bench.minutes is None:
        return ["Hours at the bench are not looked at: nobody has said how long the job takes (bench minutes in jobs)."]
    if not bench.hours_known:
        return ["Hours at the bench are not looked at: tell stockroom settings open_hours=…; see bench-load --help."]
    takes = f"At the bench it takes about {write.hours(bench.minutes)}"
    first, room = write.hours(bench.ahead), write.hours(bench.room)
    day = "" if found.day is None else f"; {first} go first, and {room} are open until the end of that day"
    said = [f"{takes}{day}."]
    if found.by_materials is not None and found.by_materials != found.day:
        said.append(f"The materials alone would allow {write.weekday(found.by_materials)}.")
    if bench.unknown:
        said.append(f"Not reckoned with, as nobody knows how long they take: {', '.join(bench.unknown)}.")
    return said


def can_do_facts(found: "CanDoJob", units: Mapping[str, Unit]) -> dict[str, Any]:
    """Give the answer to a program."""
    return {
        "takes": [{"material": n.material, **desk.exactly(n.nano, units[n.material])} for n in found.takes],
        "missing": [
            {
                "material": each.material,
                **desk.exactly(each.nano, units[each.material]),
                "there": each.there.isoformat() if each.there else None,
                "ordered": each.ordered,
                "supplier": each.supplier or None,
            }
            for each in found.lacking
        ],
        "in_place": [
            {
                "material": each.material,
                **desk.exactly(each.lack, units[each.material]),
                "other": each.other,
                "takes": desk.exactly(each.nano, units[each.other]),
            }
            for each in found.in_place
        ],
        "chance_today": round(found.today, 3),
        "promise": found.day.isoformat() if found.day else None,
        "chance": round(found.chance, 3),
        "by_day": {day.isoformat(): round(chance, 3) for day, chance in found.by_day},
        "bench": {
            "reckoned": found.bench.reckoned,
            "minutes": None if found.bench.minutes is None else round(found.bench.minutes, 1),
            "ahead": round(found.bench.ahead, 1),
            "open": round(found.bench.room, 1),
            "not_reckoned_with": list(found.bench.unknown),
        },
        "by_materials": found.by_materials.isoformat() if found.by_materials else None,
        "scarce": found.scarce or None,
    }


@click.command()
@click.argument("code")
@click.argument("tickets", nargs=-1, required=True)
@click.option("--name", default="", help="What the job is called, where it is new [the first ticket's note].")
@click.option("--price", help="Its price, where it is new [the middle one of the tickets'].")
@click.option("--from", "since", help="First day of it [today].")
@desk.view
def make_recipe(
    counter: Counter, *, code: str, tickets: tuple[str, ...], name: str, price: str | None, since: str | None,
    as_json: bool,
) -> None:  # fmt: skip
    """Make a recipe of finished tickets.

    CODE is the job's; one that isn't there yet is put on the price list: make-recipe BAG-STRAP 1042 1043
    """
    from stockroom.flows.bench.recipes_made import make_recipe as make

    asked = desk.money(price, counter.shop) if price else None
    now = desk.now()
    stamp = Stamp(key="", happened=desk.moment(since) if since else now, entered=now)
    made = make(counter.book, code, tickets, stamp, name=name, price=asked)
    units = bench.units(counter.book, [line.material for line in made.recipe.lines])
    lines, facts = [], []
    for line in made.recipe.lines:
        unit, write = units[line.material], counter.formats
        share = Decimal(line.chance.numerator) / line.chance.denominator
        some = "" if line.chance == 1 else f", on {write.percent(share)}"
        lines.append(f"  {write.amount(line.amount.nano, unit)} {line.material} a pair{some}")
        facts.append({"material": line.material, **desk.exactly(line.amount.nano, unit), "share": str(line.chance)})
    day = made.recipe.valid_from
    said = f"{made.job.code} ({made.job.name}) has a recipe from {counter.formats.day(day)}, of {made.tickets} tickets:"
    told = {"job": made.job.code, "valid_from": str(day), "lines": facts}
    desk.tell(told, "\n".join([said, *lines]), as_json=as_json)


@click.command()
@click.argument("ticket")
@desk.opted(*job_options)
@click.option("--put-back", multiple=True, metavar="LINE", help="A line that was left out and is wanted after all.")
@click.option("--promised", help="Day it is promised for, such as friday; 'none' for no day.")
@click.option("--customer", help="Another name to be picked up under; '' for none.")
@click.option("--not-by-post", is_flag=True, help="Collected after all.")
@desk.entry
def change_ticket(
    counter: Counter, entry: TypedEntry, *, ticket: str, put_back: Sequence[str], promised: str | None,
    customer: str | None, not_by_post: bool, **typed: Any,
) -> None:  # fmt: skip
    """Change an open ticket: another choice, size, price, day, name, more or less work.

    Its document says what it was and what it is. --note is the ticket's own note. Extra work and materials:
    stockroom change-ticket 1042 --add LACE-90='1 pair' --price +6.00
    """
    no_day = (promised or "").casefold() == "none"
    more = {
        "promised": desk.day_ahead(promised) if promised and not no_day else None, "no_promise": no_day,
        "customer": customer, "put_back": tuple(put_back), "note": entry.note or None,
    }  # fmt: skip
    wanted = TypedJob(**typed).changes(counter, **more)
    wanted = replace(wanted, by_post=False) if not_by_post else wanted
    done = changes.change_ticket(counter.book, ticket, wanted, entry.stamp)
    facts = ticket_facts(done.ticket, counter) | {
        "document": done.document, "new": done.fresh, "changed": list(done.said)
    }  # fmt: skip
    if not done.fresh:
        entry.tell(facts, f"Ticket {ticket} was changed already (document {done.document}); nothing changed.")
        return
    said = "".join(f"\n  {each}" for each in done.said)
    entry.tell(facts, f"Ticket {ticket} is changed (document {done.document}).{said}")


@click.command()
@click.argument("ticket")
@click.argument("lines", nargs=-1)
@click.option("--pairs", type=click.IntRange(1), help="So many of its pairs are done: what they take.")
@desk.opted(*actual_options)
@click.option("--add", "added", multiple=True, metavar="MATERIAL=AMOUNT", help="Used beyond the recipe.")
@desk.entry
def use(
    counter: Counter, entry: TypedEntry, *, ticket: str, lines: tuple[str, ...], added: Sequence[str], **typed: Any
) -> None:  # fmt: skip
    """Enter what a ticket has used so far; the rest leaves the shelf when it is finished.

    LINES are lines of the recipe or materials, as much as they still take: stockroom use 1042 'heel cement'.
    Another amount: --used 'sole=3 dm2'.
    """
    extras = desk.extras(added)
    named = (*lines, *(extra_line(bench.find_material(counter.book, each.material)) for each in extras))
    actual, pairs = _actual(typed["used"], typed["instead"], typed["offcut"]), typed["pairs"]
    so_far = Used(lines=named, actual=actual, shoes=pairs * PAIR if pairs else None)
    done = stages.use_so_far(counter.book, ticket, so_far, entry.stamp, TicketChanges(add=extras))
    units = bench.units(counter.book, [need.material for need in done.used])
    said = f"Used so far on ticket {ticket} (document {done.document}); it stays open."
    if not done.fresh:
        said = f"That was entered already (document {done.document}); nothing changed."
    mind = bench.care_of(counter.book, [need.material for need in done.used]) if done.fresh else []
    entry.tell(_drawn_facts(done, counter, units), "\n".join([said, *_drawn_lines(done, counter, units), *mind]))


@click.command()
@click.argument("what", nargs=-1, required=True)
@desk.opted(*job_options, *actual_options)
@desk.entry
def finish(
    counter: Counter, entry: TypedEntry, *, what: tuple[str, ...], used: Sequence[str], instead: Sequence[str],
    offcut: Sequence[str], **typed: Any,
) -> None:  # fmt: skip
    """Finish a ticket, or a job that was never taken in: its materials leave the shelf.

    WHAT is a ticket's number, or a job: stockroom finish 1042, or stockroom finish 'heel tops' --size 'EU 38'. What
    you give of a ticket beside its number is changed on it first, as a document of its own. Where an offcut fits, it
    says what each way of cutting costs and asks which: --offcut 7, or --offcut none. Several tickets are finished at
    once by their numbers.
    """
    actual, job, stamp = _actual(used, instead, offcut), TypedJob(**typed), entry.stamp
    if len(what) > 1:
        _finish_several(counter, entry, what, said_more=bool(used or instead or offcut) or any(typed.values()))
        return
    named = what[0]
    if named.isdigit() or bench.is_ticket(counter.book, named):
        changes_ = job.changes(counter)
        if not offcut and not changes_:
            _ask_which(counter, named, stamp)
        drawn = bench.finish_ticket(counter.book, named, stamp, actual, changes_)
    else:
        wanted = job.wanted(named, counter)
        if not offcut:
            _ask_which(counter, wanted, stamp)
        drawn = bench.finish_at_once(counter.book, wanted, stamp, actual)
    facts, said = _finished(drawn, counter, job.price)
    entry.tell(facts, said)


def _finish_several(counter: Counter, entry: TypedEntry, what: Sequence[str], *, said_more: bool) -> None:
    unknown = [name for name in what if not bench.is_ticket(counter.book, name)]
    if unknown:
        raise UsageError(
            f"There is no ticket '{unknown[0]}'; several at once are tickets, each by its number.",
            fix="A job of several words goes in quotes: stockroom finish 'heel tops'.",
        )
    if said_more:
        raise UsageError("What is otherwise is said of one ticket at a time.", fix="Finish that one by itself.")
    told = [_finished(drawn, counter, None) for drawn in bench.finish_several(counter.book, what, entry.stamp)]
    entry.tell({"tickets": [facts for facts, _ in told]}, "\n".join(said for _, said in told))


def _finished(drawn: DrawnWork, counter: Counter, price: str | None) -> tuple[dict[str, Any], str]:
    """Give what finishing did, and what is to be minded about it."""
    facts, said = _told(drawn, counter)
    said += _minutes_words(drawn.ticket, counter)
    return facts, said + _single_words(drawn.ticket, counter, price) + _no_recipe_words(drawn.ticket, counter)


@click.command()
@click.argument("ticket")
@desk.opted(*actual_options)
@desk.entry
def guarantee(
    counter: Counter, entry: TypedEntry, *, ticket: str, used: Sequence[str], instead: Sequence[str],
    offcut: Sequence[str],
) -> None:  # fmt: skip
    """Do a finished ticket's work again under guarantee: materials, no income.

    TICKET is the number of the work to do again.
    """
    entry.tell(*_told(bench.redo_ticket(counter.book, ticket, entry.stamp, _actual(used, instead, offcut)), counter))


@click.command()
@click.argument("ticket")
@click.option("--back", multiple=True, metavar="LINE", help="A line used already that goes back on the shelf; or all.")
@click.option("--wasted", is_flag=True, help="What else was used already is waste.")
@desk.entry
def cancel(counter: Counter, entry: TypedEntry, *, ticket: str, back: tuple[str, ...], wasted: bool) -> None:
    """Cancel an open ticket: what was reserved is available again."""
    done = bench.cancel_ticket(counter.book, ticket, entry.stamp, back=back, wasted=wasted)
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
        "by_post": ticket.by_post,
        "post_cost": None if ticket.post_cost is None else str(major(ticket.post_cost, counter.shop.currency_digits)),
        "note": ticket.note,
        "left_out": list(ticket.left_out),
        **{
            name: [{"line": n.line, "material": n.material, **_exactly(counter, n)} for n in lines]
            for name, lines in (("added", ticket.added), ("used_so_far", ticket.drawn))
        },
    }


def _exactly(counter: Counter, need: Need) -> dict[str, str]:
    return desk.exactly(need.nano, bench.units(counter.book, [need.material])[need.material])


def _told(drawn: DrawnWork, counter: Counter) -> tuple[dict[str, Any], str]:
    """Give what finishing did, for a program and for a person."""
    units = bench.units(counter.book, [need.material for need in drawn.used])
    return _drawn_facts(drawn, counter, units), _drawn_words(drawn, counter, units)


def _drawn_facts(drawn: DrawnWork, counter: Counter, units: Mapping[str, Unit]) -> dict[str, Any]:
    used = [{"line": n.line, "material": n.material, **desk.exactly(n.nano, units[n.material])} for n in drawn.used]
    return ticket_facts(drawn.ticket, counter) | {
        "document": drawn.document,
        "new": drawn.fresh,
        "used": used,
        "left": {code: desk.exactly(drawn.left[code], units[code]) for code in units if code in drawn.left},
        "changed": list(drawn.changed),
        "offcuts": [{"number": number, "left": left} for number, left in drawn.cut],
    }


def _drawn_words(drawn: DrawnWork, counter: Counter, units: Mapping[str, Unit]) -> str:
    said = [f"Ticket {drawn.ticket.number} finished: {drawn.ticket.job} (document {drawn.document})."]
    if not drawn.fresh:
        said = [f"Ticket {drawn.ticket.number} was finished already (document {drawn.document}); nothing changed."]
    said += _drawn_lines(drawn, counter, units)
    said += [f"Offcut {number}: {left or 'nothing'} is left." for number, left in drawn.cut]
    said += bench.care_of(counter.book, [need.material for need in drawn.used]) if drawn.fresh else []
    below = sorted(code for code in units if drawn.left.get(code, 0) < 0)
    if below:
        from stockroom.flows.bench.in_place import if_used_instead

        said.append(f"The book has less than nothing of {', '.join(below)}: count it, or enter what came.")
        said += filter(None, [if_used_instead(counter.book, below)])
    return "\n".join(said)


def _drawn_lines(drawn: DrawnWork, counter: Counter, units: Mapping[str, Unit]) -> list[str]:
    said = []
    for need in drawn.used:
        left = drawn.left.get(need.material, 0)
        short = "  <- below zero" if left < 0 else ""
        used_up, rest = (counter.formats.amount(n, units[need.material]) for n in (need.nano, left))
        said.append(f"  {need.material}: {used_up} for {need.line}, {rest} left{short}")
    return said


def _minutes_words(ticket: Ticket, counter: Counter) -> str:
    if not bench.is_timed(counter.book, ticket.number):
        return ""
    from stockroom.flows.bench.work_time import bench_clock

    minutes = bench_clock(counter.book, ticket.finished or desk.now(), [ticket.number]).minutes.get(ticket.number)
    return f"\nWorked on it: {counter.formats.hours(minutes)}." if minutes else ""


def _single_words(ticket: Ticket, counter: Counter, price: str | None) -> str:
    if not bench.one_shoe_at_a_pairs_price(counter.book, ticket, stated=price is not None):
        return ""
    much = counter.formats.money(ticket.price or 0)
    return f"\nOne shoe at the price of a pair, {much}: to charge another, undo and give --price."


def _no_recipe_words(ticket: Ticket, counter: Counter) -> str:
    if bench.has_recipe(counter.book, ticket.job):
        return ""
    return f"\n{ticket.job} has no recipe: it takes only what you name, with --add MATERIAL=AMOUNT."


def _ticket_line(ticket: Ticket, counter: Counter, names: Mapping[str, str]) -> str:
    chosen = ", ".join(f"{name} {option}" for name, option in ticket.chosen.items())
    facts = [names.get(ticket.job, ticket.job), _how_many(ticket), str(ticket.size or ""), chosen]
    facts += [f"without {line}" for line in ticket.left_out] + [f"{need.line}" for need in ticket.added]
    facts += ["by post"] if ticket.by_post else []
    facts += [f"used so far: {', '.join(need.line for need in ticket.drawn)}"] if ticket.drawn else []
    facts += [f"promised {counter.formats.weekday(ticket.promised)}"] if ticket.promised else []
    facts += [counter.formats.money(ticket.price)] if ticket.price is not None else []
    return f"{ticket.number}: {', '.join(fact for fact in facts if fact)}"


def _how_many(ticket: Ticket) -> str:
    """Say how many shoes a ticket is for, where that is not the usual pair."""
    pairs, odd = divmod(ticket.shoes, PAIR)
    said = [f"{pairs} pair{'s' * (pairs > 1)}"] * bool(pairs) + ["one shoe"] * odd
    return "" if ticket.shoes == PAIR else " and ".join(said)


def _actual(used: Sequence[str], instead: Sequence[str], offcut: Sequence[str]) -> Actual:
    return Actual(amounts=desk.amounts(used), instead=desk.choices(tuple(instead)), offcuts=_offcuts(offcut))


def _offcuts(typed: Sequence[str]) -> dict[str, OffcutWanted]:
    """Read which lines are cut from which offcuts: '7', 'sole=7', '7:30 x 20 cm'; 'none' is none."""
    found = {}
    for each in typed:
        line, _, rest = each.rpartition("=")
        number, _, left = rest.partition(":")
        if rest.strip().casefold() == _NONE:
            continue
        if not number.strip().isdigit():
            raise UsageError(
                f"'{each}' names no offcut.", fix="Give the number on it, such as 7 or 'sole=7:30 x 20 cm'."
            )
        found[line.strip()] = OffcutWanted(number=int(number), left=left.strip())
    return found


def _ask_which(counter: Counter, what: str | Wanted, stamp: Stamp) -> None:
    """Ask what to cut from, where an offcut fits."""
    choices = bench.could_be_cut_from(counter.book, what, stamp)
    if not choices:
        return
    from stockroom.flows.bench.offcut_cuts import choice_said

    best = choices[0].offers[0]
    left = f":{best.left}" if best.left else ""
    raise DoubtError(
        " ".join(choice_said(choice, counter.formats) for choice in choices),
        fix=f"Say which: --offcut {best.piece.number} (of which {left.removeprefix(':') or 'nothing'} stays), or "
        "--offcut none for the sheet. Bought cut is another choice: --with.",
    )
