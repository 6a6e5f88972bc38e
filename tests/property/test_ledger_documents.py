"""Any sequence of documents leaves a book that adds up: a model of what holds is kept beside it and compared."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from fractions import Fraction
from functools import partial
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    multiple,
    precondition,
    rule,
    run_state_machine_as_test,
)

from stockroom.errors import RefusedError, StockroomError
from stockroom.flows.bench import changes, counter, offcuts, sales, stages
from stockroom.flows.bench import tickets as bench
from stockroom.flows.bench.changes import TicketChanges
from stockroom.flows.bench.sales import Item, SaleWanted
from stockroom.flows.bench.stages import Used
from stockroom.flows.bench.tickets import Wanted
from stockroom.flows.counts import review, settle
from stockroom.flows.counts.offcuts import count_offcuts
from stockroom.flows.ordering import place
from stockroom.flows.ordering.place import OrderedPacks
from stockroom.flows.ordering.receive import Arrived
from stockroom.flows.posting import undo
from stockroom.flows.posting.post import post_one
from stockroom.stock import postings
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.layers import Costing, closing, replay
from stockroom.stock.moves import Document, DocumentKind, MoveKind
from stockroom.stock.offcuts import Offcut, OffcutWanted, piece_size
from stockroom.stock.orders import Delivery, DeliveryLine, OrderState
from stockroom.stock.postings import Actual, Stamp
from stockroom.stock.quantities import NANO, Dimension, Quantity
from stockroom.stock.recipes import Extra
from stockroom.stock.tickets import TicketState
from stockroom.store import catalogue, integrity, ledger
from stockroom.store.book import Book
from stockroom.store.orders import OPEN, read_orders, the_order
from stockroom.store.tickets import read_tickets, the_ticket
from tests import build
from tests.conftest import Maker
from tests.strategies import whole_amounts

MATERIALS = {m.code: m for m in build.materials()}
DIMENSIONS = {code: m.dimension for code, m in MATERIALS.items()}
SITES = ("main", "second")
FIRST = build.at("2026-01-06 08:00")
Bin = tuple[str, str, datetime]
_STAGES = (DocumentKind.USE,)


@dataclass
class PostedDocument:
    """What the model knows of a first document: what it moved, and whether it holds."""

    kind: DocumentKind
    subject: str
    moves: list[tuple[str, str, datetime, int]]
    tip: int  # the last of its reversals, or itself
    holds: bool = True
    bins: dict[Bin, int] = field(default_factory=dict)
    brought: dict[str, int] = field(default_factory=dict)


class Boom(Exception):  # noqa: N818 -- stands for a power cut
    """The program dies."""


moments = st.integers(0, 24 * 20)  # hours since the first day, folded into the span a machine looks at
codes = st.integers(0, 11)
sites = st.integers(0, 1)


class CountedShelf(RuleBasedStateMachine):
    """Waste, transfers and counts on few bins within few hours, so that everything meets everything."""

    make: Callable[[], Book]
    span = 6
    stocked: tuple[str, ...] = ("CEMENT", "TIP")
    places: tuple[str, ...] = ("main",)

    sheets = Bundle("sheets")

    def __init__(self) -> None:
        super().__init__()
        self.book = self.make()
        self.model: dict[int, PostedDocument] = {}
        self.stamps: list[tuple[Callable[..., Any], tuple[Any, ...]]] = []
        self.turn = 0

    def teardown(self) -> None:
        self.balances_are_the_sums_of_moves()
        self.no_key_is_twice_in_the_book()
        with self.book.reading() as session:
            documents = ledger.read_documents(session)
        for method in ("fifo", "average"):
            self.what_leaves_a_sheet_lies_in_its_offcuts(replay(documents, MATERIALS, method=method))
            self.what_a_ticket_gave_back_whole_cost_it_nothing(replay(documents, MATERIALS, method=method))
        self.book.close()

    def what_leaves_a_sheet_lies_in_its_offcuts(self, costing: Costing) -> None:
        """Value of sheet = used + offcuts + waste: what offcuts took over comes to nothing, whatever came later."""
        assert sum(entry.value for entry in costing.entries if entry.kind is MoveKind.OFFCUT) == 0
        for code in ("BEND", "OFFCUT"):
            mine = [entry for entry in costing.entries if entry.move.material == code]
            standing = [each for each in closing(costing, date.max) if each.material == code]
            assert sum(entry.value for entry in mine) == sum(each.value for each in standing)

    def what_a_ticket_gave_back_whole_cost_it_nothing(self, costing: Costing) -> None:
        """Whatever came in between: what is given up or undone leaves no cost on its ticket."""
        sums: dict[tuple[str, str], tuple[int, int]] = {}
        for entry in costing.entries:
            at = entry.move.ticket, entry.move.material
            nano, value = sums.get(at, (0, 0))
            sums[at] = (nano + entry.nano, value + entry.value)
        assert {at: value for at, (nano, value) in sums.items() if at[0] and not nano and value} == {}

    # -- documents ------------------------------------------------------------------------------------------------------

    @initialize()
    def open_the_shop(self) -> None:
        build.opened(self.book)
        self.learn(1)

    def stamp(self, when: int, site: int = 0) -> Stamp:
        self.turn += 1
        entered = FIRST + timedelta(days=30, minutes=self.turn)
        return Stamp(
            key=f"document-{self.turn}", happened=self.moment(when), entered=entered, site=self.site(site), sure=True
        )

    def moment(self, when: int) -> datetime:
        return FIRST + timedelta(hours=when % self.span)

    def code(self, pick: int) -> str:
        return self.stocked[pick % len(self.stocked)]

    def amount(self, pick: int, tenths: int) -> Quantity:
        return Quantity(nano=tenths * NANO // 10, dimension=DIMENSIONS[self.code(pick)])

    def site(self, pick: int) -> str:
        return self.places[pick % len(self.places)]

    def learn(self, number: int, **facts: Any) -> Any:
        """Note a new document; give its number for later rules."""
        with self.book.reading() as session:
            document = ledger.read_documents(session, numbers=[number])[0]
        assert number not in self.model
        moves = [(m.material, m.site, m.happened, m.nano) for m in document.moves if m.kind is not MoveKind.COUNT]
        self.model[number] = PostedDocument(
            kind=document.kind, subject=document.subject, moves=moves, tip=number, **facts
        )
        return number

    def repeat(self, call: Callable[..., Any], *arguments: Any) -> Any:
        """Do something, and the same again under the same key: the second time changes nothing."""
        done = call(self.book, *arguments)
        before = self.figure()
        again = call(self.book, *arguments)
        assert self.figure() == before
        assert getattr(again, "fresh", False) is False
        if hasattr(done, "document") and hasattr(done, "fresh"):
            assert (done.fresh, again.document) == (True, done.document)
        return done

    def figure(self) -> tuple[int, str]:
        with self.book.reading() as session:
            return ledger.head(session)

    def last(self) -> int:
        """Give the number of the last document that is not there for a count's sake."""
        return build.last(self.book)

    @rule(when=moments, code=codes, site=sites, part=st.integers(1, 400))
    def waste(self, when: int, code: int, site: int, part: int) -> None:
        amount = self.amount(code, part)
        self.learn(self.repeat(counter.write_off, self.code(code), amount, self.stamp(when, site)).document)

    @rule(when=moments, code=codes, part=st.integers(1, 400))
    def transfer(self, when: int, code: int, part: int) -> None:
        stamp = self.stamp(when)
        done = counter.transfer(self.book, self.code(code), self.amount(code, part), stamp, to_site="second")
        self.learn(done.document)

    # -- counts ------------------------------------------------------------------------------------------------------

    @rule(
        target=sheets, when=moments, site=sites,
        bins=st.lists(st.tuples(codes, st.integers(0, 3), st.integers(0, 50)), min_size=1, max_size=3),
    )  # fmt: skip
    def take_count(self, when: int, site: int, bins: list[tuple[int, int, int]]) -> Any:
        stamp = self.stamp(when)
        found = {(self.code(code), hours): tens * 10 for code, hours, tens in bins}
        lines = tuple(
            CountLine(
                material=code, amount=Quantity(nano=each * NANO, dimension=DIMENSIONS[code]),
                counted=self.moment(when + hours), site=self.site(site),
            )
            for (code, hours), each in found.items()
        )  # fmt: skip
        if len({(line.material, line.counted) for line in lines}) < len(lines):
            return multiple()
        before = self.figure()
        self.repeat(settle.take_count, Count(key=stamp.key, lines=lines), stamp)
        assert self.figure() == before, "taking a count books nothing"
        return (stamp.key, {(line.material, line.site, line.counted): line.amount.nano for line in lines})

    @rule(sheet=sheets, when=moments)
    def settle(self, sheet: tuple[str, dict[Bin, int]], when: int) -> None:
        key, bins = sheet
        stamp, confirmed = self.stamp(when), partial(settle.settle_count, confirmed=True)
        waiting = [one.bin.line for one in review.review(self.book, key, stamp.entered) if one.waiting]
        found = {(line.material, line.site, line.counted): line.amount.nano for line in waiting}
        assert found.items() <= bins.items()
        quarrels = any(self.anchors().get(bin_, nano) != nano for bin_, nano in found.items())
        if not waiting or quarrels:
            before = self.figure()
            with pytest.raises(RefusedError):
                confirmed(self.book, key, stamp)
            assert self.figure() == before
            return
        done = self.repeat(confirmed, key, stamp)
        assert set(done.posted) == {line.material for line in waiting}
        self.learn(done.document, bins=found)

    def anchors(self) -> dict[Bin, int]:
        found: dict[Bin, int] = {}
        for document in self.model.values():
            if document.holds:
                found |= document.bins
        return found

    # -- taking back, and dying --------------------------------------------------------------------------------------

    @precondition(lambda self: self.model)
    @rule(pick=st.integers(0, 10**6), when=moments)
    def take_back(self, pick: int, when: int) -> None:
        document = list(self.model.values())[pick % len(self.model)]
        before = self.figure()
        stamp = self.stamp(when)
        try:
            done = undo.undo(self.book, document.tip, stamp)
        except RefusedError:
            assert self.figure() == before
            self.refusal_is_fair(document)
            return
        assert undo.undo(self.book, document.tip, stamp).number == done.number
        with pytest.raises(RefusedError, match="undone already"):
            undo.undo(self.book, document.tip, replace(stamp, key=stamp.key + "-again"))
        document.tip, document.holds = done.number, not document.holds

    def refusal_is_fair(self, document: PostedDocument) -> None:
        """Stock documents can always be taken back; tickets, orders and counts only where nothing else stands on them."""
        tied = {
            DocumentKind.TAKE_IN, DocumentKind.FINISH, DocumentKind.REDO, DocumentKind.CANCEL,
            DocumentKind.ORDER, DocumentKind.ORDER_END, DocumentKind.TICKET_CHANGE, DocumentKind.USE, DocumentKind.SALE,
        }  # fmt: skip
        again = {DocumentKind.DELIVERY, DocumentKind.COUNT} if not document.holds else set()
        assert document.kind in tied | again
        assert not (document.holds and document.kind in (DocumentKind.FINISH, DocumentKind.REDO))

    @rule(when=moments, code=codes)
    def die_while_writing(self, when: int, code: int) -> None:
        before, sums = self.figure(), self.sums()
        material = MATERIALS[self.code(code)]
        document = postings.lost(DocumentKind.WASTE, material, self.amount(code, 10), self.stamp(when))
        with pytest.raises(Boom):
            self.post_and_die(document)
        assert (self.figure(), self.sums()) == (before, sums)

    def post_and_die(self, document: Document) -> None:
        with self.book.writing() as session:
            post_one(session, document)
            raise Boom

    # -- what always holds -------------------------------------------------------------------------------------------

    def sums(self) -> dict[str, int]:
        with self.book.reading() as session:
            return ledger.balances(session)

    @invariant()
    def the_book_says_what_the_documents_in_force_and_the_counts_say(self) -> None:
        anchors = self.anchors()
        moves = [move for document in self.model.values() if document.holds for move in document.moves]
        ends = [FIRST + timedelta(days=400), FIRST + timedelta(days=9, hours=3)]
        with self.book.reading() as session:
            for site in SITES:
                for moment in {*ends, *(counted for _, _, counted in anchors)}:
                    kept = ledger.balances(session, at=moment, site=site)
                    wanted = {code: _expected(code, site, moment, moves, anchors) for code in MATERIALS}
                    assert {code: kept.get(code, 0) for code in MATERIALS} == wanted, (site, moment)

    def balances_are_the_sums_of_moves(self) -> None:
        with self.book.reading() as session:
            for site in SITES:
                added: dict[str, int] = {}
                for document in ledger.read_documents(session):
                    for move in document.moves:
                        if move.site == site:
                            added[move.material] = added.get(move.material, 0) + move.nano
                assert ledger.balances(session, site=site) == added
            assert integrity.audit(session).faults == ()

    def no_key_is_twice_in_the_book(self) -> None:
        with self.book.reading() as session:
            keys = [document.key for document in ledger.read_documents(session, with_moves=False)]
            assert len(keys) == len(set(keys))
            assert len(catalogue.read_materials(session)) in (0, len(MATERIALS))


