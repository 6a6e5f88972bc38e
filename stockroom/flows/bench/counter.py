"""At the counter and the shelf: sell, write off, move between sites, send back."""

from dataclasses import dataclass, replace
from datetime import date, datetime
from fractions import Fraction
from typing import Any

from stockroom.errors import DoubtError, RefusedError, UsageError
from stockroom.flows.bench.shelf import set_aside
from stockroom.flows.book.terms import credit_tax
from stockroom.flows.posting.goods_back import goods_back
from stockroom.flows.posting.post import entered_before, post_one
from stockroom.flows.posting.price_corrections import the_delivery
from stockroom.phrases import phrase
from stockroom.show.formats import formats_of
from stockroom.stock import moves, postings
from stockroom.stock.going_back import MayGoBack
from stockroom.stock.materials import Material, Purpose
from stockroom.stock.money import half_up
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import Quantity
from stockroom.stock.recipes import recipe_catalogue
from stockroom.stock.sales import parts_of
from stockroom.stock.tickets import TicketState
from stockroom.stock.typed import find, material_meant
from stockroom.store import catalogue, ledger, tickets
from stockroom.store.book import Book, Session

FAR = 4  # times the shelf price: more than is ever asked on top, less than a point left out

# What a person says it is, on the command line and in the pages' forms.
WRITE_OFFS = {kind.value.replace(" ", "-"): kind for kind in moves.WRITE_OFFS}


@dataclass(frozen=True, slots=True, kw_only=True)
class CounterResult:
    """What a document at the counter did: the material and what is left of it."""

    material: Material
    document: int
    fresh: bool
    left: int  # nano on hand afterwards, at the document's site
    price: int | None = None  # minor units taken
    remarks: tuple[str, ...] = ()  # open tickets whose material went


def sell(book: Book, typed: str, amount: Quantity, stamp: Stamp, *, price: int | None = None) -> CounterResult:
    """Sell over the counter; the price is the tag's unless another was taken.

    Raises
    ------
    RefusedError
        If the material is for the bench only.
    UsageError
        If the amount paid is below zero.
    """
    with book.writing() as session:
        material = the_material(session, typed)
        if material.purpose is Purpose.BENCH:
            raise RefusedError(
                phrase("%(material)s is for the bench, not for sale.", material=material.code),
                fix="Mark it for 'counter' or 'both' in the materials.",
            )
        if price is not None and price < 0:
            raise UsageError("The amount paid can't be below zero.", fix="To undo a sale: stockroom undo.")
        stamp = stamp.asking("sell", material=material.code, amount=material.to_base(amount), price=price)
        taken = tag_price(priced_on(session, material, stamp.happened.date()), amount) if price is None else price
        document = postings.sold(material, amount, stamp, price=taken)
        return _leave(session, material, document, stamp, price=taken)


def write_off(
    book: Book,
    typed: str,
    amount: Quantity,
    stamp: Stamp,
    *,
    kind: DocumentKind = DocumentKind.WASTE,
    reason: str = "",
) -> CounterResult:
    """Write off waste or expired stock, or take something for the shop's own use."""
    with book.writing() as session:
        material = the_material(session, typed)
        stamp = stamp.asking(str(kind), material=material.code, amount=material.to_base(amount), reason=reason)
        document = postings.lost(kind, material, amount, stamp, reason=reason)
        return _leave(session, material, document, stamp)


def keep_part(book: Book, typed: str, amount: Quantity, stamp: Stamp, *, ticket: str = "") -> CounterResult:
    """Keep a part taken off a job, such as a heel block, to be used again; it costs nothing."""
    with book.writing() as session:
        material = the_material(session, typed)
        if ticket:
            tickets.the_ticket(session, ticket)
        stamp = stamp.asking("part kept", material=material.code, amount=material.to_base(amount), ticket=ticket)
        return _leave(session, material, postings.part_kept(material, amount, stamp, ticket=ticket), stamp)


def transfer(book: Book, typed: str, amount: Quantity, stamp: Stamp, *, to_site: str) -> CounterResult:
    """Move stock to another site.

    Raises
    ------
    RefusedError
        If it lies at that site already.
    """
    if to_site == stamp.site:
        raise RefusedError(
            phrase("Both sites are '%(to_site)s'.", to_site=to_site), fix="Name the site the stock goes to."
        )
    with book.writing() as session:
        material = the_material(session, typed)
        stamp = stamp.asking("move", material=material.code, amount=material.to_base(amount), to=to_site)
        return _leave(session, material, postings.transferred(material, amount, stamp, to_site=to_site), stamp)


