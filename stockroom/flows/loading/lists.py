"""Add to a list, change what it says or take something out of it: by the rows of its file, read as files are.

So whatever a file is refused for, a form and a command are refused for too. Each change is a document: who, when, what
was said before and what is said now; it can be undone.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from fractions import Fraction
from typing import Any

from stockroom.errors import BadEntryError, BadFileError, Problem, UnknownError, UsageError, nearest
from stockroom.flows.book.snapshot import facts_for_files
from stockroom.flows.book.terms import terms_of
from stockroom.flows.loading.load import NotKept, enter_lists, keep
from stockroom.intake.cells import marks_of
from stockroom.intake.columns import KINDS, FileKind
from stockroom.intake.known import BookFacts, LoadScope
from stockroom.intake.load import read_rows
from stockroom.intake.loaded import Loaded
from stockroom.intake.written_rows import Row, RowWriter, writers
from stockroom.phrases import as_phrase, phrase, trimmed
from stockroom.stock.materials import Material, Purpose
from stockroom.stock.money import half_up
from stockroom.stock.quantities import NANO, Unit
from stockroom.stock.recipes import Catalogue, Recipe, RecipeLine, in_force, recipe_catalogue, times_for_pair
from stockroom.stock.shop import Shop
from stockroom.stock.suppliers import current, unit_costs
from stockroom.stock.tickets import by_job
from stockroom.stock.typed import proposed_code
from stockroom.store import catalogue, list_changes
from stockroom.store.agreements import read_standing_orders, read_substitutes
from stockroom.store.book import Book, Session
from stockroom.store.postage import read_postage


@dataclass(frozen=True, slots=True, kw_only=True)
class ListKind:
    """A list that forms and commands change."""

    stem: str
    one: str  # what one entry is called
    key: tuple[str, ...]  # columns that name an entry
    dated: str = ""  # the column that says from when a change holds
    coded: bool = False  # an entry keeps its code for good

    @property
    def kind(self) -> FileKind:
        """The kind of file that declares its columns."""
        return KINDS[self.stem]


LISTS: dict[str, ListKind] = {
    each.stem: each
    for each in (
        ListKind(stem="materials", one="material", key=("code",), coded=True),
        ListKind(stem="suppliers", one="supplier", key=("code",), coded=True),
        ListKind(
            stem="offers",
            one="offer",
            key=("supplier", "material", "supplier code", "pack", "unit", "valid from"),
            dated="valid from",
        ),
        ListKind(stem="jobs", one="job", key=("code",), coded=True),
        ListKind(stem="recipes", one="recipe", key=("job",), dated="valid from"),
        ListKind(stem="closures", one="closure", key=("first", "last", "who")),
        ListKind(stem="events", one="event", key=("name", "day")),
        ListKind(stem="postage", one="parcel", key=("code",), coded=True),
        ListKind(stem="services", one="service", key=("code",), coded=True),
        ListKind(stem="substitutes", one="substitute", key=("material", "substitute")),
        ListKind(stem="standing", one="standing order", key=("supplier", "material", "supplier code", "first")),
    )
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry of a list, as rows of its file: several for a recipe, one for all else."""

    key: tuple[str, ...]
    rows: tuple[Row, ...]
    noun: Any

    @property
    def name(self) -> str:
        """What it is called."""
        return str(getattr(self.noun, "name", "") or self.key_text)

    @property
    def key_text(self) -> str:
        """What it is found by, as one text."""
        return " · ".join(part for part in self.key if part)


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved:
    """What saving did."""

    document: int | None  # None: nothing was said that wasn't said before
    changed: tuple[tuple[str, str, str, str], ...]  # recipe line, column, what it said, what it says
    notes: tuple[str, ...] = ()
    priced_for: str = ""  # what a material's prices are for, such as '1000 pieces'
    key: tuple[str, ...] = ()  # of the entry


def list_kind(word: str) -> ListKind:
    """Find a list by its name, or by what one entry of it is called.

    Raises
    ------
    UnknownError
        If there is no such list.
    """
    found = {name: each for each in LISTS.values() for name in (each.stem, each.kind.title, each.one)}
    meant = word.casefold() if word.casefold() in found else word.casefold().replace("-", " ")
    if meant not in found:
        names = ", ".join(each.one for each in LISTS.values())
        hint = nearest(word, found) or phrase("There is: %(known)s.", known=names)
        raise UnknownError(phrase("There is no list '%(name)s'.", name=word), fix=hint)
    return found[meant]


