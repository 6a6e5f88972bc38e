"""Counted bins judged: what agrees with the book, what to count again, what two people found."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from stockroom.counting.reconcile import Bin, CountVerdict, Difference, agree, compare
from stockroom.errors import UnknownError
from stockroom.flows.count_rules import Measures
from stockroom.flows.ordering.place import dimensions
from stockroom.phrases import phrase
from stockroom.stock.counts import CountLine, CountReason
from stockroom.stock.materials import Material
from stockroom.store import counts, ledger
from stockroom.store.book import Session
from stockroom.store.counts import KeptLine

ONE_OCCASION = timedelta(days=1)  # counts of a bin on two sheets within a day are one occasion
WAITING = ("open", "recounted")  # what a recount is compared with


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A counted bin, what the book said at its moment, and what to do about it."""

    material: Material
    line: CountLine  # the last count of the bin
    found: int  # nano
    book: int  # nano, at that moment
    difference: Difference
    reason: CountReason
    why: str  # the verdict in a few words
    numbers: tuple[int, ...]  # kept lines of this sheet that settling it concerns, the one that holds last
    others: tuple[int, ...] = ()  # earlier counts of it that no longer hold
    settled: bool = False
    superseded: bool = False  # by a later count on another sheet

    @property
    def verdict(self) -> CountVerdict:
        """What to do about it."""
        return self.difference.verdict


def judged(session: Session, sheet: str, by: Measures) -> list[Judged]:
    """Judge within a transaction under way."""
    kinds = dimensions(session)
    known_sheet = [k for k in counts.read_lines(session, kinds, sheet=sheet) if k.state != "dropped"]
    kept = [k for state in WAITING for k in counts.read_lines(session, kinds, state=state)]
    if not known_sheet:
        near = ", ".join(dict.fromkeys(k.sheet for k in kept if k.state == "open")) or phrase("none")
        raise UnknownError(
            phrase("Nothing was counted on sheet '%(sheet)s'.", sheet=sheet),
            fix=phrase("Sheets not settled yet: %(near)s.", near=near),
        )
    made = []
    for mine in _by_bin([k for k in known_sheet if k.state != "recounted"]).values():
        made += [_settled(session, k, by) for k in mine if k.state == "settled"]
        if waiting := [k for k in mine if k.state == "open"]:
            made.append(_open(session, waiting[-1], _rivals(kept, waiting[-1]), by))
    return sorted(made, key=lambda one: (one.material.place, one.material.code, one.line.counted))


def _by_bin(kept: Sequence[KeptLine]) -> dict[tuple[str, str], list[KeptLine]]:
    found: dict[tuple[str, str], list[KeptLine]] = {}
    for each in kept:
        found.setdefault((each.line.material, each.line.site), []).append(each)
    return found


def _rivals(kept: Sequence[KeptLine], last: KeptLine) -> list[KeptLine]:
    """Find other counts of the same bin that are still to be settled: on this sheet, or on another within a day."""
    return [
        each
        for each in kept
        if each.id != last.id
        and each.state in WAITING
        and (each.line.material, each.line.site) == (last.line.material, last.line.site)
        and (each.sheet == last.sheet or abs(each.line.counted - last.line.counted) <= ONE_OCCASION)
    ]


def _open(session: Session, last: KeptLine, rivals: list[KeptLine], by: Measures) -> Judged:
    if any(r.state == "open" and _after(r, last) for r in rivals):
        return _superseded(session, last, by)
    mine = _bin(session, last, by)
    others = [replace(mine, counted=_as_if_now(session, r, mine), error=_error(r.line)) for r in rivals]
    backed = [other for other in others if agree(other, mine, by.rules)]
    if backed:
        first = backed[-1]
        mine = replace(mine, counted=first.counted, recounted=mine.counted)
    found = compare(mine, by.rules)
    if others and not backed:
        found = replace(found, verdict=CountVerdict.RECOUNT)
    return Judged(
        material=by.materials[last.line.material],
        line=last.line,
        found=last.line.amount.nano,
        book=mine.booked,
        difference=found,
        reason=_reason(last.line, found, by),
        why=_why(found, rivals, backed=bool(backed)),
        numbers=(last.id,),
        others=tuple(r.id for r in rivals if r.state == "open"),
    )


def _after(one: KeptLine, other: KeptLine) -> bool:
    return (one.line.counted, one.id) > (other.line.counted, other.id)


def _superseded(session: Session, last: KeptLine, by: Measures) -> Judged:
    """Point to a later count of the bin on another sheet: that one is settled."""
    found = replace(compare(_bin(session, last, by), by.rules), verdict=CountVerdict.RECOUNT)
    return Judged(
        material=by.materials[last.line.material],
        line=last.line,
        found=last.line.amount.nano,
        book=found.bin.booked,
        difference=found,
        reason=last.line.reason,
        why=phrase("counted again later on another sheet: that count holds"),
        numbers=(last.id,),
        superseded=True,
    )


def _settled(session: Session, kept: KeptLine, by: Measures) -> Judged:
    line = kept.line
    corrected = ledger.counted_differences(session, line.material, line.site, line.counted)
    found = compare(replace(_bin(session, kept, by), booked=line.amount.nano - corrected), by.rules)
    return Judged(
        material=by.materials[line.material],
        line=line,
        found=line.amount.nano,
        book=line.amount.nano - corrected,
        difference=found,
        reason=line.reason,
        why=phrase("settled"),
        numbers=(kept.id,),
        settled=True,
    )


def _bin(session: Session, kept: KeptLine, by: Measures) -> Bin:
    line = kept.line
    return Bin(
        material=line.material,
        booked=ledger.bin_balance(session, line.material, line.site, line.counted),
        counted=line.amount.nano,
        error=_error(line),
        cost=by.costs[line.material],
        grade=by.grade(line.material),
        reason=line.reason,
        family=by.materials[line.material].family,
    )


def _as_if_now(session: Session, earlier: KeptLine, last: Bin) -> int:
    """Carry an earlier count to the moment of the last: what moved meanwhile is not a difference between them."""
    line = earlier.line
    booked = ledger.bin_balance(session, line.material, line.site, line.counted)
    return line.amount.nano - booked + last.booked


def _error(line: CountLine) -> int:
    return line.error.nano if line.error else 0


def _reason(line: CountLine, found: Difference, by: Measures) -> CountReason:
    """Give the stated reason; what the aid alone explains is measuring."""
    within = found.amount and abs(found.amount) <= by.rules.errors * _error(line)
    return CountReason.MEASURING if line.reason is CountReason.OTHER and within else line.reason


def _why(found: Difference, rivals: Sequence[KeptLine], *, backed: bool) -> str:
    if rivals and not backed:
        return phrase("counted %(times)s times, with different results: count it once more", times=len(rivals) + 1)
    if backed:
        return phrase("counted twice, with the same result: the later count holds")
    words = {
        CountVerdict.AGREES: phrase("exactly as booked"),
        CountVerdict.WITHIN: phrase("close enough for its class and its aid"),
        CountVerdict.RECOUNT: phrase("further off than class %(grade)s allows", grade=str(found.bin.grade)),
    }
    return words.get(found.verdict, phrase(str(found.verdict)))