class Shop(CountedShelf):
    """A few weeks at the shop, in any order."""

    span = 24 * 20
    stocked = ("BEND", "CEMENT", "TIP", "LACE-BLACK", "THREAD")
    places = SITES

    tickets = Bundle("tickets")
    placed = Bundle("placed")
    sold = Bundle("sold")

    @rule(
        target=tickets,
        when=moments,
        job=st.sampled_from(["RESOLE", "HEELS"]),
        size=st.integers(35, 46),
        option=st.booleans(),
    )
    def take_in(self, when: int, job: str, size: int, option: bool) -> Any:
        ticket = self.repeat(bench.take_in, self.wanted(job, size, option), self.stamp(when))
        self.learn(self.last())
        return ticket.number

    def wanted(self, job: str, size: int, option: bool) -> Wanted:
        if job == "RESOLE":
            return Wanted(job=job, size=build.size(f"EU {size}"), chosen={"sole": "rubber" if option else "leather"})
        return Wanted(job=job, chosen={"hold": "sewn" if option else "glued"}, shoes=1 + size % 2)

    @rule(ticket=tickets, when=moments, actual=st.none() | st.integers(0, 90), instead=st.booleans())
    def finish(self, ticket: str, when: int, actual: int | None, instead: bool) -> None:
        job = self.ticket(ticket).job
        amounts = {} if actual is None or job != "RESOLE" else {"filler": build.amount(f"{actual} g")}
        changed = Actual(amounts=amounts, instead={"TIP": "SOLE-S"} if instead and job == "HEELS" else {})
        if self.ticket(ticket).state is not TicketState.BOOKED:
            with pytest.raises(RefusedError):
                bench.finish_ticket(self.book, ticket, self.stamp(when), changed)
            return
        drawn = self.repeat(bench.finish_ticket, ticket, self.stamp(when), changed)
        self.learn(drawn.document)

    @rule(target=tickets, when=moments, size=st.integers(35, 46), option=st.booleans())
    def finish_at_once(self, when: int, size: int, option: bool) -> Any:
        drawn = self.repeat(bench.finish_at_once, self.wanted("RESOLE", size, option), self.stamp(when))
        self.learn(drawn.document)
        return drawn.ticket.number

    @rule(target=tickets, ticket=tickets, when=moments)
    def redo(self, ticket: str, when: int) -> Any:
        if self.ticket(ticket).state is not TicketState.FINISHED:
            with pytest.raises(RefusedError):
                bench.redo_ticket(self.book, ticket, self.stamp(when))
            return multiple()
        drawn = self.repeat(bench.redo_ticket, ticket, self.stamp(when))
        self.learn(drawn.document)
        return drawn.ticket.number

    @rule(ticket=tickets, when=moments, back=st.booleans())
    def cancel(self, ticket: str, when: int, back: bool) -> None:
        booked = self.ticket(ticket)
        if booked.state is not TicketState.BOOKED or booked.drawn:
            with pytest.raises(RefusedError):
                bench.cancel_ticket(self.book, ticket, self.stamp(when))
        if booked.state is TicketState.BOOKED:
            cancel = partial(bench.cancel_ticket, back=["all"] if back else [], wasted=not back)
            self.repeat(cancel, ticket, self.stamp(when))
            self.learn(self.last())

    @rule(ticket=tickets, when=moments, pick=st.integers(0, 5), much=st.none() | st.integers(1, 60))
    def use_so_far(self, ticket: str, when: int, pick: int, much: int | None) -> None:
        lines = sorted(self.lines(self.ticket(ticket)))
        line = lines[pick % len(lines)] if lines else "filler"
        amounts = {"filler": build.amount(f"{much} g")} if much and line == "filler" else {}
        used = Used(lines=() if amounts else (line,), actual=Actual(amounts=amounts))
        spent = not amounts and line in {need.line for need in self.ticket(ticket).drawn}
        if self.ticket(ticket).state is not TicketState.BOOKED or not lines or spent:
            before = self.figure()
            try:
                drawn = stages.use_so_far(self.book, ticket, used, self.stamp(when))
            except RefusedError:
                assert self.figure() == before
                return
            assert spent, "a line used in part still takes the rest"
        else:
            drawn = self.repeat(stages.use_so_far, ticket, used, self.stamp(when))
        self.learn(drawn.document)

    @rule(ticket=tickets, when=moments, price=st.integers(0, 9), pairs=st.none() | st.integers(1, 3), out=st.booleans())
    def change(self, ticket: str, when: int, price: int, pairs: int | None, out: bool) -> None:
        extra = (Extra(material="LACE-BROWN", amount=build.amount(f"{pairs} pair")),) if pairs else ()
        leave = ("cement",) if out and self.ticket(ticket).job == "RESOLE" else ()
        wanted = TicketChanges(price=price * 100, add=extra, leave_out=leave)
        before = self.figure()
        try:
            done = self.repeat(changes.change_ticket, ticket, wanted, self.stamp(when))
        except RefusedError:
            assert self.figure() == before
            used = {need.line for need in self.ticket(ticket).drawn}
            same = not extra and not leave and self.ticket(ticket).price == price * 100
            redo = self.ticket(ticket).redo_of and price
            assert self.ticket(ticket).state is not TicketState.BOOKED or same or redo or used & set(leave) or leave
            return
        self.learn(done.document)

    def lines(self, ticket: Any) -> set[str]:
        cards = {"RESOLE": {"filler", "cement", "seam"}, "HEELS": {"tips"}}
        return (cards[ticket.job] | {need.line for need in ticket.added}) - set(ticket.left_out)

    @rule(target=sold, when=moments, black=st.integers(1, 4), brown=st.integers(1, 4), off=st.integers(0, 50))
    def sell_together(self, when: int, black: int, brown: int, off: int) -> Any:
        items = (
            Item(material="LACE-BLACK", amount=build.amount(f"{black} pair")),
            Item(material="LACE-BROWN", amount=build.amount(f"{brown} pair")),
        )
        wanted = SaleWanted(items=items, percent=Fraction(off))
        done = self.repeat(sales.sell_together, wanted, self.stamp(when))
        return self.learn(done.document)

    @rule(number=sold, when=moments, pairs=st.integers(1, 3), wasted=st.booleans(), named=st.booleans())
    def bring_back(self, number: int, when: int, pairs: int, wasted: bool, named: bool) -> None:
        brought = partial(sales.customer_return, of=number if named else None, wasted=wasted)
        before = self.figure()
        try:
            done = self.repeat(brought, "LACE-BROWN", build.amount(f"{pairs} pair"), self.stamp(when))
        except RefusedError:
            assert named
            assert self.figure() == before
            return
        self.learn(done.document)

    @rule(when=moments, pairs=st.integers(1, 6), site=sites)
    def sell(self, when: int, pairs: int, site: int) -> None:
        self.learn(
            self.repeat(counter.sell, "LACE-BLACK", build.amount(f"{pairs} pair"), self.stamp(when, site)).document
        )

    @rule(when=moments, area=whole_amounts(Dimension.AREA, most=9))
    def keep_offcut(self, when: int, area: Quantity) -> None:
        self.learn(self.repeat(offcuts.keep_offcut, "BEND", "OFFCUT", (area, area), self.stamp(when)).moved.document)

    @rule(target=placed, when=moments, bends=st.integers(1, 3))
    def order_leather(self, when: int, bends: int) -> Any:
        order = self.repeat(place.place_order, "TAN", [OrderedPacks(material="BEND", packs=bends)], self.stamp(when))
        self.learn(self.last())
        return order.number

    @rule(target=placed, when=moments, tins=st.integers(1, 3), boxes=st.integers(2, 3))
    def order_findings(self, when: int, tins: int, boxes: int) -> Any:
        lines = [OrderedPacks(material="CEMENT", packs=tins), OrderedPacks(material="TIP", packs=boxes)]
        order = self.repeat(place.place_order, "NORTH", lines, self.stamp(when))
        self.learn(self.last())
        return order.number

    @rule(number=placed, when=moments, packs=st.none() | st.integers(1, 2), measured=st.none() | st.integers(150, 230))
    def receive(self, number: str, when: int, packs: int | None, measured: int | None) -> None:
        order = self.order(number)
        arrived = []
        if packs is not None:
            first = order.lines[0].material
            amount = build.amount(f"{measured} dm2") if measured and first == "BEND" else None
            arrived = [Arrived(material=first, packs=packs, amount=amount)]
        if order.state not in OPEN:
            with pytest.raises(RefusedError):
                place.receive_order(self.book, number, arrived, self.stamp(when))
            return
        done = self.repeat(place.receive_order, number, arrived, self.stamp(when))
        brought = {
            a.material: new.received - a.received for a, new in zip(order.lines, self.order(number).lines, strict=True)
        }
        self.learn(done.document, brought=brought)

    @rule(number=placed, when=moments)
    def end_order(self, number: str, when: int) -> None:
        if self.order(number).state not in OPEN:
            with pytest.raises(RefusedError):
                place.end_order(self.book, number, self.stamp(when))
            return
        self.repeat(place.end_order, number, self.stamp(when))
        self.learn(self.last())

    @rule(when=moments)
    def die_while_finishing(self, when: int) -> None:
        before, sums, booked = self.figure(), self.sums(), bench.booked(self.book)
        with patch.object(bench, "drawn_by", side_effect=Boom), pytest.raises(Boom):
            bench.finish_at_once(self.book, self.wanted("RESOLE", 42, option=False), self.stamp(when))
        assert (self.figure(), self.sums(), bench.booked(self.book)) == (before, sums, booked)

    def ticket(self, number: str) -> Any:
        with self.book.reading() as session:
            return the_ticket(session, number)

    def order(self, number: str) -> Any:
        with self.book.reading() as session:
            return the_order(session, DIMENSIONS, number)

    @invariant()
    def tickets_stand_where_their_documents_put_them(self) -> None:
        with self.book.reading() as session:
            kept = read_tickets(session)
        for ticket in kept:
            holding = {p.kind: n for n, p in self.model.items() if p.holds and p.subject == ticket.number}
            work = [n for kind, n in holding.items() if kind in (DocumentKind.FINISH, DocumentKind.REDO)]
            if work:
                wanted = TicketState.FINISHED
            elif DocumentKind.TAKE_IN in holding and DocumentKind.CANCEL not in holding:
                wanted = TicketState.BOOKED
            else:
                wanted = TicketState.CANCELLED
            assert ticket.state is wanted, ticket
            uses = [n for n, p in self.model.items() if p.holds and p.subject == ticket.number and p.kind in _STAGES]
            assert {need.material: need.nano for need in ticket.drawn} == self.used_on(uses), ticket
            assert (ticket.finished is not None) == bool(work)

    def used_on(self, documents: list[int]) -> dict[str, int]:
        """Add up what documents drew, by material."""
        sums: dict[str, int] = {}
        for number in documents:
            for material, _, _, nano in self.model[number].moves:
                sums[material] = sums.get(material, 0) - nano
        return {material: nano for material, nano in sums.items() if nano}

    @invariant()
    def orders_stand_where_their_documents_put_them(self) -> None:
        with self.book.reading() as session:
            kept = read_orders(session, DIMENSIONS)
        for order in kept:
            holding = [p for p in self.model.values() if p.holds and p.subject == order.number]
            for line in order.lines:
                assert line.received == sum(p.brought.get(line.material, 0) for p in holding)
            some = any(line.received for line in order.lines)
            ended = any(p.kind is DocumentKind.ORDER_END for p in holding)
            if not any(p.kind is DocumentKind.ORDER for p in holding):
                wanted = OrderState.CANCELLED
            elif all(line.received >= line.expected for line in order.lines):
                wanted = OrderState.CLOSED
            elif ended:
                wanted = OrderState.CLOSED if some else OrderState.CANCELLED
            else:
                wanted = OrderState.PART_RECEIVED if some else OrderState.PLACED
            assert order.state is wanted, order
            assert (order.closed is None) == (order.state in OPEN)


