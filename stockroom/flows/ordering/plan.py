"""Plan the orders: what to ask of each supplier now, with a reason for every line."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import numpy as np

from stockroom.buying.basket import Basket, BasketLine, basket, saved_by_more
from stockroom.buying.comparison import Comparison, compare
from stockroom.buying.problem import OrderProblem, WhatIf
from stockroom.buying.reasons import (
    LineFacts,
    brief,
    lasting,
    left_out,
    more,
    reasons,
    risk_worth_saying,
    sentence,
    warning,
)
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
MOST_JOBS = 3  # named that use a material
SMALL = 0.005  # less than a cent
LITTLE = 0.01  # part of the goods' value: an order that saves less beside waiting can as well wait
_BEYOND = 3650.0  # days: no honest day is given so far ahead
_OF_ANY_PACKS = ("warning", "risk_if_left")
TIME_LIMIT = 10.0  # seconds for the search; the best basket so far is given


Why = Mapping[int, Mapping[str, Any]]  # what is said of a line, by its offer


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrderPlan:
    """What to order, and the outlook behind it."""

    lists: tuple[ReorderList, ...]
    basket: Basket
    problem: OrderProblem  # that the basket answers: each supplier's next order day counts as now
    outlook: Outlook  # as far as the shop looks
    seen: Outlook  # as far as orders look
    compared: Comparison
    summary: str  # what the whole order is worth, what was left out, and how good the answer is
    in_short: str  # of it, what the owner reads in the evening

    @property
    def can_wait(self) -> bool:
        """Whether the orders save next to nothing: every list says so alike."""
        return small_saving(self.compared, self.basket)

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
    words = ShopWords(seen, formats_of(seen.known.shop))
    limited, told = _limited(problem, found, words), reasons(problem, found, seen.runs)
    slight = [] if small_saving(compared, found) else slight_lines(told, words)
    noted = [*slight, *_unweighed(seen), *only_with_approval(problem, found, words)]
    return OrderPlan(
        lists=_lists(seen, found, {each.line.offer: _said(each, words, problem) for each in told}),
        basket=found,
        problem=problem,
        outlook=within(seen, seen.known.shop.outlook_weeks),
        seen=seen,
        compared=compared,
        summary=joined([_summary(compared, found, words), *_within(found, words, limited), *noted]),
        in_short=joined([_worth(compared, found, words), *limited, *noted]),
    )


@dataclass(frozen=True, slots=True)
class ShopWords:
    """How the buying room's figures are written for this shop."""

    seen: Outlook
    formats: Formats

    def money(self, value: float) -> str:
        """Write an amount of money."""
        return self.formats.money(round(value * 10**self.formats.digits))

    def day(self, days: float) -> str:
        """Write the date so many days from now."""
        day = day_of(self.seen, days)
        return self.formats.day(day) if day else phrase("beyond the outlook")

    def number(self, value: float) -> str:
        """Write a number to one place."""
        return self.formats.number(value, 1)

    def arrival(self, days: float) -> str:
        """Write the date on which goods come that come so many days from now."""
        return self.formats.day(open_day(self.seen, days))

    def share(self, value: float) -> str:
        """Write a chance."""
        return self.formats.percent(value)

    def packs(self, offer: int, packs: int) -> str:
        """Write so many packs of an offer."""
        asked = self.seen.question.offers[offer]
        unit = self.seen.known.shelf.materials[asked.material].unit
        pack = asked.pack_name or self.formats.amount(asked.pack.nano, unit)
        item = self.seen.question.problem.offers[offer].item
        if asked.material != self.seen.question.codes[item]:  # it does the work of what the item stands for
            name = self.seen.known.shelf.materials[asked.material].name
            return phrase("%(packs)s x %(pack)s of %(name)s", packs=packs, pack=pack, name=name)
        return phrase("%(packs)s x %(pack)s", packs=packs, pack=pack)

    def jobs(self, item: int) -> str:
        """Name the jobs that use most of an item."""
        streams = self.seen.futures.streams
        weekly = self.seen.futures.jobs.counts.mean(axis=(0, 2)) * streams.uses[:, item] if streams.names else []
        ranked = dict.fromkeys(streams.jobs[n] for n in np.argsort(weekly)[::-1] if weekly[n] > 0)
        names = {job.code: job.name for job in self.seen.known.jobs}
        return joined([names.get(code, code) for code in list(ranked)[:MOST_JOBS]], ", ")