def entries(book: Book, kind: ListKind, day: date) -> list[Entry]:
    """List the entries that hold on a day, or will: of offers and recipes the newest, not those they replaced."""
    with book.reading() as session:
        return _entries(session, kind, day)


def find(book: Book, kind: ListKind, parts: Sequence[str], day: date) -> Entry:
    """Find an entry by parts of its key, in any order.

    Raises
    ------
    UnknownError
        If there is none.
    UsageError
        If there are several.
    """
    every = entries(book, kind, day)
    wanted = [part.casefold() for part in coded(book, kind, parts)]
    found = [e for e in every if all(part in [each.casefold() for each in e.key] for part in wanted)]
    exactly = [e for e in every if tuple(wanted) == tuple(each.casefold() for each in e.key)]
    found = exactly or _then(kind, found, day)
    if not found:
        known = {part for entry in every for part in entry.key if part}
        raise UnknownError(
            phrase("No entry of %(list)s is called '%(name)s'.", list=kind.kind.title, name=" ".join(parts)),
            fix=next(filter(None, (nearest(part, known) for part in parts)), "")
            or phrase("See them all: stockroom change %(list)s", list=kind.one),
        )
    if len(found) > 1:
        raise UsageError(
            phrase("Several entries of %(list)s fit.", list=kind.kind.title),
            fix=phrase("Say which: %(which)s.", which="; ".join(" ".join(filter(None, e.key)) for e in found[:5])),
        )
    return found[0]


def coded(book: Book, kind: ListKind, parts: Sequence[str]) -> list[str]:
    """Give the codes of what parts of a key name; a part that is no name of only one stays as it is."""
    with book.reading() as session:
        known = LoadScope(facts_for_files(session))
    lists = {kind.stem} if kind.coded else {column.refers_to for column in kind.kind.columns if column.name in kind.key}
    kinds = [stem for stem in ("suppliers", "jobs", "materials") if stem in lists]
    return [next(filter(None, (known.meant(stem, part) for stem in kinds)), part) for part in parts]


def _then(kind: ListKind, found: list[Entry], day: date) -> list[Entry]:
    """Of entries that differ only in the day from which they hold, keep the one for a day, or the first to come."""
    if not kind.dated or kind.dated not in kind.key:
        return found
    place = kind.key.index(kind.dated)
    if len({entry.key[:place] + entry.key[place + 1 :] for entry in found}) != 1:
        return found
    holds = [entry for entry in found if entry.key[place] <= day.isoformat()]
    return [max(holds, key=lambda e: e.key[place]) if holds else min(found, key=lambda e: e.key[place])]


def save(
    book: Book,
    kind: ListKind,
    rows: Sequence[Row],
    now: datetime,
    *,
    before: Entry | None = None,
    who: str = "",
    dry_run: bool = False,
) -> Saved:
    """Save an entry: a new one, or in the place of one that is there.

    Raises
    ------
    BadEntryError
        With every fault of it; nothing is saved then.
    RefusedError
        If a new one is there already, or the change leaves a recipe without its material.
    """
    _check_said(kind, rows)
    saved: list[Saved] = []
    try:
        with book.writing(at=now, who=who) as session:
            shop, known = catalogue.read_shop(session), facts_for_files(session)
            rows = _coded(kind, _meaning(kind, rows, known), _codes(session, kind, known, now.date()), before)
            loaded = read_typed(kind, rows, known, shop, now)
            if before is not None and not kind.dated and not kind.coded:
                _drop(session, kind, before.noun)
            catalogue.add_recipes(session, loaded.recipes, back=True)
            enter_lists(session, loaded)
            catalogue.check_recipes(session)
            written = _writer(session, kind)
            said = [row for noun in getattr(loaded, kind.stem) for row in written(noun)]
            changed = _changed(kind, before.rows if before else (), said)
            document = list_changes.say_now(session)
            remarks = (*loaded.notes, *_remarks(session, loaded, now))
            priced_for = _priced_for(said[0])
            key = tuple(said[0].get(name, "") for name in kind.key)
            saved.append(Saved(document=document, changed=changed, notes=remarks, priced_for=priced_for, key=key))
            keep(dry_run=dry_run)
    except NotKept:
        pass
    return saved[0]


