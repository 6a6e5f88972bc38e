"""A period's accounts from the book, and the accountant's files of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any, cast

from stockroom.errors import BookError
from stockroom.flows.book.terms import tax_rates
from stockroom.margins.accounts import Accounts, Sources, accounts
from stockroom.margins.journal import numbers_kept
from stockroom.margins.period import Period, before
from stockroom.margins.valuation import Policy
from stockroom.phrases import phrase
from stockroom.stock.materials import Material
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.shop import Shop
from stockroom.store import ledger, tickets
from stockroom.store.book import Book, Session
from stockroom.store.integrity import figure_at
from stockroom.store.snapshots import Snapshot, read_back, snapshot

ACCOUNT = "account:"  # beginning of a note


@dataclass(frozen=True, slots=True, kw_only=True)
class Closing:
    """A period's closing, as its document says: its last day, what the shelf was worth, and what it was read with."""

    number: int
    first: date
    through: date
    value: int  # thousandths of the minor unit
    taken: Snapshot


def make_accounts(book: Book, period: Period, *, against: Period | None = None) -> Accounts:
    """Make a period's accounts; a closed one comes out as it was, whatever was renamed or re-priced since."""
    with book.reading() as session:
        sources, closings = gather(session, period, since=min(period.first, against.first if against else period.first))
    made = accounts(sources, replace(period, closed=_holder(closings, period) is not None), against=against)
    _refuse_another_value(made, closings)
    return made


def gather(session: Session, period: Period, *, since: date | None = None) -> tuple[Sources, list[Closing]]:
    """Read what a period's accounts are made from; the tickets of work since a day, or all."""
    documents = ledger.read_documents(session)
    closings = closings_of(documents)
    holder = _holder(closings, period)
    taken = holder.taken if holder else snapshot(session, period.last)
    sources = Sources(
        documents=documents,
        materials=taken.materials,
        tickets={t.number: t for t in tickets.read_tickets(session, worked=(since, period.last) if since else None)},
        jobs=taken.jobs,
        shop=taken.shop,
        supplier_names=taken.supplier_names,
        supplier_rates=taken.supplier_rates,
        counted=taken.counted,
        rates=tax_rates(taken.notes),
        account_numbers=numbers_kept(
            {name.removeprefix(ACCOUNT): n for name, n in taken.notes.items() if name.startswith(ACCOUNT)}
        ),
        policy=policy_of(taken.shop),
        check_figure=figure_at(session, period.last),
        priced_as=_priced_as(documents, closings),
        method=closings[0].taken.shop.costing if closings else "",
    )
    return sources, closings


def against_before(book: Book, period: Period) -> Period | None:
    """Give the period of the same length before, if the book had begun by its last day."""
    earlier = before(period)
    with book.reading() as session:
        return earlier if figure_at(session, earlier.last) else None


def closings_of(documents: Sequence[Document]) -> list[Closing]:
    """Read the closings among the documents, oldest first."""
    return [_closing(document) for document in documents if document.kind is DocumentKind.PERIOD]


def policy_of(shop: Shop) -> Policy:
    """Give how idle stock is judged, by the shop's settings."""
    return Policy(idle_days=shop.idle_days, idle_keeps=shop.idle_keeps, selling_cost=shop.selling_cost)


def write_workbook(
    book: Book, period: Period, folder: Path, *, against: Period | None = None
) -> tuple[Accounts, list[Path]]:
    """Write the accountant's files of a period: the workbook, the journal, and every sheet as CSV."""
    made = make_accounts(book, period, against=against)
    stem = file_stem(period)
    files = _files(made, stem)
    written = []
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        written.append(path)
    return made, written


def file_stem(period: Period) -> str:
    """Name a period in a file's name."""
    return f"{period.first.isoformat()}-to-{period.last.isoformat()}"


def _files(made: Accounts, stem: str) -> dict[str, bytes]:
    from stockroom.show.accounts_csv import csv_files  # noqa: PLC0415 -- spreadsheets are slow to import
    from stockroom.show.workbook_paint import workbook_bytes  # noqa: PLC0415 -- as above

    sheets = csv_files(made)
    files = {f"accounts-{stem}.xlsx": workbook_bytes(made), f"journal-{stem}.csv": sheets["journal.csv"]}
    return files | {f"accounts-{stem}-csv/{name}": content for name, content in sheets.items()}


def _closing(document: Document) -> Closing:
    content = cast("Mapping[str, Any]", document.content)
    return Closing(
        number=document.id or 0,
        first=date.fromisoformat(content["first"]),
        through=date.fromisoformat(content["through"]),
        value=content["value"],
        taken=read_back(content["kept"]),
    )


def _holder(closings: Sequence[Closing], period: Period) -> Closing | None:
    """Find the closing that a period's names and settings come from: the first at or after its last day."""
    return next((closing for closing in closings if closing.through >= period.last), None)


def _priced_as(documents: Sequence[Document], closings: Sequence[Closing]) -> dict[str, Material]:
    """Keep each material's usual cost as it was when a period with it in the ledger was first closed.

    A usual cost changed later must not change what closed uses cost, nor part a closing from the next opening.
    """
    if not closings:
        return {}
    at = {closing.number: closing for closing in closings}
    kept: dict[str, Material] = {}
    seen: set[str] = set()
    for document in documents:
        if document.id in at:
            taken = at[document.id].taken.materials
            kept |= {code: taken[code] for code in seen - kept.keys()}
        seen.update(move.material for move in document.moves)
    return kept


def _refuse_another_value(made: Accounts, closings: Sequence[Closing]) -> None:
    """Hold a closed period's value against the one its closing wrote down."""
    for closing in closings:
        if closing.through == made.period.last and closing.value != made.closing:
            raise BookError(
                phrase(
                    "The stock closed on %(day)s no longer comes to the value it was closed at.", day=closing.through
                ),
                fix="Run: stockroom check. If it finds nothing, this is a fault of the program: keep the old files.",
            )
