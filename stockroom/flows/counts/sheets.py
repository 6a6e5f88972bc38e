"""Count sheets and cards: which bins, by which aid, the mark a sheet is known by, and filled-in sheets read whole."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

from stockroom.counting.aid import Aid, AidQuestion, Answers
from stockroom.counting.aids import aid as find_aid
from stockroom.counting.aids import aids
from stockroom.errors import BadFileError, Problem, RefusedError, StockroomError, UnknownError, UsageError, nearest
from stockroom.flows.book.snapshot import facts_for_files
from stockroom.flows.posting.loans import loans_open
from stockroom.flows.posting.offcut_pieces import offcuts_there
from stockroom.intake.filled_sheets import Mark, read_answers, read_mark
from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_files
from stockroom.intake.readers.stock import WHEN
from stockroom.intake.tables import ReadRow
from stockroom.phrases import phrase, trimmed
from stockroom.stock.counts import Count, CountLine, CountReason
from stockroom.stock.lists import CountSheet, SheetLine
from stockroom.stock.materials import Material
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import Dimension, plain
from stockroom.store import catalogue, counts, ledger
from stockroom.store.book import Book, Session

PLAIN = "plain"
OBVIOUS = (PLAIN, "pairs")  # the unit on the line says it all


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """What the book remembers of a sheet it made."""

    key: str
    made: datetime
    site: str
    materials: tuple[str, ...]


def make_sheet(
    book: Book,
    made: datetime,
    *,
    places: Sequence[str] = (),
    only: Sequence[str] | None = None,
    with_book: bool = False,
    site: str = "main",
) -> CountSheet:
    """Make a count sheet and remember it.

    Parameters
    ----------
    book : Book
        The book; the sheet can be entered into no other.
    made : datetime
        Now.
    places : sequence of str, optional
        Shelf places (or beginnings of their names) to count; all by default.
    only : sequence of str, optional
        Materials to count, such as those chosen by what a count saves.
    with_book : bool
        Show the book's figures; a blind sheet is counted more honestly.
    site : str
        Where.
    """
    with book.writing() as session:
        chosen = _chosen(session, places, only, site)
        key = _next_key(session, made)
        on_hand = ledger.balances(session, at=made, site=site) if with_book else None
        hints = dict.fromkeys((piece.material for piece in offcuts_there(session, site)), _PIECES)
        hints |= dict.fromkeys((loan.material for loan in loans_open(session, at=made, site=site)), _LENT)
        lines = tuple(_line(material, on_hand, hints.get(material.code, "")) for material in chosen)
        _remember(session, Issued(key=key, made=made, site=site, materials=tuple(m.code for m in chosen)))
        shop = catalogue.read_shop(session).name
    return CountSheet(shop=shop, key=key, made=made, lines=lines, site=site)


def _chosen(session: Session, places: Sequence[str], only: Sequence[str] | None, site: str) -> list[Material]:
    on_hand = ledger.balances(session, site=site)
    there = [m for m in catalogue.read_materials(session) if m.active or on_hand.get(m.code)]
    known = sorted({m.place for m in there if m.place})
    for place in places:
        if not any(_at(place, each) for each in known):
            fix = nearest(place, known) or phrase("Locations: %(places)s.", places=", ".join(known))
            raise UnknownError(phrase("Nothing is kept at '%(place)s'.", place=place), fix=fix)
    found = [m for m in there if not places or any(_at(place, m.place) for place in places)]
    found = [m for m in found if only is None or m.code in only]
    if not found:
        raise RefusedError("There is nothing to count.", fix="Name another location, or more minutes.")
    return found


def _at(typed: str, place: str) -> bool:
    """Say whether a place was meant: itself, or what its name begins with; 'Drawer 1' is not 'Drawer 10'."""
    wanted, there = typed.strip().casefold(), place.casefold()
    if not wanted or not there.startswith(wanted):
        return False
    rest = there[len(wanted) : len(wanted) + 1]
    return not rest or not (rest.isalpha() or (rest.isdigit() and wanted[-1].isdigit()))


_LENT = "Some is lent out: count only what is here."
_PIECES = "Pieces have numbers; to tick them instead: stockroom count-offcuts."


def _line(material: Material, on_hand: Mapping[str, int] | None, also: str = "") -> SheetLine:
    aid = aid_for(material)
    obvious = aid.name in OBVIOUS and "aid" not in material.extra
    said = "" if obvious else hint(aid, material)
    return SheetLine(
        material=material.code,
        name=material.name,
        unit=material.unit,
        place=material.place,
        aid="" if obvious else aid.name,
        hint=" ".join(filter(None, (said, also))),
        book=None if on_hand is None else on_hand.get(material.code, 0),
    )


def aid_for(material: Material) -> Aid:
    """Give the aid a material is counted with: its own, or the one that its facts answer."""
    stated = material.extra.get("aid", "").strip()
    return find_aid(stated) if stated else find_aid(_sensible(measurable(material)))


def _sensible(material: Material) -> str:
    facts = material.extra.keys()
    if material.dimension is Dimension.COUNT:
        by_weight = {"sample_pieces", "sample_weight"} <= facts
        return "sample-weight" if by_weight else "pairs" if material.unit.name == "pair" else PLAIN
    if {"core", "wound_thickness"} <= facts:
        return "roll"
    if "metres_per_gram" in facts and "tare" in facts:
        return "thread-weight"
    if "tare" in facts and _by_weight(material):
        return "tin-weight"
    if "container" in facts:
        return "tin-tenths"
    return "sheet-fraction" if "sheet" in facts else PLAIN


def _by_weight(material: Material) -> bool:
    return Dimension.MASS in {material.dimension, *_bridged(material)}


def _bridged(material: Material) -> set[Dimension]:
    return {side.dimension for side in (material.bridge.left, material.bridge.right)} if material.bridge else set()


def measurable(material: Material) -> Material:
    """Answer what counting methods ask from a material's conversion: the size of a full sheet, the metres in a gram."""
    if material.bridge is None:
        return material
    facts: dict[str, str] = {}
    if material.dimension is Dimension.AREA and Dimension.COUNT in _bridged(material):
        facts["sheet"] = _one(material, Dimension.COUNT)
    if material.dimension is Dimension.LENGTH and Dimension.MASS in _bridged(material):
        facts["metres_per_gram"] = _one(material, Dimension.MASS).partition(" ")[0]
    return replace(material, extra=facts | material.extra)


