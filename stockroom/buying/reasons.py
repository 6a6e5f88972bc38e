"""Why each line is on the order, in facts and in a sentence."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from stockroom.buying.basket import Basket, BasketLine
from stockroom.buying.cost_table import CyclePlan
from stockroom.buying.problem import OrderProblem, PackOffer
from stockroom.buying.risk import RunOuts, runouts
from stockroom.buying.search import SearchResult
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
    known, found = runouts(problem) if outs is None else outs, chosen.found
    if found is None:
        return ()
    rows = np.flatnonzero(found.choice).tolist()
    return tuple(_reason(problem, found, row, line, known) for row, line in zip(rows, chosen.lines, strict=True))


def left_out(problem: OrderProblem, chosen: Basket, outs: RunOuts | None = None) -> tuple[LineFacts, ...]:
    """Give the facts behind what the limits left out altogether though it saves something, the gravest first."""
    if chosen.free is None:
        return ()
    bought = {line.item for line in chosen.lines}
    facts = reasons(problem, chosen.free, outs)
    missing = [each for each in facts if each.saves > SMALL and each.line.item not in bought]
    return tuple(sorted(missing, key=lambda each: -each.saves))


def _reason(problem: OrderProblem, found: SearchResult, row: int, line: BasketLine, outs: RunOuts) -> LineFacts:
    table, option = found.table, int(found.choice[row])
    slot = int(table.slot[row, option])
    index, column = table.at(row, option)
    wait, parts = found.plans[slot].wait, table.parts
    costs = table.costs(found.plans)[row]
    own = float(costs[option] - costs.min())
    item, rate = problem.items[line.item], float(problem.use[:, line.item].mean()) / problem.step_days
    held = float(np.mean(item.on_hand)) + sum(each.quantity for each in item.coming) + line.quantity
    return LineFacts(
        line=line,
        name=item.name,
        runs_out=float(outs.median[line.item]),
        runs_out_early=float(outs.early[line.item]),
        next_day=float(table.untils[slot, wait]),
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
    table = found.table
    value = float(found.of(table.spend)[found.of(table.slot) == slot].sum())
    supplier = problem.suppliers[table.suppliers[slot]]
    return supplier.carriage if supplier.free_over is not None and value >= supplier.free_over else 0.0


def _bargain(problem: OrderProblem, found: SearchResult, row: int, line: BasketLine) -> Bargain | None:
    """Find the price break but for which fewer packs than it needs would be bought."""
    table, offer = found.table, problem.offers[line.offer]
    reached = [each.packs for each in offer.breaks if each.packs <= line.packs]
    if not reached or offer.price_at(line.packs) >= offer.price:
        return None
    dearer = table.amounts[row] * _dearer_later(found, row, line, offer)
    costs = table.costs(found.plans)[row] + found.prices @ table.uses[:, row] - dearer
    own = table.offer[row] == line.offer
    costs[own] += [(offer.price - offer.price_at(int(packs))) * packs for packs in table.packs[row, own]]
    without = int(np.argmin(costs))
    if own[without] and table.packs[row, without] >= max(reached):
        return None
    return Bargain(packs=max(reached), price=offer.price_at(line.packs), usual=offer.price)


def _dearer_later(found: SearchResult, row: int, line: BasketLine, offer: PackOffer) -> float:
    """Find how much more a unit left over would save if the offer had no break."""
    table, now = found.table, float(found.table.price[row])
    others = table.premium[(table.of_item == row) & (table.offers != line.offer)]
    return min(offer.price / offer.pack, now + float(others.min(initial=np.inf))) - now


def _other(found: SearchResult, row: int, line: BasketLine) -> Other | None:
    """Find the best option from another offer, its supplier ordered from on the day the shelf must last to."""
    table = found.table
    may = table.may_order.tolist()
    plans = tuple(CyclePlan(now=now, wait=plan.wait) for now, plan in zip(may, found.plans, strict=True))
    costs = np.where(table.offer[row] == line.offer, np.inf, table.costs(plans, wished=False)[row])
    costs[0] = np.inf
    best = int(np.argmin(costs))
    if not np.isfinite(costs[best]):
        return None
    dearer = float(costs[best] - table.costs(found.plans, wished=False)[row, found.choice[row]])
    return Other(
        offer=int(table.offer[row, best]),
        packs=int(table.packs[row, best]),
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
