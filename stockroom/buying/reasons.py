"""Why each line is on the order, in facts and in a sentence."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from stockroom.buying.basket import Basket, BasketLine
from stockroom.buying.cost_table import CyclePlan, changed
from stockroom.buying.packing import carriage, orders, terms_of
from stockroom.buying.problem import FloatArray, GoingBack, OrderProblem, PackOffer
from stockroom.buying.risk import RunOuts, runouts
from stockroom.buying.search import SearchResult, packing
from stockroom.buying.shelf_futures import shares_by
from stockroom.phrases import joined, phrase

SMALL = 0.005  # less than a cent
LITTLE_CHANCE = 0.005


class Words(Protocol):
    """How figures are written for the shop's owner."""

    def money(self, value: float) -> str:
        """Write an amount of money."""

    def day(self, days: float) -> str:
        """Write the date so many days from now."""

    def arrival(self, days: float) -> str:
        """Write the date on which goods come that come so many days from now."""

    def share(self, value: float) -> str:
        """Write a chance."""

    def packs(self, offer: int, packs: int) -> str:
        """Write so many packs of an offer."""

    def jobs(self, item: int) -> str:
        """Name the jobs that use most of an item."""


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
class Rise:
    """A dearer price that is announced: from which day on, what a pack costs then, and what buying now spares of it."""

    day: float
    price: float
    now: float
    spared: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Quicker:
    """An offer of another supplier that can be here earlier."""

    offer: int
    packs: int
    spend: float
    comes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFacts:
    """Facts behind a line; days are days from now (inf: beyond the outlook), money in the shop's unit.

    `comes` is the middle day on which this order comes, `on_order` the same of the first that is on order (None:
    nothing is). Were the line left until the supplier's next order day `next_day`, it would come about `next_comes`,
    short by then with `chance_left`, at an expected `saves` in held-up work and lost sales. The basket plans the next
    order for `planned`, to come about `planned_comes`; `chance_without` and `chance_with` are of being short then.
    `along` is what leaving it out would cost in all. `keeping` is what the line costs to keep or spoils; `ahead` is
    what it costs beyond buying less or none, when it is bought early for the order's sake (`packs_alone` would be its
    own best, None where in another pack), and `free_carriage` the carriage that saves.
    """

    line: BasketLine
    name: str
    runs_out: float
    runs_out_early: float
    comes: float
    next_day: float
    next_comes: float
    planned: float
    planned_comes: float
    chance_left: float
    chance_without: float
    chance_with: float
    saves: float
    keeping: float
    ahead: float
    packs_alone: int | None
    free_carriage: float
    lasts_until: float
    other: Other | None
    on_order: float | None = None
    bargain: Bargain | None = None
    rise: Rise | None = None
    quicker: Quicker | None = None
    back: GoingBack | None = None
    along: float = 0.0
    fewest: bool = False  # as few packs as are sold, and more than one

    @property
    def bought_ahead(self) -> bool:
        """Whether the line is there for the order's sake rather than its own."""
        return self.ahead > SMALL and self.free_carriage > 0

    @property
    def risk_if_left(self) -> float | None:
        """The risk that leaving it until the next order day runs; None where too late, or none."""
        return None if self.too_late else risk_worth_saying(self.chance_left)

    @property
    def too_late(self) -> bool:
        """Whether the shelf runs out before anything can come, on order or with this order."""
        return self.runs_out < min(self.comes, np.inf if self.on_order is None else self.on_order)


def risk_worth_saying(chance: float) -> float | None:
    """Give a chance of running short, or None where it is as good as none."""
    return None if chance <= LITTLE_CHANCE else chance


def reasons(problem: OrderProblem, chosen: Basket, outs: RunOuts | None = None) -> tuple[LineFacts, ...]:
    """Give the facts behind every line of a basket, in its order."""
    known, found = runouts(problem) if outs is None else outs, chosen.found
    if found is None:
        return ()
    rows, along = np.flatnonzero(found.choice).tolist(), _left_out_costs(problem, found)
    return tuple(
        _reason(problem, found, row, line, known, float(along[row]))
        for row, line in zip(rows, chosen.lines, strict=True)
    )


