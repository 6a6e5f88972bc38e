"""Why each line is on the order, in facts and in a sentence."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from stockroom.buying.basket import Basket, BasketLine
from stockroom.buying.option_table import CyclePlan
from stockroom.buying.plans import SearchResult
from stockroom.buying.problem import OrderProblem, PackOffer
from stockroom.buying.risk import RunOuts, runouts
from stockroom.phrases import joined, phrase

SMALL = 0.005  # less than a cent
LITTLE_CHANCE = 0.005


class Words(Protocol):
    """How figures are written for the shop's owner."""

    def money(self, value: float) -> str:
        """Write an amount of money."""

    def day(self, days: float) -> str:
        """Write the date so many days from now."""

    def share(self, value: float) -> str:
        """Write a chance."""

    def packs(self, offer: int, packs: int) -> str:
        """Write so many packs of an offer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Other:
    """The best way to get an item from another offer: what it would cost more in all, and its price."""

    offer: int
    packs: int
    spend: float
    dearer: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bargain:
    """A price break that more packs are bought for: from how many on, what a pack costs, and what it costs before."""

    packs: int
    price: float
    usual: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFacts:
    """Facts behind a line; days are days from now (inf: beyond the outlook), money in the shop's unit.

    `chance_without` and `chance_with` are of being short when the next planned order arrives. All of them count
    what is on order: `comes` is the day by which half of the futures have the first of it (None: nothing is).
    `saves` is what the line saves in held-up work and lost sales, `keeping` what it costs to keep or
    spoils; `ahead` is what it costs beyond the item's own best, when it is bought early for the order's
    sake, and `free_carriage` the carriage that saves.
    """

    line: BasketLine
    name: str
    runs_out: float
    runs_out_early: float
    next_day: float
    chance_without: float
    chance_with: float
    saves: float
    keeping: float
    ahead: float
    free_carriage: float
    lasts_until: float
    other: Other | None
    comes: float | None = None
    bargain: Bargain | None = None

    @property
    def bought_ahead(self) -> bool:
        """Whether the line is there for the order's sake rather than its own."""
        return self.ahead > SMALL and self.free_carriage > 0


def reasons(problem: OrderProblem, chosen: Basket, outs: RunOuts | None = None) -> tuple[LineFacts, ...]:
    """Give the facts behind every line of a basket, in its order."""
    known = runouts(problem) if outs is None else outs
    place = {line.offer: line for line in chosen.lines}
    given: dict[int, LineFacts] = {}
    for each in chosen.found:
        choice = each.packed.choice
        if choice is None:
            continue
        for row in np.flatnonzero(choice).tolist():
            offer = int(each.table.offer[row, choice[row]])
            given[offer] = _reason(problem, each, row, place[offer], known)
    return tuple(given[line.offer] for line in chosen.lines)


def left_out(problem: OrderProblem, chosen: Basket, outs: RunOuts | None = None) -> tuple[LineFacts, ...]:
    """Give the facts behind what the limits left out altogether though it saves something, the gravest first."""
    if chosen.free is None:
        return ()
    bought = {line.item for line in chosen.lines}
    facts = reasons(problem, chosen.free, outs)
    missing = [each for each in facts if each.saves > SMALL and each.line.item not in bought]
    return tuple(sorted(missing, key=lambda each: -each.saves))


def _reason(problem: OrderProblem, found: SearchResult, row: int, line: BasketLine, outs: RunOuts) -> LineFacts:
    table, choice = found.table, found.packed.choice
    assert choice is not None  # noqa: S101 -- a line was chosen
    slot = int(table.slot[row, choice[row]])
    supplier_costs, wait = table.all_costs[slot], found.plans[slot].wait
    index = int(np.flatnonzero(supplier_costs.offers == line.offer)[0])
    column = int(np.flatnonzero(supplier_costs.counts[index] == line.packs)[0])
    parts = supplier_costs.table
    costs = table.costs(found.plans)[row]
    own = float(costs[choice[row]] - costs.min())
    item, rate = problem.items[line.item], float(problem.use[:, line.item].mean()) / problem.step_days
    held = float(np.mean(item.on_hand)) + sum(each.quantity for each in item.coming) + line.quantity
    return LineFacts(
        line=line,
        name=item.name,
        runs_out=float(outs.median[line.item]),
        runs_out_early=float(outs.early[line.item]),
        next_day=float(supplier_costs.untils[wait]),
        chance_without=1.0 - float(parts.lasting[index, wait, 0]),
        chance_with=1.0 - float(parts.lasting[index, wait, column]),
        saves=float(parts.short[index, wait, 0] - parts.short[index, wait, column]),
        keeping=float((parts.held + parts.expiry + parts.tail)[index, wait, column]),
        ahead=own if own > SMALL else 0.0,
        free_carriage=_carriage_saved(problem, found, slot),
        lasts_until=held / rate if rate > 0 else np.inf,
        other=_other(found, row, line),
        comes=min((float(np.median(each.arrives)) for each in item.coming), default=None),
        bargain=_bargain(problem, found, row, line),
    )


def _carriage_saved(problem: OrderProblem, found: SearchResult, slot: int) -> float:
    """Carriage that the order goes without because it is large enough."""
    table, choice = found.table, found.packed.choice
    assert choice is not None  # noqa: S101 -- asked only where a line was chosen
    chosen = (np.arange(len(choice)), choice)
    value = float(table.spend[chosen][table.slot[chosen] == slot].sum())
    supplier = problem.suppliers[table.all_costs[slot].supplier]
    return supplier.carriage if supplier.free_over is not None and value >= supplier.free_over else 0.0


