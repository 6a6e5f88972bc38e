"""Plan the orders: what to ask of each supplier now, with a reason for every line."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal

import numpy as np

from stockroom.buying.ask import Ask, WhatIf
from stockroom.buying.basket import Basket, Line, basket
from stockroom.flows.asking import Question
from stockroom.flows.look_ahead import Outlook, outlook, read_for_outlook
from stockroom.show.formats import Formats, formats_of
from stockroom.stock.finding import find
from stockroom.stock.lists import ReorderLine, ReorderList, cautions
from stockroom.stock.suppliers import Supplier
from stockroom.store import suppliers
from stockroom.store.book import Book

TIME_LIMIT = 10.0  # seconds for the search; the best basket so far is given


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """What to order, and the outlook behind it."""

    lists: tuple[ReorderList, ...]
    basket: Basket
    outlook: Outlook


def plan_order(book: Book, moment: datetime, *, what_if: WhatIf | None = None, site: str | None = None) -> Plan:
    """Choose the best basket as of a moment."""
    facts, taught = read_for_outlook(book, moment, site=site)
    seen = outlook(facts, taught, what_if=what_if)
    found = basket(at_next_order_day(seen.question.ask), time_limit=TIME_LIMIT)
    return Plan(lists=_lists(seen, found), basket=found, outlook=seen)


def at_next_order_day(ask: Ask) -> Ask:
    """Let each supplier's next order day count as now: a list made on Saturday evening is sent for Tuesday.

    Lead times are counted from today in any case, so what is planned arrives when it really would.
    """
    moved = [replace(s, order_days=(0.0, *(day for day in s.order_days[1:] if day > 0))) for s in ask.suppliers]
    return replace(ask, suppliers=tuple(moved))


def what_if(
    book: Book, *, cash: Decimal | None = None, skip: Sequence[str] = (), service: float | None = None
) -> WhatIf:
    """Read the switches to try; suppliers by a few letters of their names."""
    names = [_supplier_name(book, typed) for typed in skip]
    return WhatIf(cash=None if cash is None else float(cash), skip=frozenset(names), service=service)


def _supplier_name(book: Book, typed: str) -> str:
    with book.reading() as session:
        known_names = {s.code: s.name for s in suppliers.read_suppliers(session)}
    return known_names[find("supplier", typed, known_names)]


def _lists(seen: Outlook, found: Basket) -> tuple[ReorderList, ...]:
    made = []
    for n, supplier in enumerate(seen.question.suppliers):
        lines = [line for line in found.lines if line.supplier == n]
        if lines:
            made.append(_list(seen, supplier, lines))
    return tuple(made)


def _list(seen: Outlook, supplier: Supplier, lines: list[Line]) -> ReorderList:
    drawn = tuple(_line(seen, line) for line in lines)
    goods = sum(line.cost for line in drawn)
    free = supplier.carriage_free_over is not None and goods >= supplier.carriage_free_over
    ask = seen.question.ask.suppliers[lines[0].supplier]
    today = seen.known.day
    return ReorderList(
        supplier=supplier.code,
        name=supplier.name,
        lines=drawn,
        carriage=0 if free else supplier.carriage,
        carriage_free_over=supplier.carriage_free_over,
        minimum_order=supplier.minimum_order,
        order_by=today + timedelta(days=int(ask.order_days[0])),
        expected=today + timedelta(days=round(float(np.median(ask.leads)))),
    )


def _line(seen: Outlook, line: Line) -> ReorderLine:
    offer = seen.question.offers[line.offer]
    material = seen.known.shelf.materials[offer.material]
    return ReorderLine(
        supplier=offer.supplier,
        supplier_code=offer.supplier_code,
        material=material.code,
        name=material.name,
        unit=material.unit,
        packs=line.packs,
        pack=offer.pack.nano,
        cost=offer.cost(line.packs),
        pack_name=offer.pack_name,
        reason=_reason(seen, line, formats_of(seen.known.shop)),
        cautions=cautions(material),
    )


def _reason(seen: Outlook, line: Line, formats: Formats) -> str:
    item = line.item
    weeks = line.quantity / max(float(seen.futures.use[:, item].mean()), 1e-12)
    runs_out = _day(seen, float(seen.runs.median[item]))
    when = f"runs out around {formats.day(runs_out)}" if runs_out else "lasts through the outlook"
    chance = formats.percent(float(np.mean(seen.runs.days[item] <= _lead(seen.question, line))))
    return f"{when}; {chance} chance of running out before this order could arrive; lasts about {weeks:.0f} weeks"


def _lead(question: Question, line: Line) -> float:
    return float(np.median(question.ask.suppliers[line.supplier].leads))


def _day(seen: Outlook, days: float) -> date | None:
    return seen.known.day + timedelta(days=int(days)) if np.isfinite(days) else None