def _said(reason: LineFacts, words: ShopWords, problem: OrderProblem) -> dict[str, Any]:
    """Write what is known of a line."""
    return {
        "packs": reason.line.packs,
        "reason": sentence(reason, words),
        "more": more(reason, words, problem),
        "warning": warning(reason, words, problem),
        "note": brief(reason, words),
        "risk_if_left": reason.risk_if_left,
        "better_price_from": reason.bargain.packs if reason.bargain else None,
    }


def _limited(problem: OrderProblem, found: Basket, words: ShopWords) -> list[str]:
    """Say what the limits leave out, what that risks, and what a little more to spend would save."""
    if found.free is None:
        return []
    said: list[str] = []
    missing = left_out(problem, found, words.seen.runs)
    if missing:
        said.append(
            plural(
                "%(num)s material worth ordering does not fit; left until its next order day it risks %(money)s: "
                "%(named)s.",
                "%(num)s materials worth ordering do not fit; left until their next order days they risk %(money)s in "
                "delayed work and lost sales. The gravest: %(named)s.",
                len(missing),
                money=words.money(sum(max(each.saves, 0.0) for each in missing)),
                named=joined([_missing(each, words) for each in missing[:NAMED]], ", "),
            )
        )
    more_money = saved_by_more(problem, found, MORE)
    if more_money > SMALL:
        facts = {"more": words.money(MORE), "money": words.money(more_money)}
        said.append(phrase("Another %(more)s to spend would save %(money)s.", **facts))
    return said


def _within(found: Basket, words: ShopWords, limited: list[str]) -> list[str]:
    """Say what the limits cost, before what a little more to spend would save."""
    if found.free is None:
        return limited
    dear = phrase(
        "Without limits the orders would save %(money)s more.", money=words.money(found.cost - found.free.cost)
    )
    return [*limited[:1], dear, *limited[1:]]


def slight_lines(told: Sequence[LineFacts], words: ShopWords) -> list[str]:
    """Name the lines that save next to nothing: what they cost is tied up for longer than it pays to mind."""
    slight = [each for each in told if not each.too_late and 0 <= each.along < LITTLE * each.line.spend]
    if not slight:
        return []
    slight.sort(key=lambda each: (-each.line.spend, each.name))
    return [
        plural(
            "%(num)s line can as well wait: %(goods)s of goods that save less than a hundredth of that now: %(named)s.",
            "%(num)s lines can as well wait: %(goods)s of goods, each of which saves less than a hundredth of its "
            "price now: %(named)s.",
            len(slight),
            goods=words.money(sum(each.line.spend for each in slight)),
            named=joined([words.seen.known.shelf.materials[each.name].name for each in slight[: 2 * NAMED]], "; "),
        )
    ]


def _unweighed(seen: Outlook) -> list[str]:
    """Name the suppliers who have a minimum weight, and whose packs are of unknown weight."""
    said: list[str] = []
    for supplier in seen.question.suppliers:
        mine = [o for o in seen.question.offers if o.supplier == supplier.code and not o.weight_nano]
        if supplier.minimum_weight is not None and mine:
            said.append(
                plural(
                    "%(supplier)s has a minimum weight, and of %(num)s offer nobody has said what a pack weighs: it "
                    "counts as nothing.",
                    "%(supplier)s has a minimum weight, and of %(num)s offers nobody has said what a pack weighs: they "
                    "count as nothing.",
                    len(mine),
                    supplier=supplier.name,
                )
            )
    return said