def lasting(problem: OrderProblem, item: int, more: float) -> float:
    """Say for how many days what there is of an item lasts, with what is on order and so much more.

    At the usual pace, the first to expire used first: what a lot then still holds is lost, and what is bought is no
    longer good than it keeps.
    """
    known, rate = problem.items[item], float(problem.use[:, item].mean()) / problem.step_days
    if rate <= 0:
        return np.inf
    here = max(float(np.mean(known.on_hand)), 0.0)
    lots = zip(known.lots, shares_by(known.lots), strict=True)
    lost = max([0.0, *(float(share) * here - rate * lot.until for lot, share in lots)])
    there = float(np.mean(known.on_hand)) + sum(each.quantity for each in known.coming) - lost
    keeps = np.inf if known.shelf_days is None else known.shelf_days
    return max(there / rate, min((there + more) / rate, keeps))


def left_out(problem: OrderProblem, chosen: Basket, outs: RunOuts | None = None) -> tuple[LineFacts, ...]:
    """Give the facts behind what the limits left out altogether, the gravest first, then the soonest to run out."""
    if chosen.free is None:
        return ()
    bought = {line.item for line in chosen.lines}
    missing = [each for each in reasons(problem, chosen.free, outs) if each.line.item not in bought]
    return tuple(sorted(missing, key=lambda each: (-max(each.saves, SMALL), each.runs_out)))


def _reason(
    problem: OrderProblem, found: SearchResult, row: int, line: BasketLine, outs: RunOuts, along: float
) -> LineFacts:
    table, option = found.table, int(found.choice[row])
    slot = int(table.slot[row, option])
    index, column = table.at(row, option)
    wait, parts = found.plans[slot].wait, table.parts
    costs = table.costs(found.plans)[row]
    best = int(np.argmin(np.where(table.amounts[row] < table.amounts[row, option], costs, np.inf)))
    ahead = float(costs[option] - costs[best])
    item = problem.items[line.item]
    supplier = problem.suppliers[line.supplier]
    lead, untils = float(np.median(supplier.leads)), table.untils[slot, [0, wait]]
    nexts = untils + lead + supplier.delay(untils)
    return LineFacts(
        line=line,
        name=item.name,
        runs_out=float(outs.median[line.item]),
        runs_out_early=float(outs.early[line.item]),
        comes=lead,
        next_day=float(untils[0]),
        next_comes=float(nexts[0]),
        planned=float(untils[1]),
        planned_comes=float(nexts[1]),
        chance_left=1.0 - float(parts.lasting[index, 0, 0]),
        chance_without=1.0 - float(parts.lasting[index, wait, 0]),
        chance_with=1.0 - float(parts.lasting[index, wait, column]),
        saves=float(parts.short[index, 0, 0] - parts.short[index, 0, column]),
        keeping=float((parts.held + parts.expiry + parts.tail)[index, wait, column]),
        ahead=ahead if ahead > SMALL else 0.0,
        along=along,
        packs_alone=int(table.packs[row, best]) if table.offer[row, best] in (line.offer, -1) else None,
        free_carriage=_carriage_saved(problem, found, slot),
        lasts_until=lasting(problem, line.item, line.quantity),
        other=_other(found, row, line),
        on_order=min((float(np.median(each.arrives)) for each in item.coming), default=None),
        bargain=_bargain(problem, found, row, line),
        rise=_rise(problem, line, float(table.spared[row, option])),
        quicker=_quicker(problem, line),
        back=_back(problem, line, lead),
        fewest=1 < line.packs == problem.offers[line.offer].at_least(1),
    )


def _left_out_costs(problem: OrderProblem, found: SearchResult) -> FloatArray:
    """Say what it would cost in all to buy none of each item, its supplier's next order planned anew.

    Shape (n_items,). Held to the day that suits this basket, a line would be charged for a shelf that an earlier order
    fills in time.
    """
    table, terms, rows = found.table, terms_of(problem, found.table), np.arange(len(found.choice))
    slots, spend = found.of(table.slot).astype(np.int64), found.of(table.spend)
    values = orders(packing(problem, table, found.plans), found.choice)
    least = np.full(len(rows), np.inf)
    for slot in np.unique(slots[found.choice > 0]).tolist():
        its, plan = np.flatnonzero((slots == slot) & (found.choice > 0)), found.plans[slot]
        for wait in {each.wait for each in table.plans(slot)}:
            plans = changed(found.plans, slot, plan._replace(wait=wait))
            costs = table.costs(plans)
            chosen = costs[rows, found.choice]
            least[its] = np.minimum(least[its], chosen.sum() - chosen[its] + costs[its, 0] - table.cycle(plans))
        less = np.tile(values, (len(its), 1))
        less[:, slot] -= spend[its]
        least[its] += carriage(terms, less).sum(axis=1)
    return np.where(np.isfinite(least), least - found.cost, 0.0)


