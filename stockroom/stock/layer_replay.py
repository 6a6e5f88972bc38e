"""One pass over what happened: each fact is posted to the cost layers, undone, done again, or corrects a price."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import cast

from stockroom.stock.layer_book import HANDED_ON, Arrival, Fifo, Posting, QueuePlace, Slice
from stockroom.stock.layer_order import Fact, Step
from stockroom.stock.money import MILLI, split
from stockroom.stock.moves import Document, DocumentKind, Move, MoveKind

_At = tuple[int, int]  # a fact and the move's place in it

_Goods = tuple[int, str]  # a delivery's fact and a material of it

_Source = tuple[str | int, str, str]  # a ticket or a sale's document, a material and a site

_COMES_BACK = (MoveKind.JOB_USE, MoveKind.REDO_USE, MoveKind.SALE)  # onto the layers it was drawn from, at its cost


@dataclass(slots=True)
class Trail:
    """What marked facts did, so that a later one can undo or correct it."""

    arrivals: dict[_At, list[Arrival]] = field(default_factory=dict)
    issues: dict[_At, list[Slice]] = field(default_factory=dict)
    offs: dict[_At, int] = field(default_factory=dict)  # supplier's credit less cost
    places: dict[_At, QueuePlace] = field(default_factory=dict)
    worth: dict[_At, list[tuple[int, int]]] = field(default_factory=dict)  # amounts and costs as they were undone
    corrections: dict[int, list[tuple[Arrival, int]]] = field(default_factory=dict)
    charges: dict[int, list[tuple[_Goods, int]]] = field(default_factory=dict)  # what corrections added to goods
    brought_back: dict[_At, int] = field(default_factory=dict)  # what moves put back that a ticket or sale had drawn


class Replay:
    """The pass and what it must remember."""

    def __init__(self, steps: Sequence[Step], book: Fifo) -> None:
        self.steps = steps
        self.book = book
        self.trail = Trail()
        self.marked = {key for fact in steps if isinstance(fact, Fact) for key in (fact.undoes, fact.corrects)} - {None}
        self.known: dict[int, Fact] = {}
        self.uses: dict[_Source, list[Slice]] = {source: [] for source in _come_back(steps)}
        self.charged: dict[_Goods, int] = {}  # carriage and credits that came after the delivery

    def run(self) -> None:
        """Post every fact."""
        for rank, step in enumerate(self.steps):
            if isinstance(step, Fact):
                self._post(rank, step)
            elif step.moves:
                number = step.id or 0
                day = step.booked_on or step.happened.date()
                self._move(Posting(number, number, rank, day, marked=False), step, list(enumerate(step.moves)))

    def _post(self, rank: int, fact: Fact) -> None:
        posting = Posting(fact.document.id or 0, fact.key, rank, fact.booked, marked=fact.key in self.marked)
        self.known[fact.key] = fact
        if fact.undoes in self.trail.corrections:
            undone = [(arrival, -delta) for arrival, delta in self.trail.corrections[fact.undoes]]
            self._correct(posting, undone)
            self._charge(posting, [(goods, -rise) for goods, rise in self.trail.charges[fact.undoes]])
        elif fact.undoes is not None and not self._is_redo(fact):
            self._undo(posting, fact)
        elif fact.corrects is not None:
            self._correct(posting, self._asked(fact.document.content, fact.corrects))
            self._charge(posting, _charges(fact))
        else:
            self._move(posting, fact.document, _lines(fact), fact.undoes)

    def _original(self, fact: Fact) -> Fact:
        original = self.known.get(fact.undoes or 0)
        if original is None:
            raise ValueError(f"document {fact.document.id} reverses {fact.undoes}, which did not come before it")
        return original

    def _is_redo(self, fact: Fact) -> bool:
        """Say whether a reversal takes back an undoing, and so does again what was first done."""
        undone = self._original(fact)
        return undone.undoes is not None and not self._is_redo(undone)

    def _move(
        self, posting: Posting, document: Document, lines: list[tuple[int, Move]], undoes: int | None = None
    ) -> None:
        posting.delivery = _goes_back_on(document)
        if len(lines) > 1 and any(move.kind in HANDED_ON for _, move in lines):
            lines.sort(key=lambda line: line[1].nano > 0)  # what leaves before what it becomes
        for index, move in lines:
            if move.nano < 0:
                source = (move.ticket or document.id or 0, *_bin(move))
                self._draw(posting, index, move, self.uses.get(source) if self.uses else None)
            elif move.nano and (drawn := self.uses.get(_source(document, move))):
                self._bring_back(posting, index, move, drawn)
            elif move.nano:
                self._lay(posting, index, move, undoes)

    def _bring_back(self, posting: Posting, index: int, move: Move, drawn: list[Slice]) -> None:
        """Put back what a ticket or a sale had drawn, at what it cost; what is beyond that counts as found."""
        beyond = self.book.take_back(posting, move, drawn)
        self.trail.brought_back[posting.key, index] = move.nano - beyond
        if beyond:
            self._lay(posting, index, move._replace(nano=beyond), None)

    def _draw(self, posting: Posting, index: int, move: Move, known: list[Slice] | None = None) -> None:
        before = len(self.book.entries)
        slices = self.book.issue(posting, move, keep=known is not None)
        if known is not None:
            known += slices
        if move.kind is MoveKind.TRANSFER:
            posting.transfers.setdefault(move.material, []).extend(slices)
        elif move.kind is MoveKind.OFFCUT:
            posting.cut_from.extend(slices)
        if posting.marked:
            self.trail.issues[posting.key, index] = slices
        if move.kind in HANDED_ON or move.value is None:
            return
        cost = sum(entry.value for entry in self.book.entries[before:])
        if move.kind is MoveKind.SUPPLIER_RETURN and move.value is not None:
            self.book.differ(posting, move, move.value - cost)
            self.trail.offs[posting.key, index] = move.value - cost

    def _lay(self, posting: Posting, index: int, move: Move, undoes: int | None) -> None:
        place = self._place(posting, index, undoes)
        again = self.trail.worth.get((undoes or 0, index))
        if move.kind is MoveKind.TRANSFER:
            made = self.book.receive_transfer(posting, move, place=place)
        elif move.kind is MoveKind.OFFCUT and posting.cut_from:
            made = [self.book.receive_offcut(posting, move, place=place)]
        elif again:
            made = [self.book.arrive(posting, move, worth, place=place) for worth in again]
        elif move.value is not None:
            made = [self.book.arrive(posting, move, (move.nano, move.value), place=place)]
            self.book.remember_price(move)
        else:
            made = self._find(posting, move, place)
        if posting.marked:
            self.trail.arrivals[posting.key, index] = made
            self.trail.places[posting.key, index] = place

    def _find(self, posting: Posting, move: Move, place: QueuePlace) -> list[Arrival]:
        """Lay down what has no price of its own; what serves uses waiting for it keeps their provisional cost."""
        served, value = self.book.short_cost(move)
        rest = move.nano - served
        parts = [(served, value)] if served else []
        parts += [(rest, self.book.current_cost(move, rest))] if rest else []
        return [self.book.arrive(posting, move, part, place=place) for part in parts]

    def _place(self, posting: Posting, index: int, undoes: int | None) -> QueuePlace:
        fresh = QueuePlace((posting.rank, index), posting.booked)
        if undoes is None:
            return fresh
        return self.trail.places.get((self._root(self.known[undoes]).key, index), fresh)

    def _root(self, fact: Fact) -> Fact:
        while fact.undoes is not None:
            fact = self._original(fact)
        return fact

    def _undo(self, posting: Posting, fact: Fact) -> None:
        first = self._original(fact)
        lines, was = _lines(fact), _lines(first)
        pairs = [(move, (first.key, index), old) for (_, move), (index, old) in zip(lines, was, strict=False)]
        if len(pairs) < len(was) or any(move.nano != -old.nano for move, _, old in pairs):
            raise ValueError(f"document {fact.document.id} doesn't mirror {first.document.id}")
        for move, at, _ in reversed(pairs):  # last in, first out: nothing is sent looking for a source that goes too
            arrivals = self.trail.arrivals.get(at, [])
            self.trail.worth[posting.key, at[1]] = [(arrival.nano, arrival.value) for arrival in arrivals]
            for arrival in reversed(arrivals):
                self.book.undo_arrival(posting, move, arrival)
            self.book.differ(posting, move, -self.trail.offs.get(at, 0))
        for move, at, _ in reversed(pairs):
            self.book.undo_issue(posting, move, self.trail.issues.get(at, []))
            if nano := self.trail.brought_back.get(at, 0):
                self._draw(posting, at[1], move._replace(nano=-nano), self.uses.get(_source(first.document, move)))
        self._move(posting, fact.document, lines[len(pairs) :], fact.undoes)

    def _correct(self, posting: Posting, changes: list[tuple[Arrival, int]]) -> None:
        for arrival, delta in changes:
            self.book.correct(posting, arrival, delta)
        self.trail.corrections[posting.key] = changes

    def _asked(self, content: Mapping[str, object], corrected: int) -> list[tuple[Arrival, int]]:
        """Read a price correction: what each line's goods should have cost, or cost more; shares of carriage stay."""
        if corrected not in self.known:
            raise ValueError(f"a price correction names document {corrected}, which did not come before it")
        changes: list[tuple[Arrival, int]] = []
        for line in cast("list[Mapping[str, object]]", content["lines"]):
            material = cast("str", line["material"])
            arrivals = self._arrivals(corrected, material)
            if "rise" in line:
                rise = cast("int", line["rise"])
            else:
                goods = _with_tax(line, "new_cost") * MILLI + self._extra(corrected, material)
                rise = goods - sum(arrival.value for arrival in arrivals)
            shares = split(rise, [arrival.nano for arrival in arrivals]) if arrivals else []
            changes += zip(arrivals, shares, strict=True)
        return changes

    def _extra(self, corrected: int, material: str) -> int:
        """Give the carriage and duties in a delivered material's cost, and what was charged for it later."""
        document = self._root(self.known[corrected]).document
        lines = cast("list[Mapping[str, object]]", document.content.get("lines", []))
        goods = [_with_tax(line, "cost") for line in lines if line["material"] == material]
        stated = sum(move.value or 0 for move in document.moves if move.material == material)
        later = self.charged.get((corrected, material), 0)
        return later + (stated - sum(goods) * MILLI if goods else 0)

    def _charge(self, posting: Posting, charges: list[tuple[_Goods, int]]) -> None:
        for goods, rise in charges:
            self.charged[goods] = self.charged.get(goods, 0) + rise
        self.trail.charges[posting.key] = charges

    def _arrivals(self, corrected: int, material: str) -> list[Arrival]:
        places = [
            (corrected, index)
            for index, move in enumerate(self.known[corrected].document.moves)
            if move.material == material
        ]
        return [arrival for at in places for arrival in self.trail.arrivals.get(at, []) if arrival.nano]


