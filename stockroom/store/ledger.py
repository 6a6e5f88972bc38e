"""Where the ledger ends, kept beside it: documents removed from its end leave a chain that fits, but ends too early."""

import json
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from hashlib import sha256
from typing import Any

import sqlalchemy as sa

from stockroom.errors import BookError, UsageError
from stockroom.phrases import phrase
from stockroom.stock.bounds import MOST_HELD, MOST_WHOLE, check_day, check_money, check_nano
from stockroom.stock.lots import LotMove
from stockroom.stock.money import MILLI
from stockroom.stock.moves import USED, Document, DocumentKind, Move, MoveKind
from stockroom.store import tables
from stockroom.store.book import PATIENCE, Session
from stockroom.store.tables import (
    day_text,
    document,
    end_of,
    material,
    maybe_day,
    maybe_moment,
    moment_text,
    month_total,
    move,
    read_moment,
    rows_among,
    upsert,
)

NOTE = "ledger_end"  # the note that says it: the last document's number and check figure


def kept_end(session: Session) -> tuple[int, str] | None:
    """Read where the ledger ended when it was last written; None where no note keeps it."""
    asked = sa.select(tables.setting.c.value).where(tables.setting.c.name == NOTE)
    number, _, chain = (session.execute(asked).scalar() or "").partition(" ")
    return (int(number), chain) if number.isdecimal() else None


def keep_end(session: Session, number: int, chain: str) -> None:
    """Say where the ledger ends now."""
    upsert(session, tables.setting, [{"name": NOTE, "value": f"{number} {chain}"}])


def refuse_lost_end(session: Session, end: tuple[int, str]) -> None:
    """Refuse to write on where documents are gone from the end: it would hide that they ever were."""
    kept = kept_end(session) or (0, CHAIN_START)
    if kept != end:
        raise BookError(
            phrase(
                "The book ends with document %(end)s, but it was last written up to document %(kept)s: "
                "it was changed by other means than this program.",
                end=end[0],
                kept=kept[0],
            ),
            fix="Run: stockroom check, then restore the newest backup. Keep this file aside.",
        )


CHAIN_START = "0" * 64
# Made once: `json.dumps` makes a new encoder at each call, and a load calls it for every document.
_said = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode
_sorted = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode
_ASKED = "asked"  # stands in the chained content, so that no column is needed for what only a repeated key asks
_read = json.JSONDecoder().decode


def append(session: Session, documents: Sequence[Document]) -> list[int]:
    """Write documents at the end of the ledger, each chained by hash to the one before; give their numbers."""
    if not documents:
        return []
    last, chain, before = _newest(session)
    refuse_lost_end(session, (last, chain))
    _refuse_out_of_bounds(session, documents)
    document_rows: list[dict[str, Any]] = []
    move_rows: list[dict[str, Any]] = []
    for number, each in enumerate(documents, start=last + 1):
        row = _document_row(number, each)
        row["entered"] = before = _in_turn(row["entered"], before)
        moves = [_move_row(number, line, m) for line, m in enumerate(each.moves, start=1)]
        row["chain"] = chain = link(chain, row, moves)
        document_rows.append(row)
        move_rows += moves
    session.execute(sa.insert(document), document_rows)
    if move_rows:
        session.execute(sa.insert(move), move_rows)
    keep_end(session, last + len(document_rows), chain)
    return [row["id"] for row in document_rows]


_LARGE = 10**12  # nano: of lines below it, some ten million fit into what can be on hand


