"""Laws of cost layers: whatever is entered in whatever order, amounts and money add up and undoing restores."""

from collections import Counter, deque
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stockroom.stock.layers import SHORT, Costing, closing, replay
from stockroom.stock.materials import Material
from stockroom.stock.moves import Document, DocumentKind, Move, MoveKind
from stockroom.stock.quantities import UNITS

MATERIALS = {
    code: Material(code=code, name=code, family="fixings", unit=UNITS["piece"], usual_cost=3) for code in ("a", "b")
}
METHODS = ("fifo", "average")
START = datetime(2026, 1, 1)

Step = tuple[str, str, str, int, int, int]
STEPS = st.lists(
    st.tuples(
        st.sampled_from(
            ["receive", "receive", "use", "use", "use", "sell", "gain", "loss", "return", "move", "undo", "undo", "fix"]
        ),
        st.sampled_from(["a", "a", "b"]),
        st.sampled_from(["main", "main", "annex"]),
        st.integers(1, 12),
        st.integers(0, 40),
        st.integers(0, 30),
    ),
    max_size=30,
)
SIMPLE = {"use": MoveKind.JOB_USE, "sell": MoveKind.SALE, "loss": MoveKind.COUNT}


def book(steps: Sequence[Step]) -> list[Document]:
    """Turn drawn steps into a book of documents as the shop would enter them."""
    made: list[Document] = []
    undone: set[int] = set()
    for step in steps:
        document = _document(len(made) + 1, step, made, undone)
        if document is not None:
            made.append(document)
            undone |= {document.reverses} if document.reverses else set()
    return made


def _document(number: int, step: Step, made: list[Document], undone: set[int]) -> Document | None:
    what, *_, price, pick = step
    when = START + timedelta(days=number - pick % 3)
    if what == "undo":
        return _undo(number, when, made, undone, pick)
    if what == "fix":
        return _fix(number, when, made, (price, pick))
    document = Document(kind=DocumentKind.FINISH, key=str(number), happened=when, entered=when, id=number)
    return _plain(document, step)


def _plain(document: Document, step: Step) -> Document:
    what, material, site, amount, price, pick = step
    line = Move(material=material, site=site, nano=amount, kind=MoveKind.DELIVERY, happened=document.happened)
    if what == "receive":
        return replace(document, kind=DocumentKind.DELIVERY, moves=(line._replace(value=amount * price * 100),))
    if what == "gain":
        return replace(document, kind=DocumentKind.COUNT, moves=(line._replace(kind=MoveKind.COUNT),))
    if what == "return":
        credit = line._replace(nano=-amount, kind=MoveKind.SUPPLIER_RETURN, value=-price * 50 if pick % 2 else None)
        return replace(document, kind=DocumentKind.SUPPLIER_RETURN, moves=(credit,), content={"delivery": pick + 1})
    if what == "move":
        there = "annex" if site == "main" else "main"
        out = line._replace(nano=-amount, kind=MoveKind.TRANSFER)
        return replace(document, kind=DocumentKind.TRANSFER, moves=(out, out._replace(nano=amount, site=there)))
    return replace(document, moves=(line._replace(nano=-amount, kind=SIMPLE[what]),))


def _undo(number: int, when: datetime, made: list[Document], undone: set[int], pick: int) -> Document | None:
    open_documents = [document for document in made if document.id not in undone]
    if not open_documents:
        return None
    original = open_documents[-1 - pick % len(open_documents)]
    return (
        reverse(original, number)
        if pick % 2
        else reverse(original, number, booked_on=max(when, original.happened).date())
    )


def reverse(original: Document, number: int, *, booked_on: date | None = None) -> Document:
    """Take a document back as the book does, at the time it happened; booked later where that day is closed."""
    moves = tuple(
        move._replace(nano=-move.nano, value=None if move.value is None else -move.value) for move in original.moves
    )
    when = original.happened
    return Document(
        kind=DocumentKind.REVERSAL, key=str(number), happened=when, entered=when, moves=moves, reverses=original.id,
        id=number, booked_on=booked_on or original.booked_on,
    )  # fmt: skip


def _fix(number: int, when: datetime, made: list[Document], how: tuple[int, int]) -> Document | None:
    price, pick = how
    deliveries = [document for document in made if document.kind is DocumentKind.DELIVERY]
    if not deliveries:
        return None
    of = deliveries[-1 - pick % len(deliveries)]
    lines = [{"material": move.material, "new_cost": price} for move in of.moves]
    return Document(
        kind=DocumentKind.PRICE_CORRECTION, key=str(number), happened=when, entered=when, id=number,
        content={"delivery": of.id, "lines": lines},
    )  # fmt: skip


def cost(documents: Sequence[Document], method: str) -> Costing:
    return replay(documents, MATERIALS, method=method)


def standing(costing: Costing) -> Counter[tuple[object, ...]]:
    """Every layer by what it is, not by its number: a layer done again has a new one."""
    return Counter((each.material, each.site, each.since, each.nano, each.value) for each in closing(costing))


