"""Cards to work from at the bench: a ticket with what it needs, a job with its choices, a material with its past."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal

from stockroom.errors import StockroomError, UnknownError
from stockroom.flows.bench.counter import priced_on
from stockroom.flows.bench.in_place import in_place_for, in_place_words
from stockroom.flows.bench.shelf import rows
from stockroom.phrases import phrase
from stockroom.show.formats import formats_of
from stockroom.stock.lists import ShelfRow, care, cautions
from stockroom.stock.materials import Material
from stockroom.stock.moves import Move
from stockroom.stock.quantities import Unit
from stockroom.stock.recipes import OTHER, Catalogue, Job, Need, Recipe, RecipeLine, in_force, needs, recipe_catalogue
from stockroom.stock.shoe_sizes import ShoeSize, shoe_size
from stockroom.stock.suppliers import Offer, current
from stockroom.stock.tickets import Ticket, TicketState, added_up, by_job
from stockroom.store import catalogue, ledger, tickets, usage
from stockroom.store.book import Book

LATELY = timedelta(days=90)
MOST = 60  # moves shown of a material


@dataclass(frozen=True, slots=True, kw_only=True)
class JobCard:
    """A job as it is offered at the bench."""

    job: Job
    recipe: Recipe | None  # in force today
    colours: tuple[str, ...] = ()  # of the variants its recipe draws on
    sizes: tuple[str, ...] = ()  # lately asked for, most often first
    times: int = 0  # finished lately
    units: Mapping[str, Unit] = field(default_factory=dict)  # of the materials and groups its recipe names
    care: tuple[str, ...] = ()  # what to mind while it is worked on, whichever option is chosen

    @property
    def choices(self) -> dict[str, tuple[str, ...]]:
        """What is to be chosen, first option usual; colours last."""
        named = dict(self.recipe.choices) if self.recipe else {}
        return named | ({"colour": self.colours} if self.colours else {})


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketCard:
    """A ticket with what it draws, or why that can't be said."""

    ticket: Ticket
    job: Job
    needs: tuple[Need, ...]
    materials: Mapping[str, Material]
    on_hand: Mapping[str, int]
    unclear: str = ""
    lines: tuple[str, ...] = ()  # of its recipe, left out or not
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    recipe: bool = True  # whether its job has one
    care: tuple[str, ...] = ()  # what to mind while it is worked on
    in_place: tuple[str, ...] = ()  # what may be used in place of what is lacking


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """One move of a material, and what lay there after it."""

    document: int
    move: Move
    left: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialCard:
    """Everything the book says of one material."""

    material: Material
    row: ShelfRow
    past: tuple[Past, ...]  # newest first, no more than a page holds
    moves: int  # of all these days
    days: tuple[tuple[date, int], ...]  # on hand at the end of each day something moved, oldest first
    offers: tuple[tuple[Offer, str], ...]  # with the supplier's name
    used_by: tuple[tuple[Job, RecipeLine], ...]
    cautions: tuple[str, ...]


def job_cards(book: Book, now: datetime, code: str | None = None) -> list[JobCard]:
    """List the jobs at work, or the one asked for, those done most often lately first."""
    with book.reading() as session:
        shelf = recipe_catalogue(catalogue.read_materials(session))
        recipes = by_job(catalogue.read_recipes(session, code))
        done = usage.finished_since(session, now - LATELY)
        known = {OTHER.code: OTHER} | {job.code: job for job in catalogue.read_jobs(session)}
        jobs = [job for job in known.values() if job.active and code in (None, job.code)]
    cards = [_job_card(job, in_force(recipes.get(job.code, ()), now.date()), shelf, done) for job in jobs]
    return sorted(cards, key=lambda card: (-_often(card), card.job.name))


def _often(card: JobCard) -> Decimal:
    """Say how often a job is done: a new shop's own word counts as a week that was seen."""
    return card.times + Decimal(card.job.weekly or 0)


def job_card(book: Book, code: str, now: datetime) -> JobCard:
    """Give one job's card.

    Raises
    ------
    UnknownError
        If there is no such job.
    """
    found = job_cards(book, now, code)
    if not found:
        raise UnknownError(phrase("There is no job %(code)s.", code=code), fix="Choose one from the list.")
    return found[0]


