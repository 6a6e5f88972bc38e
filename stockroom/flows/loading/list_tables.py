"""A list as a table: what often changes of what is there, and rows for what is new, saved all or none.

What is typed in a row goes the way of the rows of files, those of several lists where a row says something of several:
a material, and what it costs at whom.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from stockroom.errors import BadEntryError, Problem, StockroomError
from stockroom.flows.loading.lists import LISTS, Costed, Entry, costed, entries, save_all
from stockroom.intake.cells import marks_of
from stockroom.intake.columns import KINDS, Field
from stockroom.phrases import phrase
from stockroom.stock.materials import Material, Purpose
from stockroom.stock.money import half_up, major, minor
from stockroom.stock.quantities import Unit
from stockroom.stock.shop import Shop
from stockroom.stock.suppliers import Offer
from stockroom.stock.typed import number, proposed_code
from stockroom.store import catalogue
from stockroom.store.book import Book

NEW = "*"  # begins the key of a row that is new: no code holds it
Typed = Mapping[str, str]  # 'price:HALF' → what was typed; of new rows 'price:*1', of a recipe's lines 'amount:HALF*1'
_Cells = Mapping[str, str]
_Keyed = tuple[str, dict[str, str]]  # a row, with the key of where it was typed
_Rows = dict[str, list[_Keyed]]  # by the stem of the list


@dataclass(frozen=True, slots=True, kw_only=True)
class TableColumn:
    """A column of a table: a field of the form, and the column of which list it is."""

    field: str
    stem: str
    name: str
    carried: bool = False  # usually as in the row above

    @property
    def declared(self) -> Field:
        """What the list's file says of it."""
        return KINDS[self.stem].column(self.name)


def _columns(stem: str, names: str, carried: str = "") -> tuple[TableColumn, ...]:
    """Give columns by 'field=column' or 'column' alone."""
    parts = [tuple(each.strip() for each in name.partition("=")[::2]) for name in names.split(",")]
    return tuple(
        TableColumn(field=field, stem=stem, name=name or field, carried=field in carried.split(","))
        for field, name in parts
    )


