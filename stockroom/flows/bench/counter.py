"""At the counter and the shelf: sell, write off, keep an offcut, move between sites, send back."""

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.posting.post import post_one
from stockroom.flows.posting.price_corrections import the_delivery
from stockroom.flows.terms import credit_tax
from stockroom.phrases import phrase
from stockroom.stock import postings
from stockroom.stock.finding import find
from stockroom.stock.materials import Material, Purpose
from stockroom.stock.money import half_up
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import Quantity
from stockroom.store import catalogue, ledger, suppliers
from stockroom.store.book import Book, Session


@dataclass(frozen=True, slots=True, kw_only=True)
class CounterResult:
    """What a document at the counter did: the material and what is left of it."""

    material: Material
    document: int
    fresh: bool
    left: int  # nano on hand afterwards, at the document's site
    price: int | None = None  # minor units taken


def sell(book: Book, typed: str, amount: Quantity, stamp: Stamp, *, price: int | None = None) -> CounterResult:
    """Sell over the counter; the price is the tag's unless another was taken."""
    with book.writing() as session:
        material = the_material(session, typed)
        if material.purpose is Purpose.BENCH:
            raise RefusedError(
                phrase("%(material)s is for the bench, not for sale.", material=material.code),
                fix="Mark it for 'counter' or 'both' in the materials.",
            )
        if price is not None and price < 0:
            raise UsageError("Money taken can't be below zero.", fix="For a sale taken back: stockroom undo.")
        taken = tag_price(material, amount) if price is None else price
        return _post(session, material, postings.sold(material, amount, stamp, price=taken), price=taken)


def write_off(
    book: Book, typed: str, amount: Quantity, stamp: Stamp, *, kind: DocumentKind = DocumentKind.WASTE, reason: str = ""
) -> CounterResult:
    """Write off waste or expired stock, or take something for the shop's own use."""
    with book.writing() as session:
        material = the_material(session, typed)
        return _post(session, material, postings.lost(kind, material, amount, stamp, reason=reason))


def keep_offcut(book: Book, sheet: str, kept: str, areas: tuple[Quantity, Quantity], stamp: Stamp) -> CounterResult:
    """Return an offcut to its own material at a stated area."""
    with book.writing() as session:
        source, target = the_material(session, sheet), the_material(session, kept)
        return _post(session, target, postings.offcut(source, target, areas, stamp))


def transfer(book: Book, typed: str, amount: Quantity, stamp: Stamp, *, to_site: str) -> CounterResult:
    """Move stock to another site."""
    if to_site == stamp.site:
        raise RefusedError(
            phrase("Both sites are '%(to_site)s'.", to_site=to_site), fix="Name the site the stock goes to."
        )
    with book.writing() as session:
        material = the_material(session, typed)
        return _post(session, material, postings.transferred(material, amount, stamp, to_site=to_site))


def send_back(
    book: Book, typed: str, amount: Quantity, stamp: Stamp, *, supplier: str, credit: int, delivery: int | None = None
) -> CounterResult:
    """Return goods to a supplier for a credit, by name from a delivery where its document is given."""
    with book.writing() as session:
        material = the_material(session, typed)
        if credit < 0:
            raise UsageError("A credit can't be below zero.", fix="Give what the supplier pays back, or 0.")
        taker = find("supplier", supplier, {s.code: s.name for s in suppliers.read_suppliers(session)})
        if delivery is not None:
            _check_came(the_delivery(session, delivery), material, taker)
        borne = credit_tax(session, material.code, credit, (taker, delivery), stamp.happened.date())
        facts: dict[str, Any] = {"supplier": taker, "credit": credit, "delivery": delivery, "tax": borne}
        document = postings.sent_back(material, amount, stamp, **facts)
        return _post(session, material, document)


def _check_came(document: Document, material: Material, supplier: str) -> None:
    if all(move.material != material.code for move in document.moves):
        raise RefusedError(
            phrase("Delivery %(document)s brought no %(material)s.", document=document.id, material=material.code),
            fix="See: stockroom documents",
        )
    if document.content.get("supplier") != supplier:
        came_from = document.content.get("supplier")
        raise RefusedError(
            phrase("Delivery %(document)s came from %(came_from)s.", document=document.id, came_from=came_from),
            fix="Name that supplier, or leave it out.",
        )


def find_material(book: Book, typed: str) -> Material:
    """Find the material that a few letters mean."""
    with book.reading() as session:
        return the_material(session, typed)


def the_material(session: Session, typed: str) -> Material:
    """Find the material that a few letters mean."""
    materials = {m.code: m for m in catalogue.read_materials(session)}
    return materials[find("material", typed, {code: m.name for code, m in materials.items()})]


def tag_price(material: Material, amount: Quantity) -> int | None:
    """Give what an amount costs by the price on the tag, if it has one."""
    if material.sell_price is None:
        return None
    return half_up(Fraction(material.sell_price) * material.to_base(amount).nano / material.unit.nano)


def _post(session: Session, material: Material, document: Document, *, price: int | None = None) -> CounterResult:
    posted = post_one(session, document)
    left = ledger.balances(session, material=material.code, site=document.site).get(material.code, 0)
    return CounterResult(material=material, document=posted.number, fresh=posted.fresh, left=left, price=price)


def goods(book: Book) -> list[tuple[Material, int]]:
    """List what is for sale, by family and name, with what is on hand."""
    with book.reading() as session:
        materials = catalogue.read_materials(session)
        on_hand = ledger.balances(session)
    sold = [m for m in materials if m.purpose is not Purpose.BENCH and m.active]
    return [(m, on_hand.get(m.code, 0)) for m in sorted(sold, key=lambda m: (m.family, m.name))]
