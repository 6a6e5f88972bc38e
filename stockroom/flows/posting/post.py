"""Post documents: once by their key, in an open period, and true to every settled count."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any, cast

from stockroom.errors import RefusedError
from stockroom.phrases import as_phrase, joined, phrase
from stockroom.stock.moves import Document, DocumentKind, Move, MoveKind
from stockroom.stock.postings import Fixed, Stamp, corrections
from stockroom.store import catalogue, counts, ledger, list_changes
from stockroom.store.book import Session

CLOSED_THROUGH = list_changes.CLOSED_THROUGH

_MARK = "mark:"  # notes of entries that write no document
_Bin = tuple[str, str, datetime]  # material, site, moment


@dataclass(frozen=True, slots=True, kw_only=True)
class Posted:
    """A document's number, and whether it is new; a known key changes nothing."""

    number: int
    fresh: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Bins:
    """What becomes of counted bins when a (single) document is posted."""

    settled: tuple[Fixed, ...] = ()  # the document itself brings the book to them
    held: tuple[Fixed, ...] = ()  # they hold the book again
    freed: tuple[Fixed, ...] = ()  # they hold the book no longer


NO_BINS = Bins()


def post(session: Session, documents: Sequence[Document], *, bins: Bins = NO_BINS, new: bool = False) -> list[Posted]:
    """Append the documents whose keys are new.

    Parameters
    ----------
    documents : sequence of Document
        In the order they are to be entered.
    bins : Bins
        Counted bins that a single document settles, holds again or frees.
    new : bool
        Their keys were asked for in this transaction already (`entered_before`) and are in nobody's hands.

    Notes
    -----
    Where a document would move the book at a settled count, documents of kind 'count kept' follow it, one a day of
    counts, so that what was counted stays true. They stand apart from the document: a reversal mirrors what it takes
    back line by line, while the counts to be kept may have changed meanwhile.
    """
    known = {} if new else brought_before(session, documents)
    fresh = list({d.key: d for d in reversed(documents) if d.key not in known}.values())[::-1]  # the first of each key
    closed, start = _days(session)
    for document in fresh:
        _refuse_before(start, document)
    ready = [_in_open_period(_to_the_second(document), closed) for document in fresh]
    numbers = known | dict(zip((d.key for d in ready), _append(session, ready, bins), strict=True))
    first = {id(d) for d in fresh}
    return [Posted(number=numbers[d.key], fresh=id(d) in first) for d in documents]


def entered_before(session: Session, stamp: Stamp, *kinds: DocumentKind, subject: str | None = None) -> int | None:
    """Give the number of the document entered under a stamp's key, if this very entry was made before.

    Raises
    ------
    RefusedError
        If the key belongs to another entry: of another kind, about another subject, or with other content.
    """
    found = ledger.entered(session, [stamp.key]).get(stamp.key)
    if found is None:
        _refuse_marked(session, stamp.key)
        return None
    _refuse_another(found, kinds, subject, stamp.asked)
    return found.number


def marked_before(session: Session, stamp: Stamp, about: Sequence[str]) -> list[str] | None:
    """Remember the mark of an entry that writes no document; give what it was about if it was made before.

    Such an entry can't carry its mark itself: a note does. Without a mark that was asked under, there is nothing to do.
    """
    if not stamp.asked:
        return None
    found = ledger.entered(session, [stamp.key]).get(stamp.key)
    if found is not None:
        _refuse_another(found, (), None, stamp.asked)
    said = _refuse_marked(session, stamp.key, stamp.asked)
    if said:
        return list(said["about"])
    said = {"asked": stamp.asked, "about": list(about), "at": f"{stamp.entered:%Y-%m-%d %H:%M}"}
    catalogue.save_note(session, f"{_MARK}{stamp.key}", json.dumps(said))
    return None


def _refuse_marked(session: Session, key: str, asked: str = "") -> dict[str, Any]:
    """Give what is noted of an entry that wrote no document; refuses its mark to another."""
    kept = catalogue.read_note(session, f"{_MARK}{key}")
    said: dict[str, Any] = json.loads(kept) if kept else {}
    if said and said["asked"] != asked:
        raise _other_entry(phrase("count %(sheets)s", sheets=", ".join(said["about"])), said["at"])
    return said


