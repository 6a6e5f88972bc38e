"""At the counter: several things in one sale, and what a customer brings back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.bench.counter import (
    far_above_shelf_price,
    left_at,
    left_for_tickets,
    priced_on,
    refuse_short,
    tag_price,
    the_material,
)
from stockroom.flows.posting.post import entered_before, post_one
from stockroom.flows.posting.price_corrections import in_force
from stockroom.phrases import phrase
from stockroom.stock.materials import Material, Purpose
from stockroom.stock.money import half_up
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import Quantity
from stockroom.stock.sales import SalePart, SaleTerms, discounted, paid_in_all, part_of_price, parts_of, sale
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book, Session


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One line of a sale, as typed."""

    material: str
    amount: Quantity
    price: int | None = None  # minor units for the line; None: the shelf price
    packing: bool = False  # what a parcel is packed in: nothing is asked for it


@dataclass(frozen=True, slots=True, kw_only=True)
class SaleWanted:
    """A sale as a whole, as typed."""

    items: tuple[Item, ...]
    discount: int = 0  # minor units
    percent: Fraction | None = None  # or a share of it all
    paid: int | None = None  # in all, where it was settled otherwise
    by_post: bool = False
    post_cost: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sold:
    """What a sale, or what was brought back, did."""

    document: int
    fresh: bool
    parts: tuple[SalePart, ...]
    materials: Mapping[str, Material]
    left: Mapping[str, int]  # nano on hand afterwards, at the document's site
    remarks: tuple[str, ...] = ()  # open tickets whose material went

    @property
    def total(self) -> int | None:
        """What was taken in all; None where a price isn't known."""
        prices = [part.price for part in self.parts if part.price is not None]
        return sum(prices) if len(prices) == len(self.parts) else None


def sell_together(book: Book, wanted: SaleWanted, stamp: Stamp) -> Sold:
    """Sell several things in one document.

    Raises
    ------
    RefusedError
        If one is for the bench only.
    UsageError
        If nothing is sold, or an amount of money makes no sense.
    """
    stamp = stamp.asking("sell together", wanted=wanted)
    with book.writing() as session:
        done = entered_before(session, stamp, DocumentKind.SALE)
        if done is not None:
            return _sold(session, done, fresh=False)
        if not wanted.items:
            raise UsageError("Nothing is sold.", fix="Name what is sold: MATERIAL=AMOUNT.")
        day = stamp.happened.date()
        full = [_part(priced_on(session, the_material(session, each.material), day), each) for each in wanted.items]
        parts, discount = _priced(full, wanted)
        terms = SaleTerms(discount=discount, by_post=wanted.by_post, post_cost=wanted.post_cost)
        return _posted(session, sale(parts, stamp, terms), stamp)


def customer_return(
    book: Book,
    typed: str,
    amount: Quantity,
    stamp: Stamp,
    *,
    of: int | None = None,
    refund: int | None = None,
    wasted: bool = False,
) -> Sold:
    """Enter a customer's return, into stock or as waste, and what is paid back.

    Parameters
    ----------
    book : Book
        The book.
    typed : str
        The material.
    amount : Quantity
        How much of it.
    stamp : Stamp
        When.
    of : int, optional
        The document of the sale: then its price is paid back, and stock comes back at what it had cost.
    refund : int, optional
        What is paid back, in minor units; by default the price it was sold at, else the shelf price.
    wasted : bool
        It is no good any more.

    Raises
    ------
    RefusedError
        If the sale named did not sell so much of it, or it came back before.
    """
    with book.writing() as session:
        material = the_material(session, typed)
        nano = material.to_base(amount).nano
        facts = {"material": material.code, "amount": nano, "of": of, "refund": refund, "wasted": wasted or None}
        stamp = stamp.asking("customer return", **facts)
        done = entered_before(session, stamp, DocumentKind.SALE)
        if done is not None:
            return _sold(session, done, fresh=False)
        if nano <= 0 or (refund or 0) < 0:
            raise UsageError("What is brought back must be above zero.", fix="Give it without a sign.")
        price = refund
        if of is not None:
            was = _sold_before(session, of, material, nano)
            price = part_of_price(was.price, nano, was.nano) if refund is None else refund
        elif refund is None:
            price = tag_price(priced_on(session, material, stamp.happened.date()), amount)
        part = SalePart(material=material.code, nano=-nano, price=None if price is None else -price, wasted=wasted)
        return _posted(session, sale([part], stamp, SaleTerms(of=of)), stamp)


