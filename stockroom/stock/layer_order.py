"""What happened, in the order in which it happened: how the documents are put before they are costed.

Costs follow the days on the documents, not the order of typing. What is taken back before its period is closed never
was; a price corrected by then was the price; a bin counted at a moment has one difference, however many documents
brought it about. What comes after a closing stands at the beginning of the open period, where it finds the layers as
they were closed. Nothing here looks at costs, so that a closed period always finds the same facts in the same order.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from itertools import groupby
from typing import Any, cast

from stockroom.stock.moves import Document, DocumentKind, Move, MoveKind

_COUNT = MoveKind.COUNT  # where a document brings count differences, they are its last lines

_CORRECTION = DocumentKind.PRICE_CORRECTION
BY_DAY = "by day"  # said by a closing whose period was costed in this order; older ones took the order of entry

# At one moment: goods come before they go, and a count comes last, as it does in the book.
_FIRST = {
    DocumentKind.OPENING: 0,
    DocumentKind.DELIVERY: 1,
    DocumentKind.PRICE_CORRECTION: 2,
    DocumentKind.TRANSFER: 3,
    DocumentKind.OFFCUT: 4,
    DocumentKind.COUNT: 7,
}
_BETWEEN = 5

_Place = tuple[date, datetime, int]
_Bin = tuple[date, str, str, datetime]  # accounting day, material, site, moment of the count


@dataclass(slots=True)
class Fact:
    """One thing that happened: a document, what stands of it, or the difference of one counted bin."""

    document: Document  # its number stands on every entry
    booked: date
    key: int  # of this fact: the document's number, or below zero for a counted bin
    undoes: int | None = None  # the fact that it takes back, or does again
    corrects: int | None = None  # the fact whose prices it changes
    counts: bool = True  # whether count differences among its moves are its own
    place: _Place = (date.min, datetime.min, 0)  # among the facts that go by day


Step = Document | Fact  # most documents are a fact as they stand, on the day they are booked on
_Key = Callable[[Step], Any]


@dataclass(slots=True)
class _Chain:
    """A document and what took it back, again and again."""

    root: Document
    links: list[tuple[Document, date]] = field(default_factory=list)
    facts: list[tuple[date, Fact, bool]] = field(default_factory=list)  # with whether the root stands after it


def in_order(documents: Sequence[Document]) -> list[Step]:
    """Put documents into the order they are costed in.

    Parameters
    ----------
    documents : sequence of Document
        Numbered, in the order they were entered. A reversal must follow what it reverses.

    Returns
    -------
    list of Step
        By accounting day, moment, kind and content; what was entered up to a closing of the old kind comes first, in
        the order of entry, because its figures were given away like that.

    Raises
    ------
    ValueError
        If a document names another that did not come before it.
    """
    bound = max((n for n, d in enumerate(documents, 1) if _closes(d) and d.content.get("costed") != BY_DAY), default=0)
    return _Gathering(documents, bound).facts()


class _Gathering:
    """One pass over the documents, which finds each one's day and what belongs together."""

    def __init__(self, documents: Sequence[Document], bound: int) -> None:
        self.documents = documents
        self.bound = bound
        self.wanted = {_named(document) for document in documents}
        self.days: dict[int, date] = {}  # of documents that others name
        self.chains: dict[int, _Chain] = {}  # by every number in them
        self.bins: dict[_Bin, list[tuple[Document, Move]]] = {}
        self.corrected: dict[int, list[str]] = {}  # what corrections say of a delivery
        self.found: list[Step] = []  # those that go by day

    def facts(self) -> list[Step]:
        """Gather everything, then sort what goes by day."""
        first_open, entered = date.min, [*map(self._as_entered, self.documents[: self.bound])]
        for n, document in enumerate(self.documents):
            if n >= self.bound:
                self._by_day(document, first_open)
            if _closes(document):
                first_open = date.fromisoformat(cast("str", document.content["through"])) + timedelta(days=1)
        chains = {id(chain): chain for chain in self.chains.values()}.values()
        for corrections in (False, True):  # what is corrected must be known before its corrections
            for chain in chains:
                if (chain.root.kind is DocumentKind.PRICE_CORRECTION) is corrections:
                    self._follow(chain)
        self._net_counts()
        _sort(self.found, (_place, _first_line, self._whole, _entered))
        return entered + self.found

    def _as_entered(self, document: Document) -> Step:
        number, day, named = document.id or 0, document.booked_on or document.happened.date(), _named(document)
        if not named and number not in self.wanted:
            return document
        fact = Fact(document, day, number, document.reverses, _delivery(document))
        self.days[number] = day
        chain = self._chain(document)
        chain.facts.append((day, fact, not (chain.facts and chain.facts[-1][2])))
        return fact

    def _by_day(self, document: Document, first_open: date) -> None:
        number, named, moves = document.id or 0, _named(document), document.moves
        own = document.booked_on or document.happened.date()
        day = max(own, first_open)
        counted = [move for move in moves if move.kind is _COUNT] if moves and moves[-1].kind is _COUNT else ()
        if counted:
            self._note_counts(document, counted, first_open)
        if named or number in self.wanted:
            if named:  # what takes back or corrects belongs to the day of what it is about, unless that is closed
                day = max(day, self._day_of(document, named))
            self.days[number] = day
            chain = self._chain(document)
            if document.reverses is not None:
                _refuse_other_moves(document, chain.links[-1][0] if chain.links else chain.facts[-1][1].document)
            chain.links.append((document, day))
        elif len(counted) < len(moves):
            if counted or day != own:
                self._put(Fact(document, day, number, counts=False), document)
            else:
                self.found.append(document)

    def _note_counts(self, document: Document, counted: Sequence[Move], first_open: date) -> None:
        """Put count differences to their bins; they belong to the day of the count, unless that is closed."""
        own = document.booked_on or first_open
        for move in counted:
            when = own if own > document.happened.date() else max(move.happened.date(), first_open)
            self.bins.setdefault((when, move.material, move.site, move.happened), []).append((document, move))

    def _day_of(self, document: Document, named: int) -> date:
        if named not in self.days:
            does = "reverses" if document.reverses else "corrects the prices of"
            raise ValueError(f"document {document.id} {does} {named}, which did not come before it")
        return self.days[named]

    def _chain(self, document: Document) -> _Chain:
        chain = self.chains.get(document.reverses or 0) or _Chain(document)
        self.chains[document.id or 0] = chain
        return chain

    def _follow(self, chain: _Chain) -> None:
        """Say what is left of a document and its reversals on each day: one fact, or nothing."""
        stands = bool(chain.facts) and chain.facts[-1][2]
        for day, links in groupby(chain.links, key=lambda link: link[1]):
            documents = [document for document, _ in links]
            if len(documents) % 2:
                stands = not stands
                self._link(chain, documents[0], day, stands=stands)

    def _link(self, chain: _Chain, document: Document, day: date, *, stands: bool) -> None:
        last = chain.facts[-1][1] if chain.facts else None
        if last is None and document is not chain.root:  # taken back and put in force again before it was ever costed
            document = replace(chain.root, id=document.id)
        fact = Fact(document, day, document.id or 0, last.key if last else None, counts=False)
        about = chain.root
        if about.kind is DocumentKind.PRICE_CORRECTION:
            laid = self._laid(about, day)
            if laid is None:
                return
            self.corrected.setdefault(_delivery(about) or 0, []).append(repr(about.content["lines"]))
            fact.corrects, about = laid.key, replace(about, happened=self.chains[_delivery(about) or 0].root.happened)
        chain.facts.append((day, fact, stands))
        if document.moves or fact.corrects:
            self._put(fact, about)

    def _laid(self, correction: Document, day: date) -> Fact | None:
        """Find the fact that laid a delivery down and stands on a day."""
        known = [
            (fact, stands) for since, fact, stands in self.chains[_delivery(correction) or 0].facts if since <= day
        ]
        return known[-1][0] if known and known[-1][1] else None

    def _net_counts(self) -> None:
        """Give each counted bin its one difference; where it only takes back an earlier one, it undoes that."""
        before: dict[tuple[str, str, datetime], Fact] = {}
        for number, (bin_, lines) in enumerate(sorted(self.bins.items(), key=lambda each: each[0]), start=1):
            nano = sum(move.nano for _, move in lines)
            if not nano:
                continue
            document, move = min(lines, key=_names_the_bin)
            one = replace(document, kind=DocumentKind.COUNT, moves=(move._replace(nano=nano),), reverses=None)
            fact, last = Fact(one, bin_[0], -number), before.get(bin_[1:])
            if last is not None and last.document.moves[0].nano == -nano:
                fact.undoes = last.key
            before[bin_[1:]] = fact
            self._put(fact, replace(one, happened=bin_[3]))

    def _whole(self, step: Step) -> tuple[object, ...]:
        """Give what a document says but for numbers, which follow the order of typing; the last correction holds."""
        document = _document(step)
        lines = [
            (m.kind, m.material, m.site, m.nano, m.value or 0, m.recipe_line, m.lot, str(m.expiry))
            for m in document.moves
        ]
        said = sorted((name, repr(value)) for name, value in document.content.items() if name != "delivery")
        corrected = sorted(self.corrected.get(document.id or 0, ()))
        when = (document.happened, document.id or 0 if isinstance(step, Fact) and step.corrects else 0)
        return (when, lines, self._delivered(document), said, corrected, document.subject, document.note)

    def _delivered(self, document: Document) -> tuple[object, ...]:
        number = document.content.get("delivery")
        if not number:
            return ()
        named = next((each for each in self.documents if each.id == number), document)
        return (*_place(named), *_first_line(named), named.moves[0].value or 0 if named.moves else 0)

    def _put(self, fact: Fact, about: Document) -> None:
        fact.place = (fact.booked, about.happened, _FIRST.get(about.kind, _BETWEEN))
        self.found.append(fact)


