"""Bins to count at a place, each with the way it is measured and what that way still asks."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from stockroom.counting.aid import Aid, AidQuestion, Answers
from stockroom.counting.aids import aid as find_aid
from stockroom.counting.aids import aids
from stockroom.errors import UnknownError
from stockroom.flows.counts.sheets import PLAIN, aid_for, measurable, open_asks
from stockroom.phrases import phrase
from stockroom.stock.counts import CountLine
from stockroom.stock.lists import CountSheet, SheetLine
from stockroom.stock.materials import Material
from stockroom.stock.postings import Stamp
from stockroom.store import catalogue, counts, ledger
from stockroom.store.book import Book, Session


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