def _one(material: Material, of: Dimension) -> str:
    """Write what one base unit of a dimension is in the material's own."""
    carried = material.to_base(of.base.of(Fraction(1)))
    return f"{plain(round(material.dimension.base.count(carried.nano), 9))} {material.dimension.base.name}"


def hint(aid: Aid, material: Material) -> str:
    """Say what an aid asks for, and what it knows of the material already."""
    facts = measurable(material).extra
    said = [ask for ask in aid.asks if not (ask.fact and (ask.default or ask.fact in facts))]
    wanted = [f"{ask.name}: {ask.prompt}{_in(ask)}" for ask in said]
    known = [
        f"{ask.prompt.partition(', such as')[0]}: {facts[ask.fact]}"
        for ask in aid.asks
        if ask.fact and ask.fact in facts
    ]
    return "; ".join(wanted) + (f". Known: {'; '.join(known)}" if known else "")


def open_asks(aid: Aid, material: Material) -> list[AidQuestion]:
    """Give what the bench must answer: neither known of the material nor usual."""
    facts = measurable(material).extra
    return [ask for ask in aid.asks if not ask.default and not (ask.fact and ask.fact in facts)]


def _in(ask: AidQuestion) -> str:
    return f" ({ask.unit.name})" if ask.unit else ""


def _next_key(session: Session, made: datetime) -> str:
    """Give the next number within the day."""
    day = f"{made:%Y-%m-%d}"
    taken = catalogue.read_notes(session, f"sheet:C-{day}-")
    return f"C-{day}-{len(taken) + 1}"


def _remember(session: Session, sheet: Issued) -> None:
    facts = {"made": sheet.made.isoformat(), "site": sheet.site, "materials": list(sheet.materials)}
    catalogue.save_note(session, f"sheet:{sheet.key}", json.dumps(facts, separators=(",", ":")))


def issued(session: Session, key: str) -> Issued | None:
    """Recall a sheet this book made."""
    text = catalogue.read_note(session, f"sheet:{key}")
    if not text:
        return None
    facts = json.loads(text)
    made = datetime.fromisoformat(facts["made"])
    return Issued(key=key, made=made, site=facts["site"], materials=tuple(facts["materials"]))


