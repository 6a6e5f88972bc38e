"""Offcuts: a piece kept joins its own material, and leaves the sheet only where no job has drawn it as waste."""

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Literal, cast

from stockroom.errors import DoubtError, RefusedError
from stockroom.flows.bench.counter import CounterResult, left_at, refuse_short, the_material
from stockroom.flows.posting.offcut_pieces import next_number, offcuts_there, the_offcut, what_is_left
from stockroom.flows.posting.post import entered_before, post_one
from stockroom.flows.posting.price_corrections import in_force as holds
from stockroom.phrases import phrase
from stockroom.stock import postings
from stockroom.stock.materials import Material
from stockroom.stock.moves import Document, DocumentKind, Move, MoveKind
from stockroom.stock.offcuts import Offcut, OffcutCut, PieceSize
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import Quantity
from stockroom.stock.recipes import Recipe, in_force
from stockroom.stock.tickets import by_job
from stockroom.store import catalogue, counts, ledger, tickets
from stockroom.store.book import Book, Session

Odd = Literal["odd"]
_WORK = (MoveKind.JOB_USE, MoveKind.REDO_USE)
_SHORTEST = 4  # letters of a word that says what a sheet is
_SAY_NOTHING = {"offcut", "offcuts", "over", "sheet", "sheets", "for", "pieces"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """An offcut kept: what is there of it now, and how much of it jobs had drawn as waste already."""

    moved: CounterResult
    drawn: int  # nano of the sheet, which did not leave it a second time
    sheet: Material
    piece: int | None = None  # its number, to be written on it


def keep_offcut(
    book: Book,
    sheet: str,
    kept: str,
    areas: tuple[Quantity, Quantity],
    stamp: Stamp,
    *,
    from_sheet: bool = False,
    piece: PieceSize | Odd | None = None,
) -> Kept:
    """Return an offcut to its own material.

    Parameters
    ----------
    book : Book
        The book.
    sheet, kept : str
        The material it was cut from, and the one it joins.
    areas : tuple of Quantity
        The area that is no longer part of the sheet, and the area that joins the offcuts.
    stamp : Stamp
        When it was kept; sure of it where the two materials have nothing in common, or the book has no more of the
        sheet.
    from_sheet : bool
        No job was cut from the piece: all of it leaves the sheet.
    piece : PieceSize or 'odd', optional
        It is kept as a piece of its own, with a number: its sides, or that it has no shape that can be said.

    Notes
    -----
    A recipe adds waste to what a sole measures, and an offcut is a part of that waste. So it is taken from the waste
    that jobs have drawn since the sheet was last counted (a count knows what is really there), and only what is
    beyond it leaves the sheet. The jobs have paid for it, and it costs nothing more.
    """
    with book.writing() as session:
        source, target = the_material(session, sheet), the_material(session, kept)
        taken, stated = areas[0], areas[1]
        facts: dict[str, object] = {"sheet": source.code, "kept": target.code, "areas": areas, "piece": piece}
        stamp = stamp.asking("offcut", **facts, whole=from_sheet or None)
        if not stamp.sure:
            _refuse_strangers(session, source, target)
        gone = source.to_base(taken).nano
        drawn = 0 if from_sheet else min(max(gone, 0), waste_drawn(session, source, stamp.site))
        number = next_number(session) if piece else None
        numbered = (number, None if piece == "odd" else piece) if number else None
        document = postings.offcut(source, target, (taken, stated), stamp, drawn=drawn, piece=numbered)
        posted = post_one(session, document)
        if posted.fresh and not stamp.sure:
            refuse_short(session, source, document, left_at(session, source, document.site))
        if not posted.fresh:
            there = ledger.read_documents(session, numbers=[posted.number])[0]
            drawn, number = _said(there), cast("int | None", there.content.get("piece"))
        left = left_at(session, target, document.site)
    moved = CounterResult(material=target, document=posted.number, fresh=posted.fresh, left=left)
    return Kept(moved=moved, drawn=drawn, sheet=source, piece=number)


def offcuts(book: Book, typed: str = "", *, site: str = "main") -> list[Offcut]:
    """List the pieces kept at a site, of what they were cut from or are kept as, or all of them."""
    with book.reading() as session:
        meant = the_material(session, typed).code if typed else ""
        found = offcuts_there(session, site)
    return [piece for piece in found if not meant or meant in (piece.material, piece.sheet)]


def offcuts_for(book: Book, recipe: Recipe) -> list[Offcut]:
    """List the pieces kept of what a recipe is cut from."""
    sheets = {line.material for line in recipe.lines}
    return [piece for piece in offcuts(book) if piece.sheet in sheets]


def trim_offcut(book: Book, number: int, left: str, stamp: Stamp, *, reason: str = "") -> CounterResult:
    """Enter that a piece is smaller than the book says, or gone; what is missing is waste."""
    stamp = stamp.asking("trim offcut", number=number, left=left, reason=reason)
    with book.writing() as session:
        done = entered_before(session, stamp, DocumentKind.WASTE)
        if done is not None:
            return _lost_before(session, done)
        piece = the_offcut(session, number, stamp)
        kept = the_material(session, piece.material)
        size, rest = what_is_left(piece, kept, left)
        cut = OffcutCut(piece=piece, wasted=piece.nano - rest, left=size)
        posted = post_one(session, postings.offcuts_lost([cut], stamp, reason=reason), new=True)
        there = left_at(session, kept, stamp.site)
        return CounterResult(material=kept, document=posted.number, fresh=posted.fresh, left=there)


def _lost_before(session: Session, number: int) -> CounterResult:
    document = ledger.read_documents(session, numbers=[number])[0]
    kept = the_material(session, document.subject)
    return CounterResult(material=kept, document=number, fresh=False, left=left_at(session, kept, document.site))


def waste_drawn(session: Session, sheet: Material, site: str) -> int:
    """Add up the waste in what jobs drew of a sheet since it was last counted, less the offcuts kept from it; nano."""
    counted = [a.counted for a in counts.anchors(session, materials=[sheet.code]) if a.site == site]
    since = max(counted, default=None)
    drawn = [
        move
        for _, move in ledger.moves_of_material(session, sheet.code, site=site, since=since)
        if move.kind in _WORK and move.ticket
    ]
    jobs = {t.number: t.job for t in tickets.read_tickets(session, numbers=sorted({m.ticket for m in drawn}))}
    shares = _Shares(session)
    wasted = sum(-move.nano * shares.of(jobs.get(move.ticket, ""), move) for move in drawn)
    return max(int(wasted) - _kept_since(session, sheet, site, since), 0)


class _Shares:
    """The part of what a recipe line draws that is waste; each job's recipes are read once."""

    def __init__(self, session: Session) -> None:
        self._recipes = by_job(catalogue.read_recipes(session))

    def of(self, job: str, move: Move) -> Fraction:
        recipe = in_force(self._recipes.get(job, ()), move.happened.date())
        line = next((line for line in recipe.lines if line.name == move.recipe_line), None) if recipe else None
        return line.waste / (100 + line.waste) if line else Fraction(0)


def _kept_since(session: Session, sheet: Material, site: str, since: datetime | None) -> int:
    documents = ledger.read_documents(session, subject=sheet.code, kinds=[DocumentKind.OFFCUT], with_moves=False)
    return sum(
        _said(document)
        for document in documents
        if document.site == site and (since is None or document.happened > since) and holds(session, document.id or 0)
    )


def _said(document: Document) -> int:
    return int(str(document.content.get("drawn", 0)))


def _refuse_strangers(session: Session, source: Material, target: Material) -> None:
    """Ask about an offcut that joins a material which has nothing in common with its sheet."""
    if source.code == target.code:
        raise RefusedError(
            phrase("%(sheet)s is the sheet itself.", sheet=source.code),
            fix="Name the material its offcuts are kept as.",
        )
    if source.family == target.family or _words(source) & _words(target):
        return
    before = ledger.read_documents(session, subject=source.code, kinds=[DocumentKind.OFFCUT])
    if not any(move.material == target.code for document in before for move in document.moves):
        raise DoubtError(
            phrase(
                "%(sheet)s (%(name)s) and %(kept)s (%(other)s) don't look like one material.",
                sheet=source.code,
                name=source.name,
                kept=target.code,
                other=target.name,
            ),
            fix="Name the offcuts of this very sheet. If it is right, say so: --anyway.",
        )


def _words(material: Material) -> set[str]:
    text = f"{material.code} {material.name}".casefold().replace("-", " ")
    return {word for word in text.split() if len(word) >= _SHORTEST} - _SAY_NOTHING