def send_back(
    book: Book,
    typed: str,
    amount: Quantity,
    stamp: Stamp,
    *,
    supplier: str = "",
    credit: int | None = None,
    delivery: int | None = None,
) -> CounterResult:
    """Return goods to a supplier for a credit, by name from a delivery where its document is given.

    What was agreed to go back from that delivery is credited at what it cost, and needs no supplier named.

    Raises
    ------
    UsageError
        If the credit is below zero, or it isn't said who takes the goods back for how much.
    DoubtError
        If more would go back than was agreed, or later.
    """
    with book.writing() as session:
        material = the_material(session, typed)
        if credit is not None and credit < 0:
            raise UsageError("A credit can't be below zero.", fix="Give what the supplier pays back, or 0.")
        known = {s.code: s.name for s in catalogue.read_suppliers(session)}
        taker = find("supplier", supplier, known) if supplier else ""
        base = material.to_base(amount)
        facts: dict[str, Any] = {"supplier": taker, "credit": credit, "delivery": delivery}
        stamp = stamp.asking("send back", material=material.code, amount=base, **facts)
        done = entered_before(session, stamp, DocumentKind.SUPPLIER_RETURN)
        if done is not None:
            left = left_at(session, material, stamp.site)
            return CounterResult(material=material, document=done, fresh=False, left=left)
        if delivery is not None:
            came = the_delivery(session, delivery)
            taker = taker or str(came.content.get("supplier", ""))
            _check_came(came, material, taker)
            if credit is None:
                credit = _agreed_credit(session, material, base, came, stamp)
        if not taker or credit is None:
            raise UsageError(
                "Who is it sent back to, and for how much?",
                fix="Give --supplier and --credit, or --delivery for what may go back: stockroom may-go-back",
            )
        facts = {"supplier": taker, "credit": credit, "delivery": delivery}
        borne = credit_tax(session, material.code, credit, (taker, delivery), stamp.happened.date())
        document = postings.sent_back(material, amount, stamp, **facts, tax=borne)
        return _leave(session, material, document, stamp, price=credit)


def _agreed_credit(session: Session, material: Material, base: Quantity, came: Document, stamp: Stamp) -> int:
    """Give what goods that may go back from a delivery are credited at: what they cost."""
    day = stamp.happened.date()
    there = [x for x in goods_back(session, day) if (x.delivery, x.material) == (came.id, material.code)]
    agreed = max(there, key=lambda each: each.nano, default=None)
    formats = formats_of(catalogue.read_shop(session))
    if agreed is None or base.nano > agreed.nano:
        most = formats.amount(agreed.nano if agreed else 0, material.unit)
        raise DoubtError(
            phrase(
                "%(most)s of %(material)s may still go back from delivery %(document)s.",
                most=most,
                material=material.code,
                document=came.id,
            ),
            fix="Send back no more, or say what the supplier credits all the same: --credit.",
        )
    return agreed.cost_of(base.nano)


def may_go_back(book: Book, day: date) -> list[tuple[MayGoBack, Material]]:
    """List what may go back to suppliers on a day, the first last day first."""
    with book.reading() as session:
        known = {m.code: m for m in catalogue.read_materials(session)}
        return [(each, known[each.material]) for each in goods_back(session, day)]


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
    return material_meant(typed, materials)


SHELF_PRICE = "shelf-price:"  # beginning of a note


def priced_on(session: Session, material: Material, day: date) -> Material:
    """Give a material with the shelf price of a day: the newest that was stated by date, else the material's own."""
    stated = catalogue.read_notes(session, f"{SHELF_PRICE}{material.code}:")
    valid = {name.rpartition(":")[2]: int(text) for name, text in stated.items()}
    newest = max((since for since in valid if since <= day.isoformat()), default=None)
    return material if newest is None else replace(material, sell_price=valid[newest])


def shelf_price(book: Book, typed: str, price: int, day: date, *, at: datetime | None = None) -> Material:
    """Change a shelf price from a day on; sales of earlier days keep what was asked then.

    Raises
    ------
    UsageError
        If it is below zero.
    """
    if price < 0:
        raise UsageError("A price can't be below zero.", fix="Leave it out for the price list's, or give 0.")
    with book.writing(at=at) as session:
        material = the_material(session, typed)
        catalogue.save_note(session, f"{SHELF_PRICE}{material.code}:{day.isoformat()}", str(price))
        return replace(material, sell_price=price)


