"""At the bench: take in a job, finish it, do it again under guarantee, cancel it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.bench.changes import (
    NO_CHANGES,
    TicketChanges,
    post_change,
    refuse_unless_open,
    with_own_lines,
)
from stockroom.flows.bench.recipe_cards import Cards, choices_of
from stockroom.flows.bench.stages import DrawnWork, as_meant, cut_if_asked, drawn_by, with_key
from stockroom.flows.posting.offcut_pieces import offcuts_there
from stockroom.flows.posting.post import Posted, entered_before, post_one
from stockroom.phrases import phrase
from stockroom.stock import postings
from stockroom.stock.lists import care
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.offcuts import is_piece
from stockroom.stock.postings import Actual, Stamp
from stockroom.stock.quantities import Unit
from stockroom.stock.recipes import OTHER, PAIR, Extra, Need
from stockroom.stock.shoe_sizes import ShoeSize
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store import catalogue, ledger, tickets
from stockroom.store.book import Book, Session

if TYPE_CHECKING:
    from stockroom.flows.bench.offcut_cuts import CutChoice

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
    add: tuple[Extra, ...] = ()  # materials beyond the recipe
    leave_out: tuple[str, ...] = ()  # lines of it that are not wanted


def take_in(book: Book, wanted: Wanted, stamp: Stamp) -> Ticket:
    """Book a job: its materials are set aside, nothing is drawn yet."""
    stamp = stamp.asking("take in", wanted=wanted)
    with book.writing(at=stamp.entered) as session:
        done = entered_before(session, stamp, DocumentKind.TAKE_IN)
        if done is not None:
            return tickets.the_ticket(session, _subject(session, done))
        ticket = _new_ticket(Cards(session), wanted, stamp)
        _save_new(session, ticket)
        post_one(session, taken_in(ticket, stamp), new=True)
        return ticket


def taken_in(ticket: Ticket, stamp: Stamp) -> Document:
    """Write the document of a ticket taken in; the customer's name is not part of it."""
    return stamp.document(
        DocumentKind.TAKE_IN,
        ticket.number,
        **postings.ticket_facts(ticket),
    )


def finish_ticket(
    book: Book, number: str, stamp: Stamp, actual: Actual | None = None, changes: TicketChanges = NO_CHANGES
) -> DrawnWork:
    """Finish an open ticket: what it still takes leaves the shelf, by the recipe valid that day.

    What is to be otherwise is written down first, as a document of its own.

    Raises
    ------
    RefusedError
        If the ticket is finished or cancelled.
    """
    with book.writing() as session:
        return _finish_open(session, number, stamp, actual, changes)


def finish_several(book: Book, numbers: Sequence[str], stamp: Stamp) -> list[DrawnWork]:
    """Finish several open tickets as they stand, all of them or none.

    Raises
    ------
    RefusedError
        If one is finished or cancelled.
    UsageError
        If one is named twice.
    """
    if len(set(numbers)) < len(numbers):
        raise UsageError("A ticket is named twice.", fix="Name each once.")
    with book.writing() as session:
        return [_finish_open(session, number, with_key(stamp, number), None, NO_CHANGES) for number in numbers]


def _finish_open(
    session: Session, number: str, stamp: Stamp, actual: Actual | None, changes: TicketChanges
) -> DrawnWork:
    stamp = stamp.asking("finish", ticket=number, actual=actual, changes=changes or None)
    ticket = tickets.the_ticket(session, number)
    done = entered_before(session, stamp, *WORK, subject=number)
    if done is not None:
        return drawn_by(session, ticket, done, fresh=False)
    refuse_unless_open(ticket)
    cards = Cards(session)
    if changes:
        ticket = post_change(cards, ticket, changes, with_key(stamp, "change")).ticket
    return _finish(cards, ticket, stamp, actual or Actual())


def finish_at_once(book: Book, wanted: Wanted, stamp: Stamp, actual: Actual | None = None) -> DrawnWork:
    """Finish a job that was never taken in, in one go."""
    stamp = stamp.asking("finish at once", wanted=wanted, actual=actual)
    with book.writing(at=stamp.entered) as session:
        done = entered_before(session, stamp, *WORK)
        if done is not None:
            ticket = tickets.the_ticket(session, _subject(session, done))
            return drawn_by(session, ticket, done, fresh=False)
        cards = Cards(session)
        ticket = _new_ticket(cards, wanted, stamp)
        _save_new(session, ticket)
        return _finish(cards, ticket, stamp, actual or Actual())