def brought_before(session: Session, documents: Sequence[Document]) -> dict[str, int]:
    """Give the numbers of the documents whose keys are in the book; refuses keys that belong to others."""
    entered = ledger.entered(session, [document.key for document in documents])
    for document in documents:
        if document.asked and document.key not in entered:
            _refuse_marked(session, document.key)
    for document in documents:
        if document.key in entered:
            _refuse_another(entered[document.key], [document.kind], document.subject, document.asked)
    return {key: each.number for key, each in entered.items()}


def _refuse_another(there: ledger.Entered, kinds: Sequence[DocumentKind], subject: str | None, asked: str) -> None:
    """Refuse a key that belongs to another entry; what a file says otherwise is named where it is loaded."""
    alike = there.kind in kinds
    if asked and there.asked:
        alike = alike and asked == there.asked
    elif asked or there.asked:
        alike = alike and subject in (None, there.subject)
    if not alike:
        what = phrase("document %(number)s", number=there.number), joined((as_phrase(str(there.kind)), there.subject))
        raise _other_entry(joined(what, ", "), f"{there.happened:%Y-%m-%d %H:%M}")


def _other_entry(what: str, moment: str) -> RefusedError:
    return RefusedError(
        phrase("The same key was used for another entry: %(what)s, %(moment)s.", what=what, moment=moment),
        fix="Nothing was entered. Give each entry a key of its own (--once), or none; on a page, open it anew.",
    )


def post_one(session: Session, document: Document, *, bins: Bins = NO_BINS, new: bool = False) -> Posted:
    """Append one document unless its key is known."""
    return post(session, [document], bins=bins, new=new)[0]


def closed_through(session: Session) -> date | None:
    """Give the last day of the closed periods, if any is closed."""
    text = catalogue.read_note(session, CLOSED_THROUGH)
    return date.fromisoformat(text) if text else None


def _days(session: Session) -> tuple[date | None, date | None]:
    """Give the last day of the closed periods, and the book's first day, where there are such."""
    said = catalogue.notes_named(session, (CLOSED_THROUGH, "start"))
    closed, start = (said.get(name, "") for name in (CLOSED_THROUGH, "start"))
    return (date.fromisoformat(closed) if closed else None), (date.fromisoformat(start) if start else None)


def _refuse_before(start: date | None, document: Document) -> None:
    """Refuse what would move stock before the book's first day: what was there then is the opening stock."""
    if start is None or document.reverses is not None:
        return
    early = next((move.happened.date() for move in document.moves if move.happened.date() < start), None)
    if early is not None:
        raise RefusedError(
            phrase("%(day)s is before the book's first day, %(start)s.", day=early, start=start),
            fix="Its opening stock holds what happened before. Work of earlier days comes in by a file of tickets.",
        )


def _in_open_period(document: Document, closed: date | None) -> Document:
    day = document.booked_on or document.happened.date()
    if closed is None or day > closed:
        return document
    return replace(document, booked_on=closed + timedelta(days=1))


def _to_the_second(document: Document) -> Document:
    """Cut moments to what the book keeps, so that what lies before a count in here does so in the book."""
    if any(move.happened.microsecond for move in document.moves):
        moves = tuple(m._replace(happened=m.happened.replace(microsecond=0)) for m in document.moves)
        return replace(document, moves=moves)
    return document


def _append(session: Session, documents: list[Document], bins: Bins) -> list[int]:
    if not documents:
        return []
    fixed = _fixed_after(session, documents, bins)
    if not fixed and bins == NO_BINS:
        return ledger.append(session, documents)
    numbers: list[int] = []
    waiting: list[Document] = []
    for document in documents:
        touched = [f for f in fixed if bins != NO_BINS or _touches(document, f)]
        if touched or bins != NO_BINS:
            numbers += ledger.append(session, waiting)
            waiting = []
            numbers.append(_append_true(session, document, touched, bins))
        else:
            waiting.append(document)
    return numbers + ledger.append(session, waiting)


