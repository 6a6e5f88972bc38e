"""At the bench: take in a job, finish it, do it again under guarantee, cancel it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property

from stockroom.errors import RefusedError, UnknownError, UsageError
from stockroom.flows.posting.post import Posted, entered_before, post_one
from stockroom.phrases import phrase
from stockroom.stock import postings
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.postings import Actual, Stamp
from stockroom.stock.quantities import Unit
from stockroom.stock.recipes import (
    PAIR,
    Catalogue,
    Job,
    Need,
    Recipe,
    in_force,
    needs,
    options_taken,
    recipe_catalogue,
)
from stockroom.stock.shoe_sizes import ShoeSize
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.stock.typed import find
from stockroom.store import catalogue, ledger, tickets
from stockroom.store.book import Book, Session

WORK = (DocumentKind.FINISH, DocumentKind.REDO)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a customer asks for, as typed at the counter."""

    job: str
    shoes: int = PAIR
    size: ShoeSize | None = None
    chosen: Mapping[str, str] = field(default_factory=dict)
    promised: date | None = None
    price: int | None = None  # minor units; None: the price list's
    number: str = ""  # empty: the next one
    redo_of: str = ""
    by_post: bool = False
    post_cost: int | None = None
    customer: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishedTicket:
    """What finishing a ticket did to the shelf."""

    ticket: Ticket
    document: int
    fresh: bool
    used: tuple[Need, ...]
    left: Mapping[str, int]  # nano on hand afterwards at the ticket's site, of the materials used
    changed: tuple[str, ...] = ()


class Cards:
    """Materials, jobs and recipes, read once in a transaction, when first asked for."""

    def __init__(self, session: Session) -> None:
        self.session = session

    @cached_property
    def shelf(self) -> Catalogue:
        """Materials and their groups."""
        return recipe_catalogue(catalogue.read_materials(self.session))

    @cached_property
    def jobs(self) -> dict[str, Job]:
        """The price list."""
        return {job.code: job for job in catalogue.read_jobs(self.session)}

    def job(self, typed: str) -> Job:
        """Find the job that a few letters mean."""
        return self.jobs[find("job", typed, {code: job.name for code, job in self.jobs.items()})]

    def recipe(self, job: str, day: date) -> Recipe:
        """Give the recipe valid on a day.

        Raises
        ------
        UnknownError
            If none is valid by then.
        """
        found = in_force(catalogue.read_recipes(self.session, job), day)
        if found is None:
            raise UnknownError(
                phrase("%(job)s has no recipe valid on %(day)s.", job=job, day=day),
                fix="Load one that is valid from then or earlier.",
            )
        return found


def take_in(book: Book, wanted: Wanted, stamp: Stamp) -> Ticket:
    """Book a job: its materials are set aside, nothing is drawn yet."""
    stamp = stamp.asking("take in", wanted=wanted)
    with book.writing() as session:
        done = entered_before(session, stamp, DocumentKind.TAKE_IN)
        if done is not None:
            return tickets.the_ticket(session, _subject(session, done))
        ticket = _new_ticket(Cards(session), wanted, stamp)
        tickets.save_tickets(session, [ticket])
        post_one(session, taken_in(ticket, stamp), new=True)
        return ticket


def taken_in(ticket: Ticket, stamp: Stamp) -> Document:
    """Write the document of a ticket taken in; the customer's name is not part of it."""
    return stamp.document(
        DocumentKind.TAKE_IN,
        ticket.number,
        **postings.ticket_facts(ticket),
    )


def finish_ticket(book: Book, number: str, stamp: Stamp, actual: Actual | None = None) -> FinishedTicket:
    """Finish an open ticket: its materials leave the shelf by the recipe valid that day.

    Raises
    ------
    RefusedError
        If the ticket is finished or cancelled.
    """
    stamp = stamp.asking("finish", ticket=number, actual=actual)
    with book.writing() as session:
        ticket = tickets.the_ticket(session, number)
        done = entered_before(session, stamp, *WORK, subject=number)
        if done is not None:
            return _drawn(session, ticket, done, fresh=False)
        if ticket.state is not TicketState.BOOKED:
            raise RefusedError(
                phrase("Ticket %(number)s is %(state)s already.", number=number, state=ticket.state),
                fix="Undo that first if it is a mistake.",
            )
        return _finish(Cards(session), ticket, stamp, actual or Actual())


