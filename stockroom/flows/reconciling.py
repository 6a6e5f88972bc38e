"""Reconciling: a sheet judged, and what may be posted of it posted as one document."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from stockroom.errors import RefusedError, UnknownError
from stockroom.flows.count_rules import keep, measures
from stockroom.flows.counting import Settled, settle_lines
from stockroom.flows.judging import Judged, judged
from stockroom.flows.ordering.place import dimensions
from stockroom.flows.posting.post import entered_before
from stockroom.phrases import phrase
from stockroom.show.tables.counts import DifferenceRow
from stockroom.stock.moves import DocumentKind
from stockroom.stock.postings import Stamp
from stockroom.store import counts
from stockroom.store.book import Book, Session

__all__ = ["Judged", "Reconciled", "difference_rows", "judge", "open_sheets", "settle_sheet"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reconciled:
    """What settling a sheet posted, and which bins it held back."""

    document: int
    fresh: bool
    posted: tuple[str, ...]
    held: tuple[str, ...]
    corrected: int  # moves


def judge(book: Book, sheet: str, moment: datetime) -> list[Judged]:
    """Judge every bin of a sheet, by shelf place."""
    with book.reading() as session:
        by = measures(session, moment)
        found = judged(session, sheet, by)
    keep(book, by)
    return found


def settle_sheet(
    book: Book,
    sheet: str,
    stamp: Stamp,
    *,
    reasons: Mapping[str, str] | None = None,
    accept: Sequence[str] = (),
    confirmed: bool = False,
) -> Reconciled:
    """Post what may be posted of a sheet as one document; hold back what is to be counted again.

    Parameters
    ----------
    book : Book
        The book.
    sheet : str
        Its key.
    stamp : Stamp
        Whose key makes it single.
    reasons : mapping of str to str, optional
        Why bins differ, by material.
    accept : sequence of str, optional
        Materials to post though they are to be counted again.
    confirmed : bool
        Post all of them.
    """
    stamp = stamp.asking("settle", sheet=sheet, reasons=reasons, accept=sorted(accept), confirmed=confirmed or None)
    with book.writing() as session:
        done = entered_before(session, stamp, DocumentKind.COUNT, subject=sheet)
        if done is not None:
            return Reconciled(document=done, fresh=False, posted=(), held=(), corrected=0)
        waiting = [one for one in judged(session, sheet, measures(session, stamp.entered)) if not one.settled]
        ready = [one for one in waiting if _is_ready(one, said=confirmed or one.material.code in accept)]
        held = tuple(one.material.code for one in waiting if one not in ready)
        _refuse_nothing(sheet, ready, held)
        _refuse_strangers((*accept, *(reasons or {})), waiting, sheet)
        settled = _post(session, sheet, ready, stamp, reasons or {})
    posted = tuple(one.material.code for one in ready)
    return Reconciled(
        document=settled.document, fresh=settled.fresh, posted=posted, held=held, corrected=len(settled.moves)
    )


def _is_ready(one: Judged, *, said: bool) -> bool:
    return not one.superseded and (said or one.difference.postable)


def _post(session: Session, sheet: str, ready: Sequence[Judged], stamp: Stamp, reasons: Mapping[str, str]) -> Settled:
    wanted = {one.numbers[-1] for one in ready}
    lines = [k for k in counts.read_lines(session, dimensions(session), sheet=sheet, state="open") if k.id in wanted]
    why = {one.material.code: str(one.reason) for one in ready} | dict(reasons)
    stated = {code: why[code] for code in (one.material.code for one in ready)}
    counts.mark(session, [number for one in ready for number in one.others], state="recounted")
    return settle_lines(session, sheet, lines, stamp, stated)


def _refuse_nothing(sheet: str, ready: Sequence[Judged], held: Sequence[str]) -> None:
    if ready:
        return
    if held:
        raise RefusedError(
            phrase(
                "Every bin of count sheet %(sheet)s is to be counted again first: %(bins)s.",
                sheet=sheet,
                bins=", ".join(held),
            ),
            fix=phrase(
                "Count again: stockroom count --sheet '%(sheet)s' MATERIAL=AMOUNT; or post as counted: --confirmed.",
                sheet=sheet,
            ),
        )
    raise RefusedError(
        phrase("Nothing on count sheet %(sheet)s is waiting to be settled.", sheet=sheet), fix="Enter the count first."
    )


def _refuse_strangers(named: Sequence[str], waiting: Sequence[Judged], sheet: str) -> None:
    known = {one.material.code for one in waiting}
    for code in named:
        if code not in known:
            raise UnknownError(
                phrase("%(code)s is not waiting on count sheet %(sheet)s.", code=code, sheet=sheet),
                fix=phrase("There is: %(known)s.", known=", ".join(sorted(known))),
            )


def open_sheets(book: Book) -> dict[str, int]:
    """Give the sheets with bins still to be settled, and how many, in the order they were counted."""
    with book.reading() as session:
        found: dict[str, int] = {}
        for kept in counts.read_lines(session, dimensions(session), state="open"):
            found[kept.sheet] = found.get(kept.sheet, 0) + 1
        return found


def difference_rows(found: Sequence[Judged]) -> list[DifferenceRow]:
    """Turn judged bins into rows to show."""
    return [
        DifferenceRow(
            material=one.material.code,
            name=one.material.name,
            unit=one.material.unit,
            place=one.material.place,
            counted=one.line.counted,
            found=one.found,
            book=one.book,
            amount=one.difference.amount,
            value=one.difference.value,
            share=one.difference.share,
            grade=str(one.difference.bin.grade),
            verdict="settled" if one.settled else str(one.verdict),
            reason=str(one.reason),
            why=one.why,
            right=one.difference.right,
            held=not one.settled and (one.superseded or not one.difference.postable),
        )
        for one in found
    ]
