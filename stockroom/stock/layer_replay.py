"""One pass over the documents: each is posted to the cost layers, undone, done again, or corrects a price."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import cast

from stockroom.stock.layer_book import Fifo
from stockroom.stock.layer_pieces import Arrival, Posting, QueuePlace, Slice
from stockroom.stock.money import MILLI, split
from stockroom.stock.moves import Document, DocumentKind, Move, MoveKind

_At = tuple[int, int]  # a document's number and the move's place in it

_HANDED_ON = (MoveKind.TRANSFER, MoveKind.OFFCUT)  # what leaves arrives elsewhere in the same document, at its cost


@dataclass(slots=True)
class Trail:
    """What marked documents did, so that a later document can undo or correct it."""

    arrivals: dict[_At, list[Arrival]] = field(default_factory=dict)
    issues: dict[_At, list[Slice]] = field(default_factory=dict)
    offs: dict[_At, int] = field(default_factory=dict)  # supplier's credit less cost
    places: dict[_At, QueuePlace] = field(default_factory=dict)
    worth: dict[_At, list[tuple[int, int]]] = field(default_factory=dict)  # amounts and costs as they were undone
    corrections: dict[int, list[tuple[Arrival, int]]] = field(default_factory=dict)


class Replay:
    """The pass and what it must remember."""

    def __init__(self, postings: Sequence[Document], book: Fifo) -> None:
        self.postings = postings
        self.book = book
        self.trail = Trail()
        self.marked = _marked(postings)
        self.known: dict[int, Document] = {}

    def run(self) -> None:
        """Post every document."""
        for document in self.postings:
            number = document.id or 0
            booked = document.booked_on or document.happened.date()
            posting = Posting(id=number, booked=booked, marked=number in self.marked, delivery=_goes_back_on(document))
            self.known[number] = document
            self._post(posting, document)

    def _post(self, posting: Posting, document: Document) -> None:
        if document.reverses in self.trail.corrections:
            undone = [(arrival, -delta) for arrival, delta in self.trail.corrections[document.reverses]]
            self._correct(posting, undone)
        elif document.reverses is not None and not self._is_redo(document):
            self._undo(posting, document)
        elif document.kind is DocumentKind.PRICE_CORRECTION:
            self._correct(posting, self._asked(document.content))
        else:
            self._move(posting, document)

    def _original(self, document: Document) -> Document:
        original = self.known.get(document.reverses or 0)
        if original is None:
            raise ValueError(f"document {document.id} reverses {document.reverses}, which did not come before it")
        return original

    def _is_redo(self, document: Document) -> bool:
        """Say whether a reversal takes back an undoing, and so does again what was first done."""
        undone = self._original(document)
        return undone.reverses is not None and not self._is_redo(undone)

    def _move(self, posting: Posting, document: Document, *, beyond: int = 0) -> None:
        lines = list(enumerate(document.moves))[beyond:]
        if len(lines) > 1 and any(move.kind in _HANDED_ON for _, move in lines):
            lines.sort(key=lambda line: line[1].nano > 0)  # what leaves before what it becomes
        for index, move in lines:
            if move.nano < 0:
                self._draw(posting, index, move)
            elif move.nano:
                self._lay(posting, index, move, document)

    def _draw(self, posting: Posting, index: int, move: Move) -> None:
        before = len(self.book.entries)
        slices = self.book.issue(posting, move)
        if move.kind is MoveKind.TRANSFER:
            posting.transfers.setdefault(move.material, []).extend(slices)
        if posting.marked:
            self.trail.issues[posting.id, index] = slices
        if move.kind not in _HANDED_ON and move.value is None:
            return
        cost = sum(entry.value for entry in self.book.entries[before:])
        if move.kind is MoveKind.OFFCUT:
            posting.cut -= cost
        elif move.kind is MoveKind.SUPPLIER_RETURN and move.value is not None:
            self.book.differ(posting, move, move.value - cost)
            self.trail.offs[posting.id, index] = move.value - cost

    def _lay(self, posting: Posting, index: int, move: Move, document: Document) -> None:
        place = self._place(posting, document, index)
        again = self.trail.worth.get((document.reverses or 0, index))
        if move.kind is MoveKind.TRANSFER:
            made = self.book.receive_transfer(posting, move, place=place)
        elif again:
            made = [self.book.arrive(posting, move, worth, place=place) for worth in again]
        elif move.kind is MoveKind.OFFCUT and posting.cut:
            made = [self.book.arrive(posting, move, (move.nano, posting.cut), place=place)]
            posting.cut = 0
        elif move.value is not None:
            made = [self.book.arrive(posting, move, (move.nano, move.value), place=place)]
            self.book.remember_price(move)
        else:
            made = self._find(posting, move, place)
        if posting.marked:
            self.trail.arrivals[posting.id, index] = made
            self.trail.places[posting.id, index] = place

    def _find(self, posting: Posting, move: Move, place: QueuePlace) -> list[Arrival]:
        """Lay down what has no price of its own; what serves uses waiting for it keeps their provisional cost."""
        served, value = self.book.short_cost(move)
        rest = move.nano - served
        parts = [(served, value)] if served else []
        parts += [(rest, self.book.current_cost(move, rest))] if rest else []
        return [self.book.arrive(posting, move, part, place=place) for part in parts]

    def _place(self, posting: Posting, document: Document, index: int) -> QueuePlace:
        fresh = QueuePlace((posting.id, index), posting.booked)
        if document.reverses is None:
            return fresh
        while document.reverses is not None:
            document = self._original(document)
        return self.trail.places.get((document.id or 0, index), fresh)

    def _undo(self, posting: Posting, document: Document) -> None:
        first = self._original(document)
        pairs = list(enumerate(zip(document.moves, first.moves, strict=False)))
        if len(pairs) < len(first.moves) or any(move.nano != -was.nano for _, (move, was) in pairs):
            raise ValueError(f"document {document.id} doesn't mirror {first.id}")
        lines = [(move, (first.id or 0, index)) for index, (move, _) in pairs]
        for move, at in reversed(lines):  # last in, first out: nothing is sent looking for a source that goes too
            arrivals = self.trail.arrivals.get(at, [])
            self.trail.worth[posting.id, at[1]] = [(arrival.nano, arrival.value) for arrival in arrivals]
            for arrival in reversed(arrivals):
                self.book.undo_arrival(posting, move, arrival)
            self.book.differ(posting, move, -self.trail.offs.get(at, 0))
        for move, at in reversed(lines):
            self.book.undo_issue(posting, move, self.trail.issues.get(at, []))
        self._move(posting, document, beyond=len(lines))

    def _correct(self, posting: Posting, changes: list[tuple[Arrival, int]]) -> None:
        for arrival, delta in changes:
            self.book.correct(posting, arrival, delta)
        self.trail.corrections[posting.id] = changes

    def _asked(self, content: Mapping[str, object]) -> list[tuple[Arrival, int]]:
        """Read a price correction: what each line's goods should have cost; their share of carriage stays."""
        delivery = cast("int", content["delivery"])
        if delivery not in self.known:
            raise ValueError(f"a price correction names document {delivery}, which did not come before it")
        changes: list[tuple[Arrival, int]] = []
        for line in cast("list[Mapping[str, object]]", content["lines"]):
            material = cast("str", line["material"])
            arrivals = self._arrivals(delivery, material)
            goods = cast("int", line["new_cost"]) * MILLI + self._extra(delivery, material)
            rise = goods - sum(arrival.value for arrival in arrivals)
            shares = split(rise, [arrival.nano for arrival in arrivals]) if arrivals else []
            changes += zip(arrivals, shares, strict=True)
        return changes

    def _extra(self, delivery: int, material: str) -> int:
        """Give the carriage and duties in a delivered material's cost."""
        document = self.known[delivery]
        lines = cast("list[Mapping[str, object]]", document.content.get("lines", []))
        goods = [cast("int", line["cost"]) for line in lines if line["material"] == material]
        stated = sum(move.value or 0 for move in document.moves if move.material == material)
        return stated - sum(goods) * MILLI if goods else 0

    def _arrivals(self, delivery: int, material: str) -> list[Arrival]:
        places = [
            (delivery, index) for index, move in enumerate(self.known[delivery].moves) if move.material == material
        ]
        return [arrival for at in places for arrival in self.trail.arrivals.get(at, []) if arrival.nano]


def _marked(postings: Sequence[Document]) -> set[int]:
    undone = {document.reverses for document in postings if document.reverses is not None}
    priced = {document.content["delivery"] for document in postings if document.kind is DocumentKind.PRICE_CORRECTION}
    return undone | cast("set[int]", priced)


def _goes_back_on(document: Document) -> int | None:
    """Name the delivery that goods are returned from, where the document says."""
    if document.kind is not DocumentKind.SUPPLIER_RETURN:
        return None
    return cast("int | None", document.content.get("delivery"))
