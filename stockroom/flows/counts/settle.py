"""Counts: enter what was counted, then post it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from stockroom.counting.aid import Measured, doubt
from stockroom.counting.reconcile import Difference
from stockroom.errors import RefusedError, UnknownError, UsageError, nearest
from stockroom.flows.book.terms import terms_of
from stockroom.flows.counts.review import measures, reviewed
from stockroom.flows.posting.loans import loans_open
from stockroom.flows.posting.post import Bins, entered_before, marked_before, post_one
from stockroom.phrases import joined, phrase
from stockroom.stock.counts import Count, CountLine, CountReason
from stockroom.stock.materials import Material
from stockroom.stock.money import half_up
from stockroom.stock.moves import DocumentKind, MoveKind
from stockroom.stock.postings import Fixed, Stamp, count_facts, opened
from stockroom.stock.quantities import NANO, Quantity
from stockroom.stock.suppliers import current, unit_costs
from stockroom.store import catalogue, counts, ledger
from stockroom.store.book import Book, Session

_JUST_BEFORE = timedelta(seconds=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """What settling a count posted, and which bins it held back."""

    document: int
    fresh: bool
    posted: tuple[str, ...] = ()
    held: tuple[str, ...] = ()
    corrected: int = 0  # bins


def take_count(book: Book, count: Count, stamp: Stamp, *, sure: bool = True) -> None:
    """Keep counted bins; the same lines twice change nothing.

    Parameters
    ----------
    book : Book
        The book.
    count : Count
        Counted bins; a sheet may be entered part by part.
    stamp : Stamp
        When it was entered.
    sure : bool
        Take amounts that look wrong, and bins counted and settled since, all the same.
    """
    with book.writing() as session:
        _take(session, count, stamp, sure=sure)


def take_counts(book: Book, taken: Sequence[Count], stamp: Stamp, *, sure: bool = True) -> list[str]:
    """Keep several sheets, all or none; gives their keys. Under a mark that said the same before, nothing new."""
    with book.writing() as session:
        sheets = marked_before(session, stamp, [count.key for count in taken])
        if sheets is not None:
            return sheets
        for count in taken:
            _take(session, count, stamp, sure=sure)
        return [count.key for count in taken]


def _take(session: Session, count: Count, stamp: Stamp, *, sure: bool) -> None:
    fresh = _fresh(session, count.key, _with_lent(session, _checked(session, count.lines)))
    if not sure:
        _refuse_unlikely(session, fresh, stamp.entered)
    counts.add_lines(session, count.key, fresh, stamp.entered)


def _with_lent(session: Session, lines: Sequence[CountLine]) -> list[CountLine]:
    """Add what was lent out at the time to what was found on the shelf: it is the shop's all the same."""
    made = []
    for line in lines:
        out = sum(
            loan.nano for loan in loans_open(session, at=line.counted, site=line.site) if loan.material == line.material
        )
        if out:
            lent = Quantity(nano=out, dimension=line.amount.dimension)
            said = f"with {_known(session)[line.material].counted(out)} lent out"
            note = "; ".join(filter(None, (line.note, said)))
            made.append(replace(line, amount=line.amount + lent, note=note))
        else:
            made.append(line)
    return made


def drop_lines(book: Book, sheet: str, materials: Sequence[str], stamp: Stamp | None = None) -> int:
    """Leave out bins of a sheet that were entered wrongly and not settled yet; give how many lines that were.

    Raises
    ------
    RefusedError
        If none of them is waiting on the sheet.
    """
    with book.writing() as session:
        if stamp and marked_before(session, stamp, [sheet]) is not None:
            return 0
        lines = counts.read_lines(session, catalogue.dimensions(session), sheet=sheet, state="open")
        mine = [kept.id for kept in lines if kept.line.material in materials]
        if not mine:
            raise RefusedError(
                phrase(
                    "Nothing of %(materials)s is waiting on count sheet %(sheet)s.",
                    materials=", ".join(materials),
                    sheet=sheet,
                ),
                fix=phrase("See: stockroom differences '%(sheet)s'", sheet=sheet),
            )
        counts.mark(session, mine, state="dropped")
        return len(mine)