def _append_true(session: Session, document: Document, fixed: Sequence[Fixed], bins: Bins) -> int:
    """Append a document and the documents that keep counts true; give its number."""
    points = [*fixed, *bins.settled, *bins.held]
    _refuse_quarrels(points)
    freed = _let_go(session, document, bins.freed, {_bin(point) for point in points})
    made = [*freed, *corrections((*document.moves, *freed), points, partial(ledger.bin_balance, session))]
    settled = {_bin(point) for point in bins.settled}
    own = [move for move in made if _moved_bin(move) in settled]
    number = ledger.append(session, [replace(document, moves=(*document.moves, *own))])[0]
    ledger.append(session, _kept_documents(session, document, number, [move for move in made if move not in own]))
    return number


def _kept_documents(session: Session, document: Document, number: int, moves: Sequence[Move]) -> list[Document]:
    closed = closed_through(session)
    kept_documents = []
    for day in sorted({move.happened.date() for move in moves}):
        mine = tuple(move for move in moves if move.happened.date() == day)
        kept = Document(
            kind=DocumentKind.COUNT_KEPT,
            key=f"{document.key}#{day}",
            subject=document.subject,
            happened=min(move.happened for move in mine),
            entered=document.entered,
            site=document.site,
            who=document.who,
            moves=mine,
            content={"because": number},
        )
        kept_documents.append(_in_open_period(kept, closed))
    return kept_documents


def _let_go(session: Session, document: Document, freed: Sequence[Fixed], kept: set[_Bin]) -> list[Move]:
    """Bring the count differences at bins that hold no longer to nothing, whichever document brought them."""
    back = {_moved_bin(m) for m in document.moves if m.kind is MoveKind.COUNT and document.reverses is not None}
    made = []
    for material, site, counted in sorted((back | {_bin(point) for point in freed}) - kept):
        book = ledger.counted_differences(session, material, site, counted)
        mine = [m for m in document.moves if _moved_bin(m) == (material, site, counted)]
        coming = sum(m.nano for m in mine if m.kind is MoveKind.COUNT)
        if book + coming:
            made.append(Move(material=material, nano=-book - coming, kind=MoveKind.COUNT, happened=counted, site=site))
    return made


def _refuse_quarrels(points: Sequence[Fixed]) -> None:
    found: dict[_Bin, int] = {}
    for point in points:
        if found.setdefault(_bin(point), point.nano) != point.nano:
            raise RefusedError(
                phrase(
                    "%(material)s was counted twice at %(moment)s, with different results.",
                    material=point.material,
                    moment=f"{point.counted:%Y-%m-%d %H:%M}",
                ),
                fix="Undo the count that is wrong, or count again.",
            )


def _bin(point: Fixed) -> _Bin:
    return (point.material, point.site, point.counted)


def _moved_bin(move: Move) -> _Bin:
    return (move.material, move.site, move.happened)


def _fixed_after(session: Session, documents: list[Document], bins: Bins) -> Sequence[Fixed]:
    points = [*bins.settled, *bins.held, *bins.freed]
    moves = [move for document in documents for move in document.moves]
    moments = [move.happened for move in moves] + [point.counted for point in points]
    if not moments:
        return []
    wanted = {(m.material, m.site) for m in moves} | {(p.material, p.site) for p in points}
    found = counts.anchors(session, since=min(moments))
    return [anchor for anchor in found if (anchor.material, anchor.site) in wanted]


def _touches(document: Document, point: Fixed) -> bool:
    mine = [m for m in document.moves if (m.material, m.site) == (point.material, point.site)]
    return any(move.happened <= point.counted for move in mine)


def changes_said(document: Document) -> list[str]:
    """Say what a document of a ticket changed: old and new of each fact."""
    if document.kind is not DocumentKind.TICKET_CHANGE:
        return []
    said = cast("Sequence[Sequence[str]]", document.content.get("changed", ()))
    return [_old_and_new(*map(as_phrase, each)) for each in said]


def _old_and_new(fact: str, old: str = "", new: str = "") -> str:
    return phrase("%(fact)s: %(old)s → %(new)s", fact=fact, old=old, new=new) if old else fact