def cancel_ticket(book: Book, number: str, stamp: Stamp, *, back: Sequence[str] = (), wasted: bool = False) -> Ticket:
    """Cancel an open ticket: what was reserved is available again.

    Parameters
    ----------
    book : Book
        The book.
    number : str
        The ticket.
    stamp : Stamp
        When it was cancelled.
    back : sequence of str
        Lines whose material was used already and goes back on the shelf; 'all' for every one.
    wasted : bool
        Whatever else was used is waste.

    Raises
    ------
    RefusedError
        If the ticket is finished or cancelled, or something was used of which nobody says what becomes of it.
    """
    stamp = stamp.asking("cancel", ticket=number, back=back, wasted=wasted or None)
    with book.writing() as session:
        ticket = tickets.the_ticket(session, number)
        if entered_before(session, stamp, DocumentKind.CANCEL, subject=number) is not None:
            return ticket
        if ticket.state is not TicketState.BOOKED:
            raise RefusedError(
                phrase("Ticket %(number)s is %(state)s already.", number=number, state=ticket.state),
                fix="Only an open ticket can be cancelled.",
            )
        lines = _going_back(ticket, back, wasted=wasted)
        cancelled = replace(ticket, state=TicketState.CANCELLED)
        tickets.save_tickets(session, [cancelled])
        document = postings.cancelled(ticket, stamp, back=lines, batches=_cut_from(session, ticket))
        post_one(session, document, new=True)
        return cancelled


def _cut_from(session: Session, ticket: Ticket) -> dict[tuple[str, str], str]:
    """Give the batches of the offcuts that a ticket's lines were cut from so far, by line and material."""
    documents = ledger.read_documents(session, subject=ticket.number, kinds=[DocumentKind.USE])
    moves = [move for document in documents for move in document.moves if move.ticket and is_piece(move.lot)]
    return {(move.recipe_line, move.material): move.lot for move in moves}


def _going_back(ticket: Ticket, back: Sequence[str], *, wasted: bool) -> list[str]:
    """Find the lines that go back on the shelf."""
    used = {need.line for need in ticket.drawn}
    lines = sorted(used) if "all" in back and "all" not in used else list(back)
    strange = [line for line in lines if line not in used]
    if strange:
        raise RefusedError(
            phrase("Ticket %(number)s has used no '%(name)s'.", number=ticket.number, name=strange[0]),
            fix=phrase("It has used: %(known)s.", known=", ".join(sorted(used)) or phrase("nothing")),
        )
    if used - set(lines) and not wasted:
        raise RefusedError(
            phrase(
                "Ticket %(number)s has used: %(known)s.",
                number=ticket.number,
                known=", ".join(sorted(used - set(lines))),
            ),
            fix="Say what becomes of it: --back LINE (or all) for what goes back on the shelf, --wasted for the rest.",
        )
    return lines


def redo_ticket(book: Book, number: str, stamp: Stamp, actual: Actual | None = None) -> DrawnWork:
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
            return drawn_by(session, again, done, fresh=False)
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
            by_post=False,
            post_cost=None,
            drawn=(),
        )
        tickets.save_tickets(session, [again])
        return _finish(Cards(session), again, stamp, actual or Actual())


def would_take(book: Book, wanted: Wanted, stamp: Stamp) -> tuple[Need, ...]:
    """Say what a job would take, with its size and choices, without taking it in."""
    with book.reading() as session:
        cards = Cards(session)
        return cards.to_come(_new_ticket(cards, wanted, stamp), stamp.happened.date())


def could_be_cut_from(book: Book, asked: str | Wanted, stamp: Stamp) -> list["CutChoice"]:
    """Say what an open ticket, or a job not taken in, can be cut from, where an offcut fits a line of it."""
    with book.reading() as session:
        if not offcuts_there(session, stamp.site) or ledger.entered(session, [stamp.key]):
            return []
        from stockroom.flows.bench.offcut_cuts import choices_of_cut  # noqa: PLC0415 -- draws outlines: slow to import

        cards = Cards(session)
        ticket = _new_ticket(cards, asked, stamp) if isinstance(asked, Wanted) else tickets.the_ticket(session, asked)
        return choices_of_cut(cards, ticket, stamp.happened.date()) if ticket.state is TicketState.BOOKED else []


def one_shoe_at_a_pairs_price(book: Book, ticket: Ticket, *, stated: bool) -> bool:
    """Say whether a single shoe is charged what the price list asks for a pair."""
    if ticket.shoes >= PAIR or stated or not ticket.price:
        return False
    with book.reading() as session:
        return Cards(session).jobs[ticket.job].single_price is None


