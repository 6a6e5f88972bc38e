"""Post documents: once by their key, in an open period, and true to every settled count."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from stockroom.stock.moves import Document, Move
from stockroom.stock.postings import Fixed, corrections
from stockroom.store import catalogue, counts, ledger
from stockroom.store.book import Session

CLOSED_THROUGH = "closed_through"


@dataclass(frozen=True, slots=True, kw_only=True)
class Posted:
    """A document's number, and whether it is new; a known key changes nothing."""

    number: int
    fresh: bool


def post(session: Session, documents: Sequence[Document], *, counting: Sequence[Fixed] = ()) -> list[Posted]:
    """Append the documents whose keys are new.

    Parameters
    ----------
    documents : sequence of Document
        In the order they are to be entered.
    counting : sequence of Fixed
        Bins that the (single) document settles: it gets the moves that bring the book to them.
    """
    known = ledger.known_keys(session, [d.key for d in documents])
    fresh = _first_of_each([d for d in documents if d.key not in known])
    closed = closed_through(session)
    ready = [_in_open_period(document, closed) for document in fresh]
    numbers = known | dict(zip((d.key for d in ready), _append(session, ready, counting), strict=True))
    is_fresh = {d.key for d in fresh} - known.keys()
    return [Posted(number=numbers[d.key], fresh=d.key in is_fresh) for d in documents]


def post_one(session: Session, document: Document, *, counting: Sequence[Fixed] = ()) -> Posted:
    """Append one document unless its key is known."""
    return post(session, [document], counting=counting)[0]


def closed_through(session: Session) -> date | None:
    """Give the last day of the closed periods, if any is closed."""
    text = catalogue.read_note(session, CLOSED_THROUGH)
    return date.fromisoformat(text) if text else None


def _in_open_period(document: Document, closed: date | None) -> Document:
    day = document.booked_on or document.happened.date()
    if closed is not None and day <= closed:
        day = closed + timedelta(days=1)
    return replace(document, booked_on=day)


def _first_of_each(documents: list[Document]) -> list[Document]:
    return list({document.key: document for document in reversed(documents)}.values())[::-1]


def _append(session: Session, documents: list[Document], counting: Sequence[Fixed]) -> list[int]:
    if not documents:
        return []
    fixed = _fixed_after(session, documents) + list(counting)
    if not fixed:
        return ledger.append(session, documents)
    numbers: list[int] = []
    waiting: list[Document] = []
    for document in documents:
        touched = [f for f in fixed if f in counting or _touches(document, f)]
        if touched:
            numbers += ledger.append(session, waiting)
            waiting = []
            more = corrections(document.moves, touched, _book_at(session))
            numbers += ledger.append(session, [replace(document, moves=(*document.moves, *more))])
        else:
            waiting.append(document)
    return numbers + ledger.append(session, waiting)


def _fixed_after(session: Session, documents: list[Document]) -> list[Fixed]:
    moves = [move for document in documents for move in document.moves]
    if not moves:
        return []
    first = min(move.happened for move in moves)
    wanted = {(m.material, m.site) for m in moves}
    found = counts.anchors(session, since=first)
    return [_fixed(anchor) for anchor in found if (anchor.material, anchor.site) in wanted]


def _fixed(anchor: counts.Anchor) -> Fixed:
    return Fixed(material=anchor.material, site=anchor.site, counted=anchor.counted, nano=anchor.nano)


def _touches(document: Document, point: Fixed) -> bool:
    return any(_before(move, point) for move in document.moves)


def _before(move: Move, point: Fixed) -> bool:
    return (move.material, move.site) == (point.material, point.site) and move.happened <= point.counted


def _book_at(session: Session) -> Callable[[str, str, datetime], int]:
    def balance(material: str, site: str, at: datetime) -> int:
        return ledger.balances(session, at=at, site=site, material=material).get(material, 0)

    return balance