def ticket_card(book: Book, number: str, now: datetime) -> TicketCard:
    """Give a ticket's card."""
    with book.reading() as session:
        ticket = tickets.the_ticket(session, number)
        job = next(job for job in catalogue.read_jobs(session) if job.code == ticket.job)
        shelf = recipe_catalogue(catalogue.read_materials(session))
        recipe = in_force(catalogue.read_recipes(session, ticket.job), (ticket.finished or now).date())
        asked, unclear = _needs(recipe, ticket, shelf)
        lines = needs(recipe, ticket.work, shelf) if recipe and not unclear else ()
        if ticket.finish_document is not None:
            document = ledger.read_documents(session, numbers=[ticket.finish_document])[0]
            asked = added_up(
                (
                    *ticket.drawn,
                    *(Need(line=m.recipe_line, material=m.material, nano=-m.nano) for m in document.moves if m.ticket),
                )
            )
        on_hand = ledger.balances(session)
        booked = ticket.state is TicketState.BOOKED
        instead = in_place_for(session, asked, on_hand) if booked else ()
        formats = formats_of(catalogue.read_shop(session))
    used = {need.material: shelf.materials[need.material] for need in (*asked, *ticket.drawn, *ticket.added)}
    return TicketCard(
        ticket=ticket,
        job=job,
        needs=asked,
        materials=used,
        on_hand=on_hand,
        unclear=unclear,
        lines=tuple(need.line for need in lines),
        choices=recipe.choices if recipe else {},
        recipe=recipe is not None,
        care=tuple(filter(None, map(care, {m.code: m for m in used.values()}.values()))),
        in_place=tuple(in_place_words(each, shelf.materials, formats) for each in instead),
    )


def find_tickets(book: Book, words: str) -> list[Ticket]:
    """Find a ticket by its number, whatever its state."""
    with book.reading() as session:
        return tickets.read_tickets(session, numbers=[words])


def material_card(book: Book, code: str, now: datetime, *, days: int = 60) -> MaterialCard:
    """Give a material's card, with its moves of some days."""
    since = now - timedelta(days=days)
    with book.reading() as session:
        material = priced_on(session, catalogue.the_material(catalogue.read_materials(session), code), now.date())
        found = next((row for row in rows(session) if row.material == code), None)
        left = ledger.balances(session, material=code).get(code, 0)
        moves = ledger.newest_moves(session, code, since, MOST)
        changes = ledger.daily_changes(session, code, since)
        offers = [o for o in catalogue.read_offers(session, catalogue.dimensions(session)) if o.material == code]
        names = {s.code: s.name for s in catalogue.read_suppliers(session)}
        recipes = by_job(catalogue.read_recipes(session))
        jobs = [job for job in catalogue.read_jobs(session) if job.active]
    return MaterialCard(
        material=material,
        row=found or ShelfRow(material=code, name=material.name, unit=material.unit, on_hand=0),
        past=tuple(_past(moves, left)),
        moves=sum(many for _, many, _ in changes),
        days=_days(changes, since.date(), left),
        offers=tuple((o, names.get(o.supplier, o.supplier)) for o in current(offers, now.date())),
        used_by=tuple(_users(jobs, recipes, material, now.date())),
        cautions=cautions(material),
    )


def _job_card(job: Job, recipe: Recipe | None, shelf: Catalogue, done: Mapping[tuple[str, str], int]) -> JobCard:
    sizes = Counter({size: times for (code, size), times in done.items() if code == job.code and size})
    drawn = [line for line in recipe.lines if line.material] if recipe else []
    groups = [shelf.groups.get(line.material, ()) for line in drawn]
    colours = dict.fromkeys(m.colour for group in groups for m in group if m.colour and m.active)
    return JobCard(
        job=job,
        recipe=recipe,
        colours=tuple(colours),
        sizes=tuple(size for size, _ in sizes.most_common()),
        times=sum(times for (code, _), times in done.items() if code == job.code),
        units={line.material: _meant(shelf, line.material).unit for line in drawn},
        care=tuple(dict.fromkeys(filter(None, (care(_meant(shelf, line.material)) for line in drawn)))),
    )


def _meant(shelf: Catalogue, code: str) -> Material:
    return shelf.materials[code] if code in shelf.materials else shelf.groups[code][0]


def usual_sizes(card: JobCard) -> list[ShoeSize]:
    """Give the sizes to offer as buttons: those asked for lately, in order of size."""
    return sorted({shoe_size(text) for text in card.sizes[:12]}, key=lambda size: (size.system, size.number))


def _needs(recipe: Recipe | None, ticket: Ticket, shelf: Catalogue) -> tuple[tuple[Need, ...], str]:
    try:
        return ticket.still_takes(needs(recipe, ticket.work, shelf) if recipe else ()), ""
    except StockroomError as wrong:
        return (), wrong.what


def _past(moves: Sequence[tuple[int, Move]], left: int) -> list[Past]:
    """Go back from what is there now."""
    found = []
    for number, move in moves:
        found.append(Past(document=number, move=move, left=left))
        left -= move.nano
    return found


def _days(changes: Sequence[tuple[str, int, int]], first: date, left: int) -> tuple[tuple[date, int], ...]:
    on_hand = left - sum(nano for _, _, nano in changes)
    by_day = {first: on_hand}
    for day, _, nano in changes:
        on_hand += nano
        by_day[date.fromisoformat(day)] = on_hand
    return tuple(sorted(by_day.items()))


def _users(
    jobs: Sequence[Job], recipes: Mapping[str, tuple[Recipe, ...]], material: Material, day: date
) -> list[tuple[Job, RecipeLine]]:
    meant = {material.code, material.group} - {""}
    found = []
    for job in jobs:
        recipe = in_force(recipes.get(job.code, ()), day)
        found += [(job, line) for line in recipe.lines if line.material in meant] if recipe else []
    return found