def read_filled(book: Book, path: Path, *, counted: datetime | None = None, now: datetime | None = None) -> list[Count]:
    """Read a filled-in sheet into counts; nothing is entered yet.

    Parameters
    ----------
    book : Book
        The book.
    path : Path
        The sheet.
    counted : datetime, optional
        When bins were counted whose rows don't say.
    now : datetime, optional
        The moment of reading: a bin counted later is a fault.

    Raises
    ------
    BadFileError
        With every fault of its rows.
    RefusedError
        If the sheet was made for another shop or book.
    """
    with book.reading() as session:
        mark = read_mark(path)
        if mark is not None:
            _refuse_strange(session, mark)
        shop, known = catalogue.read_shop(session), facts_for_files(session)
    written: dict[str, Any] = {"locale": shop.locale, "digits": shop.currency_digits}
    loaded = read_files([f"counts={path}"], known, **written, counted=counted, now=now)
    answered = read_answers(path, known, **written)
    counts = _with_answers(loaded.counts, answered, known, counted)
    return [_marked(count, mark) for count in counts]


def _refuse_strange(session: Session, mark: Mark) -> None:
    shop = catalogue.read_shop(session).name
    if mark.shop != shop:
        raise RefusedError(
            phrase(
                "Count sheet %(sheet)s was made for '%(made_for)s'; this is the book of '%(shop)s'.",
                sheet=mark.key,
                made_for=mark.shop,
                shop=shop,
            ),
            fix="Enter it into the book it was made from.",
        )
    if issued(session, mark.key) is None:
        raise RefusedError(
            phrase("Count sheet %(sheet)s was not made from this book.", sheet=mark.key),
            fix="Make a new sheet (stockroom count-sheet), or type in what was counted: stockroom count …",
        )


def _marked(count: Count, mark: Mark | None) -> Count:
    if mark is None:
        return count
    if count.key != mark.key:
        raise RefusedError(
            phrase("Rows of count sheet '%(count)s' stand on sheet %(sheet)s.", count=count.key, sheet=mark.key),
            fix="Leave the column 'Sheet' as it was, or take these rows to their own sheet.",
        )
    return replace(count, lines=tuple(replace(line, site=mark.site) for line in count.lines))


def _with_answers(
    counts: Sequence[Count], answered: Sequence[ReadRow], known: BookFacts, counted: datetime | None
) -> list[Count]:
    by_key = {count.key: count for count in counts}
    problems: list[Problem] = []
    for row in answered:
        try:
            line = _measured(row, known.materials, counted)
        except StockroomError as wrong:
            problems.append(_problem(row, wrong))
            continue
        key = row["sheet"] or f"{line.counted.date()}"
        mine = by_key.get(key, Count(key=key, lines=()))
        by_key[key] = replace(mine, lines=(*mine.lines, line))
    if problems:
        raise BadFileError(problems)
    return list(by_key.values())


def _problem(row: ReadRow, wrong: StockroomError) -> Problem:
    return Problem(
        what=trimmed(wrong.what), fix=wrong.fix, file=row.place.file, sheet=row.place.sheet, row=row.row,
        column="answers", value=row["answers"],
    )  # fmt: skip


def _measured(row: ReadRow, materials: Mapping[str, Material], counted: datetime | None) -> CountLine:
    material, when = materials[row["material"]], row["counted at"] or counted
    if when is None:
        raise UsageError("When the item was counted isn't stated.", fix=WHEN)
    aid = find_aid(row["aid"]) if row["aid"] else aid_for(material)
    measured = aid.measure(answers(row["answers"], aid.name, material), measurable(material))
    return CountLine(
        material=material.code,
        amount=measured.amount,
        counted=when,
        error=measured.error,
        aid=aid.name,
        who=row["who"],
        reason=CountReason(row["reason"] or CountReason.OTHER),
        note=row["note"] or row["answers"],
    )