def _check_said(kind: ListKind, rows: Sequence[Row]) -> None:
    """Refuse an entry of which nothing is said: in a file such a row is none, here it was meant as one."""
    if any(text.strip() for row in rows for text in row.values()):
        return
    needed = [each for each in kind.kind.columns if each.required and not (kind.coded and each.name == "code")]
    raise BadEntryError(
        [
            Problem(
                column=each.title,
                what=trimmed("The cell is blank, but it is needed."),
                fix=phrase("Fill it in: %(meaning)s", meaning=as_phrase(each.meaning)),
            )
            for each in needed
        ]
    )


def _priced_for(row: Row) -> str:
    """Say what the usual cost on a material's row is for."""
    return " ".join(filter(None, (row.get("usual cost for", ""), row.get("unit", "")))) if "usual cost" in row else ""


def save_all(
    book: Book, rows: Mapping[str, Sequence[Row]], now: datetime, *, who: str = "", dry_run: bool = False
) -> tuple[int | None, tuple[str, ...]]:
    """Save entries of several lists at once, all or none; gives the document that says so, and what left active use.

    A material that only jobs no longer done took is set aside with them.

    Raises
    ------
    BadEntryError
        With every fault; nothing is saved then.
    """
    done: tuple[int | None, tuple[str, ...]] = None, ()
    try:
        with book.writing(at=now, who=who) as session:
            shop, known = catalogue.read_shop(session), facts_for_files(session)
            loaded = _all_typed(rows, known, shop, now)
            before = {job.code: job.active for job in catalogue.read_jobs(session)}
            catalogue.add_recipes(session, loaded.recipes, back=True)
            enter_lists(session, loaded)
            catalogue.check_recipes(session)
            given_up = {job.code for job in loaded.jobs if before.get(job.code) and not job.active}
            aside = _only_used_by(session, given_up, now.date())
            catalogue.save_materials(session, [replace(material, active=False) for material in aside])
            done = list_changes.say_now(session), tuple(material.name for material in aside)
            keep(dry_run=dry_run)
    except NotKept:
        pass
    return done


def _all_typed(rows: Mapping[str, Sequence[Row]], known: BookFacts, shop: Shop, now: datetime) -> Loaded:
    try:
        return read_rows(rows, known, locale=shop.locale, digits=shop.currency_digits, now=now)
    except BadFileError as refused:
        raise BadEntryError(refused.problems) from refused


def _only_used_by(session: Session, given_up: Collection[str], day: date) -> list[Material]:
    """Give the materials of the bench that no other job takes than those given up."""
    if not given_up:
        return []
    materials = catalogue.read_materials(session)
    codes: dict[str, set[str]] = {}
    for material in materials:
        codes.setdefault(material.code, set()).add(material.code)
        codes.setdefault(material.group, set()).add(material.code)
    taken: dict[str, set[str]] = {}
    jobs = {job.code for job in catalogue.read_jobs(session) if job.active}
    for job, versions in by_job(catalogue.read_recipes(session)).items():
        recipe = in_force(versions, day)
        for line in recipe.lines if recipe else ():
            taken.setdefault(job, set()).update(codes.get(line.material, ()) if line.material else ())
    mine = set[str]().union(*(taken.get(job, set()) for job in given_up))
    others = set[str]().union(*(taken.get(job, set()) for job in jobs))
    return [m for m in materials if m.active and m.purpose is Purpose.BENCH and m.code in mine - others]


def _remarks(session: Session, loaded: Loaded, now: datetime) -> tuple[str, ...]:
    """Say what an entry leaves open that is no fault of it."""
    recipes = _in_force(session, now.date())
    names = {line.material: recipe.job for recipe in recipes for line in recipe.lines if line.material}
    old = [m for m in loaded.materials if m.replaces in names]
    if old or not loaded.events:
        return tuple(
            phrase(
                "Recipes still name %(old)s, such as that of %(job)s. To let them all take %(new)s: stockroom replace "
                "%(old)s %(new)s",
                old=m.replaces, new=m.code, job=names[m.replaces],
            )
            for m in old
        )  # fmt: skip
    from stockroom.flows.outlook.coming import unknown_ahead  # noqa: PLC0415 -- slow import, only for events

    return unknown_ahead(session, loaded.events, now)


def _in_force(session: Session, day: date) -> list[Recipe]:
    versions = by_job(catalogue.read_recipes(session)).values()
    return [recipe for each in versions if (recipe := in_force(each, day)) is not None]


