"""Plan the orders: what to ask of each supplier now, with a reason for every line."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal

import numpy as np

from stockroom.buying.basket import Basket, BasketLine, basket, saved_by_more
from stockroom.buying.comparison import Comparison, compare
from stockroom.buying.problem import OrderProblem, WhatIf
from stockroom.buying.reasons import LineFacts, left_out, reasons, sentence
from stockroom.flows.outlook.delivery_days import expected_day
from stockroom.flows.outlook.run_outs import ORDER_WEEKS, Outlook, Promised, outlook, read_for_outlook, within
from stockroom.phrases import joined, phrase, plural
from stockroom.show.formats import Formats, formats_of
from stockroom.stock.lists import ReorderLine, ReorderList, cautions
from stockroom.stock.suppliers import Supplier
from stockroom.stock.typed import find
from stockroom.store import catalogue
from stockroom.store.book import Book

MORE = 50.0  # major units: what a little more to spend would save is said for so much
NAMED = 3  # of what is left out
TIME_LIMIT = 10.0  # seconds for the search; the best basket so far is given


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrderPlan:
    """What to order, and the outlook behind it."""

    lists: tuple[ReorderList, ...]
    basket: Basket
    outlook: Outlook
    compared: Comparison
    summary: str  # what the whole order is worth, in a sentence or two

    def worth(self, digits: int) -> dict[str, str]:
        """Give what the whole order is worth to a program: exact decimals in major units, and the words."""
        gap = self.basket.gap
        figures = {
            "over_nothing": self.compared.over_nothing,
            "over_own_levels": self.compared.over_own_levels,
            "could_be_better_by": gap,
        }
        return {name: f"{value:.{digits}f}" for name, value in figures.items()} | {"words": self.summary}


def plan_order(
    book: Book,
    moment: datetime,
    *,
    what_if: WhatIf | None = None,
    promised: Sequence[Promised] = (),
    site: str | None = None,
) -> OrderPlan:
    """Choose the best basket as of a moment."""
    read = read_for_outlook(book, moment, site=site)
    weeks = max(ORDER_WEEKS, read.known.shop.outlook_weeks)
    return plan_from(outlook(read, weeks=weeks, what_if=what_if, promised=promised))


def plan_from(seen: Outlook) -> OrderPlan:
    """Choose the best basket for an outlook worked out already; the plan shows as much of it as the shop looks at."""
    problem = at_next_order_day(seen.question.problem)
    found = basket(problem, time_limit=TIME_LIMIT)
    compared = compare(problem, found)
    words = _Words(seen, formats_of(seen.known.shop))
    return OrderPlan(
        lists=_lists(
            seen, found, {r.line.offer: sentence(r, words, problem) for r in reasons(problem, found, seen.runs)}
        ),
        basket=found,
        outlook=within(seen, seen.known.shop.outlook_weeks),
        compared=compared,
        summary=joined([_summary(compared, found, words), *_limited(problem, found, words)]),
    )


@dataclass(frozen=True, slots=True)
class _Words:
    """How the buying room's figures are written for this shop."""

    seen: Outlook
    formats: Formats

    def money(self, value: float) -> str:
        return self.formats.money(round(value * 10**self.formats.digits))

    def day(self, days: float) -> str:
        day = _day(self.seen, days)
        return self.formats.day(day) if day else phrase("beyond the outlook")

    def share(self, value: float) -> str:
        return self.formats.percent(value)

    def packs(self, offer: int, packs: int) -> str:
        asked = self.seen.question.offers[offer]
        unit = self.seen.known.shelf.materials[asked.material].unit
        pack = asked.pack_name or self.formats.amount(asked.pack.nano, unit)
        return phrase("%(packs)s x %(pack)s", packs=packs, pack=pack)


def _limited(problem: OrderProblem, found: Basket, words: _Words) -> list[str]:
    """Say what the limits leave out, what that risks, and what a little more to spend would save."""
    if found.free is None:
        return []
    said: list[str] = []
    missing = left_out(problem, found, words.seen.runs)
    if missing:
        named = joined([_missing(each, words) for each in missing[:NAMED]], ", ")
        said.append(
            plural(
                "%(num)s material worth ordering does not fit: %(named)s.",
                "%(num)s materials worth ordering do not fit; the gravest: %(named)s.",
                len(missing),
                named=named,
            )
        )
    said.append(
        phrase("Without limits the orders would save %(money)s more.", money=words.money(found.cost - found.free.cost))
    )
    more = saved_by_more(problem, found, MORE)
    if more > 0:
        said.append(
            phrase("Another %(more)s to spend would save %(money)s.", more=words.money(MORE), money=words.money(more))
        )
    return said


