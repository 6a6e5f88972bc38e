"""Why each line is on the order, in facts and in a sentence, and what the whole order is worth."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from stockroom.buying.ask import Ask, IntArray
from stockroom.buying.basket import Basket, Line, missed, waiting_cost
from stockroom.buying.board import Plan
from stockroom.buying.futures import futures
from stockroom.buying.levels import order_up_to
from stockroom.buying.packing import Shelfroom, carriage, orders
from stockroom.buying.plans import Found, problem
from stockroom.buying.risk import RunOuts, runouts
from stockroom.phrases import joined, phrase

SMALL = 0.005  # less than a cent
LITTLE_CHANCE = 0.005
OWN_SERVICE = 0.95  # the textbook level that the whole order is compared with


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
class Reason:
    """Facts behind a line; days are days from now (inf: beyond the outlook), money in the shop's unit.

    `chance_without` and `chance_with` are of running short before the next planned order arrives.
    `saves` is what the line saves in held-up work and lost sales, `keeping` what it costs to keep or
    spoils; `ahead` is what it costs beyond the item's own best, when it is bought early for the order's
    sake, and `free_carriage` the carriage that saves.
    """

    line: Line
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

    @property
    def bought_ahead(self) -> bool:
        """Whether the line is there for the order's sake rather than its own."""
        return self.ahead > SMALL and self.free_carriage > 0


def reasons(ask: Ask, chosen: Basket, outs: RunOuts | None = None) -> tuple[Reason, ...]:
    """Give the facts behind every line of a basket, in its order."""
    known = runouts(ask) if outs is None else outs
    place = {line.offer: line for line in chosen.lines}
    given: dict[int, Reason] = {}
    for each in chosen.found:
        choice = each.packed.choice
        if choice is None:
            continue
        for row in np.flatnonzero(choice).tolist():
            offer = int(each.board.offer[row, choice[row]])
            given[offer] = _reason(ask, each, row, place[offer], known)
    return tuple(given[line.offer] for line in chosen.lines)


def _reason(ask: Ask, found: Found, row: int, line: Line, outs: RunOuts) -> Reason:
    table, choice = found.board, found.packed.choice
    assert choice is not None  # noqa: S101 -- a line was chosen
    slot = int(table.slot[row, choice[row]])
    sheet, wait = table.sheets[slot], found.plans[slot].wait
    index = int(np.flatnonzero(sheet.offers == line.offer)[0])
    column = int(np.flatnonzero(sheet.counts[index] == line.packs)[0])
    parts = sheet.table
    costs = table.costs(found.plans)[row]
    own = float(costs[choice[row]] - costs.min())
    item, rate = ask.items[line.item], float(ask.use[:, line.item].mean()) / ask.step_days
    held = float(np.mean(item.on_hand)) + sum(each.quantity for each in item.coming) + line.quantity
    return Reason(
        line=line,
        name=item.name,
        runs_out=float(outs.median[line.item]),
        runs_out_early=float(outs.early[line.item]),
        next_day=float(sheet.untils[wait]),
        chance_without=1.0 - float(parts.lasting[index, wait, 0]),
        chance_with=1.0 - float(parts.lasting[index, wait, column]),
        saves=float(parts.short[index, wait, 0] - parts.short[index, wait, column]),
        keeping=float((parts.held + parts.expiry + parts.tail)[index, wait, column]),
        ahead=own if own > SMALL else 0.0,
        free_carriage=_carriage_saved(ask, found, slot),
        lasts_until=held / rate if rate > 0 else np.inf,
        other=_other(found, row, line),
    )


def _carriage_saved(ask: Ask, found: Found, slot: int) -> float:
    """Carriage that the order goes without because it is large enough."""
    table, choice = found.board, found.packed.choice
    assert choice is not None  # noqa: S101 -- asked only where a line was chosen
    chosen = (np.arange(len(choice)), choice)
    value = float(table.spend[chosen][table.slot[chosen] == slot].sum())
    supplier = ask.suppliers[table.sheets[slot].supplier]
    return supplier.carriage if supplier.free_over is not None and value >= supplier.free_over else 0.0


