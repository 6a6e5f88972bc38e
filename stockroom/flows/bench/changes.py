"""An open ticket changes: what is to be done, for when, at what price, and what it takes beyond its recipe."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.bench.recipe_cards import Cards, choices_of
from stockroom.flows.posting.post import changes_said, entered_before, post_one
from stockroom.phrases import joined, phrase
from stockroom.show.formats import Formats, formats_of
from stockroom.stock.moves import DocumentKind
from stockroom.stock.postings import Stamp, ticket_facts
from stockroom.stock.recipes import Extra, Need
from stockroom.stock.shoe_sizes import ShoeSize
from stockroom.stock.tickets import Ticket, TicketState, added_up, extra_line
from stockroom.store import catalogue, tickets
from stockroom.store.book import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketChanges:
    """What is to be otherwise on a ticket; None stays as it is."""

    shoes: int | None = None
    size: ShoeSize | None = None
    chosen: Mapping[str, str] = field(default_factory=dict)  # those that change
    promised: date | None = None
    no_promise: bool = False  # the day it was promised for is taken away
    price: int | None = None  # minor units
    more: int = 0  # added to the price, for extra work
    customer: str | None = None
    note: str | None = None
    by_post: bool | None = None
    post_cost: int | None = None
    add: tuple[Extra, ...] = ()
    leave_out: tuple[str, ...] = ()  # lines of the recipe, or materials added before
    put_back: tuple[str, ...] = ()  # lines that were left out

    def __bool__(self) -> bool:
        return self != TicketChanges()


NO_CHANGES = TicketChanges()


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedTicket:
    """What changing a ticket did."""

    ticket: Ticket
    document: int
    fresh: bool
    said: tuple[str, ...]  # old and new, each in a sentence


def change_ticket(book: Book, number: str, changes: TicketChanges, stamp: Stamp) -> ChangedTicket:
    """Change an open ticket; its document says what it was and what it is, but for its name and note.

    Raises
    ------
    RefusedError
        If the ticket is finished or cancelled, or nothing would change.
    """
    stamp = stamp.asking("change", ticket=number, changes=changes)
    with book.writing() as session:
        ticket = tickets.the_ticket(session, number)
        done = entered_before(session, stamp, DocumentKind.TICKET_CHANGE, subject=number)
        if done is not None:
            return ChangedTicket(ticket=ticket, document=done, fresh=False, said=())
        refuse_unless_open(ticket)
        return post_change(Cards(session), ticket, changes, stamp)


def refuse_unless_open(ticket: Ticket) -> None:
    """Refuse a ticket that is finished or cancelled."""
    if ticket.state is not TicketState.BOOKED:
        raise RefusedError(
            phrase("Ticket %(number)s is %(state)s already.", number=ticket.number, state=ticket.state),
            fix="Undo that first if it is a mistake.",
        )


def post_change(cards: Cards, ticket: Ticket, changes: TicketChanges, stamp: Stamp) -> ChangedTicket:
    """Change a ticket within an entry that is under way.

    Raises
    ------
    RefusedError
        If nothing would change.
    """
    changed = _changed(cards, ticket, changes, stamp.happened.date())
    was, now = _otherwise(ticket, changed)
    if not now and (changed.customer, changed.note) == (ticket.customer, ticket.note):
        raise RefusedError(
            phrase("Nothing of ticket %(number)s would change.", number=ticket.number),
            fix="Say what is to be otherwise, such as --promised or --price.",
        )
    content: dict[str, Any] = {"was": was, "now": now, "changed": what_changed(cards, ticket, changed)}
    tickets.save_tickets(cards.session, [changed])
    document = stamp.document(DocumentKind.TICKET_CHANGE, ticket.number, **content)
    posted = post_one(cards.session, document, new=True)
    said = tuple(changes_said(document))
    return ChangedTicket(ticket=changed, document=posted.number, fresh=posted.fresh, said=said)


def with_own_lines(
    cards: Cards, ticket: Ticket, day: date, *, add: Sequence[Extra], leave_out: Sequence[str]
) -> Ticket:
    """Give a ticket with materials added and lines left out.

    Raises
    ------
    RefusedError
        If a line to leave out is no part of it, or was used already.
    """
    added, left_out = list(ticket.added), list(ticket.left_out)
    lines = {need.line: need.material for need in cards.by_recipe(ticket, day)}
    for typed in leave_out:
        line = _the_line(typed, {**lines, **{need.line: need.material for need in added}})
        if any(need.line == line for need in ticket.drawn):
            raise RefusedError(
                phrase("'%(line)s' was used already.", line=line), fix="Undo that use first, or leave the line in."
            )
        if line in lines:
            left_out.append(line)
        added = [need for need in added if need.line != line]
    added += [own_line(cards, extra) for extra in add]
    return replace(ticket, added=added_up(added), left_out=tuple(dict.fromkeys(left_out)))


def what_changed(cards: Cards, was: Ticket, now: Ticket) -> list[list[str]]:
    """Give name, old and new of each fact that differs; what may have to be forgotten is never said."""
    write = formats_of(catalogue.read_shop(cards.session))
    pairs = [[name, old, new] for name, old, new in _shown(cards, was, now, write) if old != new]
    pairs += [[phrase("another pick-up name")]] if was.customer != now.customer else []
    return pairs + ([[phrase("another note")]] if was.note != now.note else [])


def _changed(cards: Cards, ticket: Ticket, changes: TicketChanges, day: date) -> Ticket:
    """Work out the ticket as it will be; what could not be drawn later is refused now."""
    _check(ticket, changes, day)
    recipe, job = cards.recipe(ticket.job, day), cards.jobs[ticket.job]
    plain = {
        name: getattr(changes, name)
        for name in ("shoes", "size", "promised", "customer", "note", "by_post", "post_cost")
        if getattr(changes, name) is not None
    }
    price = ticket.price if changes.price is None else changes.price
    if changes.price is None and changes.shoes is not None and ticket.price == job.price_of(ticket.shoes):
        price = job.price_of(changes.shoes)  # it was the price list's, and is so again for more or fewer shoes
    if changes.more:
        price = (price or 0) + changes.more
    changed = replace(ticket, **plain, price=price)
    if changes.no_promise:
        changed = replace(changed, promised=None)
    if changes.chosen:
        changed = replace(changed, chosen=choices_of(recipe, {**ticket.chosen, **changes.chosen}, cards.shelf))
    if job.sized and changed.size is None:
        raise UsageError(phrase("%(job)s needs the shoe size.", job=job.name), fix="Add it, such as --size 'EU 42'.")
    back = [_the_line(typed, dict.fromkeys(ticket.left_out, "")) for typed in changes.put_back]
    changed = replace(changed, left_out=tuple(line for line in changed.left_out if line not in back))
    return with_own_lines(cards, changed, day, add=changes.add, leave_out=changes.leave_out)


def _check(ticket: Ticket, changes: TicketChanges, day: date) -> None:
    if changes.shoes is not None and changes.shoes < 1:
        raise UsageError(
            phrase("%(shoes)s shoes are no job.", shoes=changes.shoes), fix="Give 1 for a single shoe, 2 for a pair."
        )
    if changes.promised is not None and changes.promised < min(day, ticket.taken_in.date()):
        raise UsageError(
            phrase("%(day)s is before the day the ticket is taken in.", day=changes.promised),
            fix="Check the day it is promised for.",
        )
    if ticket.redo_of and (changes.price or changes.more):
        raise RefusedError(
            phrase("Ticket %(number)s is guarantee work: it brings no income.", number=ticket.number),
            fix="Take extra work in as a ticket of its own.",
        )
    price = (ticket.price or 0) if changes.price is None else changes.price
    if price + changes.more < 0 or (changes.post_cost or 0) < 0:
        raise UsageError("A price can't be below zero.", fix="Leave it out for the price list's, or give 0.")


def _the_line(typed: str, lines: Mapping[str, str]) -> str:
    """Find a line by its name or the material it takes.

    Raises
    ------
    RefusedError
        If it is no part of the ticket, or several lines take the material.
    """
    found = [typed] if typed in lines else [line for line, material in lines.items() if material == typed]
    folded = typed.strip().casefold()
    found = found or [line for line, material in lines.items() if folded in (line.casefold(), material.casefold())]
    if len(found) == 1:
        return found[0]
    uses = phrase("It uses: %(known)s.", known=", ".join(sorted(lines)) or phrase("nothing"))
    if found:
        raise RefusedError(phrase("Several lines of the job use '%(name)s'.", name=typed), fix=uses)
    raise RefusedError(phrase("The job does not use '%(name)s'.", name=typed), fix=uses)


def own_line(cards: Cards, extra: Extra) -> Need:
    """Make a material used beyond the recipe a line of its own.

    Raises
    ------
    RefusedError
        If its amount is not above zero.
    """
    code = cards.material(extra.material)
    nano = cards.shelf.materials[code].to_base(extra.amount).nano
    if nano <= 0:
        raise RefusedError(
            phrase("%(amount)s of %(material)s is not above zero.", amount=extra.amount, material=code),
            fix="Give the amount that is used.",
        )
    return Need(line=extra_line(code), material=code, nano=nano)


def _otherwise(was: Ticket, now: Ticket) -> tuple[dict[str, Any], dict[str, Any]]:
    """Give the facts that differ, as they were and as they are."""
    old, new = ticket_facts(was), ticket_facts(now)
    names = [name for name in old if old[name] != new[name]]
    return {name: old[name] for name in names}, {name: new[name] for name in names}


def _shown(cards: Cards, was: Ticket, now: Ticket, write: Formats) -> list[tuple[str, str, str]]:
    none = phrase("none")

    def money(minor: int | None) -> str:
        return none if minor is None else write.money(minor)

    def facts(ticket: Ticket) -> dict[str, str]:
        extra = [joined([write.told(n.nano, cards.shelf.materials[n.material].unit), n.material]) for n in ticket.added]
        return {
            phrase("shoes"): str(ticket.shoes),
            phrase("size"): str(ticket.size or "") or none,
            phrase("choices"): ", ".join(f"{name} {option}" for name, option in sorted(ticket.chosen.items())) or none,
            phrase("promised"): write.weekday(ticket.promised) if ticket.promised else none,
            phrase("price"): money(ticket.price),
            phrase("by post"): phrase("yes") if ticket.by_post else phrase("no"),
            phrase("postage"): money(ticket.post_cost),
            phrase("extra"): ", ".join(extra) or none,
            phrase("left out"): ", ".join(ticket.left_out) or none,
        }

    old, new = facts(was), facts(now)
    return [(name, old[name], new[name]) for name in old]
