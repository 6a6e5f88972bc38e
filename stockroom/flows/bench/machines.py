"""Machines: how long they ran, what is due to be done to them, and that it was done."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from stockroom.errors import StockroomError
from stockroom.flows.book.snapshot import read_standing, tickets_then
from stockroom.flows.posting.post import entered_before, post_one
from stockroom.stock.machines import Service, ServiceState
from stockroom.stock.moves import DocumentKind
from stockroom.stock.postings import Stamp
from stockroom.stock.recipes import machine_minutes, recipe_catalogue
from stockroom.stock.tickets import RecipeBox, Ticket, by_job
from stockroom.stock.typed import find
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book, Session


@dataclass(frozen=True, slots=True, kw_only=True)
class Serviced:
    """What was done to a machine."""

    service: Service
    document: int
    fresh: bool


def services(book: Book, now: datetime) -> list[ServiceState]:
    """List what is to be done to machines, what is due first."""
    with book.reading() as session:
        return _services(session, now)


def serviced(book: Book, typed: str, stamp: Stamp) -> Serviced:
    """Enter that a service was done: its hours and days are counted from then.

    Raises
    ------
    UnknownError
        If no service is called so.
    """
    with book.writing() as session:
        known = {each.code: each for each in catalogue.read_services(session)}
        code = find("service", typed, {code: f"{each.name} {each.machine}" for code, each in known.items()})
        stamp = stamp.asking("serviced", service=code)
        done = entered_before(session, stamp, DocumentKind.SERVICED, subject=code)
        if done is not None:
            return Serviced(service=known[code], document=done, fresh=False)
        document = stamp.document(DocumentKind.SERVICED, code, machine=known[code].machine, done=known[code].name)
        posted = post_one(session, document, new=True)
        return Serviced(service=known[code], document=posted.number, fresh=posted.fresh)


def _services(session: Session, now: datetime) -> list[ServiceState]:
    listed = catalogue.read_services(session)
    if not listed:
        return []
    done: dict[str, datetime] = {}
    for document in read_standing(session, DocumentKind.SERVICED):
        if document.happened <= now:
            done[document.subject] = max(document.happened, done.get(document.subject, datetime.min))
    began = _began(session, now)
    recipes = by_job(catalogue.read_recipes(session))
    runs = {line.machine for versions in recipes.values() for r in versions for line in r.lines if line.minutes}
    since = min((done.get(each.code, began) for each in listed), default=now)
    box = RecipeBox(recipes, recipe_catalogue(()))
    lately = tickets_then(session, now, since=since)
    worked = [(t.finished, _minutes(box, t)) for t in lately if t.finished and t.finished > since]
    found = []
    for each in listed:
        start = done.get(each.code, began)
        ran = sum((by.get(each.machine, Fraction(0)) for when, by in worked if when > start), Fraction(0))
        found.append(
            ServiceState(
                service=each,
                since=start,
                done_before=each.code in done,
                minutes=ran,
                now=now,
                runs=each.machine in runs,
            )
        )
    return sorted(found, key=lambda state: (-state.used, state.service.code))


def _began(session: Session, now: datetime) -> datetime:
    """Give the day from which hours are counted of what was never done: the book's first."""
    first = catalogue.read_shop(session).start
    if first is not None:
        return datetime.combine(first, datetime.min.time())
    documents = ledger.read_documents(session, numbers=[1], with_moves=False)
    return documents[0].happened if documents else now - timedelta(days=1)


def _minutes(box: RecipeBox, ticket: Ticket) -> Mapping[str, Fraction]:
    """Say how long each machine ran for a ticket, by the recipe of the day it was finished on."""
    recipe = box.recipe(ticket.job, ticket.finished.date()) if ticket.finished else None
    try:
        return machine_minutes(recipe, ticket.work, ticket.left_out) if recipe else {}
    except StockroomError:  # it chose what its recipe doesn't have: it is listed as unclear elsewhere
        return {}