def only_with_approval(problem: OrderProblem, found: Basket, words: ShopWords) -> list[str]:
    """Name the suppliers whose minimum order or free carriage is reached only with goods on approval.

    They count as any goods do. Not every supplier takes them so before they are bought (common practice, no source).
    """
    said: list[str] = []
    for order in found.orders:
        terms = problem.suppliers[order.supplier]
        lines = [line for line in found.lines if line.supplier == order.supplier]
        backs = [problem.offers[line.offer].back for line in lines]
        bought = sum(line.spend for line, b in zip(lines, backs, strict=True) if b is None or not b.on_approval)
        if not lines or bought >= order.value - SMALL:
            continue
        facts = {"supplier": terms.name, "bought": words.money(bought)}
        if bought < terms.least_order <= order.value:
            said.append(
                phrase(
                    "%(supplier)s: only with goods on approval is the minimum order of %(least)s reached; %(bought)s "
                    "is bought for good. Ask whether they count.",
                    least=words.money(terms.least_order),
                    **facts,
                )
            )
        if terms.carriage > 0 and terms.free_over is not None and bought < terms.free_over <= order.value:
            said.append(
                phrase(
                    "%(supplier)s: only with goods on approval is carriage free, from %(free)s on; %(bought)s is "
                    "bought for good. If they don't count, it costs %(carriage)s.",
                    free=words.money(terms.free_over),
                    carriage=words.money(terms.carriage),
                    **facts,
                )
            )
    return said


def _missing(facts: LineFacts, words: ShopWords) -> str:
    name = words.seen.known.shelf.materials[facts.name].name
    if not np.isfinite(facts.runs_out):
        return phrase("%(name)s (lasts beyond the outlook)", name=name)
    day = words.day(facts.runs_out)
    if facts.saves <= SMALL:
        return phrase("%(name)s (runs out around %(day)s)", name=name, day=day)
    return phrase("%(name)s (runs out around %(day)s; %(money)s)", name=name, day=day, money=words.money(facts.saves))


def small_saving(compared: Comparison, found: Basket) -> bool:
    """Say whether a basket saves next to nothing beside waiting."""
    return 0 <= compared.over_nothing < LITTLE * found.value


def _nothing(found: Basket, words: ShopWords) -> str:
    """Say why nothing is on the list."""
    if any(each.ordered_now for each in words.seen.question.problem.suppliers):
        return phrase("What is ordered today is enough: nothing is worth a further order now.")
    if found.free is not None:
        return phrase("Nothing that is worth ordering fits the limits.")
    return phrase("Waiting for a later order day costs less than ordering anything now.")


def _worth(compared: Comparison, found: Basket, words: ShopWords) -> str:
    """Say what the orders are worth beside waiting."""
    if not found.lines:
        return _nothing(found, words)
    if compared.over_nothing < 0:
        more = words.money(-compared.over_nothing)
        return phrase(
            "These orders are expected to cost %(more)s more than ordering nothing now: the service level asked for "
            "comes before money.",
            more=more,
        )
    if small_saving(compared, found):
        saved = words.money(compared.over_nothing)
        return phrase(
            "These orders save %(saved)s beside waiting: next to nothing, so that they can wait.", saved=saved
        )
    nothing = words.money(compared.over_nothing)
    return phrase("These orders are expected to cost %(nothing)s less than ordering nothing now.", nothing=nothing)


def _summary(compared: Comparison, found: Basket, words: ShopWords) -> str:
    """Say what the orders are worth beside waiting and beside the order-up-to rule, and how good they are."""
    worth = _worth(compared, found, words)
    if not found.lines or compared.over_nothing < 0 or small_saving(compared, found):
        return worth
    if found.free is not None:  # what each item's own level asks for would not fit
        return joined([worth, _bounded(found, words)])
    facts = {"nothing": compared.over_nothing, "own": abs(compared.over_own_levels)}
    said = {name: words.money(value) for name, value in facts.items()}
    if compared.over_own_levels >= 0:
        cheaper = phrase(
            "These orders are expected to cost %(nothing)s less than ordering nothing now, and %(own)s less than "
            "bringing each item to its own order-up-to level.",
            **said,
        )
    else:
        cheaper = phrase(
            "These orders are expected to cost %(nothing)s less than ordering nothing now, and %(own)s more than "
            "bringing each item to its own order-up-to level.",
            **said,
        )
    return joined([cheaper, _bounded(found, words)])


def _bounded(found: Basket, words: ShopWords) -> str:
    """Say how much better another choice could be at most."""
    gap = words.money(found.gap)
    if gap == words.money(0):
        return phrase("No other choice would be better.")
    if found.free is not None:
        return phrase("No other choice that fits could be more than %(gap)s better.", gap=gap)
    return phrase("No other choice could be more than %(gap)s better.", gap=gap)


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


def words_of(plan: OrderPlan) -> ShopWords:
    """Give the shop's way of writing a plan's figures."""
    return ShopWords(plan.outlook, formats_of(plan.outlook.known.shop))


