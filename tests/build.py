"""Small things to build tests from: one tiny shop with something in every dimension, and short words for documents.

The shop is invented. Every function gives fresh nouns; `stock_up(book)` puts them all into a book, and `opened(book)`
opens its ledger besides.
"""

from collections.abc import Sequence
from datetime import date, datetime, time
from fractions import Fraction
from itertools import count
from typing import Any

from stockroom.counting.reconcile import Bin
from stockroom.flows.posting.post import post_one
from stockroom.flows.posting.undo import last_document
from stockroom.stock import postings
from stockroom.stock.counts import CountLine, CountReason
from stockroom.stock.materials import Material, Purpose
from stockroom.stock.moves import Document, DocumentKind, Move, MoveKind
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import Dimension, Quantity, bridge, quantity, unit
from stockroom.stock.recipes import Catalogue, Job, Per, Recipe, RecipeLine, Sizing, recipe_catalogue
from stockroom.stock.shoe_sizes import ShoeSize, shoe_size
from stockroom.stock.suppliers import Offer, PriceBreak, Supplier
from stockroom.store import catalogue
from stockroom.store.book import Book, Session
from stockroom.store.catalogue import save_offers, save_suppliers

START = date(2026, 1, 5)  # a Monday: the ledger's first day
_numbers = count(1)


def at(text: str) -> datetime:
    """Read '2026-01-05' (noon) or '2026-01-05 09:30'."""
    day, _, hour = text.partition(" ")
    return datetime.combine(date.fromisoformat(day), time.fromisoformat(hour or "12:00"))


def stamp(happened: str | datetime, key: str = "", *, entered: str | datetime = "", **facts: Any) -> Stamp:
    """Stamp a document; without a key it gets a new one, without `entered` it is entered as it happens."""
    when = at(happened) if isinstance(happened, str) else happened
    written = at(entered) if isinstance(entered, str) and entered else entered or when
    assert isinstance(written, datetime)
    return Stamp(key=key or f"key-{next(_numbers)}", happened=when, entered=written, **facts)


def last(book: Book) -> int:
    """Give the number of the last document entered that is not there for a count's sake."""
    found = last_document(book)
    return (found.id or 0) if found else 0


def amount(text: str) -> Quantity:
    """Read an amount such as '2.5 dm2'."""
    return quantity(text)


def nano(text: str) -> int:
    """Give an amount such as '2.5 dm2' in billionths of its base unit."""
    return quantity(text).nano


def size(text: str) -> ShoeSize:
    """Read a shoe size such as 'EU 42'."""
    return shoe_size(text)


def material(code: str, unit_name: str = "piece", **facts: Any) -> Material:
    """Make a material; sizes and bridge may be given as text."""
    for name, read in (("size_from", shoe_size), ("size_to", shoe_size), ("bridge", bridge)):
        if isinstance(facts.get(name), str):
            facts[name] = read(facts[name])
    named: dict[str, Any] = {"name": code.capitalize(), "family": "other"} | facts
    return Material(code=code, unit=unit(unit_name), **named)


def line(name: str, material_code: str, text: str, **facts: Any) -> RecipeLine:
    """Make a recipe line."""
    return RecipeLine(name=name, material=material_code, amount=quantity(text), **facts)


def recipe(
    job: str, *lines: RecipeLine, valid_from: date = START, reference: str = "EU 42 = UK 8", source: str = ""
) -> Recipe:
    """Make a recipe version."""
    stated = tuple(shoe_size(text) for text in reference.split(" = ") if text)
    return Recipe(job=job, valid_from=valid_from, lines=lines, reference=stated, source=source)


def offer(supplier: str, material_code: str, pack: str, price: int, **facts: Any) -> Offer:
    """Make an offer, valid from the shop's first day."""
    named: dict[str, Any] = {"supplier_code": f"{supplier[0]}-{material_code}", "valid_from": START} | facts
    return Offer(supplier=supplier, material=material_code, pack=quantity(pack), price=price, **named)


def move(material_code: str, text: str, happened: str = "2026-01-05", **facts: Any) -> Move:
    """Make a move; '-2 dm2' leaves the shelf."""
    named: dict[str, Any] = {"kind": MoveKind.OPENING} | facts
    return Move(material=material_code, nano=nano(text), happened=at(happened), **named)


