"""Shoe trees and gauges lent out and given back: they cost nothing and stay in the book."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

from stockroom.errors import DoubtError, RefusedError, UnknownError
from stockroom.flows.bench.counter import left_at, the_material
from stockroom.flows.posting.loans import Loan, loans_open
from stockroom.flows.posting.post import entered_before, post_one
from stockroom.phrases import phrase
from stockroom.show.formats import formats_of
from stockroom.stock import postings
from stockroom.stock.materials import Material
from stockroom.stock.moves import DocumentKind
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import Quantity
from stockroom.stock.typed import amount as typed_amount
from stockroom.store import catalogue, ledger, tickets
from stockroom.store.book import Book, Session


@dataclass(frozen=True, slots=True, kw_only=True)
class Lent:
    """What lending, or giving back, did."""

    material: Material
    document: int
    fresh: bool
    out: int  # nano of it that is out afterwards, at the document's site
    due: date | None = None


def lend(book: Book, typed: str, amount: Quantity, stamp: Stamp, *, ticket: str = "", days: int | None = None) -> Lent:
    """Lend something to a customer's ticket, or for so many days; nothing leaves the book.

    Without days it is due on the day the ticket is promised for, if that is said.

    Raises
    ------
    RefusedError
        If neither a ticket nor days are given, or it is nothing.
    DoubtError
        If more would be out than the book has.
    """
    with book.writing() as session:
        material = the_material(session, typed)
        base = material.to_base(amount)
        stamp = stamp.asking("lend", material=material.code, amount=base, ticket=ticket, days=days)
        due = stamp.happened.date() + timedelta(days=days) if days is not None else None
        if ticket:
            due = due or tickets.the_ticket(session, ticket).promised
        elif days is None:
            raise RefusedError(
                "To whom is it lent?", fix="Name the customer's ticket (--ticket), or for how many days (--days)."
            )
        if base.nano <= 0:
            raise RefusedError(
                phrase("%(amount)s of %(material)s is not above zero.", amount=amount, material=material.code),
                fix="Give the amount that left the shelf.",
            )
        document = postings.lent(material, base, stamp, ticket=ticket, due=due)
        posted = post_one(session, document)
        out = _out(session, material, stamp.site)
        there = left_at(session, material, stamp.site)
        if posted.fresh and not stamp.sure and out > there:
            write = formats_of(catalogue.read_shop(session)).amount
            raise DoubtError(
                phrase(
                    "%(out)s of %(material)s would be lent out, where the book has %(there)s.",
                    out=write(out, material.unit),
                    material=material.code,
                    there=write(there, material.unit),
                ),
                fix="Check the amount. If it is right, say so: --anyway, or 'Enter it all the same' on a page.",
            )
        return Lent(material=material, document=posted.number, fresh=posted.fresh, out=out, due=due)


def lent_back(book: Book, number: int, stamp: Stamp, *, amount: str = "", lost: bool = False) -> Lent:
    """Enter that something lent is back, all of it or a part; what is lost is written off as waste.

    Raises
    ------
    UnknownError
        If nothing of that loan is out.
    RefusedError
        If more comes back than is out.
    """
    stamp = stamp.asking("lent back", loan=number, amount=amount, lost=lost or None)
    with book.writing() as session:
        done = entered_before(session, stamp, DocumentKind.LENT_BACK)
        if done is not None:
            before = ledger.read_documents(session, numbers=[done], with_moves=False)[0]
            material = the_material(session, before.subject)
            return Lent(material=material, document=done, fresh=False, out=_out(session, material, before.site))
        loan = _the_loan(session, number)
        material = the_material(session, loan.material)
        nano = material.to_base(typed_amount(amount, material.unit)).nano if amount else loan.nano
        if not 0 < nano <= loan.nano:
            raise RefusedError(
                phrase("%(out)s of that is out.", out=material.counted(loan.nano)), fix="Give what came back of it."
            )
        stamp = replace(stamp, site=loan.site)
        posted = post_one(session, postings.lent_back(material, number, nano, stamp), new=True)
        if lost:
            gone = Quantity(nano=nano, dimension=material.dimension)
            part = replace(stamp, key=f"{stamp.key}#lost")
            post_one(session, postings.lost(DocumentKind.WASTE, material, gone, part, reason="lent and not given back"))
        out = _out(session, material, stamp.site)
        return Lent(material=material, document=posted.number, fresh=posted.fresh, out=out)


def loans(book: Book, *, material: str = "") -> list[tuple[Loan, Material]]:
    """List what is out, the first to be back first."""
    with book.reading() as session:
        known = {m.code: m for m in catalogue.read_materials(session)}
        return [(loan, known[loan.material]) for loan in loans_open(session) if material in ("", loan.material)]


def _the_loan(session: Session, number: int) -> Loan:
    there = loans_open(session)
    found = next((loan for loan in there if loan.document == number), None)
    if found is None:
        known = ", ".join(str(loan.document) for loan in there) or phrase("none")
        raise UnknownError(
            phrase("Nothing of document %(number)s is lent out.", number=number),
            fix=phrase("There is: %(known)s.", known=known),
        )
    return found


def _out(session: Session, material: Material, site: str) -> int:
    return sum(loan.nano for loan in loans_open(session, site=site) if loan.material == material.code)