def listed(plan: OrderPlan, packs: Mapping[int, int]) -> tuple[ReorderList, ...]:
    """Set out any packs of offers as orders, with the reasons of what was suggested so, with its limits or without."""
    offers = plan.problem.offers
    lines = tuple(
        BasketLine(
            item=offers[n].item,
            offer=n,
            supplier=offers[n].supplier,
            packs=count,
            quantity=count * offers[n].pack,
            spend=count * offers[n].price_at(count),
        )
        for n, count in packs.items()
    )
    return _lists(plan.seen, replace(plan.basket, lines=lines), _told(plan, packs))


def _told(plan: OrderPlan, packs: Mapping[int, int]) -> Why:
    """Say of each offer what was said where so many packs were suggested; of one never suggested, the risk alone."""
    told: dict[int, Mapping[str, Any]] = {n: {"risk_if_left": _risk_if_left(plan, n)} for n in packs}
    words = ShopWords(plan.seen, formats_of(plan.seen.known.shop))
    for chosen in (plan.basket, plan.basket.free):
        for each in reasons(plan.problem, chosen, plan.seen.runs) if chosen is not None else ():
            offer = each.line.offer
            if told.get(offer, {}).get("packs") != packs.get(offer):
                told[offer] = _said(each, words, plan.problem)
    return told


def _risk_if_left(plan: OrderPlan, offer: int) -> float | None:
    found = plan.basket.found
    if found is None or offer not in found.table.offers:
        return None
    row = int(np.flatnonzero(found.table.offers == offer)[0])
    return risk_worth_saying(1.0 - float(found.table.parts.lasting[row, 0, 0]))


def _lists(seen: Outlook, found: Basket, why: Why) -> tuple[ReorderList, ...]:
    made = []
    for n, supplier in enumerate(seen.question.suppliers):
        lines = [line for line in found.lines if line.supplier == n]
        if found.free is not None:  # most urgent first
            lines.sort(key=lambda line: float(seen.runs.median[line.item]))
        if lines:
            day, comes = order_to_come(seen, found, n)
            made.append(replace(_list(seen, supplier, lines, why), next_day=day, next_comes=comes))
    return tuple(made)


def order_to_come(
    seen: Outlook, found: Basket, place: int, *, planned: bool = False
) -> tuple[date | None, date | None]:
    """Give a supplier's order day after this one, or the planned one, and when what is ordered then would come."""
    if found.found is None or place not in found.found.table.suppliers:
        return None, None
    table, terms = found.found.table, seen.question.problem.suppliers[place]
    slot = int(np.flatnonzero(table.suppliers == place)[0])
    until = table.untils[slot, [found.found.plans[slot].wait if planned else 0]]
    comes = float((until + np.median(terms.leads) + terms.delay(until))[0])
    return day_of(seen, float(until[0])), open_day(seen, comes)


def _list(seen: Outlook, supplier: Supplier, lines: list[BasketLine], why: Why) -> ReorderList:
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


def _line(seen: Outlook, line: BasketLine, why: Why) -> ReorderLine:
    offer = seen.question.offers[line.offer]
    material = seen.known.shelf.materials[offer.material]
    said = dict(why.get(line.offer, {}))
    if said.pop("packs", line.packs) != line.packs:  # changed: why it was so many is no reason any more
        said = {name: said[name] for name in _OF_ANY_PACKS}
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
        cautions=cautions(material),
        runs_out=day_of(seen, float(seen.runs.median[line.item])),
        lasts_until=last_day(seen, line.item, line.quantity),
        **said,
    )


def last_day(seen: Outlook, item: int, more: float) -> date | None:
    """Give the day until which an item lasts with so much more, at the usual pace; None where none is honest."""
    days = lasting(seen.question.problem, item, more)
    return seen.known.day + timedelta(days=int(days)) if days < _BEYOND else None


def open_day(seen: Outlook, days: float) -> date:
    """Give the day on which goods come that come so many days from now: one on which the shop is open."""
    return seen.known.open_days.next_open(seen.known.day + timedelta(days=round(days)))


def day_of(seen: Outlook, days: float) -> date | None:
    """Give the day so many days from now; None beyond the outlook."""
    return seen.known.day + timedelta(days=int(days)) if np.isfinite(days) else None