def remove(book: Book, kind: ListKind, entry: Entry, now: datetime, *, who: str = "") -> int | None:
    """Take an entry out that nothing else names; gives the document that says so.

    Raises
    ------
    RefusedError
        If something in the book names it.
    """
    with book.writing(at=now, who=who) as session:
        _drop(session, kind, entry.noun)
        catalogue.check_recipes(session)
        return list_changes.say_now(session)


def read_typed(kind: ListKind, rows: Sequence[Row], known: BookFacts, shop: Shop, now: datetime) -> Loaded:
    """Read rows as rows of a file; what is wrong names the column, and the row where there are several.

    Raises
    ------
    BadEntryError
        With every fault.
    """
    try:
        return read_rows({kind.stem: rows}, known, locale=shop.locale, digits=shop.currency_digits, now=now)
    except BadFileError as refused:
        alone = len(rows) == 1
        problems = [replace(p, file="" if p.column else p.file, row=None if alone else p.row) for p in refused.problems]
        raise BadEntryError(problems) from refused


def _changed(kind: ListKind, before: Sequence[Row], rows: Sequence[Row]) -> tuple[tuple[str, str, str, str], ...]:
    """Say what rows say otherwise than before; those of a recipe are told apart by the names of its lines."""
    was = {row.get("line", ""): row for row in before}
    now = {row.get("line", ""): row for row in rows}
    found = []
    for line in dict.fromkeys([*was, *now]):
        old, new = was.get(line, {}), now.get(line, {})
        for name in (column.name for column in kind.kind.columns):
            pair = old.get(name, ""), new.get(name, "")
            if pair[0] != pair[1]:
                found.append((line, name, *pair))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Costed:
    """What a job's usual work costs in materials at today's offers, and what its price leaves. Minor units."""

    materials: int
    price: int | None
    left: Fraction | None  # share of the price without tax
    unpriced: tuple[str, ...]  # materials whose cost is not known


def costed(book: Book, rows: Sequence[Row], now: datetime) -> Costed:
    """Cost a recipe that is being typed: a pair at its reference size, with the usual option of each choice.

    Raises
    ------
    BadEntryError
        With every fault of it.
    StockroomError
        If it doesn't say which variant of a group it uses.
    """
    with book.reading() as session:
        shop, known, terms = catalogue.read_shop(session), facts_for_files(session), terms_of(session)
    recipe = read_typed(LISTS["recipes"], rows, known, shop, now).recipes[0]
    day, shelf = now.date(), recipe_catalogue(list(known.materials.values()))
    used = [each for line in recipe.lines if (each := _usual(recipe, line, shelf)) is not None]
    costs = unit_costs(known.materials.values(), current(known.offers, day), lambda offer: terms.borne(offer, day))
    job = known.jobs[recipe.job]
    total = half_up(sum((Fraction(nano, NANO) * costs[code] for code, nano in used), Fraction(0)))
    net = terms.rules.sale(job.price, job.code, day).net if job.price else 0
    return Costed(
        materials=total,
        price=job.price,
        left=1 - Fraction(total, net) if net else None,
        unpriced=tuple(dict.fromkeys(code for code, _ in used if not costs[code])),
    )


def _usual(recipe: Recipe, line: RecipeLine, shelf: Catalogue) -> tuple[str, int] | None:
    """Give what a line usually takes for a pair: of a group, as its first variant that fits the reference size."""
    chosen = not line.choice or recipe.choices[line.choice][0] == line.option
    if not chosen or not line.material:
        return None
    variants = [shelf.materials[line.material]] if line.material in shelf.materials else shelf.groups[line.material]
    fitting = [m for m in variants if any(m.fits(size) for size in recipe.reference)] or variants
    return fitting[0].code, fitting[0].to_base(line.amount).times(times_for_pair(recipe, line)).nano


def _meaning(kind: ListKind, rows: Sequence[Row], known: BookFacts) -> list[dict[str, str]]:
    """Give rows in which the names of others of the list are their codes."""
    book = LoadScope(known)
    others = [name for name in ("like", "replaces") if any(row.get(name) for row in rows)]
    return [{**row, **{name: book.meant(kind.stem, row[name]) or row[name] for name in others}} for row in rows]


def _codes(session: Session, kind: ListKind, known: BookFacts, day: date) -> set[str]:
    """Give the codes that the list has already."""
    there = {noun.code for noun in _NOUNS[kind.stem](session, known, day)} if kind.coded else set()
    return there | set(known.jobs if kind.stem == "jobs" else ())  # 'other' is a job, though on no list