def document(*moves: Move, key: str = "", happened: str = "2026-01-05", **facts: Any) -> Document:
    """Make a document of any moves, for tests below the flows."""
    named: dict[str, Any] = {"kind": DocumentKind.OPENING} | facts
    return Document(
        key=key or f"key-{next(_numbers)}", happened=at(happened), entered=at(happened), moves=moves, **named
    )


def counted(code: str, text: str, when: str = "2026-01-10", **facts: Any) -> CountLine:
    """Count a bin."""
    return CountLine(material=code, amount=quantity(text), counted=at(when), **facts)


def counted_bin(booked: int, found: int, *, error: int = 0, **facts: Any) -> Bin:
    """Put what was found of a material kept in grams beside the book; amounts in billionths of a gram."""
    kept = material("X1", "g", family=facts.pop("family", ""))
    line = CountLine(
        material="X1", amount=Quantity(nano=found, dimension=Dimension.MASS), counted=at("2026-01-10"),
        error=Quantity(nano=error, dimension=Dimension.MASS) if error else None,
        reason=facts.pop("reason", CountReason.OTHER),
    )  # fmt: skip
    return Bin(material=kept, line=line, booked=booked, **facts)


def materials() -> list[Material]:
    """Give a shelf: every dimension, a group by size, a group by colour, bridges, a thing for sale."""
    return [
        material("BEND", "dm2", name="Sole leather bend", family="soling sheet", thickness="5 mm",
                 bridge="1 kg = 29 dm2", usual_cost=55, place="rack"),
        material("OFFCUT", "dm2", name="Leather offcuts", family="offcuts", place="box"),
        material("SOLE-S", "pair", name="Rubber sole small", family="pre-cut soles", group="SOLE",
                 size_from="EU 35", size_to="EU 39", usual_cost=640, place="A1"),
        material("SOLE-L", "pair", name="Rubber sole large", family="pre-cut soles", group="SOLE",
                 size_from="EU 40", size_to="EU 46", usual_cost=680, place="A2"),
        material("TIP", "pair", name="Heel tip", family="top pieces", usual_cost=90, place="A3"),
        material("FILLER", "kg", name="Cork filler", family="filler", usual_cost=1200, place="B1"),
        material("CEMENT", "l", name="Contact cement", family="cement", bridge="1 l = 860 g", shelf_life_days=365,
                 hazards=("H225", "H336"), flammable=True, usual_cost=900, place="steel cupboard",
                 extra={"tare": "310 g"}, other_words="glue, neoprene"),
        material("THREAD", "m", name="Waxed thread", family="thread", bridge="1 g = 1.6 m", usual_cost=4, place="B2"),
        material("LACE-BLACK", "pair", name="Laces black", family="laces", group="LACE", colour="black",
                 purpose=Purpose.BOTH, sell_price=350, usual_cost=80, place="till"),
        material("LACE-BROWN", "pair", name="Laces brown", family="laces", group="LACE", colour="brown",
                 purpose=Purpose.BOTH, sell_price=350, usual_cost=80, place="till"),
        material("POLISH", "piece", name="Shoe polish", family="care", purpose=Purpose.COUNTER, sell_price=650,
                 tax_rate="21", place="till"),
    ]  # fmt: skip


def jobs() -> list[Job]:
    """Give a price list of three jobs: sized with choices, unsized with a choice, by colour."""
    return [
        Job(code="RESOLE", name="Full resole", family="soles", price=6500, bench_minutes=50, sized=True),
        Job(code="HEELS", name="Heel tips", family="heels", price=1200, bench_minutes=10),
        Job(code="LACES", name="New laces", price=500, bench_minutes=2),
    ]