TABLES: Mapping[str, tuple[TableColumn, ...]] = {
    "suppliers": _columns(
        "suppliers", "name, days=lead days, carriage, free=carriage free over, least=minimum order, "
        "order=order weekdays, email"
    ),
    "materials": (
        *_columns("materials", "name, family, unit, place", "family,unit,place"),
        *_columns("offers", "supplier, pack, price", "supplier"),
        *_columns("materials", "used=purpose, sell=sell price, week=usual a week", "used"),
    ),
    "jobs": _columns("jobs", "name, family, price, week=usual a week, minutes=bench minutes, sized", "family"),
    "recipes": _columns("recipes", "material, amount, unit, choice, option"),
}  # fmt: skip
_LONGEST = 4  # figures of a line's number
_SEEN_AS = {("materials", "usual cost"): "price", ("materials", "usual cost for"): "price"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """A row as it stands: what it says, and which of it may be typed over here."""

    key: str
    cells: _Cells
    open: tuple[str, ...]
    name: str = ""  # where it can't be typed over
    note: str = ""  # what the supplier calls the pack that the price is for; of a recipe the line's name
    pack: int = 0  # how much is in it, in nano of the base unit
    unit: Unit | None = None
    entry: tuple[str, ...] = ()  # names its own form


@dataclass(frozen=True, slots=True, kw_only=True)
class TableSection:
    """Rows under a heading, with the mark that begins the keys of new ones: of recipes one a job."""

    rows: tuple[TableRow, ...]
    key: str = ""
    name: str = ""
    told: str = ""


def sections(book: Book, name: str, day: date) -> list[TableSection]:
    """Give a table as it stands."""
    if name == "recipes":
        return _recipes(book, day)
    return [TableSection(rows=tuple(_ROWS[name](book, day)))]


def _suppliers(book: Book, day: date) -> Iterable[TableRow]:
    fields = tuple(column.field for column in TABLES["suppliers"])
    for each in entries(book, LISTS["suppliers"], day):
        yield TableRow(key=each.key[0], cells=_cells("suppliers", each.rows[0]), open=fields, entry=each.key)


def _jobs(book: Book, day: date) -> Iterable[TableRow]:
    """List the jobs; one no longer done comes 0 times."""
    for each in _by_often(book, day):
        cells = _cells("jobs", each.rows[0]) | ({} if each.noun.active else {"week": "0"})
        open_ = ("price", "week", "minutes")
        yield TableRow(key=each.key[0], cells=cells, open=open_, name=each.name, entry=each.key)


def _by_often(book: Book, day: date) -> list[Entry]:
    """Give the jobs, those that come most first, those no longer done last."""
    return sorted(entries(book, LISTS["jobs"], day), key=lambda e: (not e.noun.active, -Decimal(e.noun.weekly or 0)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bought:
    """A material with what it is bought as first."""

    entry: Entry
    offer: Entry | None

    @property
    def material(self) -> Material:
        noun: Material = self.entry.noun
        return noun

    @property
    def cells(self) -> dict[str, str]:
        row = self.entry.rows[0]
        bought = {"price": row["usual cost"]} if self.offer is None else _cells("offers", self.offer.rows[0])
        return _cells("materials", row) | bought

    @property
    def units(self) -> Fraction:
        """For how many units the price is."""
        offer: Offer | None = self.offer.noun if self.offer else None
        return Fraction(offer.pack.nano, self.material.unit.nano) if offer else Fraction(1)

    @property
    def priced_by_pack(self) -> bool:
        return self.offer is None or self.offer.noun.priced_per is None


def _bought(book: Book, day: date) -> list[_Bought]:
    offers: dict[str, Entry] = {}
    for each in entries(book, LISTS["offers"], day):
        offers.setdefault(each.noun.material, each)
    return [_Bought(entry=e, offer=offers.get(e.key[0])) for e in entries(book, LISTS["materials"], day)]


def _materials(book: Book, day: date) -> Iterable[TableRow]:
    for each in _bought(book, day):
        if each.material.active:
            offer: Offer | None = each.offer.noun if each.offer else None
            buying = ("price",) if offer else ("supplier", "pack", "price")
            yield TableRow(
                key=each.material.code,
                cells=each.cells,
                open=(*buying, *(("sell", "week") if each.material.purpose is not Purpose.BENCH else ())),
                name=each.material.name,
                note=offer.pack_name if offer else "",
                pack=offer.pack.nano if offer else each.material.unit.nano,
                unit=each.material.unit,
                entry=each.entry.key,
            )


def _recipes(book: Book, day: date) -> list[TableSection]:
    """Give each job that is done, with the lines of its recipe."""
    found = {e.key[0]: e for e in entries(book, LISTS["recipes"], day)}
    fields = tuple(column.field for column in TABLES["recipes"])
    jobs = [e for e in _by_often(book, day) if e.noun.active]
    names = {e.key[0]: e.name for e in entries(book, LISTS["materials"], day)}
    return [
        TableSection(
            key=job.key[0],
            name=job.name,
            rows=tuple(
                TableRow(key=f"{job.key[0]}{NEW}{at}", cells=_line(row, names), open=fields, note=row["line"])
                for at, row in enumerate(found[job.key[0]].rows if job.key[0] in found else ())
            ),
        )
        for job in jobs
    ]


def _line(row: _Cells, names: Mapping[str, str]) -> dict[str, str]:
    """Name a line's material as people do, where no other is called so."""
    name = names.get(row["material"], "")
    alone = list(names.values()).count(name) == 1
    return _cells("recipes", row) | ({"material": name} if alone else {})


_ROWS: Mapping[str, Callable[[Book, date], Iterable[TableRow]]] = {
    "suppliers": _suppliers,
    "materials": _materials,
    "jobs": _jobs,
}


def _cells(stem: str, row: _Cells) -> dict[str, str]:
    return {column.field: row[column.name] for columns in TABLES.values() for column in columns if column.stem == stem}


def save_table(
    book: Book, name: str, typed: Typed, now: datetime, *, who: str = "", dry_run: bool = False
) -> tuple[int | None, tuple[str, ...]]:
    """Save what a table says that wasn't said before; gives the document that says so, and what left active use.

    Raises
    ------
    BadEntryError
        With every fault, its column 'field:KEY'; nothing is saved then.
    """
    rows = _MADE[name](book, _by_row(typed), now.date())
    wanted = {stem: [row for _, row in mine] for stem, mine in rows.items() if mine}
    if not wanted:
        return None, ()
    try:
        return save_all(book, wanted, now, who=who, dry_run=dry_run)
    except BadEntryError as refused:
        raise BadEntryError([_named(name, problem, rows) for problem in refused.problems]) from refused


def table_cost(book: Book, job: str, typed: Typed, now: datetime) -> Costed | None:
    """Cost a job's recipe as it is being typed; nothing where it is as it was, or has no line yet.

    Raises
    ------
    StockroomError
        If it isn't one yet.
    """
    before, names = _before(book, now.date())
    mine = {key: cells for key, cells in _by_row(typed).items() if key.partition(NEW)[0] == job}
    rows = [row for _, row in _lines(job, mine, before.get(job, ()), names, now.date())]
    return costed(book, rows, now) if rows else None


def _by_row(typed: Typed) -> dict[str, dict[str, str]]:
    found: dict[str, dict[str, str]] = {}
    for name, text in typed.items():
        field, _, key = name.partition(":")
        found.setdefault(key, {})[field] = text.strip()
    return found


def _fresh(name: str, typed: Mapping[str, _Cells]) -> Iterable[_Keyed]:
    """Give the new rows that say anything of their own."""
    own = [column.field for column in TABLES[name] if not column.carried]
    every = [column.field for column in TABLES[name]]
    for key, cells in typed.items():
        if key.startswith(NEW) and any(cells.get(field) for field in own):
            yield key, {field: cells.get(field, "") for field in every}


def _over(row: _Cells, stem: str, shown: _Cells, cells: _Cells, fields: Iterable[str]) -> dict[str, str]:
    """Give a row with what was typed over; what was left as it was shown stays as it is."""
    names = {column.field: column.name for columns in TABLES.values() for column in columns if column.stem == stem}
    typed = {field: cells[field] for field in fields if field in cells and field in names}
    return {**row, **{names[field]: text for field, text in typed.items() if text != shown.get(field, "")}}


def _new_row(stem: str, cells: _Cells) -> dict[str, str]:
    blank = {column.name: "" for column in KINDS[stem].columns}
    mine = [column for columns in TABLES.values() for column in columns if column.stem == stem]
    return blank | {column.name: cells[column.field] for column in mine if column.field in cells}


def _coded(rows: Iterable[_Keyed], stem: str, taken: Iterable[str]) -> list[_Keyed]:
    """Give new rows the codes that are made of their names."""
    known, found = set(taken), []
    for key, row in rows:
        row["code"] = proposed_code(row["name"], known, LISTS[stem].one)
        known.add(row["code"])
        found.append((key, row))
    return found


def _made_suppliers(book: Book, typed: Mapping[str, _Cells], day: date) -> _Rows:
    there = entries(book, LISTS["suppliers"], day)
    rows = []
    for each in there:
        cells = typed.get(each.key[0], {})
        row = _over(each.rows[0], "suppliers", _cells("suppliers", each.rows[0]), cells, cells)
        rows += [(each.key[0], row)] if row != each.rows[0] else []
    fresh = ((key, _new_row("suppliers", cells)) for key, cells in _fresh("suppliers", typed))
    return {"suppliers": [*rows, *_coded(fresh, "suppliers", (e.key[0] for e in there))]}


def _made_jobs(book: Book, typed: Mapping[str, _Cells], day: date) -> _Rows:
    """Make rows of jobs; one that comes 0 times a week isn't done here."""
    there = entries(book, LISTS["jobs"], day)
    rows = []
    for each in there:
        cells = dict(typed.get(each.key[0], {}))
        row = dict(each.rows[0])
        if "week" in cells:
            done = not _is_none(cells["week"])
            cells["week"] = cells["week"] if done else ""
            row["active"] = "yes" if done else "no"
        row = _over(row, "jobs", _cells("jobs", each.rows[0]), cells, cells)
        rows += [(each.key[0], row)] if row != each.rows[0] else []
    fresh = ((key, _new_row("jobs", cells)) for key, cells in _fresh("jobs", typed))
    return {"jobs": [*rows, *_coded(fresh, "jobs", (e.key[0] for e in there))]}


def _is_none(text: str) -> bool:
    return bool(text) and not text.replace(",", "").replace(".", "").strip("0 ")


def _made_materials(book: Book, typed: Mapping[str, _Cells], day: date) -> _Rows:
    """Make rows of materials and of what they are offered for; the usual cost follows the pack's price."""
    with book.reading() as session:
        shop = catalogue.read_shop(session)
    made: _Rows = {"materials": [], "offers": []}
    there = _bought(book, day)
    for each in there:
        cells = typed.get(each.material.code, {})
        if each.material.active and cells:
            _typed_over(each, cells, shop, day, made)
    fresh = ((key, _new_row("materials", cells)) for key, cells in _fresh("materials", typed))
    for key, row in _coded(fresh, "materials", (each.material.code for each in there)):
        cells = typed[key]
        if row["sell price"] and not row["purpose"]:
            row["purpose"] = Purpose.COUNTER.value
        bought = bool(cells.get("supplier") and (cells.get("pack") or cells.get("price"))) or bool(cells.get("pack"))
        if bought:
            made["offers"].append((key, _offer(cells, row["code"], day)))
        made["materials"].append((key, row | _usual_cost(cells.get("price", ""), _packed(cells), shop)))
    return made


def _typed_over(each: _Bought, cells: _Cells, shop: Shop, day: date, made: _Rows) -> None:
    shown, code = each.cells, each.material.code
    row = _over(each.entry.rows[0], "materials", shown, cells, ("sell", "week"))
    price = cells.get("price", shown["price"])
    offered = each.offer is None and any(cells.get(field) for field in ("supplier", "pack"))
    if offered:
        made["offers"].append((code, _offer(cells, code, day)))
        row |= _usual_cost(price, _packed(cells), shop)
    elif price != shown["price"]:
        if each.offer is not None:
            made["offers"].append((code, {**each.offer.rows[0], "price": price, "valid from": day.isoformat()}))
        if each.priced_by_pack:
            row |= _usual_cost(price, each.units, shop)
    made["materials"] += [(code, row)] if row != each.entry.rows[0] else []


def _offer(cells: _Cells, code: str, day: date) -> dict[str, str]:
    return _new_row("offers", cells) | {"material": code, "valid from": day.isoformat()}


def _packed(cells: _Cells) -> Fraction | None:
    """Give how many units the pack that was typed holds; nothing where that can't be read."""
    if not cells.get("pack"):
        return Fraction(1)
    try:
        return Fraction(number(cells["pack"])) or None
    except StockroomError:  # said of the pack, in the words of its file
        return None


def _usual_cost(price: str, units: Fraction | None, shop: Shop) -> dict[str, str]:
    """Say what a unit costs by the price of a pack: exactly, for the pack's whole number of units, where it has one."""
    if not price or units is None or units < 0:
        return {}
    if units.denominator == 1:
        return {"usual cost": price, "usual cost for": str(units.numerator) if units != 1 else ""}
    try:
        paid = minor(number(price), shop.currency_digits)
    except StockroomError:  # what is wrong with it is said of the pack's price, in the file's words
        return {}
    each = major(half_up(Fraction(paid) / units), shop.currency_digits)
    return {"usual cost": f"{each:f}".replace(".", marks_of(shop.locale).decimal), "usual cost for": ""}


def _made_recipes(book: Book, typed: Mapping[str, _Cells], day: date) -> _Rows:
    """Make a new version of each recipe that says something else now."""
    by_job: dict[str, dict[str, _Cells]] = {}
    for key, cells in typed.items():
        by_job.setdefault(key.partition(NEW)[0], {})[key] = cells
    before, names = _before(book, day)
    return {
        "recipes": [row for job, lines in by_job.items() for row in _lines(job, lines, before.get(job, ()), names, day)]
    }


def _before(book: Book, day: date) -> tuple[dict[str, tuple[_Cells, ...]], dict[str, str]]:
    """Give the recipes as they stand, by job, and what materials are called."""
    recipes = {e.key[0]: tuple(e.rows) for e in entries(book, LISTS["recipes"], day)}
    return recipes, {e.key[0]: e.name for e in entries(book, LISTS["materials"], day)}


def _lines(
    job: str, typed: Mapping[str, _Cells], before: Sequence[_Cells], names: Mapping[str, str], day: date
) -> list[_Keyed]:
    """Give the lines of a recipe as rows, or none where they are as before; one that is emptied is left out."""
    whole = {name: before[0].get(name, "") if before else "" for name in ("reference size", "source")}
    called, rows = set[str](), list[_Keyed]()
    for key, cells in typed.items():
        if not any(cells.values()):
            continue
        old = before[_number(key)] if _number(key) < len(before) else None
        row = _over(old, "recipes", _line(old, names), cells, cells) if old else _new_row("recipes", cells)
        row |= {"job": job, "valid from": day.isoformat(), **whole}
        row["line"] = row["line"] or cells.get("option") or cells.get("material") or str(len(rows) + 1)
        if row["line"] in called:
            row["line"] = f"{row['line']} {len(rows) + 1}"
        called.add(row["line"])
        rows.append((key, row))
    if before and typed and not rows:
        what = phrase("A recipe needs one line at least")
        raise BadEntryError([Problem(what=what, fix="Change a line instead.", column=f"material:{next(iter(typed))}")])
    said = [{**row, "valid from": ""} for _, row in rows]
    return rows if said != [{**row, "valid from": ""} for row in before] else []


def _number(key: str) -> int:
    digits = key.partition(NEW)[2]
    return int(digits) if digits.isdecimal() and len(digits) < _LONGEST else 10**_LONGEST


_MADE: Mapping[str, Callable[[Book, Mapping[str, _Cells], date], _Rows]] = {
    "suppliers": _made_suppliers,
    "materials": _made_materials,
    "jobs": _made_jobs,
    "recipes": _made_recipes,
}


def _named(name: str, problem: Problem, rows: Mapping[str, Sequence[tuple[str, _Cells]]]) -> Problem:
    """Say of which field of the table a problem is: its rows have no numbers for who fills it in."""
    stem = next((stem for stem in rows if LISTS[stem].kind.title == problem.file), "")
    mine = rows.get(stem, ())
    key = mine[problem.row - 1][0] if problem.row is not None and 0 < problem.row <= len(mine) else ""
    column = LISTS[stem].kind.headers.get(problem.column, problem.column) if stem else ""
    fields = {(each.stem, each.name): each.field for each in TABLES[name]} | _SEEN_AS
    field = fields.get((stem, column), TABLES[name][0].field)
    return Problem(what=problem.what, fix=problem.fix, column=f"{field}:{key}" if key else "")
