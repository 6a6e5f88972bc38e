"""Load what was read from files: one transaction, whole or not at all, and twice the same as once."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from stockroom.errors import BadFileError, Problem
from stockroom.flows.book.opening import changed
from stockroom.flows.book.snapshot import facts_for_files
from stockroom.flows.loading.conflicts import looks_wrong, said_otherwise
from stockroom.flows.loading.documents import LoadedDocument, LoadedDocuments
from stockroom.flows.posting.post import Bins, brought_before, post, post_one
from stockroom.intake.loaded import Loaded
from stockroom.phrases import phrase
from stockroom.stock.counts import Count
from stockroom.stock.materials import Material
from stockroom.stock.moves import Document
from stockroom.stock.postings import Fixed
from stockroom.stock.shop import Shop
from stockroom.store import catalogue, counts, ledger, suppliers
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


class _NotKept(Exception):  # noqa: N818 -- not a fault: it takes a dry run back
    pass


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
        with book.writing() as session:
            shop = catalogue.read_shop(session)
            known = facts_for_files(session)
            digits = shop.currency_digits
            loaded = read_files(paths, known, locale=shop.locale, digits=digits, progress=progress, now=now)
            report.append(enter(session, loaded, now, progress=progress, dry_run=dry_run))
            _keep(dry_run=dry_run)
    except _NotKept:
        pass
    return report[0]


def _keep(*, dry_run: bool) -> None:
    if dry_run:
        raise _NotKept


def enter(
    session: Session, loaded: Loaded, now: datetime, *, progress: Progress | None = None, dry_run: bool = False
) -> LoadReport:
    """Enter checked facts: lists first, then documents in the order in which they happened."""
    shop = _lists(session, loaded)
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


def _lists(session: Session, loaded: Loaded) -> Shop:
    shop = changed(catalogue.read_shop(session), loaded.settings)
    catalogue.save_shop(session, shop)
    _same_dimension(session, loaded.materials)
    catalogue.save_materials(session, loaded.materials)
    suppliers.save_suppliers(session, loaded.suppliers)
    suppliers.save_offers(session, loaded.offers)
    catalogue.save_jobs(session, loaded.jobs)
    catalogue.add_recipes(session, loaded.recipes)
    catalogue.save_closures(session, loaded.closures)
    catalogue.save_events(session, loaded.events)
    return shop


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