def tag_price(material: Material, amount: Quantity) -> int | None:
    """Give what an amount costs by the price on the tag, if it has one."""
    if material.sell_price is None:
        return None
    return half_up(Fraction(material.sell_price) * material.to_base(amount).nano / material.unit.nano)


def far_above_shelf_price(session: Session, document: Document, material: Material) -> tuple[str, ...]:
    """Say that several times its shelf price was taken for a material: 350 typed for 3.50 looks like this."""
    sold = [part for part in parts_of(document) if part.material == material.code and part.nano > 0]
    amount = Quantity(nano=sum(part.nano for part in sold), dimension=material.dimension)
    tag = tag_price(priced_on(session, material, document.happened.date()), amount)
    taken = sum(part.price or 0 for part in sold)
    if not tag or taken < tag * FAR:
        return ()
    write = formats_of(catalogue.read_shop(session)).money
    return (
        phrase(
            "%(material)s: %(taken)s taken, where the shelf price comes to %(listed)s; if that is a slip, undo it.",
            material=material.code,
            taken=write(taken),
            listed=write(tag),
        ),
    )


def _leave(
    session: Session, material: Material, document: Document, stamp: Stamp, *, price: int | None = None
) -> CounterResult:
    """Post what leaves the shelf; more than the book has there is a slip more often than not, and is asked about."""
    posted = post_one(session, document)
    left = left_at(session, material, document.site)
    if posted.fresh and not stamp.sure:
        refuse_short(session, material, document, left)
    said = left_for_tickets(session, material, document) if posted.fresh else ()
    said += (
        far_above_shelf_price(session, document, material)
        if posted.fresh and document.kind is DocumentKind.SALE
        else ()
    )
    return CounterResult(
        material=material, document=posted.number, fresh=posted.fresh, left=left, price=price, remarks=said
    )


def left_for_tickets(session: Session, material: Material, document: Document) -> tuple[str, ...]:
    """Say which open tickets no longer find what they need of a material, since a document just posted took it."""
    gone = -sum(move.nano for move in document.moves if move.material == material.code)
    if gone <= 0:
        return ()
    booked = tickets.read_tickets(session, state=TicketState.BOOKED)
    if not booked:
        return ()
    needs = set_aside(session, recipe_catalogue(catalogue.read_materials(session))).by_ticket
    left, formats = ledger.balances(session, material=material.code).get(material.code, 0), None
    said: list[str] = []
    for ticket in sorted(booked, key=lambda t: (t.promised or date.max, t.taken_in, t.number)):
        need = needs[ticket.number][material.code] if ticket.number in needs else 0
        if max(left, 0) < need <= left + gone:
            formats = formats or formats_of(catalogue.read_shop(session))
            there, wanted = (formats.told(nano, material.unit) for nano in (max(left, 0), need))
            said.append(
                phrase(
                    "That leaves %(left)s of %(material)s for ticket %(number)s, which needs %(need)s.",
                    left=there,
                    material=material.code,
                    number=ticket.number,
                    need=wanted,
                )
            )
        left -= need
    return tuple(said)


def refuse_short(session: Session, material: Material, document: Document, left: int) -> None:
    """Refuse a document just posted that takes more of a material than the book had at its site."""
    gone = -sum(move.nano for move in document.moves if (move.material, move.site) == (material.code, document.site))
    if left < 0 < gone:
        formats = formats_of(catalogue.read_shop(session))
        raise DoubtError(
            phrase(
                "%(amount)s of %(material)s would leave, where the book has %(there)s.",
                amount=formats.told(gone, material.unit),
                material=material.code,
                there=formats.told(left + gone, material.unit),
            ),
            fix="Check the amount. If it is right, say so: --anyway, or 'Enter it all the same' on a page.",
        )


def left_at(session: Session, material: Material, site: str) -> int:
    """Give what is left of a material at a site, in nano."""
    return ledger.balances(session, material=material.code, site=site).get(material.code, 0)


def goods(book: Book, day: date) -> list[tuple[Material, int]]:
    """List what is for sale at the prices of a day, by family and name, with what is on hand."""
    with book.reading() as session:
        materials = [m for m in catalogue.read_materials(session) if m.purpose is not Purpose.BENCH and m.active]
        sold = [priced_on(session, m, day) for m in materials]
        on_hand = ledger.balances(session)
    return [(m, on_hand.get(m.code, 0)) for m in sorted(sold, key=lambda m: (m.family, m.name))]
