"""A recipe made of finished tickets: what work took that was done without one becomes what the job usually takes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.bench.recipe_cards import Cards
from stockroom.phrases import phrase
from stockroom.stock.moves import Document
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import Quantity
from stockroom.stock.recipes import OTHER, PAIR, Job, Recipe, RecipeLine
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store import catalogue, ledger, tickets
from stockroom.store.book import Book, Session

_LONGEST = 40  # marks of a code


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeRecipe:
    """A job and the version of its recipe that was made."""

    job: Job
    recipe: Recipe
    tickets: int


def make_recipe(
    book: Book, code: str, numbers: Sequence[str], stamp: Stamp, *, name: str = "", price: int | None = None
) -> MadeRecipe:
    """Make a recipe, valid from the stamp's day, of what some finished tickets used.

    Parameters
    ----------
    book : Book
        The book.
    code : str
        The job's code; a job that isn't there yet is put on the price list.
    numbers : sequence of str
        Finished tickets.
    stamp : Stamp
        The day from which it is valid.
    name : str
        What the job is called, where it is new.
    price : int, optional
        Its price in minor units, where it is new; by default the middle one of the tickets'.

    Raises
    ------
    RefusedError
        If a ticket is not finished, or none of them used anything.
    UsageError
        If no ticket is named, or the job's code is none.

    Notes
    -----
    A line for each material, per pair: the mean of the tickets that used it, used on the share of tickets that did.
    """
    with book.writing(at=stamp.entered) as session:
        done = [_finished(session, number) for number in dict.fromkeys(numbers)]
        if not done:
            raise UsageError("Of which tickets?", fix="Name finished tickets by their numbers.")
        known = Cards(session).jobs
        job = known.get(code) or _new_job(code, name, price, done)
        lines = _lines(session, done)
        day, source = stamp.happened.date(), f"tickets {', '.join(ticket.number for ticket in done)}"
        recipe = Recipe(job=job.code, valid_from=day, lines=lines, source=source)
        if code not in known:
            catalogue.save_jobs(session, [job])
        catalogue.add_recipes(session, [recipe])
        return MadeRecipe(job=job, recipe=recipe, tickets=len(done))


def _finished(session: Session, number: str) -> Ticket:
    ticket = tickets.the_ticket(session, number)
    if ticket.state is not TicketState.FINISHED:
        raise RefusedError(
            phrase("Ticket %(number)s is %(state)s, not finished.", number=number, state=ticket.state),
            fix="A recipe is made of finished tickets.",
        )
    return ticket


def _new_job(code: str, name: str, price: int | None, done: Sequence[Ticket]) -> Job:
    plain = code.replace("-", "").replace("_", "").replace(".", "")
    if not plain.isalnum() or len(code) > _LONGEST or code == OTHER.code:
        raise UsageError(
            phrase("'%(code)s' can't be a job's code.", code=code),
            fix="Use letters, digits and - without spaces, such as BAG-STRAP.",
        )
    charged = [ticket.price for ticket in done if ticket.price is not None]
    middle = int(median(charged)) if charged else None
    return Job(code=code, name=name or done[0].note or code, price=middle if price is None else price)


def _lines(session: Session, done: Sequence[Ticket]) -> tuple[RecipeLine, ...]:
    shelf = Cards(session).shelf.materials
    used = {ticket.number: _used(ledger.read_documents(session, subject=ticket.number)) for ticket in done}
    codes = sorted({code for amounts in used.values() for code in amounts})
    if not codes:
        raise RefusedError("None of these tickets used anything.", fix="Name tickets whose materials were entered.")
    lines = []
    for code in codes:
        mine = [ticket for ticket in done if used[ticket.number].get(code, 0) > 0]
        pairs = Fraction(sum(ticket.shoes for ticket in mine), PAIR)
        nano = round(sum(used[ticket.number][code] for ticket in mine) / pairs)
        amount = Quantity(nano=nano, dimension=shelf[code].dimension)
        share = Fraction(len(mine), len(done))
        lines.append(RecipeLine(name=shelf[code].name, material=code, amount=amount, chance=share))
    return tuple(lines)


def _used(documents: Sequence[Document]) -> Mapping[str, int]:
    """Add up what a ticket's documents drew for it; what was undone comes to nothing."""
    sums: dict[str, int] = {}
    for document in documents:
        for move in document.moves:
            if move.ticket:
                sums[move.material] = sums.get(move.material, 0) - move.nano
    return {code: nano for code, nano in sums.items() if nano > 0}
