"""Offcuts that are kept as pieces, as the documents leave them.

A piece with a number is a batch of its own: what is left of it follows from the moves that name the batch, its size
from the last document in force that says one. So whatever is undone, the pieces are as they were.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import cast

from stockroom.errors import RefusedError, UnknownError
from stockroom.phrases import phrase
from stockroom.stock.materials import Material
from stockroom.stock.moves import Document, DocumentKind, is_in_force
from stockroom.stock.offcuts import Offcut, PieceSize, is_piece, is_size, piece_size
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import Unit, plain
from stockroom.stock.typed import amount
from stockroom.store import ledger
from stockroom.store.book import Session


def next_number(session: Session) -> int:
    """Give the number of the next piece: one more than any before, since numbers are written on them."""
    stored = ledger.read_documents(session, kinds=[DocumentKind.OFFCUT], with_moves=False)
    return 1 + max((cast("int", document.content.get("piece", 0)) for document in stored), default=0)


def offcuts_there(session: Session, site: str | None, *, at: datetime | None = None) -> list[Offcut]:
    """Give the pieces of which something is left at a site, or at any, by number; now or as of a moment."""
    stored = {
        cast("int", document.content["piece"]): document
        for document in ledger.read_documents(session, kinds=[DocumentKind.OFFCUT])
        if "piece" in document.content and site in (None, document.site) and _by(at, document.happened)
    }
    if not stored:
        return []
    left, told = _left(session, stored.values(), at)
    documents = ledger.read_documents(session, numbers=sorted({n for each in told.values() for n in each}))
    known, taken = {document.id or 0: document for document in documents}, ledger.reversals(session)
    found = []
    for number, document in sorted(stored.items()):
        lot = document.moves[-1].lot
        if left.get(lot, 0) > 0:
            telling = [known[n] for n in sorted(told[lot]) if is_in_force(n, taken) and known[n].reverses is None]
            found.append(_piece(number, document, left[lot], telling))
    return found


def _by(at: datetime | None, happened: datetime) -> bool:
    return at is None or happened <= at


def _left(
    session: Session, stored: Iterable[Document], at: datetime | None
) -> tuple[dict[str, int], dict[str, set[int]]]:
    """Add up what is left of each piece's batch, and name the documents that moved it."""
    left: dict[str, int] = {}
    told: dict[str, set[int]] = {}
    for material in sorted({document.moves[-1].material for document in stored}):
        for number, move in ledger.moves_of_material(session, material):
            if is_piece(move.lot) and _by(at, move.happened):
                left[move.lot] = left.get(move.lot, 0) + move.nano
                told.setdefault(move.lot, set()).add(number)
    return left, told


def _piece(number: int, stored: Document, nano: int, telling: Sequence[Document]) -> Offcut:
    """Say how a piece is now: as the last document in force says, if that is still what is left of it."""
    sides = [
        cast("list[int]", sides)
        for document in telling
        for piece, sides in (
            [[document.content["piece"], document.content.get("size", [])]]
            if document.kind is DocumentKind.OFFCUT
            else cast("list[list[object]]", document.content.get("cut", []))
        )
        if piece == number
    ]
    size = PieceSize.of(*sides[-1]) if sides and sides[-1] else None
    move = stored.moves[-1]
    return Offcut(
        number=number,
        material=move.material,
        sheet=stored.subject,
        site=stored.site,
        nano=nano,
        stored=stored.happened,
        document=stored.id or 0,
        size=size if size is not None and size.area.nano == nano else None,
    )


def the_offcut(session: Session, number: int, stamp: Stamp) -> Offcut:
    """Find a piece that is there, at the stamp's site and moment.

    Raises
    ------
    UnknownError
        If there is none of that number, or nothing is left of it, or it was stored later.
    """
    there = offcuts_there(session, stamp.site)
    found = next((piece for piece in there if piece.number == number), None)
    if found is None or found.stored > stamp.happened:
        known = ", ".join(str(piece.number) for piece in there) or phrase("none")
        raise UnknownError(
            phrase("There is no offcut %(number)s.", number=number), fix=phrase("There is: %(known)s.", known=known)
        )
    return found


def what_is_left(piece: Offcut, kept: Material, typed: str) -> tuple[PieceSize | None, int]:
    """Read what stays of a piece: a size, an area or 'none'; gives its sides, where it has such, and its amount.

    Raises
    ------
    RefusedError
        If it doesn't lie in the piece, or is all of it.
    """
    if typed.strip().casefold() == "none":
        return None, 0
    size = piece_size(typed) if is_size(typed) else None
    left = kept.to_base(size.area if size else amount(typed, kept.unit)).nano
    beyond = size is not None and piece.size is not None and not piece.size.covers(size)
    if beyond or not 0 <= left < piece.nano:
        raise RefusedError(
            phrase(
                "%(left)s is not a part of offcut %(number)s, which is %(size)s.",
                left=typed,
                number=piece.number,
                size=said_size(piece, kept.unit),
            ),
            fix="Measure again; for nothing that can be used, say none.",
        )
    return size, left


def said_size(piece: Offcut, unit: Unit) -> str:
    """Say how large a piece is: by its sides, or its area where its shape is odd."""
    return str(piece.size or f"{plain(unit.count(piece.nano))} {unit.name}")