def _quicker(problem: OrderProblem, line: BasketLine) -> Quicker | None:
    """Find who else could have the item here first, a day earlier at least."""
    best = None
    for number, offer in enumerate(problem.offers):
        supplier = problem.suppliers[offer.supplier]
        if offer.item != line.item or offer.supplier == line.supplier or supplier.order_days[0] > 0:
            continue
        comes = float(np.median(supplier.leads))
        if comes <= (best.comes if best else float(np.median(problem.suppliers[line.supplier].leads))) - 1.0:
            packs = offer.at_least(1)
            best = Quicker(offer=number, packs=packs, spend=packs * offer.price_at(packs), comes=comes)
    return best


def _back(problem: OrderProblem, line: BasketLine, comes: float) -> GoingBack | None:
    """Give the right to send unused packs back, if it still holds once they have come."""
    back = problem.offers[line.offer].back
    return back if back is not None and back.until > comes else None


def _rise(problem: OrderProblem, line: BasketLine, spared: float) -> Rise | None:
    """Give the announced price that buying now is spared of."""
    offer = problem.offers[line.offer]
    if offer.then is None or spared <= SMALL:
        return None
    now, price = offer.price_at(line.packs), offer.then.price_at(line.packs)
    return Rise(day=offer.changes, price=price, now=now, spared=spared) if price > now else None


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


def sentence(reason: LineFacts, words: Words) -> str:
    """Say why a line is on the order: three facts at most."""
    cheap = _dearer(reason, words) or _cheap(reason, words)
    said = [_when(reason, words), _why_now(reason, words), cheap or _goes_back(reason, words) or _until(reason, words)]
    return joined([each for each in said if each])


def brief(reason: LineFacts, words: Words) -> str:
    """Say what decides a line beside the days and the risk: carriage, a rise to come, the right to send it back."""
    ahead = _why_now(reason, words) if reason.bought_ahead else ""
    few = phrase("No fewer are sold.") if reason.fewest and reason.bargain is None else ""
    along = "" if ahead or reason.risk_if_left or reason.too_late else _along(reason, words)
    return joined([each for each in (ahead, along, _dearer(reason, words), _goes_back(reason, words), few) if each])


def more(reason: LineFacts, words: Words, problem: OrderProblem) -> str:
    """Say what else is known of a line."""
    cheap = reason.bargain is not None or reason.rise is not None
    said = [_cheap(reason, words) if reason.rise is not None else "", _goes_back(reason, words) if cheap else ""]
    said.append(_until(reason, words) if cheap or reason.back is not None else "")
    planned = _planned(reason, words)
    if planned != _why_now(reason, words) and (reason.planned > reason.next_day or reason.chance_with > LITTLE_CHANCE):
        said.append(planned)
    said.append(
        phrase(
            "Keeping it until the next planned order comes about %(come)s, and what is too much by then until it is "
            "used, costs %(money)s.",
            money=words.money(max(reason.keeping, 0.0)),
            come=words.arrival(reason.planned_comes),
        )
    )
    if reason.other is not None:
        said.append(_instead(reason.other, reason.line, words, problem))
    return joined([each for each in said if each])


def warning(reason: LineFacts, words: Words, problem: OrderProblem) -> str:
    """Say that a shelf runs out before anything can come, and what else can be done; nothing where it doesn't."""
    if not reason.too_late:
        return ""
    if reason.on_order is not None and reason.on_order < reason.comes:
        said = [phrase("Runs out before what is on order comes (about %(day)s).", day=words.arrival(reason.on_order))]
    else:
        said = [phrase("Runs out before this order can come (about %(day)s).", day=words.arrival(reason.comes))]
    if reason.quicker is not None:
        offer = problem.offers[reason.quicker.offer]
        said.append(
            phrase(
                "%(supplier)s could send %(packs)s by about %(day)s, for %(money)s.",
                supplier=problem.suppliers[offer.supplier].name,
                packs=words.packs(reason.quicker.offer, reason.quicker.packs),
                day=words.arrival(reason.quicker.comes),
                money=words.money(reason.quicker.spend),
            )
        )
    jobs = words.jobs(reason.line.item)
    if jobs:
        said.append(phrase("Until then, promise fewer of: %(jobs)s.", jobs=jobs))
    return joined(said)