def answers(text: str, aid: str, material: Material) -> dict[str, str]:
    """Read answers such as 'gross=1860; tare=410', or the one answer that is asked for.

    Raises
    ------
    UsageError
        If a part of the text answers nothing that is asked.
    """
    parts = [part.strip() for part in text.replace("\n", ";").split(";") if part.strip()]
    found = {}
    for part in parts:
        name, equals, answer = part.partition("=")
        if not equals:
            wanted = open_asks(find_aid(aid), material)
            if len(parts) > 1 or len(wanted) != 1:
                raise UsageError(
                    phrase("'%(part)s' answers nothing by name.", part=part),
                    fix=phrase("Write it like %(answers)s.", answers="; ".join(f"{a.name}=…" for a in wanted)),
                )
            return {wanted[0].name: part}
        found[name.strip()] = answer.strip()
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class BinCard:
    """One bin to count."""

    material: Material
    aid: Aid
    asks: tuple[AidQuestion, ...]  # what is counted or measured each time; one with a default may be left out
    known: tuple[
        tuple[AidQuestion, str], ...
    ]  # what the material's facts or habit answer, and may be answered otherwise
    last: datetime | None

    @property
    def plainly(self) -> bool:
        """Say whether it is simply counted or read off."""
        return self.aid.name == PLAIN


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A shelf place, what lies there, and the longest uncounted of it."""

    name: str
    bins: int
    uncounted: int  # bins never counted
    last: datetime | None  # of its bin counted longest ago


def places(book: Book) -> list[Place]:
    """List the shelf places in the order of walking."""
    with book.reading() as session:
        there = _there(session)
        last = counts.last_counted(session)
    by_name = {name: [m for m in there if m.place == name] for name in _walk(there)}
    return [_place(name, [last.get(m.code) for m in mine]) for name, mine in by_name.items()]


def bins_at(book: Book, place: str) -> list[BinCard]:
    """List the bins of a place.

    Raises
    ------
    UnknownError
        If nothing is kept there.
    """
    with book.reading() as session:
        there = [m for m in _there(session) if m.place == place]
        last = counts.last_counted(session)
    if not there:
        raise UnknownError(
            phrase("Nothing is kept at '%(place)s'.", place=place), fix="Choose a location from the list."
        )
    return [_card(m, aid_for(m), last.get(m.code)) for m in there]


def bins_of(book: Book, codes: Sequence[str]) -> list[BinCard]:
    """List bins by their materials, in that order; what is not kept any more is left out."""
    with book.reading() as session:
        there = {m.code: m for m in _there(session)}
        last = counts.last_counted(session)
    return [_card(there[code], aid_for(there[code]), last.get(code)) for code in codes if code in there]


def bin_card(book: Book, code: str, aid: str = "") -> BinCard:
    """Give one bin, measured its usual way or another."""
    with book.reading() as session:
        material = catalogue.the_material(catalogue.read_materials(session), code)
        last = counts.last_counted(session)
    return _card(material, find_aid(aid) if aid else aid_for(material), last.get(code))


def ways() -> list[Aid]:
    """List every way to measure."""
    return sorted(aids().values(), key=lambda aid: aid.title)


def measured(book: Book, code: str, aid: str, answers: Answers, stamp: Stamp) -> CountLine:
    """Turn answers into a counted bin."""
    card = bin_card(book, code, aid)
    found = card.aid.measure(answers, measurable(card.material))
    note = "; ".join(f"{name}={text}" for name, text in answers.items())
    return CountLine(
        material=card.material.code,
        amount=found.amount,
        error=found.error,
        counted=stamp.happened,
        aid=card.aid.name,
        who=stamp.who,
        site=stamp.site,
        note=f"{stamp.note} {note}".strip() if not card.plainly else stamp.note,
    )


def _there(session: Session) -> Sequence[Material]:
    on_hand = ledger.balances(session)
    return [m for m in catalogue.read_materials(session) if m.active or on_hand.get(m.code)]


def _walk(there: Sequence[Material]) -> list[str]:
    """Give the places as a count sheet walks them."""
    lines = tuple(SheetLine(material=m.code, name=m.name, unit=m.unit, place=m.place) for m in there)
    return list(CountSheet(shop="", key="", made=datetime.min, lines=lines).by_place)


def _place(name: str, last: Sequence[datetime | None]) -> Place:
    known = [moment for moment in last if moment is not None]
    return Place(name=name, bins=len(last), uncounted=len(last) - len(known), last=min(known, default=None))


def _card(material: Material, aid: Aid, last: datetime | None) -> BinCard:
    facts = measurable(material).extra
    must = open_asks(aid, material)
    asks = tuple(ask for ask in aid.asks if ask in must or not ask.fact)
    rest = [ask for ask in aid.asks if ask not in asks]
    known = tuple((ask, facts.get(ask.fact, "") or ask.default) for ask in rest)
    return BinCard(material=material, aid=aid, asks=asks, known=known, last=last)