class Offcuts(CountedShelf):
    """A sheet cut, its offcuts kept, cut again, trimmed, ticked and lost, in any order."""

    span = 24 * 4
    stocked = ("BEND",)

    @rule(when=moments, size=st.integers(35, 46))
    def resole(self, when: int, size: int) -> None:
        self.learn(self.repeat(bench.finish_at_once, resoled(size), self.stamp(when)).document)

    @rule(when=moments, area=st.integers(1, 200), cost=st.integers(1, 20000))
    def deliver(self, when: int, area: int, cost: int) -> None:
        stamp = self.stamp(when)
        line = DeliveryLine(material="BEND", amount=build.amount(f"{area} dm2"), cost=cost)
        goods = Delivery(reference="", supplier="TAN", received=stamp.happened, lines=(line,))
        with self.book.writing() as session:
            posted = post_one(session, postings.delivered(goods, MATERIALS, stamp))
        self.learn(posted.number)

    @rule(when=moments, sides=st.tuples(st.integers(1, 9), st.integers(1, 9)), whole=st.booleans())
    def keep_piece(self, when: int, sides: tuple[int, int], whole: bool) -> None:
        size = piece_size(f"{sides[0] * 10} x {sides[1] * 10} cm")
        keep = partial(offcuts.keep_offcut, from_sheet=whole, piece=size)
        done = self.repeat_part(keep, "BEND", "OFFCUT", (size.area, size.area), self.stamp(when))
        self.learn(done.moved.document)

    def repeat_part(self, call: Callable[..., Any], *arguments: Any) -> Any:
        done, before = call(self.book, *arguments), self.figure()
        call(self.book, *arguments)
        assert self.figure() == before
        return done

    def piece(self, pick: int) -> tuple[Offcut, int]:
        """Give a piece that is there, or keep one; with the hour it was stored."""
        if not offcuts.offcuts(self.book):
            self.keep_piece(pick, (6, 4), pick % 2 == 0)
        there = offcuts.offcuts(self.book)
        piece = there[pick % len(there)]
        return piece, int((piece.stored - FIRST).total_seconds() // 3600)

    @rule(pick=st.integers(0, 99), later=st.integers(-1, 5), size=st.integers(35, 46), left=st.integers(0, 3))
    def finish_from_a_piece(self, pick: int, later: int, size: int, left: int) -> None:
        piece, stored = self.piece(pick)
        stays = ("", "none", "2 dm2", "10 x 10 cm")[left]
        cut = Actual(offcuts={"leather sole": OffcutWanted(number=piece.number, left=stays)})
        before = self.figure()
        try:
            drawn = self.repeat(bench.finish_at_once, resoled(size), self.stamp(stored + later), cut)
        except StockroomError:  # it is too small, or was stored later
            assert self.figure() == before
            return
        self.learn(drawn.document)

    @rule(pick=st.integers(0, 99), when=moments)
    def trim_a_piece(self, pick: int, when: int) -> None:
        piece, stored = self.piece(pick)
        before = self.figure()
        try:
            done = self.repeat(offcuts.trim_offcut, piece.number, "10 x 10 cm", self.stamp(stored + when % 6))
        except StockroomError:
            assert self.figure() == before
            return
        self.learn(done.document)
        now = next(each for each in offcuts.offcuts(self.book) if each.number == piece.number)
        assert now.nano == build.nano("1 dm2")

    @rule(keep=st.sets(st.integers(0, 5)), when=moments)
    def tick_the_pieces(self, keep: set[int], when: int) -> None:
        there = [piece for n, piece in enumerate(offcuts.offcuts(self.book)) if n in keep]
        before, stamp = self.figure(), self.stamp(when)
        try:
            done = count_offcuts(self.book, "OFFCUT", [piece.number for piece in there], stamp)
        except RefusedError:  # nothing is kept, or the bin was counted at that moment with another result
            assert self.figure() == before
            return
        if done.lost is not None:
            self.learn(done.lost)
        with self.book.reading() as session:
            found = ledger.bin_balance(session, "OFFCUT", stamp.site, stamp.happened)
        self.learn(done.document, bins={("OFFCUT", stamp.site, stamp.happened): found})
        assert {piece.number for piece in offcuts.offcuts(self.book)} == {piece.number for piece in there}

    @invariant()
    def a_piece_is_as_large_as_its_batch(self) -> None:
        for piece in offcuts.offcuts(self.book):
            assert piece.nano > 0
            assert piece.size is None or piece.size.area.nano == piece.nano


def resoled(size: int) -> Wanted:
    """Ask for leather soles."""
    return Wanted(job="RESOLE", size=build.size(f"EU {size}"), chosen={"sole": "leather"})


def _expected(
    code: str, site: str, moment: datetime, moves: list[tuple[str, str, datetime, int]], anchors: dict[Bin, int]
) -> int:
    """Say what is there: the last count, and what moved since; or all that moved."""
    counted = [(when, nano) for (c, s, when), nano in anchors.items() if (c, s) == (code, site) and when <= moment]
    since, there = max(counted, default=(datetime.min, 0))
    return there + sum(n for c, s, when, n in moves if (c, s) == (code, site) and since < when <= moment)


def _run(machine: type[CountedShelf], make: Maker, share: int) -> None:
    made = type(machine.__name__, (machine,), {"make": staticmethod(make)})
    some = settings(settings(), max_examples=max(settings().max_examples * share // 100, 5))
    run_state_machine_as_test(made, settings=some)


@pytest.mark.slow
def test_any_sequence_of_counts_and_late_documents_leaves_every_count_true(sqlite_books: Maker) -> None:
    _run(CountedShelf, sqlite_books, share=60)


@pytest.mark.slow
def test_any_sequence_of_cuts_leaves_every_piece_and_its_cost_true(sqlite_books: Maker) -> None:
    _run(Offcuts, sqlite_books, share=15)


@pytest.mark.slow
def test_any_sequence_of_documents_leaves_a_true_book_in_a_file(sqlite_books: Maker) -> None:
    _run(Shop, sqlite_books, share=30)


def test_any_sequence_of_documents_leaves_a_true_book_on_a_server(server_books: Maker) -> None:
    _run(Shop, server_books, share=12)