def recipes() -> list[Recipe]:
    """Give a card for each job; sizing, coats, waste, a chance, groups by size and by colour."""
    return [
        recipe(
            "RESOLE",
            line(
                "leather sole", "BEND", "8 dm2", sizing=Sizing.AREA, waste=Fraction(25), choice="sole", option="leather"
            ),
            line("rubber sole", "SOLE", "1 pair", choice="sole", option="rubber"),
            line("filler", "FILLER", "30 g", sizing=Sizing.AREA),
            line("cement", "CEMENT", "12 ml", sizing=Sizing.LENGTH, coats=2, per=Per.SHOE),
            line("seam", "THREAD", "3 m", chance=Fraction(1, 3)),
        ),
        recipe(
            "HEELS",
            line("tips", "TIP", "1 pair"),
            line("glue", "CEMENT", "4 ml", choice="hold", option="glued"),
            line("thread", "THREAD", "0.5 m", choice="hold", option="sewn"),
            reference="",
        ),
        recipe("LACES", line("laces", "LACE", "1 pair"), reference=""),
    ]


def suppliers() -> list[Supplier]:
    """Give two suppliers: one with carriage, a cut-off and a minimum; one plain."""
    return [
        Supplier(code="NORTH", name="North findings", lead_days=4, carriage=900, carriage_free_over=20000,
                 minimum_order=3000, order_weekdays=frozenset({0, 3}), cut_off=time(11, 0), tax_rate="21",
                 email="orders@north.example", note="rings back"),
        Supplier(code="TAN", name="Tannery by the ford", lead_days=12),
    ]  # fmt: skip


def offers() -> list[Offer]:
    """Give offers: by pack, with breaks, with a minimum, by weight and measured on arrival, and an older price."""
    return [
        offer("NORTH", "CEMENT", "5 l", 4100, pack_name="tin of 5 l", valid_from=date(2025, 1, 1)),
        offer("NORTH", "CEMENT", "5 l", 4300, pack_name="tin of 5 l", breaks=(PriceBreak(packs=3, price=3900),)),
        offer("NORTH", "SOLE-S", "10 pair", 6200, pack_name="bag of 10 pairs"),
        offer("NORTH", "SOLE-L", "10 pair", 6600, pack_name="bag of 10 pairs"),
        offer("NORTH", "TIP", "1 gross", 5400, pack_name="box", minimum_packs=2),
        offer("NORTH", "FILLER", "1 kg", 1150, pack_name="bag"),
        offer("NORTH", "THREAD", "500 m", 1900, pack_name="spool"),
        offer("NORTH", "LACE-BLACK", "1 dozen", 420, pack_name="bundle"),
        offer("NORTH", "LACE-BROWN", "1 dozen", 420, pack_name="bundle"),
        offer("NORTH", "POLISH", "6 piece", 1500, pack_name="carton"),
        offer("TAN", "BEND", "190 dm2", 1640, pack_name="bend", priced_per=quantity("1 kg"),
              pack_in_priced=quantity("6.5 kg"), measured=True),
    ]  # fmt: skip


def shelf(extra: Sequence[Material] = ()) -> Catalogue:
    """Arrange the tiny shop's materials for picking."""
    return recipe_catalogue([*materials(), *extra])


OPENING = {
    "BEND": "180 dm2", "OFFCUT": "12 dm2", "SOLE-S": "9 pair", "SOLE-L": "14 pair", "TIP": "60 pair",
    "FILLER": "2.4 kg", "CEMENT": "3.5 l", "THREAD": "420 m", "LACE-BLACK": "20 pair", "LACE-BROWN": "15 pair",
    "POLISH": "18 piece",
}  # fmt: skip


def opening_document(key: str = "opening", happened: str = "2026-01-05 08:00") -> Document:
    """Write the document that opens the tiny shop's book."""
    known = {m.code: m for m in materials()}
    lines = [(known[code], quantity(text), None, "", None) for code, text in OPENING.items()]
    return postings.opened(lines, stamp(happened, key))


def save_catalogue(session: Session) -> None:
    """Keep the tiny shop's materials, jobs, recipes, suppliers and offers."""
    catalogue.save_materials(session, materials())
    catalogue.save_jobs(session, jobs())
    catalogue.add_recipes(session, recipes())
    save_suppliers(session, suppliers())
    save_offers(session, offers())


def stock_up(book: Book) -> Book:
    """Put the tiny shop into a book; the ledger is still empty."""
    with book.writing() as session:
        save_catalogue(session)
    return book


def opened(book: Book) -> Book:
    """Put the tiny shop into a book and open its ledger."""
    with book.writing() as session:
        save_catalogue(session)
        post_one(session, opening_document())
    return book