def finish_at_once(book: Book, wanted: Wanted, stamp: Stamp, actual: Actual | None = None) -> FinishedTicket:
    """Finish a job that was never taken in, in one go."""
    stamp = stamp.asking("finish at once", wanted=wanted, actual=actual)
    with book.writing() as session:
        done = entered_before(session, stamp, *WORK)
        if done is not None:
            ticket = tickets.the_ticket(session, _subject(session, done))
            return _drawn(session, ticket, done, fresh=False)
        cards = Cards(session)
        ticket = _new_ticket(cards, wanted, stamp)
        tickets.save_tickets(session, [ticket])
        return _finish(cards, ticket, stamp, actual or Actual())


def cancel_ticket(book: Book, number: str, stamp: Stamp) -> Ticket:
    """Cancel an open ticket: what was reserved is available again.

    Raises
    ------
    RefusedError
        If the ticket is finished or cancelled.
    """
    stamp = stamp.asking("cancel", ticket=number)
    with book.writing() as session:
        ticket = tickets.the_ticket(session, number)
        if entered_before(session, stamp, DocumentKind.CANCEL, subject=number) is not None:
            return ticket
        if ticket.state is not TicketState.BOOKED:
            raise RefusedError(
                phrase("Ticket %(number)s is %(state)s already.", number=number, state=ticket.state),
                fix="Only an open ticket can be cancelled.",
            )
        cancelled = replace(ticket, state=TicketState.CANCELLED)
        tickets.save_tickets(session, [cancelled])
        post_one(session, stamp.document(DocumentKind.CANCEL, number, **postings.ticket_facts(ticket)), new=True)
        return cancelled


def redo_ticket(book: Book, number: str, stamp: Stamp, actual: Actual | None = None) -> FinishedTicket:
    """Do a finished ticket again under guarantee: its materials leave the shelf, no income comes.

    Raises
    ------
    RefusedError
        If the ticket is not finished.
    """
    stamp = stamp.asking("redo", ticket=number, actual=actual)
    with book.writing() as session:
        done = entered_before(session, stamp, DocumentKind.REDO)
        if done is not None:
            again = tickets.the_ticket(session, _subject(session, done))
            return _drawn(session, again, done, fresh=False)
        first = tickets.the_ticket(session, number)
        if first.state is not TicketState.FINISHED:
            raise RefusedError(
                phrase("Ticket %(number)s is %(state)s, not finished.", number=number, state=first.state),
                fix="Guarantee work is for finished tickets only.",
            )
        again = replace(
            first,
            number=tickets.next_number(session),
            taken_in=stamp.happened,
            promised=None,
            price=0,
            redo_of=number,
            state=TicketState.BOOKED,
        )
        tickets.save_tickets(session, [again])
        return _finish(Cards(session), again, stamp, actual or Actual())


def one_shoe_at_a_pairs_price(ticket: Ticket, *, stated: bool) -> bool:
    """Say whether a single shoe is charged what the price list asks for a pair."""
    return ticket.shoes < PAIR and not stated and bool(ticket.price)


def is_ticket(book: Book, what: str) -> bool:
    """Say whether a ticket has this number, whatever marks the number is made of."""
    with book.reading() as session:
        return bool(tickets.read_tickets(session, numbers=[what]))


def find_job(book: Book, typed: str) -> str:
    """Give the code of the job that a few letters mean."""
    with book.reading() as session:
        return Cards(session).job(typed).code


def job_names(book: Book) -> dict[str, str]:
    """Say what the jobs are called, by code."""
    with book.reading() as session:
        return catalogue.read_job_names(session)


def units(book: Book, codes: Iterable[str]) -> dict[str, Unit]:
    """Give the units that materials are shown in."""
    with book.reading() as session:
        return catalogue.read_units(session, codes)


def booked(book: Book) -> list[Ticket]:
    """List the tickets still to be done."""
    with book.reading() as session:
        return tickets.read_tickets(session, state=TicketState.BOOKED)