def _missing(facts: LineFacts, words: _Words) -> str:
    name = words.seen.known.shelf.materials[facts.name].name
    return phrase(
        "%(name)s (runs out around %(day)s; at risk: %(money)s)",
        name=name,
        day=words.day(facts.runs_out),
        money=words.money(facts.saves),
    )


def _summary(compared: Comparison, found: Basket, words: _Words) -> str:
    if not found.lines:
        if any(each.ordered_now for each in words.seen.question.problem.suppliers):
            return phrase("What is ordered today is enough: nothing is worth a further order now.")
        if found.free is not None:
            return phrase("Nothing that is worth ordering fits the limits.")
        return phrase("Waiting for a later order day costs less than ordering anything now.")
    if compared.over_nothing < 0:
        more = words.money(-compared.over_nothing)
        return phrase(
            "These orders are expected to cost %(more)s more than ordering nothing now: the service level asked for "
            "comes before money.",
            more=more,
        )
    facts = {"nothing": compared.over_nothing, "own": abs(compared.over_own_levels), "gap": found.gap}
    said = {name: words.money(value) for name, value in facts.items()}
    if compared.over_own_levels >= 0:
        return phrase(
            "These orders are expected to cost %(nothing)s less than ordering nothing now, and %(own)s less than "
            "bringing each item to its own order-up-to level. No other choice could be more than %(gap)s better.",
            **said,
        )
    return phrase(
        "These orders are expected to cost %(nothing)s less than ordering nothing now, and %(own)s more than "
        "bringing each item to its own order-up-to level. No other choice could be more than %(gap)s better.",
        **said,
    )


def at_next_order_day(problem: OrderProblem) -> OrderProblem:
    """Let each supplier's next order day count as now: a list made on Saturday evening is sent for Tuesday.

    Lead times are counted from today in any case, so what is planned arrives when it really would.
    """
    moved = [replace(s, order_days=(0.0, *(day for day in s.order_days[1:] if day > 0))) for s in problem.suppliers]
    return replace(problem, suppliers=tuple(moved))


def what_if(
    book: Book, *, cash: Decimal | None = None, skip: Sequence[str] = (), service: float | None = None
) -> WhatIf:
    """Read the switches to try; suppliers by a few letters of their names."""
    names = [_supplier_name(book, typed) for typed in skip]
    return WhatIf(cash=None if cash is None else float(cash), skip=frozenset(names), service=service)


def _supplier_name(book: Book, typed: str) -> str:
    with book.reading() as session:
        known_names = {s.code: s.name for s in catalogue.read_suppliers(session)}
    return known_names[find("supplier", typed, known_names)]


def _lists(seen: Outlook, found: Basket, why: Mapping[int, str]) -> tuple[ReorderList, ...]:
    made = []
    for n, supplier in enumerate(seen.question.suppliers):
        lines = [line for line in found.lines if line.supplier == n]
        if found.free is not None:  # most urgent first
            lines.sort(key=lambda line: float(seen.runs.median[line.item]))
        if lines:
            made.append(_list(seen, supplier, lines, why))
    return tuple(made)


def _list(seen: Outlook, supplier: Supplier, lines: list[BasketLine], why: Mapping[int, str]) -> ReorderList:
    drawn = tuple(_line(seen, line, why) for line in lines)
    problem = seen.question.problem.suppliers[lines[0].supplier]
    today, belief = seen.known.day, seen.question.leads[supplier.code]
    placed = today + timedelta(days=int(problem.order_days[0]))
    carriage = supplier.carriage_of(sum(line.cost for line in drawn))
    asked, terms = [(line.material, line.supplier_code, line.cost) for line in drawn], seen.known.terms
    return ReorderList(
        supplier=supplier.code,
        name=supplier.name,
        lines=drawn,
        carriage=carriage,
        carriage_free_over=supplier.carriage_free_over,
        minimum_order=supplier.minimum_order,
        order_by=placed,
        expected=expected_day(belief, placed, today, seen.known.open_days),
        tax=terms.tax_on_order(supplier.code, asked, carriage, today) if terms else 0,
    )


def _line(seen: Outlook, line: BasketLine, why: Mapping[int, str]) -> ReorderLine:
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
        reason=why.get(line.offer, ""),
        cautions=cautions(material),
    )


def _day(seen: Outlook, days: float) -> date | None:
    return seen.known.day + timedelta(days=int(days)) if np.isfinite(days) else None