def _bargain(problem: OrderProblem, found: SearchResult, row: int, line: BasketLine) -> Bargain | None:
    """Find the price break but for which fewer packs than it needs would be bought."""
    table, offer = found.table, problem.offers[line.offer]
    reached = [each.packs for each in offer.breaks if each.packs <= line.packs]
    if not reached or offer.price_at(line.packs) >= offer.price:
        return None
    uses = np.stack([table.spend[row], table.space[row], table.flammable[row]])
    costs = table.costs(found.plans)[row] + found.prices @ uses - table.amounts[row] * _dearer_later(found, line, offer)
    own = table.offer[row] == line.offer
    costs[own] += [(offer.price - offer.price_at(int(packs))) * packs for packs in table.counts[row, own]]
    without = int(np.argmin(costs))
    if own[without] and table.counts[row, without] >= max(reached):
        return None
    return Bargain(packs=max(reached), price=offer.price_at(line.packs), usual=offer.price)


def _dearer_later(found: SearchResult, line: BasketLine, offer: PackOffer) -> float:
    """Find how much more a unit left over would save if the offer had no break."""
    now, without = np.inf, offer.price / offer.pack
    for costs in found.table.all_costs:
        for index in np.flatnonzero(costs.items == line.item):
            now = float(costs.value[index])
            if costs.offers[index] != line.offer:
                without = min(without, now + float(costs.premium[index]))
    return without - now


def _other(found: SearchResult, row: int, line: BasketLine) -> Other | None:
    """Find the best option from another offer, its supplier ordered from on the day the shelf must last to."""
    table = found.table
    plans = tuple(
        CyclePlan(now=supplier_costs.may_order, wait=plan.wait)
        for supplier_costs, plan in zip(table.all_costs, found.plans, strict=True)
    )
    costs = np.where(table.offer[row] == line.offer, np.inf, table.costs(plans, wished=False)[row])
    costs[0] = np.inf
    best = int(np.argmin(costs))
    if not np.isfinite(costs[best]) or found.packed.choice is None:
        return None
    dearer = float(costs[best] - table.costs(found.plans, wished=False)[row, found.packed.choice[row]])
    return Other(
        offer=int(table.offer[row, best]),
        packs=int(table.counts[row, best]),
        spend=float(table.spend[row, best]),
        dearer=dearer,
    )


def sentence(reason: LineFacts, words: Words, problem: OrderProblem) -> str:
    """Say why a line is on the order."""
    said = [_why_now(reason, words), _cheap(reason, words), _until(reason, words)]
    if reason.other is not None:
        said.append(_instead(reason.other, reason.line, words, problem))
    return joined(said)


def _why_now(reason: LineFacts, words: Words) -> str:
    if reason.bought_ahead:
        return phrase(
            "Bought ahead: %(ahead)s dearer than waiting, but the order reaches free carriage and saves %(carriage)s.",
            ahead=words.money(reason.ahead),
            carriage=words.money(reason.free_carriage),
        )
    without = words.share(reason.chance_without)
    when = _when(reason, words)
    if reason.saves > SMALL:
        return phrase(
            "%(when)s; without this order the risk of running short before the next one arrives is %(chance)s, an "
            "expected %(money)s in delayed work and lost sales.",
            when=when,
            chance=without,
            money=words.money(reason.saves),
        )
    return phrase(
        "%(when)s; without this order the risk of running short before the next one arrives is %(chance)s.",
        when=when,
        chance=without,
    )


def _when(reason: LineFacts, words: Words) -> str:
    """Say when the shelf runs out, and whether before or after what is on order comes."""
    if not np.isfinite(reason.runs_out):
        return phrase("Lasts for now") if reason.comes is None else phrase("Lasts for now with what is on order")
    day = words.day(reason.runs_out)
    if reason.comes is None:
        return phrase("Runs out around %(day)s", day=day)
    if reason.runs_out < reason.comes:
        return phrase("Runs out around %(day)s, before what is on order is likely to come", day=day)
    return phrase("Runs out around %(day)s even with what is on order", day=day)


def _cheap(reason: LineFacts, words: Words) -> str:
    if reason.bargain is None:
        return ""
    return phrase(
        "From %(packs)s on, each costs %(price)s instead of %(usual)s.",
        packs=words.packs(reason.line.offer, reason.bargain.packs),
        price=words.money(reason.bargain.price),
        usual=words.money(reason.bargain.usual),
    )


def _until(reason: LineFacts, words: Words) -> str:
    if np.isfinite(reason.lasts_until):
        lasts = phrase("Lasts until about %(day)s", day=words.day(reason.lasts_until))
    else:
        lasts = phrase("Lasts")
    cost = words.money(max(reason.keeping, 0.0))
    if reason.chance_with > LITTLE_CHANCE:
        return phrase(
            "%(lasts)s, with a %(chance)s risk of running short before then; keeping it in stock costs %(money)s.",
            lasts=lasts,
            chance=words.share(reason.chance_with),
            money=cost,
        )
    return phrase("%(lasts)s; keeping it in stock costs %(money)s.", lasts=lasts, money=cost)


def _instead(other: Other, line: BasketLine, words: Words, problem: OrderProblem) -> str:
    supplier = problem.offers[other.offer].supplier
    facts = {"packs": words.packs(other.offer, other.packs), "money": words.money(abs(other.dearer))}
    dearer = other.dearer >= 0
    if supplier == line.supplier:
        if dearer:
            return phrase("%(packs)s in the other pack would cost %(money)s more in all.", **facts)
        return phrase("%(packs)s in the other pack would cost %(money)s less in all.", **facts)
    name = problem.suppliers[supplier].name
    if dearer:
        return phrase("%(packs)s from %(supplier)s would cost %(money)s more in all.", supplier=name, **facts)
    return phrase("%(packs)s from %(supplier)s would cost %(money)s less in all.", supplier=name, **facts)
