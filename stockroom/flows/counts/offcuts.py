"""A bin of offcuts counted by its pieces: those found are ticked, those missing written off."""

from collections.abc import Collection
from dataclasses import dataclass, replace

from stockroom.errors import RefusedError
from stockroom.flows.counts.settle import count_at_once
from stockroom.flows.posting.offcut_pieces import offcuts_there
from stockroom.flows.posting.post import entered_before, post_one
from stockroom.phrases import phrase
from stockroom.stock import postings
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.materials import Material
from stockroom.stock.moves import DocumentKind
from stockroom.stock.offcuts import Offcut, OffcutCut
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import Quantity
from stockroom.stock.typed import material_meant
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book, Session


@dataclass(frozen=True, slots=True, kw_only=True)
class TickedBin:
    """What going through a bin did."""

    material: Material
    document: int  # of the count
    fresh: bool
    found: tuple[Offcut, ...] = ()
    missing: tuple[Offcut, ...] = ()
    lost: int | None = None  # the document that writes the missing pieces off


def count_offcuts(
    book: Book, typed: str, there: Collection[int], stamp: Stamp, *, missing: Collection[int] = ()
) -> TickedBin:
    """Go through a bin of offcuts: the pieces found stay, those missing are written off, and the bin is counted.

    Either those that are `there` are named, or those `missing`, and all others are there. What lies there without a
    number stays as the book has it.

    Raises
    ------
    RefusedError
        If nothing is kept there, or a number is none of its pieces.
    """
    with book.writing() as session:
        kept = material_meant(typed, {m.code: m for m in catalogue.read_materials(session)})
        sheet = f"{kept.code} {stamp.happened:%Y-%m-%d %H:%M:%S}"
        stamp = stamp.asking("count offcuts", material=kept.code, there=sorted(there), missing=sorted(missing))
        done = entered_before(session, stamp, DocumentKind.COUNT)
        if done is not None:
            return TickedBin(material=kept, document=done, fresh=False)
        pieces = pieces_in(session, kept, stamp.site)
        _refuse_strange(kept, pieces, (*there, *missing))
        gone = tuple(p for p in pieces if (p.number in missing if missing else p.number not in there))
        loose = max(_balance(session, kept, stamp) - sum(piece.nano for piece in pieces), 0)
        lost = None
        if gone:
            cuts = [OffcutCut(piece=piece, wasted=piece.nano) for piece in gone]
            part = replace(stamp, key=f"{stamp.key}#missing")
            lost = post_one(session, postings.offcuts_lost(cuts, part, reason="not found at the count")).number
        found = tuple(piece for piece in pieces if piece not in gone)
        amount = Quantity(nano=loose + sum(piece.nano for piece in found), dimension=kept.dimension)
        line = CountLine(material=kept.code, amount=amount, counted=stamp.happened, who=stamp.who, site=stamp.site)
        number = count_at_once(session, Count(key=sheet, lines=(line,)), stamp)
        return TickedBin(material=kept, document=number, fresh=True, found=found, missing=gone, lost=lost)


def pieces_in(session: Session, kept: Material, site: str) -> list[Offcut]:
    """List the pieces of a bin."""
    return [piece for piece in offcuts_there(session, site) if piece.material == kept.code]


def _balance(session: Session, kept: Material, stamp: Stamp) -> int:
    return ledger.bin_balance(session, kept.code, stamp.site, stamp.happened)


def _refuse_strange(kept: Material, pieces: Collection[Offcut], there: Collection[int]) -> None:
    strange = sorted(set(there) - {piece.number for piece in pieces})
    if not pieces:
        raise RefusedError(
            phrase("No pieces are kept as %(material)s.", material=kept.code),
            fix="Store one with its size first: stockroom offcut SHEET KEPT_AS '60 x 40 cm'",
        )
    if strange:
        known = ", ".join(str(piece.number) for piece in pieces)
        raise RefusedError(
            phrase("There is no offcut %(number)s.", number=strange[0]), fix=phrase("There is: %(known)s.", known=known)
        )