def _fresh(session: Session, sheet: str, lines: Sequence[CountLine]) -> list[CountLine]:
    """Keep what is not on the sheet yet; refuses a second result for the same bin and moment."""
    there = {
        _bin(kept.line): kept
        for kept in counts.read_lines(session, catalogue.dimensions(session), sheet=sheet)
        if kept.state != "dropped"
    }
    for line in lines:
        kept = there.get(_bin(line))
        if kept is not None and kept.line.amount != line.amount:
            raise _there_already(session, kept, sheet)
    return [line for line in lines if _bin(line) not in there]


def _there_already(session: Session, kept: counts.KeptLine, sheet: str) -> RefusedError:
    amount = _known(session)[kept.line.material].counted(kept.line.amount.nano)
    facts = {"material": kept.line.material, "sheet": sheet, "amount": amount}
    if kept.state == "settled":
        return RefusedError(
            phrase("%(material)s is on count sheet %(sheet)s already, with %(amount)s (posted).", **facts),
            fix="Undo the posted count first.",
        )
    return RefusedError(
        phrase("%(material)s is on count sheet %(sheet)s already, with %(amount)s.", **facts),
        fix=phrase(
            "To replace it: stockroom count --sheet '%(sheet)s' --drop %(material)s, then enter it again.",
            sheet=sheet,
            material=kept.line.material,
        ),
    )


def _known(session: Session) -> dict[str, Material]:
    return {m.code: m for m in catalogue.read_materials(session)}


def _bin(line: CountLine) -> tuple[str, str, datetime]:
    return (line.material, line.site, line.counted.replace(microsecond=0))


def _refuse_unlikely(session: Session, lines: Sequence[CountLine], now: datetime) -> None:
    """Ask about amounts far beyond the usual, and about items counted and posted since."""
    for line in lines:
        if line.counted > now:
            raise UsageError(
                phrase(
                    "%(material)s: %(moment)s is still to come.",
                    material=line.material,
                    moment=f"{line.counted:%Y-%m-%d %H:%M}",
                ),
                fix="Give the time it was counted.",
            )
    usual, last = counts.most_found(session), counts.last_counted(session)
    said = [words for line in lines if (words := _doubt(session, line, usual.get(line.material, 0)))]
    said += [
        phrase(
            "%(material)s was counted on %(moment)s and posted since; this sheet is older.",
            material=line.material,
            moment=f"{last[line.material]:%Y-%m-%d %H:%M}",
        )
        for line in lines
        if line.material in last and last[line.material] > line.counted
    ]
    if said:
        raise RefusedError(joined(said), fix="Correct or leave out these items; to enter them all the same, add --yes.")


def _doubt(session: Session, line: CountLine, most: int) -> str:
    book = ledger.bin_balance(session, line.material, line.site, line.counted)
    usual = Quantity(nano=max(book, most), dimension=line.amount.dimension)
    doubtful = doubt(Measured(amount=line.amount, error=Quantity(nano=0, dimension=line.amount.dimension)), usual)
    return phrase("%(material)s: %(doubt)s", material=line.material, doubt=doubtful) if doubtful else ""


def _checked(session: Session, lines: Sequence[CountLine]) -> list[CountLine]:
    """Bring each line to its material's own dimension; refuses what can't have been counted."""
    materials = _known(session)
    made: dict[tuple[str, str, datetime], CountLine] = {}
    for line in lines:
        material = catalogue.the_material(materials.values(), line.material)
        if line.amount.nano < 0:
            raise UsageError(
                phrase("%(material)s: %(amount)s can't be on a shelf.", material=line.material, amount=line.amount),
                fix="Count again; 0 is allowed.",
            )
        bin_ = (line.material, line.site, line.counted.replace(microsecond=0))
        if bin_ in made and made[bin_].amount != material.to_base(line.amount):
            raise UsageError(
                phrase("%(material)s is on the sheet twice, with different results.", material=line.material),
                fix="Leave one out.",
            )
        error = None if line.error is None else material.to_base(line.error)
        made[bin_] = replace(line, amount=material.to_base(line.amount), error=error)
    return list(made.values())


