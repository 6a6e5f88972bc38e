"""Load what was read from files: one transaction, whole or not at all, and twice the same as once.

Where a file says something else than the book does already, that is named and never entered.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any, cast

from stockroom.errors import BadFileError, Problem
from stockroom.flows.book.opening import changed
from stockroom.flows.book.snapshot import facts_for_files
from stockroom.flows.loading.documents import LoadedDocument, LoadedDocuments, delivery_key
from stockroom.flows.ordering.receive import far_from_usual
from stockroom.flows.posting.post import Bins, brought_before, post, post_one
from stockroom.intake.loaded import Loaded
from stockroom.phrases import Number, as_phrase, joined, phrase, plural
from stockroom.show.formats import formats_of
from stockroom.stock.agreements import Substitute
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.materials import Material
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.orders import Delivery
from stockroom.stock.postings import Fixed
from stockroom.stock.recipes import OTHER
from stockroom.stock.shop import Shop
from stockroom.stock.suppliers import current
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store import agreements, catalogue, counts, ledger, postage
from stockroom.store.book import Book, Session

Progress = Callable[[str, int, int | None], None]  # what is being done, how far, of how much
_TOGETHER = 2000  # documents written at once


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadReport:
    """What a load read, and what of it was new to the book."""

    rows: Mapping[str, int]
    documents: int
    already: int
    notes: tuple[str, ...]
    dry_run: bool


class NotKept(Exception):  # noqa: N818 -- not a fault
    """Rolls back, at its end, what was done only to be checked."""


def load_files(
    book: Book,
    paths: Sequence[str | Path],
    now: datetime,
    *,
    dry_run: bool = False,
    progress: Progress | None = None,
) -> LoadReport:
    """Read files and folders, check them whole, and enter them.

    Raises
    ------
    BadFileError
        With every problem found; then nothing was loaded.
    """
    from stockroom.intake.load import read_files  # noqa: PLC0415 -- only a load reads files

    report: list[LoadReport] = []
    try:
        with book.writing(at=now) as session:
            shop = catalogue.read_shop(session)
            known = facts_for_files(session)
            digits = shop.currency_digits
            loaded = read_files(paths, known, locale=shop.locale, digits=digits, progress=progress, now=now)
            report.append(enter(session, loaded, now, progress=progress, dry_run=dry_run))
            keep(dry_run=dry_run)
    except NotKept:
        pass
    return report[0]


def keep(*, dry_run: bool) -> None:
    """End a transaction: what was only checked is taken back."""
    if dry_run:
        raise NotKept


def enter(
    session: Session, loaded: Loaded, now: datetime, *, progress: Progress | None = None, dry_run: bool = False
) -> LoadReport:
    """Enter checked facts: lists first, then documents in the order in which they happened."""
    shop = enter_lists(session, loaded)
    entering = LoadedDocuments(session, shop, now)
    documents = entering.documents(loaded)
    before = ledger.balances(session)
    fresh = _post_in_order(session, documents, now, progress)
    entering.after(loaded, fresh)
    doubtful = looks_wrong(entering, loaded.deliveries, fresh, before)
    otherwise = said_otherwise(entering, documents, loaded.tickets, set(fresh))
    return LoadReport(
        rows=dict(loaded.rows),
        documents=len(fresh),
        already=len(documents) - len(fresh) + entering.passed_over,
        notes=(*loaded.notes, *doubtful, *otherwise),
        dry_run=dry_run,
    )


def enter_lists(session: Session, loaded: Loaded) -> Shop:
    """Enter checked settings and lists."""
    shop = changed(catalogue.read_shop(session), loaded.settings)
    catalogue.save_shop(session, shop)
    _same_dimension(session, loaded.materials)
    catalogue.save_materials(session, loaded.materials)
    catalogue.save_suppliers(session, loaded.suppliers)
    catalogue.save_offers(session, loaded.offers)
    catalogue.save_jobs(session, loaded.jobs)
    catalogue.add_recipes(session, loaded.recipes)
    catalogue.save_closures(session, loaded.closures)
    catalogue.save_events(session, loaded.events)
    postage.save_postage(session, loaded.postage)
    catalogue.save_services(session, loaded.services)
    _not_turned(session, loaded.substitutes)
    agreements.save_substitutes(session, loaded.substitutes)
    agreements.save_standing_orders(session, loaded.standing)
    return shop


def _not_turned(session: Session, fresh: Sequence[Substitute]) -> None:
    """Refuse a pair of substitutes that is on the list the other way round."""
    there = {(each.other, each.material) for each in agreements.read_substitutes(session)}
    turned = [each for each in fresh if (each.material, each.other) in there]
    if turned:
        raise BadFileError([
            Problem(
                what=phrase(
                    "%(other)s and %(material)s are on the list already, the other way round",
                    other=each.other, material=each.material,
                ),
                fix="Change that entry",
                column="substitute",
            )
            for each in turned
        ])  # fmt: skip


def _same_dimension(session: Session, materials: Sequence[Material]) -> None:
    """Refuse to turn a material that has moved from grams into metres."""
    before = {m.code: m for m in catalogue.read_materials(session)}
    moved = ledger.used_materials(session)
    wrong = [m for m in materials if m.code in moved and before[m.code].dimension is not m.dimension]
    if wrong:
        raise BadFileError([
            Problem(
                what=phrase(
                    "%(material)s is kept by %(before)s and has moved; it can't become %(dimension)s",
                    material=m.code, before=before[m.code].dimension, dimension=m.dimension,
                ),
                fix="Give the changed material a new code",
                column="unit",
                value=m.unit.name,
            )
            for m in wrong
        ])  # fmt: skip


def _post_in_order(
    session: Session, documents: Sequence[LoadedDocument], now: datetime, progress: Progress | None
) -> dict[str, int]:
    """Enter documents as they happened; each count is settled once everything before it is in."""
    fresh: dict[str, int] = {}
    waiting: list[Document] = []
    for done, document in enumerate(documents, start=1):
        if document.count is None:
            waiting.append(document.document)
        if waiting and (document.count is not None or len(waiting) >= _TOGETHER or done == len(documents)):
            fresh |= _post(session, waiting)
            waiting = []
        if document.count is not None:
            fresh |= _settle(session, document.document, document.count, now)
        if progress and (done % 500 == 0 or done == len(documents)):
            progress(phrase("entering"), done, len(documents))
    return fresh


def _post(session: Session, documents: Sequence[Document]) -> dict[str, int]:
    posted = zip(documents, post(session, documents), strict=True)
    return {document.key: done.number for document, done in posted if done.fresh}


def _settle(session: Session, document: Document, count: Count, now: datetime) -> dict[str, int]:
    if brought_before(session, [document]):
        return {}
    numbers = counts.add_lines(session, count.key, count.lines, now)
    fixed = [
        Fixed(material=line.material, site=line.site, counted=line.counted, nano=line.amount.nano)
        for line in count.lines
    ]
    posted = post_one(session, document, bins=Bins(settled=tuple(fixed)))
    counts.mark(session, numbers, state="settled", settled_by=posted.number)
    return {document.key: posted.number}


_NAMED = 20  # notes of one kind that are read one by one
_GOODS = (DocumentKind.DELIVERY, DocumentKind.ORDER)
FACTS = ("job", "shoes", "size", "taken_in", "redo_of")
STATED = ("promised", "price", "finished")  # left blank in a file, they say nothing


def said_otherwise(
    entering: LoadedDocuments, documents: Sequence[LoadedDocument], loaded: Sequence[Ticket], new: set[str]
) -> list[str]:
    """Say what the files say otherwise than documents entered before; none of it changes anything."""
    return [
        *_some(_taken_back(entering)),
        *_some(_noted(entering)),
        *_some(_other_tickets(entering, loaded)),
        *_some(_other_goods(entering, [p.document for p in documents if p.document.key not in new])),
        *_some(_other_counts(entering, [p for p in documents if p.count and p.document.key not in new])),
    ]


def looks_wrong(
    entering: LoadedDocuments, deliveries: Sequence[Delivery], new: Collection[str], before: Mapping[str, int]
) -> list[str]:
    """Say what was entered and yet looks like a slip: shelves brought below zero, prices far from the usual ones."""
    write = formats_of(entering.shop)
    materials = entering.shelf.materials
    below = [
        phrase(
            "%(material)s: the book is below zero after this load (%(amount)s).",
            material=code,
            amount=write.amount(nano, materials[code].unit),
        )
        for code, nano in sorted(ledger.balances(entering.session).items())
        if nano < min(before.get(code, 0), 0)
    ]
    every = catalogue.read_offers(entering.session, {code: m.dimension for code, m in materials.items()})
    offers = cache(lambda day: current(every, day))
    far = [
        far_from_usual(line, materials[line.material], offers(delivery.received.date()), write.money)
        for delivery in deliveries
        if delivery_key(delivery) in new
        for line in delivery.lines
    ]
    return [*_some(below), *_some(filter(None, far)), *_without_recipe(entering)]


def _without_recipe(entering: LoadedDocuments) -> list[str]:
    """Say which finished tickets drew only what they name, because their job has no recipe."""
    done = [ticket.job for ticket in entering.news if ticket.state is TicketState.FINISHED]
    jobs = [job for job in done if job != OTHER.code and not entering.box.recipes.get(job)]
    if not jobs:
        return []
    return [
        plural(
            "%(num)s ticket drew only what it names, because its job has no recipe: %(jobs)s.",
            "%(num)s tickets drew only what they name, because their jobs have no recipe: %(jobs)s.",
            len(jobs),
            jobs=", ".join(sorted(set(jobs))),
        )
    ]


def _some(notes: Iterable[str]) -> list[str]:
    every = list(notes)
    rest = len(every) - _NAMED
    return [*every[:_NAMED], phrase("… and %(rest)s more of this kind.", rest=Number(rest))] if rest > 0 else every


def _taken_back(entering: LoadedDocuments) -> Iterable[str]:
    for number, document in entering.taken_back.items():
        state = entering.known[number].state
        by = ledger.reversal_of(entering.session, document)
        said = phrase(
            "Ticket %(number)s stays %(state)s: document %(document)s was entered before and undone.",
            number=number,
            state=state,
            document=document,
        )
        mend = phrase("To have it back: stockroom undo %(document)s", document=by) if by else ""
        yield joined((said, mend))


def _noted(entering: LoadedDocuments) -> Iterable[str]:
    for delivery, document in entering.noted:
        yield phrase(
            "Delivery note %(reference)s of %(supplier)s was entered before (document %(document)s); nothing of it was "
            "entered again.",
            reference=delivery.reference,
            supplier=delivery.supplier,
            document=document.id,
        )


def _other_tickets(entering: LoadedDocuments, loaded: Sequence[Ticket]) -> Iterable[str]:
    news = {ticket.number for ticket in entering.news} | entering.taken_back.keys()
    for ticket in loaded:
        if ticket.number not in news and (other := _differences(entering.known[ticket.number], ticket)):
            yield phrase(
                "Ticket %(number)s is in the book with another %(facts)s; nothing of it was changed.",
                number=ticket.number,
                facts=joined(other, ", "),
            )


def _differences(before: Ticket, ticket: Ticket) -> list[str]:
    other = [name for name in FACTS if getattr(before, name) != getattr(ticket, name)]
    other += [name for name in STATED if getattr(ticket, name) not in (None, getattr(before, name))]
    other += ["choice"] if any(before.chosen.get(n, o) != o for n, o in ticket.chosen.items()) else []
    if before.state is not ticket.state and ticket.state is not TicketState.BOOKED:
        return [*map(_named, other), phrase("status (%(state)s)", state=before.state)]
    return [_named(name) for name in other]


def _named(fact: str) -> str:
    return as_phrase(fact.replace("_", " "))


def _other_goods(entering: LoadedDocuments, again: Sequence[Document]) -> Iterable[str]:
    mine = {d.key: d for d in again if d.kind in _GOODS}
    numbers = sorted(ledger.known_keys(entering.session, mine).values())
    for kept in ledger.read_documents(entering.session, numbers=numbers) if numbers else []:
        if _gist(kept) != _gist(mine[kept.key]):
            yield _goods_otherwise(kept)


def _goods_otherwise(kept: Document) -> str:
    if kept.kind is DocumentKind.ORDER:
        return phrase(
            "Order %(name)s is already in the book with other details (document %(document)s); nothing of it was "
            "changed.",
            name=kept.subject,
            document=kept.id,
        )
    return phrase(
        "Delivery %(name)s is already in the book with other details (document %(document)s); nothing of it was "
        "changed.",
        name=kept.content.get("reference"),
        document=kept.id,
    )


def _gist(document: Document) -> tuple[Any, ...]:
    moves = [(m.material, m.nano, m.value, m.lot) for m in document.moves]
    content: dict[str, object] = {name: value for name, value in document.content.items() if value}  # as if left out
    if document.kind is DocumentKind.ORDER:  # older documents say no more
        lines = cast("Sequence[Mapping[str, object]]", content.get("lines", ()))
        asked = [[line.get(name) for name in ("material", "code", "packs", "cost")] for line in lines]
        content = {"supplier": content.get("supplier"), "carriage": content.get("carriage"), "lines": asked}
    return (document.subject, document.happened.replace(microsecond=0), moves, content)


def _other_counts(entering: LoadedDocuments, again: Sequence[LoadedDocument]) -> Iterable[str]:
    dimensions = {code: m.dimension for code, m in entering.shelf.materials.items()}
    for document in again:
        key = document.count.key if document.count else ""
        lines = [k.line for k in counts.read_lines(entering.session, dimensions, sheet=key) if k.state != "dropped"]
        there, said = _found(lines), _found(document.count.lines if document.count else ())
        other = sorted({material for bin_, nano in said.items() if there.get(bin_) != nano for material in bin_[:1]})
        if other:
            named = ", ".join(other[:3]) + (" …" if len(other) > 3 else "")  # noqa: PLR2004 -- enough to find the sheet
            yield phrase(
                "Count sheet %(sheet)s is already in the book with other details (%(bins)s); nothing of it was "
                "changed.",
                sheet=key,
                bins=named,
            )


def _found(lines: Iterable[CountLine]) -> Mapping[tuple[str, str, str], int]:
    return {(k.material, k.site, k.counted.isoformat(timespec="seconds")): k.amount.nano for k in lines}