@pytest.mark.parametrize("method", METHODS)
@given(steps=STEPS)
@settings(max_examples=60, deadline=None)
def test_amounts_in_layers_are_the_amounts_in_the_ledger(method: str, steps: Sequence[Step]) -> None:
    documents = book(steps)
    ledger: Counter[tuple[str, str]] = Counter()
    for document in documents:
        for move in document.moves:
            ledger[move.material, move.site] += move.nano
    layers: Counter[tuple[str, str]] = Counter()
    for each in closing(cost(documents, method)):
        layers[each.material, each.site] += each.nano
    assert {k: v for k, v in layers.items() if v} == {k: v for k, v in ledger.items() if v}


@pytest.mark.parametrize("method", METHODS)
@given(steps=STEPS, day=st.integers(0, 45))
@settings(max_examples=60, deadline=None)
def test_opening_and_what_happened_make_the_closing(method: str, steps: Sequence[Step], day: int) -> None:
    documents = book(steps)
    costing = cost(documents, method)
    cut = (START + timedelta(days=day)).date()
    opening = closing(costing, cut)
    since = [entry for entry in costing.entries if entry.booked_on > cut]
    final = closing(costing)
    assert sum(s.nano for s in opening) + sum(e.nano for e in since) == sum(s.nano for s in final)
    assert sum(s.value for s in opening) + sum(e.value for e in since) == sum(s.value for s in final)


@pytest.mark.parametrize("method", METHODS)
@given(steps=STEPS)
@settings(max_examples=60, deadline=None)
def test_no_money_lies_on_an_empty_layer_and_no_use_waits_beside_stock(method: str, steps: Sequence[Step]) -> None:
    final = closing(cost(book(steps), method))
    assert all(each.nano for each in final)
    assert all((each.nano < 0) == (each.layer == SHORT) for each in final)
    waiting = {(each.material, each.site) for each in final if each.layer == SHORT}
    stocked = {(each.material, each.site) for each in final if each.layer != SHORT}
    assert not waiting & stocked


@pytest.mark.parametrize("method", METHODS)
@given(steps=STEPS)
@settings(max_examples=60, deadline=None)
def test_purchases_are_worth_what_the_documents_say(method: str, steps: Sequence[Step]) -> None:
    documents = [d for d in book(steps) if d.kind is not DocumentKind.PRICE_CORRECTION]
    by_id = {d.id: d for d in documents}
    documents = [d for d in documents if d.reverses is None or _reaches(d, by_id)]
    stated = sum(m.value or 0 for d in documents for m in d.moves if m.kind is MoveKind.DELIVERY)
    costed = sum(e.value for e in cost(documents, method).entries if e.kind is MoveKind.DELIVERY)
    assert costed == stated


def _reaches(document: Document, by_id: dict[int | None, Document]) -> bool:
    while document.reverses is not None:
        if document.reverses not in by_id:
            return False
        document = by_id[document.reverses]
    return True


@pytest.mark.parametrize("method", METHODS)
@given(steps=STEPS, pick=st.integers(0, 30))
@settings(max_examples=120, deadline=None)
def test_what_is_taken_back_before_its_day_is_closed_never_was(method: str, steps: Sequence[Step], pick: int) -> None:
    documents = book(steps)
    named = {d.reverses or d.content.get("delivery") for d in documents}
    free = [d for d in documents if d.id not in named and d.reverses is None]
    if not free:
        return
    taken = free[pick % len(free)]
    with_it = cost([*documents, reverse(taken, len(documents) + 1)], method)
    without = cost([d for d in documents if d is not taken], method)
    assert with_it == without


@pytest.mark.parametrize("method", METHODS)
@given(steps=STEPS)
@settings(max_examples=120, deadline=None)
def test_undoing_the_last_document_after_its_period_restores_every_layer(method: str, steps: Sequence[Step]) -> None:
    documents = book(steps)
    if not documents or documents[-1].reverses is not None:
        return
    number = len(documents) + 1
    end = START + timedelta(days=100)
    last = replace(documents[-1], happened=end, booked_on=end.date())
    undo = reverse(last, number, booked_on=end.date() + timedelta(days=1))
    restored = standing(cost([*documents[:-1], last, undo], method))
    before = standing(cost(documents[:-1], method))
    assert restored == before


@pytest.mark.parametrize("method", METHODS)
@given(steps=STEPS, day=st.integers(0, 30))
@settings(max_examples=60, deadline=None)
def test_what_is_booked_later_never_changes_an_entry(method: str, steps: Sequence[Step], day: int) -> None:
    documents = book(steps)
    cut = START.date() + timedelta(days=day)
    early = [d for d in documents if (d.booked_on or d.happened.date()) <= cut]
    assert _until(cost(documents, method), cut) == _until(cost(early, method), cut)


def _until(costing: Costing, day: date) -> list[object]:
    return [entry for entry in costing.entries if entry.booked_on <= day]