def settle_count(
    book: Book,
    sheet: str,
    stamp: Stamp,
    *,
    reasons: Mapping[str, str] | None = None,
    accept: Sequence[str] = (),
    confirmed: bool = False,
) -> Settled:
    """Post what may be posted of a sheet as one document, and hold the book to what was counted from then on.

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

    Raises
    ------
    RefusedError
        If nothing of the sheet may be posted.
    """
    stamp = stamp.asking("settle", sheet=sheet, reasons=reasons, accept=sorted(accept), confirmed=confirmed or None)
    with book.writing() as session:
        done = entered_before(session, stamp, DocumentKind.COUNT, subject=sheet)
        if done is not None:
            return Settled(document=done, fresh=False)
        found = [one for one in reviewed(session, sheet, measures(session, stamp.entered)) if not one.settled]
        ready = [one for one in found if is_ready(one, named=confirmed or one.bin.material.code in accept)]
        held = tuple(one.bin.material.code for one in found if one not in ready)
        _refuse_nothing(sheet, ready, held)
        _refuse_strangers((*accept, *(reasons or {})), found, sheet)
        number, corrected = _post(session, sheet, ready, stamp, reasons or {})
    posted = tuple(one.bin.material.code for one in ready)
    return Settled(document=number, fresh=True, posted=posted, held=held, corrected=corrected)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningEntered:
    """What a first count was entered as."""

    document: int  # the opening stock; 0: all that was counted is none
    materials: int
    waiting: tuple[str, ...]  # sheets that hold bins of materials that moved meanwhile


def enter_opening(book: Book, stamp: Stamp) -> OpeningEntered:
    """Enter what was counted, of materials that never moved, as the opening stock: not as a difference found.

    Then the counts are posted as any others; they agree with the book.

    Raises
    ------
    RefusedError
        If nothing of the kind was counted.
    """
    stamp = stamp.asking("opening stock")
    with book.writing() as session:
        done = entered_before(session, stamp, DocumentKind.OPENING)
        materials = _known(session)
        moved = ledger.used_materials(session)
        lines = counts.read_lines(session, catalogue.dimensions(session), state="open")
        first = {kept.line.material: kept for kept in lines if kept.line.material not in moved}  # the last of each
        if done is None and not first:
            raise RefusedError("Nothing was counted that is not in the book already.", fix="Count a location first.")
        document = done or 0
        there = [kept.line for kept in first.values() if kept.line.amount.nano]
        if there:
            worth = _worth(session, [materials[line.material] for line in there], stamp.happened.date())
            facts = [
                (materials[line.material], line.amount, worth(line.material, line.amount), "", None) for line in there
            ]
            made = opened(facts, stamp)
            before = {line.material: line.counted - _JUST_BEFORE for line in there}
            moves = tuple(move._replace(happened=before[move.material]) for move in made.moves)
            document = post_one(session, replace(made, moves=moves, happened=max(before.values())), new=True).number
        for sheet in dict.fromkeys(kept.sheet for kept in first.values()):
            found = [one for one in reviewed(session, sheet, measures(session, stamp.entered)) if not one.settled]
            ready = [one for one in found if is_ready(one, named=one.bin.material.code in first)]
            if ready:
                _post(session, sheet, ready, replace(stamp, key=f"{stamp.key}:{sheet}"), {})
        left = counts.read_lines(session, catalogue.dimensions(session), state="open")
    return OpeningEntered(
        document=document, materials=len(first), waiting=tuple(dict.fromkeys(kept.sheet for kept in left))
    )


