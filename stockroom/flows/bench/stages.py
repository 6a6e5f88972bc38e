"""Work that is not done in one go: what was used so far leaves the shelf, the rest when the ticket is finished."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar, cast

from stockroom.errors import RefusedError, UnknownError, UsageError
from stockroom.flows.bench.changes import NO_CHANGES, TicketChanges, post_change, refuse_unless_open
from stockroom.flows.bench.recipe_cards import Cards
from stockroom.flows.posting.offcut_pieces import offcuts_there, said_size
from stockroom.flows.posting.post import entered_before, post_one
from stockroom.phrases import phrase
from stockroom.stock import postings
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.postings import NO_CUTS, Actual, Cuts, Stamp
from stockroom.stock.recipes import Need
from stockroom.stock.tickets import Ticket, added_up
from stockroom.stock.typed import find
from stockroom.store import catalogue, ledger, tickets
from stockroom.store.book import Book, Session

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """What was used so far, as typed: whole lines, amounts of lines, or all that some of the shoes take."""

    lines: tuple[str, ...] = ()  # recipe lines or materials, as much as they still take
    actual: Actual = field(default_factory=Actual)  # other amounts or materials than the recipe's
    shoes: int | None = None  # so many of the ticket's shoes are done


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnWork:
    """What work on a ticket did to the shelf."""

    ticket: Ticket
    document: int
    fresh: bool
    used: tuple[Need, ...]
    left: Mapping[str, int]  # nano on hand afterwards at the ticket's site, of the materials used
    changed: tuple[str, ...] = ()
    cut: tuple[tuple[int, str], ...] = ()  # offcuts it was cut from, each with what is left of it now


def use_so_far(book: Book, number: str, used: Used, stamp: Stamp, changes: TicketChanges = NO_CHANGES) -> DrawnWork:
    """Draw what an open ticket has used so far; the rest leaves the shelf when it is finished.

    Raises
    ------
    RefusedError
        If the ticket is finished or cancelled, or nothing named is left to use.
    """
    stamp = stamp.asking("use", ticket=number, used=used, changes=changes or None)
    with book.writing() as session:
        ticket = tickets.the_ticket(session, number)
        done = entered_before(session, stamp, DocumentKind.USE, subject=number)
        if done is not None:
            return drawn_by(session, ticket, done, fresh=False)
        refuse_unless_open(ticket)
        cards = Cards(session)
        if changes:
            ticket = post_change(cards, ticket, changes, with_key(stamp, "change")).ticket
        every = ticket.takes(cards.by_recipe(ticket, stamp.happened.date()))
        lines = tuple(_line_meant(cards, line, every) for line in used.lines)
        used = replace(used, lines=lines, actual=as_meant(cards, used.actual, every))
        asked = _asked(cards, ticket, used, stamp)
        drawn, said = postings.replaced(asked, used.actual, cards.shelf.materials)
        drawn, cuts = cut_if_asked(cards, ticket, (drawn, said), used.actual, stamp)
        posted = post_one(session, postings.used_so_far(ticket, drawn, stamp, changed=said, cuts=cuts), new=True)
        kept = replace(ticket, drawn=added_up((*ticket.drawn, *drawn)))
        tickets.save_tickets(session, [kept])
        return drawn_by(session, kept, posted.number, fresh=posted.fresh, changed=tuple(said))


def drawn_by(session: Session, ticket: Ticket, number: int, *, fresh: bool, changed: tuple[str, ...] = ()) -> DrawnWork:
    """Say what a document drew for a ticket, and what is left of it."""
    documents = ledger.read_documents(session, numbers=[number])
    moves = documents[0].moves if documents else ()
    used = tuple(Need(line=m.recipe_line, material=m.material, nano=-m.nano) for m in moves if m.ticket)
    left = {m.material: ledger.balances(session, material=m.material, site=m.site).get(m.material, 0) for m in moves}
    cut = _left_of_offcuts(session, documents[0]) if documents and documents[0].content.get("cut") else ()
    return DrawnWork(ticket=ticket, document=number, fresh=fresh, used=used, left=left, changed=changed, cut=cut)


def _left_of_offcuts(session: Session, document: Document) -> tuple[tuple[int, str], ...]:
    there = {piece.number: piece for piece in offcuts_there(session, document.site)}
    units = catalogue.read_units(session, {piece.material for piece in there.values()})
    numbers = [int(each[0]) for each in cast("Sequence[Sequence[Any]]", document.content["cut"])]
    return tuple((n, said_size(there[n], units[there[n].material]) if n in there else "") for n in numbers)


def with_key(stamp: Stamp, part: str) -> Stamp:
    """Give the stamp of another document of the same entry."""
    return replace(stamp, key=f"{stamp.key}#{part}")


def cut_if_asked(
    cards: Cards, ticket: Ticket, drawn: tuple[list[Need], list[str]], actual: Actual, stamp: Stamp
) -> tuple[list[Need], Cuts]:
    """Let what is drawn be cut from the offcuts named, if any; what was cut is added to what is said."""
    used, said = drawn
    if not actual.offcuts:
        return used, NO_CUTS
    from stockroom.flows.bench.offcut_cuts import cut_from_offcuts  # noqa: PLC0415 -- draws outlines: slow to import

    used, cuts, cut = cut_from_offcuts(cards, ticket, used, actual, stamp)
    said += cut
    return used, cuts


def as_meant(cards: Cards, actual: Actual, asked: Sequence[Need]) -> Actual:
    """Find the lines and the materials that a few letters mean."""
    instead = {line: cards.material(typed) for line, typed in actual.instead.items()}
    return replace(
        actual,
        amounts=_by_line(cards, actual.amounts, asked),
        instead=_by_line(cards, instead, asked),
        offcuts=_by_line(cards, actual.offcuts, asked),
    )


def _by_line(cards: Cards, typed: Mapping[str, T], asked: Sequence[Need]) -> dict[str, T]:
    """Name what was typed by the line meant; what fits none, or a line that is named already, stays as typed."""
    found: dict[str, T] = {name: value for name, value in typed.items() if _line_meant(cards, name, asked) == name}
    for name, value in typed.items():
        line = _line_meant(cards, name, asked)
        found[name if line in found else line] = value
    return found


def _line_meant(cards: Cards, typed: str, asked: Sequence[Need]) -> str:
    words = [word for need in asked for word in (need.line, need.material)]
    if not typed or typed in words:
        return typed
    if typed.casefold() in (folded := {word.casefold(): word for word in words}):
        return folded[typed.casefold()]
    names = {need.material: cards.shelf.materials[need.material].name for need in asked}
    try:
        return find("material", typed, names)
    except UnknownError:
        return typed


def _asked(cards: Cards, ticket: Ticket, used: Used, stamp: Stamp) -> list[Need]:
    """Give the lines that were used, as much as they still take."""
    by_recipe = cards.by_recipe(ticket, stamp.happened.date())
    to_come = ticket.still_takes(by_recipe)
    if used.shoes is not None:
        return _of_some_shoes(cards, ticket, used.shoes, to_come, stamp)
    rest = {need.line: need.nano for need in to_come}
    every = [replace(need, nano=rest.get(need.line, 0)) for need in ticket.takes(by_recipe)]
    names = (*used.lines, *used.actual.amounts, *used.actual.instead, *filter(None, used.actual.offcuts))
    if not names:
        raise UsageError("What was used so far?", fix="Name lines or materials of the ticket, or --pairs done.")
    unknown = [name for name in names if not any(name in (need.line, need.material) for need in every)]
    if unknown:
        known = ", ".join(need.line for need in every) or phrase("nothing")
        if unknown[0].partition("=")[0] in {word for need in every for word in (need.line, need.material)}:
            raise UsageError(
                phrase("'%(typed)s' is not a line of the ticket.", typed=unknown[0]),
                fix=phrase("Another amount than the recipe's: --used '%(typed)s'.", typed=unknown[0]),
            )
        raise RefusedError(
            phrase("Ticket %(number)s takes no '%(name)s'.", number=ticket.number, name=unknown[0]),
            fix=phrase("It takes: %(known)s. Something else: --add MATERIAL=AMOUNT.", known=known),
        )
    named = [need for need in every if need.line in names or need.material in names]
    spent = [need for need in named if not need.nano and not {need.line, need.material} & set(used.actual.amounts)]
    if spent:
        raise RefusedError(
            phrase("'%(line)s' was used already.", line=spent[0].line), fix="Say how much more was used, with its unit."
        )
    return named


def _of_some_shoes(cards: Cards, ticket: Ticket, shoes: int, to_come: tuple[Need, ...], stamp: Stamp) -> list[Need]:
    if not 0 < shoes < ticket.shoes:
        raise UsageError(
            phrase("Ticket %(number)s is for %(shoes)s shoes.", number=ticket.number, shoes=ticket.shoes),
            fix="Give fewer for a part of them; for all of them, finish the ticket.",
        )
    part = {need.line: need.nano for need in cards.by_recipe(replace(ticket, shoes=shoes), stamp.happened.date())}
    found = [replace(need, nano=min(need.nano, part.get(need.line, 0))) for need in to_come]
    return [need for need in found if need.nano]
