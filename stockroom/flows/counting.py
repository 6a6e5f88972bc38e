"""Counts: keep what was counted, then bring the book to it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.orders import dimensions
from stockroom.flows.post import Bins, post_one
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.moves import DocumentKind, Move, MoveKind
from stockroom.stock.postings import Fixed, Stamp
from stockroom.store import catalogue, counts, ledger
from stockroom.store.book import Book, Session


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A counted bin against the book at its own moment."""

    material: str
    site: str
    counted: str
    found: int  # nano
    book: int  # nano, at that moment

    @property
    def nano(self) -> int:
        """What is on the shelf more (or less) than in the book."""
        return self.found - self.book


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """What settling a count posted."""

    document: int
    fresh: bool
    moves: tuple[Move, ...]


def take_count(book: Book, count: Count, stamp: Stamp) -> list[Difference]:
    """Keep counted bins (the same sheet twice changes nothing) and compare them with the book at their time."""
    with book.writing() as session:
        if not counts.read_lines(session, dimensions(session), sheet=count.key):
            counts.add_lines(session, count.key, _checked(session, count.lines), stamp.entered)
        return differences(session, count.key)


def _checked(session: Session, lines: Sequence[CountLine]) -> list[CountLine]:
    """Bring each line to its material's own dimension; refuses what can't have been counted."""
    materials = {m.code: m for m in catalogue.read_materials(session)}
    made: dict[tuple[str, str, datetime], CountLine] = {}
    for line in lines:
        material = catalogue.the_material(materials.values(), line.material)
        if line.amount.nano < 0:
            raise UsageError(f"{line.material}: {line.amount} can't lie on a shelf.", fix="Count again; 0 is allowed.")
        bin_ = (line.material, line.site, line.counted.replace(microsecond=0))
        if bin_ in made and made[bin_].amount != material.to_base(line.amount):
            raise UsageError(f"{line.material} is on the sheet twice, with different results.", fix="Leave one out.")
        error = None if line.error is None else material.to_base(line.error)
        made[bin_] = replace(line, amount=material.to_base(line.amount), error=error)
    return list(made.values())


def differences(session: Session, sheet: str) -> list[Difference]:
    """Compare a sheet's bins with the book, each at its own moment."""
    return [
        Difference(
            material=kept.line.material,
            site=kept.line.site,
            counted=kept.line.counted.isoformat(timespec="minutes"),
            found=kept.line.amount.nano,
            book=_book_at(session, kept),
        )
        for kept in counts.read_lines(session, dimensions(session), sheet=sheet)
        if kept.state != "dropped"
    ]


def settle_count(book: Book, sheet: str, stamp: Stamp, reasons: Mapping[str, str] | None = None) -> Settled:
    """Post a sheet's differences as one document, and hold the book to what was counted from then on."""
    with book.writing() as session:
        return settle(session, sheet, stamp, reasons or {})


def settle(session: Session, sheet: str, stamp: Stamp, reasons: Mapping[str, str]) -> Settled:
    """Settle within a transaction under way."""
    done = ledger.known_keys(session, [stamp.key])
    if done:
        return Settled(document=done[stamp.key], fresh=False, moves=())
    lines = counts.read_lines(session, dimensions(session), sheet=sheet, state="open")
    if not lines:
        raise RefusedError(f"Nothing on count sheet {sheet} is waiting to be settled.", fix="Enter the count first.")
    why = {line.line.material: reasons.get(line.line.material, str(line.line.reason)) for line in lines}
    paper = stamp.document(DocumentKind.COUNT, sheet, reasons=why)
    posted = post_one(session, paper, bins=Bins(settled=tuple(_fixed(lines))))
    counts.mark(session, [line.id for line in lines], state="settled", settled_by=posted.number)
    moves = ledger.read_documents(session, numbers=[posted.number])[0].moves
    return Settled(document=posted.number, fresh=True, moves=tuple(m for m in moves if m.kind is MoveKind.COUNT))


def _fixed(lines: Sequence[counts.KeptLine]) -> list[Fixed]:
    return [
        Fixed(material=k.line.material, site=k.line.site, counted=k.line.counted, nano=k.line.amount.nano)
        for k in lines
    ]


def _book_at(session: Session, kept: counts.KeptLine) -> int:
    line = kept.line
    return ledger.bin_balance(session, line.material, line.site, line.counted)