def _refuse_out_of_bounds(session: Session, documents: Sequence[Document]) -> None:
    """Refuse lines beyond what a book holds, and large ones that would bring what is on hand beyond it."""
    large: Counter[tuple[str, str]] = Counter()
    for each in documents:
        for moment in (each.happened, each.booked_on, each.entered):
            check_day(moment, lambda: phrase("What happened"))
        for m in each.moves:
            if not -_LARGE < m.nano < _LARGE:
                large[m.material, m.site] += m.nano
            if m.value is not None or m.expiry or not (-_LARGE < m.nano < _LARGE and m.happened is each.happened):
                _refuse_move(m)
    for (code, site), coming in large.items():
        there = balances(session, material=code, site=site).get(code, 0)
        if abs(there + coming) > MOST_HELD:
            raise UsageError(
                phrase("Of %(material)s there would be more than a book holds.", material=code),
                fix="Check the figures and the unit.",
            )


def _refuse_move(m: Move) -> None:
    def what() -> str:
        return m.material

    check_nano(m.nano, what)
    check_money(None if m.value is None else m.value // MILLI, what)
    check_day(m.happened, what)
    check_day(m.expiry, what)


def head(session: Session) -> tuple[int, str]:
    """Give the last document's number and the chain's check figure so far."""
    return _newest(session)[:2]


def _newest(session: Session) -> tuple[int, str, str]:
    """Give the last document's number, the chain's check figure so far, and when that document was entered."""
    newest = sa.select(document.c.id, document.c.chain, document.c.entered).order_by(document.c.id.desc()).limit(1)
    found = session.execute(newest).one_or_none()
    return (found.id, found.chain, found.entered) if found else (0, CHAIN_START, "")


def _in_turn(entered: str, before: str) -> str:
    """Give when a document is entered: with the one before it, where it was stamped earlier and waited for its turn.

    Whoever enters something reads the clock first, and may then wait as long as a writer has patience. A clock that
    was set back goes back further than that, and is left to be seen.
    """
    if entered >= before or not before:
        return entered
    waited = (read_moment(before) - read_moment(entered)).total_seconds()
    return before if waited <= PATIENCE + 1 else entered


def first_figure(session: Session) -> str:
    """Give the check figure of the first document; nothing before there is one."""
    return figure_of(session, 1)


def figure_of(session: Session, number: int) -> str:
    """Give the check figure of a document; nothing where there is none of that number."""
    return session.execute(sa.select(document.c.chain).where(document.c.id == number)).scalar() or ""


def link(chain: str, row: Mapping[str, Any], moves: Sequence[Mapping[str, Any]]) -> str:
    """Give the check figure of a document: a hash of everything it says and of the figure before it."""
    said = [row[name] for name in _SAID] + [[m[name] for name in _MOVED] for m in moves]
    return sha256((chain + _said(said)).encode()).hexdigest()


def known_keys(session: Session, keys: Iterable[str]) -> dict[str, int]:
    """Find which idempotency keys are in the book, with their documents' numbers."""
    asked = sa.select(document.c.key, document.c.id)
    return {row.key: row.id for row in rows_among(session, asked, document.c.key, list(keys))}


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """What is kept under a key."""

    number: int
    kind: DocumentKind
    subject: str
    happened: datetime
    asked: str  # what was asked for by an entry, as a hash; empty where a file brought it


def entered(session: Session, keys: Iterable[str]) -> dict[str, Entered]:
    """Find what is in the book under these keys."""
    c = document.c
    asked = sa.select(c.key, c.id, c.kind, c.subject, c.happened, c.content)
    return {row.key: _entered(row) for row in rows_among(session, asked, c.key, list(keys))}


def _entered(row: Any) -> Entered:  # noqa: ANN401 -- a database row
    return Entered(
        number=row.id,
        kind=DocumentKind(row.kind),
        subject=row.subject,
        happened=read_moment(row.happened),
        asked=json.loads(row.content).get(_ASKED, "") if row.content else "",
    )


def read_documents(
    session: Session,
    *,
    numbers: Sequence[int] | None = None,
    kinds: Sequence[DocumentKind] | None = None,
    subject: str | None = None,
    subjects: Collection[str] | None = None,
    after: datetime | None = None,
    with_moves: bool = True,
) -> list[Document]:
    """Read documents in the order they were entered; no filter means all."""
    asked = sa.select(*(document.c[name] for name in _SAID))
    if subject is not None:
        asked = asked.where(document.c.subject == subject)
    if after is not None:
        asked = asked.where(document.c.happened > moment_text(after))
    if subjects is not None:  # few documents are about one: their kinds would lead a database through all of a kind
        about = rows_among(session, asked, document.c.subject, sorted(subjects))
        rows: Sequence[Any] = [row for row in about if kinds is None or row.kind in kinds]
    else:
        if kinds is not None:
            asked = asked.where(document.c.kind.in_([str(kind) for kind in kinds]))
        held = None if numbers is None else [number for number in numbers if 0 < number <= MOST_WHOLE]
        rows = session.execute(asked).all() if held is None else rows_among(session, asked, document.c.id, held)
    rows = sorted(rows, key=lambda row: row.id)
    everything = numbers is None and kinds is None and subject is None and subjects is None and after is None
    moves = _moves_of(session, None if everything else [row.id for row in rows]) if with_moves else {}
    return [_document(row, moves.get(row.id, ())) for row in rows]


def subjects_between(session: Session, kinds: Sequence[DocumentKind], first: datetime, last: datetime) -> set[str]:
    """Give what documents of some kinds that happened between two moments are about."""
    of = document.c
    asked = sa.select(of.subject).where(of.kind.in_([str(kind) for kind in kinds]))
    return set(session.execute(asked.where(of.happened.between(moment_text(first), moment_text(last)))).scalars())


def nth_before(session: Session, kind: DocumentKind, until: datetime, n: int) -> datetime | None:
    """Give when the nth newest document of a kind up to a moment happened; None where there are fewer."""
    of = document.c
    asked = sa.select(of.happened).where(of.kind == str(kind), of.happened <= moment_text(until))
    return maybe_moment(session.execute(asked.order_by(of.happened.desc()).limit(1).offset(n - 1)).scalar() or "")


def last_entered(session: Session) -> datetime | None:
    """Give when the last document was entered."""
    newest = sa.select(document.c.entered).order_by(document.c.id.desc()).limit(1)
    return maybe_moment(session.execute(newest).scalar() or "")


def newest_documents(session: Session, count: int) -> list[Document]:
    """Read the last documents entered, newest first."""
    newest = sa.select(document.c.id).order_by(document.c.id.desc()).limit(count)
    numbers = list(session.execute(newest).scalars())
    return read_documents(session, numbers=numbers)[::-1]


def reversal_of(session: Session, number: int) -> int | None:
    """Give the number of the document that takes this one back, if there is one."""
    if not 0 < number <= MOST_WHOLE:
        return None
    return session.execute(sa.select(document.c.id).where(document.c.reverses == number)).scalar()


def reversals(session: Session) -> dict[int, int]:
    """Map each document undone to the document that does so."""
    taken = sa.select(document.c.reverses, document.c.id).where(document.c.reverses.is_not(None))
    return {row.reverses: row.id for row in session.execute(taken)}


def balances(
    session: Session, *, at: datetime | date | None = None, site: str | None = None, material: str | None = None
) -> dict[str, int]:
    """Add up each material in nano; as of a moment (moves up to and including it), the end of a day, or now."""
    limit = None if at is None else (moment_text(at) if isinstance(at, datetime) else end_of(at))
    totals: dict[str, int] = {}
    for statement in _sums(limit):
        if site is not None:
            statement = statement.where(statement.selected_columns.site == site)  # noqa: PLW2901 -- built stepwise
        if material is not None:
            statement = statement.where(statement.selected_columns.material == material)  # noqa: PLW2901 -- as above
        inner = statement.subquery()
        summed = sa.select(inner.c.material, sa.func.sum(inner.c.nano).label("nano")).group_by(inner.c.material)
        for row in session.execute(summed):
            totals[row.material] = totals.get(row.material, 0) + int(row.nano)
    return totals


def counted_differences(session: Session, material: str, site: str, counted: datetime) -> int:
    """Add up the count differences booked at a bin's moment, in nano."""
    there = (move.c.material == material, move.c.site == site, move.c.happened == moment_text(counted))
    asked = sa.select(sa.func.sum(move.c.nano)).where(*there, move.c.kind == str(MoveKind.COUNT))
    return int(session.execute(asked).scalar() or 0)


_MONTHS = sa.select(sa.func.coalesce(sa.func.sum(month_total.c.nano), 0)).where(
    month_total.c.site == sa.bindparam("site"),
    month_total.c.material == sa.bindparam("material"),
    month_total.c.month < sa.bindparam("month"),
)
_DAYS = sa.select(sa.func.coalesce(sa.func.sum(move.c.nano), 0)).where(
    move.c.site == sa.bindparam("site"),
    move.c.material == sa.bindparam("material"),
    move.c.happened >= sa.bindparam("first"),
    move.c.happened <= sa.bindparam("limit"),
)
_BIN = sa.select(_MONTHS.scalar_subquery(), _DAYS.scalar_subquery())


def bin_balance(session: Session, material: str, site: str, at: datetime) -> int:
    """Add up one material at one site as of a moment: the question asked most often, kept ready."""
    limit = moment_text(at)
    asked = {"site": site, "material": material, "month": limit[:7], "first": f"{limit[:7]}-01", "limit": limit}
    months, days = session.execute(_BIN, asked).one()
    return int(months) + int(days)


def moves_of_material(
    session: Session, material: str, *, site: str | None = None, since: datetime | None = None
) -> list[tuple[int, Move]]:
    """Read a material's moves in the order they happened, each with its document's number."""
    asked = sa.select(move).where(move.c.material == material).order_by(move.c.happened, move.c.document, move.c.line)
    asked = asked.where(move.c.site.in_(_sites(session)) if site is None else move.c.site == site)
    if since is not None:
        asked = asked.where(move.c.happened > moment_text(since))
    return [(row.document, move_of(row)) for row in session.execute(asked)]


def has_moved(session: Session) -> bool:
    """Say whether anything was ever on the shelf, by the ledger."""
    return session.execute(sa.select(month_total.c.material).limit(1)).scalar() is not None


def used_materials(session: Session) -> set[str]:
    """Give the codes of materials the ledger mentions."""
    return set(session.execute(sa.select(month_total.c.material).distinct()).scalars())


def daily_sums(
    session: Session,
    kinds: Sequence[MoveKind],
    *,
    site: str | None = None,
    until: datetime | None = None,
    materials: Iterable[str] | None = None,
) -> list[tuple[str, str, int]]:
    """Add up moves of some kinds per material and day, until a moment, in nano (negative leaves the shelf)."""
    day = sa.func.substr(move.c.happened, 1, 10).label("day")
    asked = sa.select(move.c.material, day, sa.func.sum(move.c.nano).label("nano"))
    asked = asked.where(move.c.kind.in_([str(kind) for kind in kinds])).group_by(move.c.material, day)
    if materials is not None:
        asked = asked.where(move.c.material.in_(list(materials)))
    if site is not None:
        asked = asked.where(move.c.site == site)
    if until is not None:
        asked = asked.where(move.c.happened <= moment_text(until))
    return [(code, on, int(nano)) for code, on, nano in session.execute(asked)]


def lot_moves(session: Session, until: datetime, *, site: str | None = None) -> dict[str, list[LotMove]]:
    """Add up the moves of what has dated lots, or a shelf life, until a moment: by material, day, lot and kind."""
    before = move.c.happened <= moment_text(until)
    dated = sa.select(move.c.material).where(move.c.expiry != "", before)
    lasting = sa.select(material.c.code).where(material.c.shelf_life_days.is_not(None))
    codes = list(session.execute(dated.union(lasting)).scalars())
    if not codes:  # a shop without dates need not go through its moves a second time
        return {}
    day = sa.func.substr(move.c.happened, 1, 10).label("day")
    asked = sa.select(move.c.material, day, move.c.expiry, move.c.kind, sa.func.sum(move.c.nano).label("nano"))
    asked = asked.where(before, move.c.material.in_(codes))
    if site is not None:
        asked = asked.where(move.c.site == site)
    found: dict[str, list[LotMove]] = {}
    for code, on, expiry, kind, nano in session.execute(
        asked.group_by(move.c.material, day, move.c.expiry, move.c.kind)
    ):
        last = date.fromisoformat(expiry) if expiry else None
        each = LotMove(day=date.fromisoformat(on), nano=int(nano), expiry=last, used=kind in USED)
        found.setdefault(code, []).append(each)
    return found


_SAID = (
    "id",
    "key",
    "kind",
    "subject",
    "happened",
    "booked_on",
    "entered",
    "site",
    "who",
    "note",
    "reverses",
    "content",
)
_MOVED = (
    "line", "material", "nano", "kind", "happened", "site", "value", "recipe_line", "ticket", "lot", "expiry",
)  # fmt: skip


def _sums(limit: str | None) -> list[sa.Select[Any]]:
    months = sa.select(month_total.c.site, month_total.c.material, month_total.c.nano)
    if limit is None:
        return [months]
    month = limit[:7]
    days = sa.select(move.c.site, move.c.material, move.c.nano)
    return [
        months.where(month_total.c.month < month),
        days.where(move.c.happened >= f"{month}-01", move.c.happened <= limit),
    ]


def _document_row(number: int, each: Document) -> dict[str, Any]:
    said = {**each.content, _ASKED: each.asked} if each.asked else each.content
    content = _sorted(said) if said else ""
    return {
        "id": number,
        "key": each.key,
        "kind": str(each.kind),
        "subject": each.subject,
        "happened": moment_text(each.happened),
        "booked_on": day_text(each.booked_on or each.happened.date()),
        "entered": moment_text(each.entered),
        "site": each.site,
        "who": each.who,
        "note": each.note,
        "reverses": each.reverses,
        "content": content,
    }


def _move_row(number: int, line: int, each: Move) -> dict[str, Any]:
    return {
        "document": number,
        "line": line,
        "material": each.material,
        "nano": each.nano,
        "kind": str(each.kind),
        "happened": moment_text(each.happened),
        "site": each.site,
        "value": each.value,
        "recipe_line": each.recipe_line,
        "ticket": each.ticket,
        "lot": each.lot,
        "expiry": day_text(each.expiry),
    }


_DOCUMENT_KINDS = {str(kind): kind for kind in DocumentKind}


def _document(row: Any, moves: Sequence[Move]) -> Document:  # noqa: ANN401 -- a database row
    number, key, kind, subject, happened, booked_on, entered_at, site, who, note, reverses, said = row
    content = _content(said) if said else {}
    asked = content.get(_ASKED, "")
    if asked:
        content = {name: value for name, value in content.items() if name != _ASKED}
    return Document(
        id=number,
        key=key,
        kind=_DOCUMENT_KINDS[kind],
        subject=subject,
        happened=read_moment(happened),
        booked_on=maybe_day(booked_on),
        entered=read_moment(entered_at),
        site=site,
        who=who,
        note=note,
        reverses=reverses,
        asked=asked,
        content=content,
        moves=tuple(moves),
    )


@lru_cache(1024)
def _content(text: str) -> dict[str, Any]:
    """Read what a document says; many say the same, as jobs at the same price, and nothing read is changed."""
    found: dict[str, Any] = _read(text)
    return found


def move_of(row: Any) -> Move:  # noqa: ANN401 -- a database row
    """Make a move of its row."""
    return _made(*(getattr(row, name) for name in _MOVED[1:]))


_KINDS = {str(kind): kind for kind in MoveKind}


def _made(  # noqa: PLR0913, PLR0917 -- a row, column by column: a book holds very many, and names cost time
    material: str, nano: int, kind: str, happened: str, site: str, value: int | None, recipe_line: str, ticket: str,
    lot: str, expiry: str,
) -> Move:  # fmt: skip
    when, until = read_moment(happened), maybe_day(expiry) if expiry else None
    return Move(material, nano, _KINDS[kind], when, site, value, recipe_line, ticket, lot, until)


def _moves_of(session: Session, numbers: list[int] | None) -> dict[int, list[Move]]:
    found: dict[int, list[Move]] = {}
    columns = (move.c[name] for name in _MOVED[1:])
    asked = sa.select(move.c.document, *columns).order_by(move.c.document, move.c.line)
    rows = session.execute(asked).all() if numbers is None else rows_among(session, asked, move.c.document, numbers)
    for number, *row in rows:
        found.setdefault(number, []).append(_made(*row))
    return found


_AT_ONCE = 5_000  # rows
Columns = Mapping[str, Sequence[Any]]  # as the tables keep them: days and moments as texts


def newest_moves(session: Session, material: str, since: datetime, most: int) -> list[tuple[int, Move]]:
    """Read the newest moves after a moment, newest first, each with its document's number."""
    asked = sa.select(move).where(*_lately(session, material, since))
    asked = asked.order_by(move.c.happened.desc(), move.c.document.desc(), move.c.line.desc()).limit(most)
    return [(row.document, move_of(row)) for row in session.execute(asked)]


def daily_changes(session: Session, material: str, since: datetime) -> list[tuple[str, int, int]]:
    """Add up the moves after a moment by day: the day, how many, and nano in all; oldest first."""
    day = sa.func.substr(move.c.happened, 1, 10).label("day")
    asked = sa.select(day, sa.func.count().label("moves"), sa.func.sum(move.c.nano).label("nano"))
    asked = asked.where(*_lately(session, material, since)).group_by(day).order_by(day)
    return [(row.day, int(row.moves), int(row.nano)) for row in session.execute(asked)]


def move_columns(session: Session, *, until: datetime | None = None, site: str | None = None) -> Columns:
    """Read the moves up to a moment [all] in the order they were entered, column by column: no noun for each."""
    asked = sa.select(move).order_by(move.c.document, move.c.line)
    if until is not None:
        asked = asked.where(move.c.happened <= moment_text(until))
    if site is not None:
        asked = asked.where(move.c.site == site)
    return _columns(session, asked)


def document_columns(session: Session, *, until: datetime | None = None, site: str | None = None) -> Columns:
    """Read the documents up to a moment [all] in the order they were entered, each with how many moves it has."""
    moves = sa.select(move.c.document, sa.func.count().label("moves")).group_by(move.c.document).subquery()
    counted = sa.func.coalesce(moves.c.moves, 0).label("moves")
    asked = sa.select(document, counted).outerjoin(moves, moves.c.document == document.c.id).order_by(document.c.id)
    if until is not None:
        asked = asked.where(document.c.happened <= moment_text(until))
    if site is not None:
        asked = asked.where(document.c.site == site)
    return _columns(session, asked)


def _columns(session: Session, asked: sa.Select[Any]) -> Columns:
    """Read rows a few thousand at a time, so that never all of them are held beside the columns."""
    found = session.execute(asked)
    columns: dict[str, list[Any]] = {name: [] for name in found.keys()}  # noqa: SIM118 -- a result is no mapping
    for rows in found.partitions(_AT_ONCE):
        for column, values in zip(columns.values(), zip(*rows, strict=True), strict=True):
            column.extend(values)
    return columns


def _lately(session: Session, material: str, since: datetime) -> Sequence[sa.ColumnElement[bool]]:
    return (move.c.material == material, move.c.site.in_(_sites(session)), move.c.happened > moment_text(since))


def _sites(session: Session) -> Sequence[str]:
    """Give every site the ledger mentions: asked for by all of them, the index by site leads straight to a material."""
    return session.execute(sa.select(month_total.c.site).distinct()).scalars().all()