def returned_from(session: Session, number: int) -> list[Document]:
    """Give the documents in force by which goods of a sale came back."""
    documents = ledger.read_documents(session, kinds=[DocumentKind.SALE])
    return [d for d in documents if d.content.get("of") == number and in_force(session, d.id or 0)]


def _sold_before(session: Session, number: int, material: Material, nano: int) -> SalePart:
    """Find what a sale sold of a material, and refuse more than that."""
    found = ledger.read_documents(session, numbers=[number], kinds=[DocumentKind.SALE])
    parts = [part for d in found if in_force(session, number) for part in parts_of(d) if part.nano > 0]
    mine = [part for part in parts if part.material == material.code]
    if not mine:
        raise RefusedError(
            phrase("Document %(number)s sold no %(material)s.", number=number, material=material.code),
            fix="See: stockroom documents. Without the sale's number the shelf price is paid back.",
        )
    back = sum(-p.nano for d in returned_from(session, number) for p in parts_of(d) if p.material == material.code)
    if nano + back > sum(part.nano for part in mine):
        raise RefusedError(
            phrase("Document %(number)s sold less %(material)s than that.", number=number, material=material.code),
            fix="Check the amount, and what came back before.",
        )
    prices = [part.price for part in mine if part.price is not None]
    price = sum(prices) if len(prices) == len(mine) else None
    return SalePart(material=material.code, nano=sum(part.nano for part in mine), price=price)


def _part(material: Material, item: Item) -> SalePart:
    if material.purpose is Purpose.BENCH and not item.packing:
        raise RefusedError(
            phrase("%(material)s is for the bench, not for sale.", material=material.code),
            fix="Mark it for 'counter' or 'both' in the materials.",
        )
    nano = material.to_base(item.amount).nano
    if nano <= 0:
        raise UsageError(
            phrase("%(amount)s of %(material)s is not above zero.", amount=item.amount, material=material.code),
            fix="Give the amount that left the shelf.",
        )
    if item.price is not None and item.price < 0:
        raise UsageError("The amount paid can't be below zero.", fix="To undo a sale: stockroom undo.")
    asked = 0 if item.packing else tag_price(material, item.amount)
    return SalePart(material=material.code, nano=nano, price=asked if item.price is None else item.price)


def _priced(full: Sequence[SalePart], wanted: SaleWanted) -> tuple[list[SalePart], int]:
    """Put what was really paid on each line; gives the discount too."""
    total = sum(part.price or 0 for part in full)
    if wanted.paid is not None:
        if wanted.paid < 0:
            raise UsageError("The amount paid can't be below zero.", fix="To undo a sale: stockroom undo.")
        known = all(part.price is not None for part in full)
        return paid_in_all(full, wanted.paid), max(total - wanted.paid, 0) if known else 0
    discount = wanted.discount if wanted.percent is None else half_up(total * wanted.percent / 100)
    return discounted(full, discount), discount


def _posted(session: Session, document: Document, stamp: Stamp) -> Sold:
    posted = post_one(session, document, new=True)
    done = _sold(session, posted.number, fresh=posted.fresh)
    if posted.fresh and not stamp.sure:
        for code, material in done.materials.items():
            refuse_short(session, material, document, done.left[code])
    if posted.fresh:
        said = [left_for_tickets(session, material, document) for material in done.materials.values()]
        said += [far_above_shelf_price(session, document, material) for material in done.materials.values()]
        done = replace(done, remarks=tuple(each for mine in said for each in mine))
    return done


def _sold(session: Session, number: int, *, fresh: bool) -> Sold:
    document = ledger.read_documents(session, numbers=[number])[0]
    parts = parts_of(document)
    materials = {m.code: m for m in catalogue.read_materials(session, {part.material for part in parts})}
    left = {code: left_at(session, m, document.site) for code, m in materials.items()}
    return Sold(document=number, fresh=fresh, parts=parts, materials=materials, left=left)