def _closes(document: Document) -> bool:
    return document.kind is DocumentKind.PERIOD


def _named(document: Document) -> int:
    """Give the document that this one is about: it takes it back, or corrects its prices."""
    return document.reverses or _delivery(document) or 0


def _delivery(document: Document) -> int | None:
    if document.kind is _CORRECTION:
        return cast("int", document.content["delivery"])
    return None


def _names_the_bin(line: tuple[Document, Move]) -> tuple[bool, int]:
    """Prefer the count itself to what only keeps it true: it says the reason."""
    return line[0].kind is not DocumentKind.COUNT, line[0].id or 0


def _refuse_other_moves(document: Document, last: Document) -> None:
    moved, was = (
        [(move.material, move.site, move.nano) for move in each.moves if move.kind is not MoveKind.COUNT]
        for each in (document, last)
    )
    if moved != [(material, site, -nano) for material, site, nano in was]:
        raise ValueError(f"document {document.id} doesn't mirror {last.id}")


def _place(step: Step) -> _Place:
    if isinstance(step, Fact):
        return step.place
    return (step.booked_on or step.happened.date(), step.happened, _FIRST.get(step.kind, _BETWEEN))


def _document(step: Step) -> Document:
    return step.document if isinstance(step, Fact) else step


def _first_line(step: Step) -> tuple[object, ...]:
    moves = _document(step).moves
    return (moves[0].material, moves[0].nano, moves[0].site) if moves else ()


def _entered(step: Step) -> int:
    return step.key if isinstance(step, Fact) else step.id or 0


def _sort(steps: list[Step], keys: Sequence[_Key]) -> None:
    """Sort; only what is alike in one key is compared by the next, and the last parts what is alike in everything."""
    found = [keys[0](step) for step in steps]
    order = sorted(range(len(steps)), key=found.__getitem__)
    steps[:] = [steps[n] for n in order]
    if len(keys) > 1:
        start = 0
        for _, alike in groupby(order, key=found.__getitem__):
            end = start + len(list(alike))
            if end > start + 1:
                part = steps[start:end]
                _sort(part, keys[1:])
                steps[start:end] = part
            start = end
