"""What goes by post: what a parcel costs by the shop's list, what is still to be sent, and what was."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.bench.changes import own_line
from stockroom.flows.bench.counter import left_at, refuse_short
from stockroom.flows.bench.recipe_cards import Cards
from stockroom.flows.book.snapshot import read_standing
from stockroom.flows.posting.post import entered_before, post_one
from stockroom.phrases import phrase
from stockroom.stock import postings
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.postage import Postage
from stockroom.stock.postings import Stamp
from stockroom.stock.recipes import Extra
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.stock.typed import find
from stockroom.store import postage, tickets
from stockroom.store.book import Book, Session

LATELY = timedelta(days=14)  # what was finished before and never said to be sent is taken as gone
SALE = "sale "  # beginning of a parcel's name where it is a sale's


@dataclass(frozen=True, slots=True, kw_only=True)
class Parcel:
    """Something finished or sold that goes by post and is still here."""

    name: str  # the ticket's number, or 'sale 94'
    ready: datetime
    ticket: Ticket | None = None
    sale: Document | None = None
    post_cost: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """A parcel that was sent."""

    name: str
    document: int
    fresh: bool


def parcels(book: Book, now: datetime) -> list[Parcel]:
    """List the parcels to send, those ready longest first."""
    with book.reading() as session:
        return _parcels(session, now)


def send(book: Book, name: str, stamp: Stamp, *, post_cost: int | None = None, packaging: Sequence[Extra] = ()) -> Sent:
    """Say that a parcel was sent; what it is packed in leaves the shelf, what the post costs is the job's.

    Parameters
    ----------
    book : Book
        The book.
    name : str
        A ticket's number, or 'sale' and its document.
    stamp : Stamp
        When.
    post_cost : int, optional
        What the post costs, in minor units, where it wasn't said before: it is added.
    packaging : sequence of Extra
        What it is packed in, beyond what the ticket has taken already.

    Raises
    ------
    RefusedError
        If there is no such parcel to send.
    """
    stamp = stamp.asking("sent", parcel=name, post_cost=post_cost, packaging=packaging)
    with book.writing() as session:
        done = entered_before(session, stamp, DocumentKind.SENT, subject=name)
        if done is not None:
            return Sent(name=name, document=done, fresh=False)
        waiting = {parcel.name: parcel for parcel in _parcels(session, stamp.happened, within=timedelta.max)}
        if name not in waiting:
            raise RefusedError(
                phrase("No parcel '%(name)s' is waiting to be sent.", name=name),
                fix=phrase("Waiting: %(names)s.", names=", ".join(waiting) or phrase("none")),
            )
        cards = Cards(session)
        packed = [own_line(cards, each) for each in packaging]
        document = postings.sent(name, waiting[name].ticket, packed, stamp, post_cost=post_cost)
        posted = post_one(session, document, new=True)
        for need in packed if not stamp.sure else ():
            material = cards.shelf.materials[need.material]
            refuse_short(session, material, document, left_at(session, material, stamp.site))
        return Sent(name=name, document=posted.number, fresh=posted.fresh)


def price_list(book: Book) -> list[Postage]:
    """Give the price list of the post."""
    with book.reading() as session:
        return postage.read_postage(session)


def keep_postage(book: Book, kind: Postage, *, at: datetime | None = None) -> None:
    """Add a kind of parcel to the price list, or renew it.

    Raises
    ------
    UsageError
        If its code is none, or it costs less than nothing.
    """
    if not kind.code[:1].isalpha() or " " in kind.code or kind.cost < 0:
        raise UsageError(
            phrase("'%(code)s' is no name for a kind of parcel, or it costs less than nothing.", code=kind.code),
            fix="Begin it with a letter and write it without spaces, such as SMALL 4.20.",
        )
    with book.writing(at=at) as session:
        cards = Cards(session)
        packaging = {}
        for typed, amount in kind.packaging.items():
            code = cards.material(typed)
            packaging[code] = cards.shelf.materials[code].to_base(amount)
        postage.save_postage(session, [replace(kind, packaging=packaging)])


def the_postage(book: Book, typed: str) -> Postage:
    """Find the kind of parcel that a few letters mean.

    Raises
    ------
    UnknownError
        If the price list of the post has none like it.
    """
    known = {each.code: each for each in price_list(book)}
    return known[find("parcel", typed, {code: each.name or code for code, each in known.items()})]


def _parcels(session: Session, now: datetime, *, within: timedelta = LATELY) -> list[Parcel]:
    gone = {document.subject for document in read_standing(session, DocumentKind.SENT)}
    since = now - within if within < timedelta.max else datetime.min
    found = [
        Parcel(name=ticket.number, ready=ticket.finished, ticket=ticket, post_cost=ticket.post_cost)
        for ticket in tickets.read_tickets(session, state=TicketState.FINISHED)
        if ticket.by_post and not ticket.redo_of and ticket.finished is not None and since <= ticket.finished <= now
    ]
    for document in read_standing(session, DocumentKind.SALE, after=since):
        cost = document.content.get("post_cost")
        if document.content.get("by_post"):
            name, known = f"{SALE}{document.id}", cost if isinstance(cost, int) else None
            found.append(Parcel(name=name, ready=document.happened, sale=document, post_cost=known))
    return sorted((parcel for parcel in found if parcel.name not in gone), key=lambda parcel: parcel.ready)