def _new_ticket(cards: Cards, wanted: Wanted, stamp: Stamp) -> Ticket:
    session = cards.session
    job = cards.job(wanted.job)
    number = wanted.number or tickets.next_number(session)
    if wanted.number and number in tickets.known_numbers(session):
        raise RefusedError(
            phrase("There is a ticket %(number)s already.", number=number), fix="Leave the number out, or give another."
        )
    if wanted.redo_of:
        tickets.the_ticket(session, wanted.redo_of)
    if wanted.shoes < 1:
        raise UsageError(
            phrase("%(shoes)s shoes are no job.", shoes=wanted.shoes), fix="Give 1 for a single shoe, 2 for a pair."
        )
    if wanted.price is not None and wanted.price < 0:
        raise UsageError("A price can't be below zero.", fix="Leave it out for the price list's, or give 0.")
    if wanted.promised is not None and wanted.promised < stamp.happened.date():
        raise UsageError(
            phrase("%(day)s is before the day the ticket is taken in.", day=wanted.promised),
            fix="Check the day it is promised for.",
        )
    if job.sized and wanted.size is None:
        raise UsageError(phrase("%(job)s needs the shoe size.", job=job.name), fix="Add it, such as --size 'EU 42'.")
    recipe = cards.recipe(job.code, stamp.happened.date())
    ticket = Ticket(
        number=number,
        job=job.code,
        taken_in=stamp.happened,
        shoes=wanted.shoes,
        size=wanted.size,
        chosen=_choices(recipe, wanted.chosen, cards.shelf),
        promised=wanted.promised,
        price=0 if wanted.redo_of else (job.price if wanted.price is None else wanted.price),
        redo_of=wanted.redo_of,
        by_post=wanted.by_post,
        post_cost=wanted.post_cost,
        customer=wanted.customer,
        note=stamp.note,
        site=stamp.site,
    )
    needs(recipe, ticket.work, cards.shelf)  # what can't be drawn later is refused now
    return ticket


def _choices(recipe: Recipe, chosen: Mapping[str, str], cards: Catalogue) -> dict[str, str]:
    named = recipe.choices
    colours = any(m.colour for line in recipe.lines for m in cards.groups.get(line.material, ()))
    strange = [name for name in chosen if name not in named and not (name == "colour" and colours)]
    if strange:
        offered = "; ".join(f"{name}: {', '.join(options)}" for name, options in named.items()) or phrase("none")
        raise UsageError(
            phrase("%(job)s has no choice '%(choice)s'.", job=recipe.job, choice=strange[0]),
            fix=phrase("Its choices: %(offered)s.", offered=offered),
        )
    return dict(chosen) | options_taken(recipe, chosen)


def _finish(cards: Cards, ticket: Ticket, stamp: Stamp, actual: Actual) -> FinishedTicket:
    session = cards.session
    by_card = needs(cards.recipe(ticket.job, stamp.happened.date()), ticket.work, cards.shelf)
    used, changed = postings.replaced(by_card, _known_substitutes(actual, cards.shelf), cards.shelf.materials)
    posted: Posted = post_one(session, postings.finish(ticket, used, stamp, changed=changed), new=True)
    done = replace(ticket, state=TicketState.FINISHED, finished=stamp.happened, finish_document=posted.number)
    tickets.save_tickets(session, [done])
    return _drawn(session, done, posted.number, fresh=posted.fresh, changed=tuple(changed))


def _known_substitutes(actual: Actual, shelf: Catalogue) -> Actual:
    names = {code: m.name for code, m in shelf.materials.items()}
    return replace(actual, instead={line: find("material", typed, names) for line, typed in actual.instead.items()})


def _drawn(
    session: Session, ticket: Ticket, number: int, *, fresh: bool, changed: tuple[str, ...] = ()
) -> FinishedTicket:
    documents = ledger.read_documents(session, numbers=[number])
    moves = documents[0].moves if documents else ()
    used = tuple(Need(line=m.recipe_line, material=m.material, nano=-m.nano) for m in moves if m.ticket)
    left = {m.material: ledger.balances(session, material=m.material, site=m.site).get(m.material, 0) for m in moves}
    return FinishedTicket(ticket=ticket, document=number, fresh=fresh, used=used, left=left, changed=changed)


def _subject(session: Session, number: int) -> str:
    return ledger.read_documents(session, numbers=[number], with_moves=False)[0].subject