@pytest.mark.parametrize("method", METHODS)
@given(steps=STEPS, data=st.data())
@settings(max_examples=150, deadline=None)
def test_costs_do_not_depend_on_the_order_of_typing(method: str, steps: Sequence[Step], data: st.DataObject) -> None:
    """The same dated facts, typed in any order in which a document follows what it is about."""
    documents = crowded(book(steps))
    order = data.draw(st.permutations(range(len(documents))))
    assert told(cost(typed(documents, order), method)) == told(cost(documents, method))


def crowded(documents: Sequence[Document]) -> list[Document]:
    """Fold days together, so that several documents share a moment; a correction belongs to its delivery's day."""
    made: list[Document] = []
    for document in documents:
        when = START + timedelta(days=(document.happened - START).days // 4)
        about = named(document)
        content = dict(document.content)
        if document.kind is DocumentKind.SUPPLIER_RETURN and not about < (document.id or 0):
            content["delivery"] = about = 0
        if document.kind is DocumentKind.PRICE_CORRECTION or document.reverses:
            first = made[about - 1]
            day = first.booked_on or first.happened.date()
            when = first.happened if document.reverses else when + timedelta(minutes=document.id or 0)
            document = replace(document, booked_on=day)  # noqa: PLW2901 -- as the book does
        moves = tuple(move._replace(happened=when) for move in document.moves)
        made.append(replace(document, happened=when, moves=moves, content=content))
    return made


def named(document: Document) -> int:
    return document.reverses or int(str(document.content.get("delivery", 0)))


def typed(documents: Sequence[Document], order: Sequence[int]) -> list[Document]:
    """Number documents by another order of typing, each as soon as what it names is there."""
    numbers, waiting = {0: 0}, list(order)
    made: list[Document] = []
    while waiting:
        place = next(place for place in waiting if named(documents[place]) in numbers)
        waiting.remove(place)
        document = documents[place]
        numbers[document.id or 0] = len(made) + 1
        content = dict(document.content)
        if "delivery" in content:
            content["delivery"] = numbers[named(document)]
        reverses = None if document.reverses is None else numbers[document.reverses]
        made.append(replace(document, id=len(made) + 1, content=content, reverses=reverses))
    return made


def told(costing: Costing) -> tuple[Counter[tuple[object, ...]], Counter[tuple[object, ...]]]:
    """Say what a costing says, but for the numbers of documents and layers: entries, and what stands."""
    entries: Counter[tuple[object, ...]] = Counter(
        (e.move, e.kind, e.cause, e.nano, e.value, e.booked_on) for e in costing.entries
    )
    return entries, standing(costing)


class SlowFifo:
    """First in first out with every single piece as a thing of its own: an independent, slow way to the same costs."""

    def __init__(self) -> None:
        self.pieces: deque[int] = deque()  # cost of each piece on the shelf
        self.waiting: deque[tuple[str, int]] = deque()  # pieces used before they came: (kind, provisional cost)
        self.charged: Counter[str] = Counter()
        self.last = 300_000  # usual cost of a piece: 3 minor units in thousandths, times 100 (see `pieces`)

    def receive(self, amount: int, each: int) -> None:
        if each:
            self.last = each
        for _ in range(amount):
            if self.waiting:
                kind, provisional = self.waiting.popleft()
                self.charged[kind] += each - provisional
            else:
                self.pieces.append(each)

    def use(self, kind: str, amount: int) -> None:
        for _ in range(amount):
            if self.pieces:
                self.charged[kind] += self.pieces.popleft()
            else:
                self.waiting.append((kind, self.last))
                self.charged[kind] += self.last


@given(
    steps=st.lists(
        st.tuples(st.sampled_from(["receive", "job use", "counter sale"]), st.integers(1, 9), st.integers(0, 50)),
        max_size=60,
    )
)
@settings(max_examples=100, deadline=None)
def test_fifo_agrees_with_single_pieces(steps: Sequence[tuple[str, int, int]]) -> None:
    slow, documents = SlowFifo(), []
    usual = replace(MATERIALS["a"], usual_cost=300 * UNITS["piece"].nano)  # so that one nano costs 300,000 thousandths
    for number, (what, amount, price) in enumerate(steps, start=1):
        kind = MoveKind.DELIVERY if what == "receive" else MoveKind(what)
        value = amount * price * 1000 if what == "receive" else None
        nano = amount if what == "receive" else -amount
        when = START + timedelta(minutes=number)
        line = Move(material="a", nano=nano, kind=kind, happened=when, value=value)
        documents.append(
            Document(kind=DocumentKind.FINISH, key=str(number), happened=when, entered=START, moves=(line,), id=number)
        )
        slow.receive(amount, price * 1000) if what == "receive" else slow.use(what, amount)
    costing = replay(documents, {"a": usual})
    for kind in (MoveKind.JOB_USE, MoveKind.SALE):
        assert -sum(e.value for e in costing.entries if e.kind is kind) == slow.charged[kind]
    worth = sum(slow.pieces) - sum(provisional for _, provisional in slow.waiting)
    assert sum(s.value for s in closing(costing)) == worth