def _when(reason: LineFacts, words: Words) -> str:
    """Say when the shelf runs out, and whether before or after what is on order comes."""
    if not np.isfinite(reason.runs_out):
        if reason.on_order is None:
            return phrase("Lasts beyond the outlook.")
        return phrase("Lasts beyond the outlook with what is on order.")
    day = words.day(reason.runs_out)
    if reason.on_order is None:
        return phrase("Runs out around %(day)s.", day=day)
    if reason.runs_out < reason.on_order:
        come = words.arrival(reason.on_order)
        return phrase("Runs out around %(day)s; what is on order should come about %(come)s.", day=day, come=come)
    return phrase("Runs out around %(day)s even with what is on order.", day=day)


def _why_now(reason: LineFacts, words: Words) -> str:
    """Say what is gained by ordering it now and not on the next order day."""
    if reason.bought_ahead and reason.packs_alone:
        return phrase(
            "%(packs)s would do: this is %(ahead)s dearer, but the order reaches free carriage and saves %(carriage)s.",
            packs=words.packs(reason.line.offer, reason.packs_alone),
            ahead=words.money(reason.ahead),
            carriage=words.money(reason.free_carriage),
        )
    if reason.bought_ahead:
        return phrase(
            "Bought ahead: %(ahead)s dearer than waiting, but the order reaches free carriage and saves %(carriage)s.",
            ahead=words.money(reason.ahead),
            carriage=words.money(reason.free_carriage),
        )
    facts = {"next": words.day(reason.next_day), "come": words.arrival(reason.next_comes)}
    if reason.saves > SMALL and reason.too_late:
        return phrase(
            "Ordered only on %(next)s, it would come about %(come)s: an expected %(money)s more in delayed work and "
            "lost sales.",
            money=words.money(reason.saves),
            **facts,
        )
    if reason.saves > SMALL and reason.chance_left > LITTLE_CHANCE:
        return phrase(
            "Ordered only on %(next)s, it would come about %(come)s: a risk of %(chance)s of being short by then, an "
            "expected %(money)s in delayed work and lost sales.",
            chance=words.share(reason.chance_left),
            money=words.money(reason.saves),
            **facts,
        )
    if reason.chance_without > LITTLE_CHANCE:
        return _planned(reason, words)
    return _along(reason, words)


def _along(reason: LineFacts, words: Words) -> str:
    """Say what leaving a line out would cost where no risk says why it is there."""
    if reason.along <= SMALL:
        return ""
    return phrase("Leaving it out would cost %(money)s more in all.", money=words.money(reason.along))


def _planned(reason: LineFacts, words: Words) -> str:
    """Say when the next order is planned for, and how sure the shelf is until it comes."""
    facts = {"next": words.day(reason.planned), "come": words.arrival(reason.planned_comes)}
    risks = {"without": words.share(reason.chance_without), "chance": words.share(reason.chance_with)}
    return phrase(
        "The next order is planned for %(next)s and comes about %(come)s; the risk of being short by then is "
        "%(without)s without this line, %(chance)s with it.",
        **facts,
        **risks,
    )


def _dearer(reason: LineFacts, words: Words) -> str:
    if reason.rise is None:
        return ""
    return phrase(
        "From %(day)s each costs %(price)s instead of %(now)s: buying now what is used after that saves %(saved)s.",
        day=words.day(reason.rise.day),
        price=words.money(reason.rise.price),
        now=words.money(reason.rise.now),
        saved=words.money(reason.rise.spared),
    )


def _cheap(reason: LineFacts, words: Words) -> str:
    if reason.bargain is None:
        return ""
    return phrase(
        "From %(packs)s on, each costs %(price)s instead of %(usual)s.",
        packs=words.packs(reason.line.offer, reason.bargain.packs),
        price=words.money(reason.bargain.price),
        usual=words.money(reason.bargain.usual),
    )


def _goes_back(reason: LineFacts, words: Words) -> str:
    """Say until when what is not used may go back."""
    if reason.back is None:
        return ""
    day = words.day(reason.back.until)
    if reason.back.on_approval:
        return phrase("Only what is used is paid for: the rest may go back until %(day)s.", day=day)
    if reason.back.weeks:
        return phrase("What is not used may go back until about %(day)s.", day=day)
    return phrase("What is not used may go back until %(day)s.", day=day)


def _until(reason: LineFacts, words: Words) -> str:
    if not np.isfinite(reason.lasts_until):
        return ""
    day = words.day(reason.lasts_until)
    if reason.fewest and reason.bargain is None:
        return phrase("No fewer are sold; they last until about %(day)s.", day=day)
    return phrase("Lasts until about %(day)s.", day=day)


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