def _come_back(steps: Sequence[Step]) -> set[_Source]:
    """Name what later documents bring back, so that what was drawn for it is remembered."""
    documents = (step.document if isinstance(step, Fact) else step for step in steps)
    return {
        _source(document, move)
        for document in documents
        for move in document.moves
        if move.nano > 0 and move.kind in _COMES_BACK and document.reverses is None
    }


def _source(document: Document, move: Move) -> _Source:
    """Name the ticket, or the sale's document, whose goods come back; such a document has none of its own."""
    return (move.ticket or cast("int", document.content.get("of", 0)), *_bin(move))


def _bin(move: Move) -> tuple[str, str]:
    return (move.material, move.site)


def _charges(fact: Fact) -> list[tuple[_Goods, int]]:
    lines = cast("list[Mapping[str, object]]", fact.document.content["lines"])
    return [
        ((fact.corrects or 0, cast("str", line["material"])), cast("int", line["rise"]))
        for line in lines
        if "rise" in line
    ]


def _with_tax(line: Mapping[str, object], name: str) -> int:
    """Give what goods cost, with the tax on them that the shop can't take back."""
    return cast("int", line[name]) + cast("int", line.get("tax", 0))


def _lines(fact: Fact) -> list[tuple[int, Move]]:
    """Give a fact's moves with their places, but for count differences that are facts of their own."""
    lines = list(enumerate(fact.document.moves))
    return lines if fact.counts else [line for line in lines if line[1].kind is not MoveKind.COUNT]


def _goes_back_on(document: Document) -> int | None:
    """Name the delivery that goods are returned from, where the document says."""
    if document.kind is not DocumentKind.SUPPLIER_RETURN:
        return None
    return cast("int | None", document.content.get("delivery"))
