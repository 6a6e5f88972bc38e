"""The steps of a new shop: which jobs come how often, what materials cost, what was counted, what is left to do."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from stockroom.errors import BadEntryError, Problem, StockroomError
from stockroom.flows.counts.sheets import places
from stockroom.flows.loading.lists import LISTS, Entry, entries, save_all
from stockroom.intake.cells import Marks, marks_of
from stockroom.stock.materials import Material, Purpose
from stockroom.stock.money import half_up, major, minor
from stockroom.stock.recipes import Job
from stockroom.stock.shop import Shop
from stockroom.stock.suppliers import Offer, Supplier
from stockroom.stock.typed import number
from stockroom.store import catalogue, counts, ledger
from stockroom.store.book import Book

_FIELDS = {  # of the forms, by the column of the list
    "usual a week": "week",
    "price": "price",
    "usual cost": "price",
    "sell price": "sell",
    "name": "name",
    "lead days": "days",
    "email": "email",
}
Typed = Mapping[str, str]  # 'price:HALF' → what was typed


@dataclass(frozen=True, slots=True, kw_only=True)
class StartStanding:
    """How far a new shop has come."""

    materials: int
    jobs: int
    recipes: int
    said: int  # jobs of which it is said how many a week there are
    offered: int  # materials somebody offers
    bins: int
    counted: int  # bins counted, entered or not
    waiting: int  # bins counted, and not entered yet
    moved: bool  # whether the ledger has anything


def standing(book: Book, day: date) -> StartStanding:
    """Say how far a new shop has come."""
    found = {stem: entries(book, LISTS[stem], day) for stem in ("materials", "jobs", "recipes", "offers")}
    active = {e.noun.code for e in found["materials"] if e.noun.active}
    jobs = [e.noun for e in found["jobs"] if e.noun.active]
    with book.reading() as session:
        lines = counts.read_lines(session, catalogue.dimensions(session), state="open")
        moved = ledger.has_moved(session)
    waiting = {kept.line.material for kept in lines}
    there = places(book)
    return StartStanding(
        materials=len(active),
        jobs=len(jobs),
        recipes=len(found["recipes"]),
        said=sum(bool(job.weekly) for job in jobs),
        offered=len({e.noun.material for e in found["offers"]} & active),
        bins=sum(place.bins for place in there),
        counted=sum(place.bins - place.uncounted for place in there) + len(waiting),
        waiting=len(waiting),
        moved=moved,
    )


def never_moved(book: Book) -> bool:
    """Say whether the ledger is empty still."""
    with book.reading() as session:
        return not ledger.has_moved(session)


def counted_by_place(book: Book) -> dict[str, int]:
    """Give how many bins of each location are counted and not entered yet."""
    with book.reading() as session:
        at = {m.code: m.place for m in catalogue.read_materials(session)}
        waiting = {
            kept.line.material for kept in counts.read_lines(session, catalogue.dimensions(session), state="open")
        }
    found: dict[str, int] = {}
    for code in waiting:
        found[at[code]] = found.get(at[code], 0) + 1
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class JobWeek:
    """A job, what is asked for it, and how often it comes."""

    job: Job
    price: str
    weekly: str


def job_weeks(book: Book, day: date) -> list[JobWeek]:
    """List the jobs as they are typed, those that come most first; one no longer done comes 0 times."""
    found = sorted(entries(book, LISTS["jobs"], day), key=lambda e: (not e.noun.active, -Decimal(e.noun.weekly or 0)))
    return [
        JobWeek(job=e.noun, price=e.rows[0]["price"], weekly=e.rows[0]["usual a week"] if e.noun.active else "0")
        for e in found
    ]


def save_job_weeks(
    book: Book, typed: Typed, now: datetime, *, who: str = "", dry_run: bool = False
) -> tuple[int | None, tuple[str, ...]]:
    """Save prices and how many a week; 0 is a job that isn't done here. Gives the document, and what is set aside.

    Raises
    ------
    BadEntryError
        With every fault, its column 'field:CODE'; nothing is saved then.
    """
    rows = []
    for each in entries(book, LISTS["jobs"], now.date()):
        code = each.key[0]
        weekly, price = typed.get(f"week:{code}"), typed.get(f"price:{code}")
        if weekly is None or price is None:
            continue
        done = not _is_none(weekly)
        row = {
            **each.rows[0],
            "price": price,
            "usual a week": weekly if done else "",
            "active": "yes" if done else "no",
        }
        if row != each.rows[0]:
            rows.append((code, row))
    return _saved(book, {"jobs": rows}, now, who, dry_run=dry_run)


def _is_none(text: str) -> bool:
    return bool(text) and not text.replace(",", "").replace(".", "").strip("0 ")


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedMaterial:
    """A material, the pack it is bought in, and what is typed of it."""

    material: Material
    offer: Offer | None
    price: str  # of the pack; without an offer the usual cost of a unit
    sell_price: str
    weekly: str

    @property
    def sold(self) -> bool:
        """Whether it goes over the counter."""
        return self.material.purpose is not Purpose.BENCH

    @property
    def pack(self) -> int:
        """How much the price is for, in nano of the base unit."""
        return self.offer.pack.nano if self.offer else self.material.unit.nano


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierPrices:
    """A supplier with what is bought there; without one: what nobody offers yet."""

    supplier: Supplier | None
    lines: tuple[PricedMaterial, ...]


def prices(book: Book, day: date) -> list[SupplierPrices]:
    """List what materials in use cost, by the supplier that offers them first."""
    offers: dict[str, Entry] = {}
    for each in entries(book, LISTS["offers"], day):
        offers.setdefault(each.noun.material, each)
    by_supplier: dict[str, list[PricedMaterial]] = {}
    for each in entries(book, LISTS["materials"], day):
        if each.noun.active:
            offer = offers.get(each.noun.code)
            row = each.rows[0]
            line = PricedMaterial(
                material=each.noun,
                offer=offer.noun if offer else None,
                price=offer.rows[0]["price"] if offer else row["usual cost"],
                sell_price=row["sell price"],
                weekly=row["usual a week"],
            )
            by_supplier.setdefault(line.offer.supplier if line.offer else "", []).append(line)
    suppliers = [e.noun for e in entries(book, LISTS["suppliers"], day)]
    found = [SupplierPrices(supplier=s, lines=tuple(by_supplier.get(s.code, ()))) for s in suppliers]
    alone = by_supplier.get("", ())
    return [*found, *([SupplierPrices(supplier=None, lines=tuple(alone))] if alone else [])]


def save_prices(
    book: Book, typed: Typed, now: datetime, *, who: str = "", dry_run: bool = False
) -> tuple[int | None, tuple[str, ...]]:
    """Save what materials cost and sell for, and who the suppliers are; the usual cost follows the pack's price.

    Raises
    ------
    BadEntryError
        With every fault, its column 'field:CODE'; nothing is saved then.
    """
    with book.reading() as session:
        shop = catalogue.read_shop(session)
    day = now.date()
    shown = {line.material.code: line for each in prices(book, day) for line in each.lines}
    rows: dict[str, list[tuple[str, dict[str, str]]]] = {"suppliers": [], "offers": [], "materials": []}
    for each in entries(book, LISTS["suppliers"], day):
        said = {"name": f"name:{each.key[0]}", "lead days": f"days:{each.key[0]}", "email": f"email:{each.key[0]}"}
        row = {**each.rows[0], **{column: typed[field] for column, field in said.items() if field in typed}}
        rows["suppliers"] += [(each.key[0], row)] if row != each.rows[0] else []
    for each in entries(book, LISTS["offers"], day):
        line = shown.get(each.noun.material)
        price = typed.get(f"price:{each.noun.material}", each.rows[0]["price"])
        if line is not None and line.offer == each.noun and price != each.rows[0]["price"]:
            rows["offers"].append((each.noun.material, {**each.rows[0], "price": price, "valid from": day.isoformat()}))
    for each in entries(book, LISTS["materials"], day):
        if each.noun.code in shown:
            row = {**each.rows[0], **_material(shown[each.noun.code], typed, shop)}
            rows["materials"] += [(each.noun.code, row)] if row != each.rows[0] else []
    return _saved(book, rows, now, who, dry_run=dry_run)


def _material(line: PricedMaterial, typed: Typed, shop: Shop) -> dict[str, str]:
    """Give what was typed of a material, as columns of its file."""
    code, said = line.material.code, dict[str, str]()
    for column, field, shown in (("sell price", "sell", line.sell_price), ("usual a week", "week", line.weekly)):
        text = typed.get(f"{field}:{code}", shown)
        if text != shown:
            said[column] = text
    price = typed.get(f"price:{code}", line.price)
    if price != line.price and (line.offer is None or line.offer.priced_per is None):
        said |= _usual_cost(price, Fraction(line.pack, line.material.unit.nano), shop, marks_of(shop.locale))
    return said


def _usual_cost(price: str, units: Fraction, shop: Shop, marks: Marks) -> dict[str, str]:
    """Say what a unit costs by the price of a pack: exactly, for the pack's whole number of units, where it has one."""
    if units.denominator == 1:
        return {"usual cost": price, "usual cost for": str(units.numerator) if units != 1 else ""}
    try:
        paid = minor(number(price), shop.currency_digits)
    except StockroomError:  # what is wrong with it is said of the pack's price, in the file's words
        return {}
    each = major(half_up(Fraction(paid) / units), shop.currency_digits)
    return {"usual cost": f"{each:f}".replace(".", marks.decimal), "usual cost for": ""}


def _saved(
    book: Book, rows: Mapping[str, Sequence[tuple[str, Mapping[str, str]]]], now: datetime, who: str, *, dry_run: bool
) -> tuple[int | None, tuple[str, ...]]:
    wanted = {stem: [row for _, row in mine] for stem, mine in rows.items() if mine}
    if not wanted:
        return None, ()
    try:
        return save_all(book, wanted, now, who=who, dry_run=dry_run)
    except BadEntryError as refused:
        raise BadEntryError([_named(problem, rows) for problem in refused.problems]) from refused


def _named(problem: Problem, rows: Mapping[str, Sequence[tuple[str, Mapping[str, str]]]]) -> Problem:
    """Say of which field of the form a problem is: its rows have no numbers for who fills it in."""
    mine = next((rows[stem] for stem in rows if LISTS[stem].kind.title == problem.file), ())
    code = mine[problem.row - 1][0] if problem.row is not None and 0 < problem.row <= len(mine) else ""
    return Problem(what=problem.what, fix=problem.fix, column=f"{_FIELDS.get(problem.column, problem.column)}:{code}")