def is_ticket(book: Book, what: str) -> bool:
    """Say whether a ticket has this number, whatever marks the number is made of."""
    with book.reading() as session:
        return bool(tickets.read_tickets(session, numbers=[what]))


def find_job(book: Book, typed: str) -> str:
    """Give the code of the job that a few letters mean."""
    with book.reading() as session:
        return Cards(session).job(typed).code


def find_material(book: Book, typed: str) -> str:
    """Give the code of the material that a few letters mean."""
    with book.reading() as session:
        return Cards(session).material(typed)


def care_of(book: Book, codes: Iterable[str]) -> list[str]:
    """Say what to mind while materials are used, one sentence for each that has hazards."""
    with book.reading() as session:
        return [said for material in catalogue.read_materials(session, set(codes)) if (said := care(material))]


def is_timed(book: Book, number: str) -> bool:
    """Say whether anything was entered of the time that a ticket took."""
    kinds = [DocumentKind.BEGUN, DocumentKind.PAUSED]
    with book.reading() as session:
        return bool(ledger.read_documents(session, kinds=kinds, subject=number, with_moves=False))


def has_recipe(book: Book, job: str) -> bool:
    """Say whether a job has a recipe of any day."""
    with book.reading() as session:
        return bool(catalogue.read_recipes(session, job))


def list_price(book: Book, typed: str) -> int:
    """Give what the price list asks for the job that a few letters mean; nothing where it says nothing."""
    with book.reading() as session:
        return Cards(session).job(typed).price or 0


def job_names(book: Book) -> dict[str, str]:
    """Say what the jobs are called, by code."""
    with book.reading() as session:
        return catalogue.read_job_names(session)


def material_names(book: Book, codes: Iterable[str]) -> dict[str, str]:
    """Say what materials are called, by code."""
    with book.reading() as session:
        return {each.code: each.name for each in catalogue.read_materials(session, codes)}


def units(book: Book, codes: Iterable[str]) -> dict[str, Unit]:
    """Give the units that materials are shown in."""
    with book.reading() as session:
        return catalogue.read_units(session, codes)


def booked(book: Book) -> list[Ticket]:
    """List the tickets still to be done."""
    with book.reading() as session:
        return tickets.read_tickets(session, state=TicketState.BOOKED)


def _save_new(session: Session, ticket: Ticket) -> None:
    if ticket.job == OTHER.code:
        catalogue.save_jobs(session, [OTHER])
    tickets.save_tickets(session, [ticket])


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
    if job == OTHER and not stamp.note:
        raise UsageError("What is to be done?", fix="Say it in the note, such as --note 'Resew a bag strap'.")
    if job.sized and wanted.size is None:
        raise UsageError(phrase("%(job)s needs the shoe size.", job=job.name), fix="Add it, such as --size 'EU 42'.")
    recipe = cards.recipe(job.code, stamp.happened.date())
    ticket = Ticket(
        number=number,
        job=job.code,
        taken_in=stamp.happened,
        shoes=wanted.shoes,
        size=wanted.size,
        chosen=choices_of(recipe, wanted.chosen, cards.shelf),
        promised=wanted.promised,
        price=0 if wanted.redo_of else (job.price_of(wanted.shoes) if wanted.price is None else wanted.price),
        redo_of=wanted.redo_of,
        by_post=wanted.by_post,
        post_cost=wanted.post_cost,
        customer=wanted.customer,
        note=stamp.note,
        site=stamp.site,
    )
    cards.by_recipe(ticket, stamp.happened.date())  # what can't be drawn later is refused now
    return with_own_lines(cards, ticket, stamp.happened.date(), add=wanted.add, leave_out=wanted.leave_out)


def _finish(cards: Cards, ticket: Ticket, stamp: Stamp, actual: Actual) -> DrawnWork:
    session = cards.session
    to_come = cards.to_come(ticket, stamp.happened.date())
    actual = as_meant(cards, actual, to_come)
    used, changed = postings.replaced(to_come, actual, cards.shelf.materials)
    used, cuts = cut_if_asked(cards, ticket, (used, changed), actual, stamp)
    document = postings.finish(ticket, used, stamp, changed=changed, cuts=cuts)
    posted: Posted = post_one(session, document, new=True)
    done = replace(ticket, state=TicketState.FINISHED, finished=stamp.happened, finish_document=posted.number)
    tickets.save_tickets(session, [done])
    return drawn_by(session, done, posted.number, fresh=posted.fresh, changed=tuple(changed))


def _subject(session: Session, number: int) -> str:
    return ledger.read_documents(session, numbers=[number], with_moves=False)[0].subject