def _other(found: Found, row: int, line: Line) -> Other | None:
    """Find the best option from another offer, its supplier ordered from on the day the shelf must last to."""
    table = found.board
    plans = tuple(
        Plan(now=sheet.may_order, wait=plan.wait) for sheet, plan in zip(table.sheets, found.plans, strict=True)
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


def sentence(reason: Reason, words: Words, ask: Ask) -> str:
    """Say why a line is on the order."""
    said = [_why_now(reason, words), _until(reason, words)]
    if reason.other is not None:
        said.append(_instead(reason.other, reason.line, words, ask))
    return joined(said)


def _why_now(reason: Reason, words: Words) -> str:
    if reason.bought_ahead:
        return phrase(
            "Bought ahead: %(ahead)s dearer than waiting, but the order reaches free carriage and saves %(carriage)s.",
            ahead=words.money(reason.ahead),
            carriage=words.money(reason.free_carriage),
        )
    without = words.share(reason.chance_without)
    if np.isfinite(reason.runs_out):
        when = phrase("Runs out around %(day)s", day=words.day(reason.runs_out))
    else:
        when = phrase("Lasts for now")
    if reason.saves > SMALL:
        return phrase(
            "%(when)s; without this order the chance of running short before the next one arrives is %(chance)s, "
            "an expected %(money)s in held-up work and lost sales.",
            when=when,
            chance=without,
            money=words.money(reason.saves),
        )
    return phrase(
        "%(when)s; without this order the chance of running short before the next one arrives is %(chance)s.",
        when=when,
        chance=without,
    )


def _until(reason: Reason, words: Words) -> str:
    if np.isfinite(reason.lasts_until):
        lasts = phrase("Lasts until about %(day)s", day=words.day(reason.lasts_until))
    else:
        lasts = phrase("Lasts")
    cost = words.money(max(reason.keeping, 0.0))
    if reason.chance_with > LITTLE_CHANCE:
        return phrase(
            "%(lasts)s, with a %(chance)s chance of running short before then; keeping it costs %(money)s.",
            lasts=lasts,
            chance=words.share(reason.chance_with),
            money=cost,
        )
    return phrase("%(lasts)s; keeping it costs %(money)s.", lasts=lasts, money=cost)


def _instead(other: Other, line: Line, words: Words, ask: Ask) -> str:
    supplier = ask.offers[other.offer].supplier
    facts = {"packs": words.packs(other.offer, other.packs), "money": words.money(abs(other.dearer))}
    dearer = other.dearer >= 0
    if supplier == line.supplier:
        if dearer:
            return phrase("%(packs)s in the other pack would cost %(money)s more in all.", **facts)
        return phrase("%(packs)s in the other pack would cost %(money)s less in all.", **facts)
    name = ask.suppliers[supplier].name
    if dearer:
        return phrase("%(packs)s from %(supplier)s would cost %(money)s more in all.", supplier=name, **facts)
    return phrase("%(packs)s from %(supplier)s would cost %(money)s less in all.", supplier=name, **facts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What the basket is expected to save against ordering nothing and against each item's own textbook level."""

    over_nothing: float
    over_own_levels: float
    own_value: float
    own_carriage: float
    value: float
    carriage: float


def compare(ask: Ask, chosen: Basket) -> Comparison:
    """Set the basket against ordering nothing and against ordering each item to its own 95 per cent level."""
    nothing = own = own_value = own_carriage = 0.0
    for each in chosen.found:
        cost = each.cost - missed(each)
        nothing += waiting_cost(each) - cost
        options = _own_levels(ask, each)
        setting = problem(ask, each.board, _started(each, options), Shelfroom())
        rows = np.arange(len(options))
        fee = carriage(setting, orders(setting, options))
        plans = _started(each, options)
        spent = float(each.board.costs(plans, wished=False)[rows, options].sum()) + fee
        own += spent - each.board.rhythm(plans) - cost
        own_value += float(each.board.spend[rows, options].sum())
        own_carriage += fee
    return Comparison(
        over_nothing=nothing,
        over_own_levels=own,
        own_value=own_value,
        own_carriage=own_carriage,
        value=chosen.value,
        carriage=sum(each.carriage for each in chosen.orders),
    )


def _own_levels(ask: Ask, found: Found) -> IntArray:
    """Option of each item that brings its position to its own level, from its usual supplier."""
    table = found.board
    shelves = futures(ask, table.items)
    weekly = np.diff(shelves.used, axis=2)
    mean, spread = weekly.mean(axis=(1, 2)), weekly.std(axis=(1, 2))
    leads = np.array([sheet.lead for sheet in table.sheets])[table.home]
    level = order_up_to(mean, spread, (leads + ask.review_days) / ask.step_days, OWN_SERVICE)
    may = np.array([sheet.may_order for sheet in table.sheets])
    need = np.where(may[table.home] & (table.position < level), level - table.position, 0.0)
    usual = (table.slot == table.home[:, None]) & (table.counts > 0)
    enough = np.where(usual & (table.amounts >= need[:, None] - 1e-9), table.amounts, np.inf)
    most = np.where(usual, table.amounts, -np.inf).argmax(axis=1)
    option = np.where(np.isfinite(enough).any(axis=1), enough.argmin(axis=1), most)
    return np.where(need > 0, option, 0)


def _started(found: Found, options: IntArray) -> tuple[Plan, ...]:
    """Order now from the suppliers of these options, as long as the basket would last; wait with the others."""
    ordered = set(found.board.slot[np.arange(len(options)), options].tolist())
    return tuple(
        Plan(now=True, wait=plan.wait if plan.now else 0) if slot in ordered else Plan(now=False, wait=0)
        for slot, plan in enumerate(found.plans)
    )