def _worth(session: Session, materials: Sequence[Material], day: date) -> Callable[[str, Quantity], int | None]:
    """Give what says what an amount is worth by the offers in force; nothing where the material's usual cost does."""
    asked = [m for m in materials if m.usual_rate is None]
    offers = current(catalogue.read_offers(session, catalogue.dimensions(session)), day) if asked else []
    terms = terms_of(session)
    costs = unit_costs((), offers, lambda offer: terms.borne(offer, day))
    unknown = {m.code for m in asked} & costs.keys()

    def worth(code: str, amount: Quantity) -> int | None:
        return half_up(costs[code] * amount.nano / NANO) if code in unknown else None

    return worth


def count_at_once(session: Session, count: Count, stamp: Stamp) -> int:
    """Take and post a count in one go, whatever it finds; give its document."""
    _take(session, count, stamp, sure=True)
    found = [one for one in reviewed(session, count.key, measures(session, stamp.entered)) if one.waiting]
    return _post(session, count.key, found, stamp, {})[0]


def is_ready(one: Difference, *, named: bool = False) -> bool:
    """Say whether settling posts a bin: what should be counted again only where its owner named it."""
    return one.waiting and (named or one.postable)


def _post(
    session: Session, sheet: str, ready: Sequence[Difference], stamp: Stamp, reasons: Mapping[str, str]
) -> tuple[int, int]:
    """Post bins as one document, each with its reason; give its number, and how many bins it corrected."""
    why = {one.bin.material.code: str(one.bin.line.reason) for one in ready}
    why |= {code: the_reason(text) for code, text in reasons.items() if code in why}
    posted = post_one(
        session,
        stamp.document(DocumentKind.COUNT, sheet, reasons=why, lines=[_facts(one, why) for one in ready]),
        bins=Bins(settled=tuple(_fixed(ready))),
        new=True,
    )
    counts.mark(session, [number for one in ready for number in one.others], state="recounted")
    counts.mark(session, [one.number for one in ready], state="settled", settled_by=posted.number)
    counts.give_reasons(session, {one.number: CountReason(why[one.bin.material.code]) for one in ready})
    moves = ledger.read_documents(session, numbers=[posted.number])[0].moves
    return posted.number, sum(move.kind is MoveKind.COUNT for move in moves)


def _facts(one: Difference, why: Mapping[str, str]) -> dict[str, object]:
    line = one.bin.line
    return count_facts(replace(line, reason=CountReason(why[line.material])))


def _fixed(ready: Sequence[Difference]) -> list[Fixed]:
    lines = [one.bin.line for one in ready]
    return [Fixed(material=x.material, site=x.site, counted=x.counted, nano=x.amount.nano) for x in lines]


def _refuse_nothing(sheet: str, ready: Sequence[Difference], held: Sequence[str]) -> None:
    if ready:
        return
    if held:
        raise RefusedError(
            phrase(
                "Every item of count sheet %(sheet)s is to be counted again first: %(bins)s.",
                sheet=sheet,
                bins=", ".join(held),
            ),
            fix=phrase(
                "Count again: stockroom count --sheet '%(sheet)s' MATERIAL=AMOUNT; or post as counted: --confirmed.",
                sheet=sheet,
            ),
        )
    raise RefusedError(
        phrase("Nothing on count sheet %(sheet)s is waiting to be posted.", sheet=sheet), fix="Enter the count first."
    )


def _refuse_strangers(named: Sequence[str], waiting: Sequence[Difference], sheet: str) -> None:
    known = {one.bin.material.code for one in waiting}
    for code in named:
        if code not in known:
            raise UnknownError(
                phrase("%(code)s is not waiting on count sheet %(sheet)s.", code=code, sheet=sheet),
                fix=phrase("There is: %(known)s.", known=", ".join(sorted(known))),
            )


def the_reason(text: str) -> CountReason:
    """Read a reason.

    Raises
    ------
    UnknownError
        If it is none of the reasons.
    """
    try:
        return CountReason(text.strip().casefold())
    except ValueError as wrong:
        fix = nearest(text, CountReason) or phrase("Reasons: %(reasons)s.", reasons=", ".join(CountReason))
        raise UnknownError(phrase("'%(text)s' is not a reason.", text=text), fix=fix) from wrong