def _coded(kind: ListKind, rows: Sequence[Row], there: Collection[str], before: Entry | None) -> Sequence[Row]:
    """Give a new entry without a code one of its name; refuse to add what is there, and to give another code."""
    if not kind.coded:
        return rows
    code = rows[0].get("code", "").strip()
    name = rows[0].get("name", "").strip()
    if before is None and not code and name:
        return [{**rows[0], "code": proposed_code(name, there, kind.one)}]
    if before is None and code in there:
        what = phrase("'%(code)s' is there already", code=code)
        raise BadEntryError([Problem(what=what, fix="Choose another code, or change that one.", column="code")])
    if before is not None and before.key != (code,):
        what = phrase("'%(code)s' keeps its code: documents name it", code=before.key[0])
        raise BadEntryError([Problem(what=what, fix="Add a new one, and mark this one as not active.", column="code")])
    return rows


def _entries(session: Session, kind: ListKind, day: date) -> list[Entry]:
    write, known = _writer(session, kind), facts_for_files(session)
    found = []
    for noun in _NOUNS[kind.stem](session, known, day):
        rows = write(noun)
        found.append(Entry(key=tuple(rows[0].get(name, "") for name in kind.key), rows=rows, noun=noun))
    return found


def _writer(session: Session, kind: ListKind) -> Callable[[Any], tuple[Row, ...]]:
    """Give what writes an entry's rows as the shop's country writes figures."""
    shop, units = catalogue.read_shop(session), dict[str, Unit]()
    for material in catalogue.read_materials(session):
        units[material.code] = material.unit
        units.setdefault(material.group or material.code, material.unit)
    write = writers(RowWriter(marks_of(shop.locale), shop.currency_digits, units))[kind.stem]

    def rows(noun: Any) -> tuple[Row, ...]:  # noqa: ANN401 -- of any list
        written = write(noun)
        return written if isinstance(written, tuple) else (written,)

    return rows


def _offers(_session: Session, known: BookFacts, day: date) -> Iterable[Any]:
    coming = [offer for offer in known.offers if offer.valid_from > day]
    return sorted([*current(known.offers, day), *coming], key=lambda o: (o.supplier, o.material, o.valid_from))


def _recipes(_session: Session, known: BookFacts, day: date) -> Iterable[Any]:
    found = (in_force(versions, day) or versions[-1] for _, versions in sorted(known.recipes.items()))
    return [version for version in found if version.lines]


_NOUNS: Mapping[str, Callable[[Session, BookFacts, date], Iterable[Any]]] = {
    "materials": lambda _s, known, _d: known.materials.values(),
    "suppliers": lambda _s, known, _d: known.suppliers.values(),
    "offers": _offers,
    "jobs": lambda session, _k, _d: catalogue.read_jobs(session),
    "recipes": _recipes,
    "closures": lambda session, _k, _d: catalogue.read_closures(session),
    "events": lambda session, _k, _d: catalogue.read_events(session),
    "postage": lambda session, _k, _d: read_postage(session),
    "services": lambda session, _k, _d: catalogue.read_services(session),
    "substitutes": lambda session, _k, _d: read_substitutes(session),
    "standing": lambda session, _k, _d: read_standing_orders(session),
}


def _drop(session: Session, kind: ListKind, noun: Any) -> None:  # noqa: ANN401 -- of any list
    if kind.stem == "recipes":
        catalogue.drop_recipe(session, noun)
        return
    list_changes.drop(session, kind.stem.removesuffix("s"), [_STORED[kind.stem](noun)])


_STORED: Mapping[str, Callable[[Any], tuple[Any, ...]]] = {
    "materials": lambda m: (m.code,),
    "suppliers": lambda s: (s.code,),
    "offers": lambda o: (o.supplier, o.material, o.supplier_code, o.pack.nano, o.valid_from.isoformat()),
    "jobs": lambda j: (j.code,),
    "postage": lambda p: (p.code,),
    "services": lambda s: (s.code,),
    "closures": lambda c: (c.who, c.first.isoformat(), c.last.isoformat()),
    "events": lambda e: (e.name, e.day.isoformat()),
    "substitutes": lambda s: (s.material, s.other),
    "standing": lambda s: (s.supplier, s.material, s.supplier_code, s.first.isoformat()),
}
