"""What a back-test works through, what may be seen of it, and what comes of it."""

from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from stockroom.buying.order_cycle import carriage_on
from stockroom.buying.problem import BoolArray, FloatArray, IntArray, PackOffer, SupplierTerms

YEAR_DAYS = 365.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scenario:
    """What happens day by day, whatever is ordered, and what things cost.

    `needs` is what a job really takes, `recipe` what the book says it takes, both (n_jobs, n_items).
    `tickets` has shape (n_days, n_jobs); `sales` and `waste` (n_days, n_items). `counted` holds what a
    count would read as a share of the true stock, NaN where nothing is counted, (n_days, n_items).
    `lead_days` (n_suppliers, n_days): how long an order placed that day takes. `lot_days` (n_days, n_items) is how long
    what comes on a day keeps, `opening_days` (n_items,) what is there at first; `shelf_days` where they are not given.
    `whole` (n_items,) says what jobs take in whole pieces: a need of 2.04 is two, and three one time in 25.
    Sums start on `from_day`.
    """

    needs: FloatArray
    recipe: FloatArray
    tickets: IntArray
    sales: FloatArray
    waste: FloatArray
    counted: FloatArray
    opening: FloatArray
    lead_days: FloatArray
    offers: tuple[PackOffer, ...]
    suppliers: tuple[SupplierTerms, ...]
    unit_cost: FloatArray
    shelf_days: FloatArray  # inf when it keeps
    lost_margin: FloatArray
    held_cost: FloatArray
    held_day_cost: FloatArray
    holding_rate: float = 0.20
    review_days: int = 7
    from_day: int = 0
    lot_days: FloatArray | None = None
    opening_days: FloatArray | None = None
    whole: BoolArray | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """So many packs of one offer."""

    offer: int
    packs: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedLine:
    """An order line placed on a day; `received` is None while it is open."""

    offer: int
    packs: int
    day: int
    received: int | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeenShelf:
    """A count of one shelf, and what the book knew by then to have left it and come to it.

    `read` is what was found; `exact` where nearly nothing was there: a part found missing. `finished` holds the jobs
    done so far, (n_jobs,), `moved` what of the item was received less what was sold and what spoilt, both since the
    first day.
    """

    item: int
    day: int
    read: float
    exact: bool
    finished: IntArray
    moved: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnownThen:
    """What is known when an order may be placed: never anything of later days.

    `on_hand` is the book's stock; `counted_on` the day each item was last counted (-1: opening).
    `waiting` counts held-up tickets per job. `lots` says of items that don't keep how much of the book's stock spoils
    in how many days. `seen` are all counts so far, `finished` and `moved` what has happened by now, as at a count.
    `true_on_hand` is for judges who are told everything.
    """

    day: int
    on_hand: FloatArray
    counted_on: IntArray
    waiting: IntArray
    placed: tuple[PlacedLine, ...]
    true_on_hand: FloatArray
    lots: Mapping[int, tuple[tuple[float, float], ...]] = field(default_factory=dict)  # item: days left, amount
    seen: tuple[SeenShelf, ...] = ()
    finished: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    moved: FloatArray = field(default_factory=lambda: np.zeros(0))


Policy = Callable[[KnownThen], Sequence[Purchase]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of it; sums over `days`, the stock value an average."""

    days: int
    tickets: int
    held_up: int
    held_days: float
    held_cost: float
    lost_margin: float
    stock_value: float
    carriage: float
    orders: int
    expired: float
    holding_rate: float

    @property
    def annual_cost(self) -> float:
        """Carriage, holding, expiry, hold-ups and lost sales of a year of such days."""
        running = self.carriage + self.expired + self.held_cost + self.lost_margin
        return running * YEAR_DAYS / self.days + self.holding_rate * self.stock_value


@dataclass(slots=True, eq=False)
class _Shop:
    """The shop while it runs."""

    scenario: Scenario
    shelf: FloatArray
    book: FloatArray
    counted_on: IntArray
    parts: list[tuple[IntArray, FloatArray]]
    layers: dict[int, deque[list[float]]]
    owed: FloatArray  # pieces that jobs should have taken beyond the whole ones they did
    finished: IntArray  # jobs done so far
    moved: FloatArray  # what was received less what was sold and spoilt, so far
    seen: list[SeenShelf] = field(default_factory=list)
    queue: list[tuple[int, int]] = field(default_factory=list)
    placed: list[list[int]] = field(default_factory=list)  # offer, packs, day, arrival
    held_up: int = 0
    tickets: int = 0
    held_days: float = 0.0
    held_cost: float = 0.0
    lost: float = 0.0
    value: float = 0.0
    carriage: float = 0.0
    orders: int = 0
    expired: float = 0.0


def rehearse(scenario: Scenario, policy: Policy) -> Outcome:
    """Run the scenario under an ordering policy.

    Parameters
    ----------
    script : Script
        Days, tickets, deliveries' luck, prices and costs.
    policy : callable
        Called on each review day with a Sight; returns what to order.

    Returns
    -------
    Outcome
        Hold-ups, lost sales, stock, carriage, expiry.

    Notes
    -----
    Within a day: deliveries, expiry, counts, ordering, waiting tickets in their order, the day's tickets,
    sales, waste. A ticket is done when every part is there, takes all of them, and otherwise waits; a
    part found missing is a count of that shelf.
    """
    shop = _open(scenario)
    for day in range(len(scenario.tickets)):
        _receive(shop, day)
        _expire(shop, day)
        _count(shop, day)
        if day % scenario.review_days == 0:
            _order(shop, day, policy)
        _work(shop, day)
        _sell(shop, day)
        if day >= scenario.from_day:
            shop.value += float(shop.shelf @ scenario.unit_cost)
    return _outcome(shop)


def _open(scenario: Scenario) -> _Shop:
    parts = [(np.flatnonzero(row > 0), row[row > 0]) for row in scenario.needs]
    keeps = np.isinf(scenario.shelf_days)
    keeps_until = scenario.shelf_days if scenario.opening_days is None else scenario.opening_days
    layers = {
        int(item): deque([[float(keeps_until[item]), float(scenario.opening[item])]]) for item in np.flatnonzero(~keeps)
    }
    return _Shop(
        scenario=scenario,
        shelf=scenario.opening.copy(),
        book=scenario.opening.copy(),
        counted_on=np.full(len(keeps), -1),
        parts=parts,
        layers=layers,
        owed=np.zeros(len(keeps)),
        finished=np.zeros(len(scenario.needs), dtype=np.int64),
        moved=np.zeros(len(keeps)),
    )


def _receive(shop: _Shop, day: int) -> None:
    for offer, packs, _, arrival in shop.placed:
        if arrival == day:
            bought = shop.scenario.offers[offer]
            amount = packs * bought.pack
            shop.shelf[bought.item] += amount
            shop.book[bought.item] += amount
            shop.moved[bought.item] += amount
            if bought.item in shop.layers:
                _lay(shop.layers[bought.item], [day + _keeps(shop.scenario, bought.item, day), amount])


def _keeps(scenario: Scenario, item: int, day: int) -> float:
    return float(scenario.shelf_days[item] if scenario.lot_days is None else scenario.lot_days[day, item])


def _lay(layers: deque[list[float]], lot: list[float]) -> None:
    """Put a lot in its place: the first to expire is used first."""
    place = sum(each[0] <= lot[0] for each in layers)
    layers.insert(place, lot)


def _expire(shop: _Shop, day: int) -> None:
    for item, layers in shop.layers.items():
        _use_layers(layers, sum(each[1] for each in layers) - float(shop.shelf[item]))
        while layers and layers[0][0] <= day:
            spoilt = min(layers.popleft()[1], float(shop.shelf[item]))
            shop.shelf[item] -= spoilt
            shop.book[item] = max(shop.book[item] - spoilt, 0.0)
            shop.moved[item] -= spoilt
            if day >= shop.scenario.from_day:
                shop.expired += spoilt * float(shop.scenario.unit_cost[item])


def _use_layers(layers: deque[list[float]], used: float) -> None:
    """Take the first to expire first."""
    while layers and used > 0:
        part = min(layers[0][1], used)
        layers[0][1] -= part
        used -= part
        if layers[0][1] <= 1e-12:  # noqa: PLR2004 -- empty
            layers.popleft()


def _count(shop: _Shop, day: int) -> None:
    counted = np.flatnonzero(~np.isnan(shop.scenario.counted[day]))
    _read(shop, day, counted, shop.shelf[counted] * shop.scenario.counted[day][counted], exact=False)


def _read(shop: _Shop, day: int, items: IntArray, amounts: FloatArray, *, exact: bool) -> None:
    """Set the book right by what was found."""
    shop.book[items] = amounts
    shop.counted_on[items] = day
    done = shop.finished.copy() if len(items) else shop.finished
    shop.seen += [
        SeenShelf(item=int(item), day=day, read=float(read), exact=exact, finished=done, moved=float(shop.moved[item]))
        for item, read in zip(items, amounts, strict=True)
    ]


def _order(shop: _Shop, day: int, policy: Policy) -> None:
    scenario = shop.scenario
    bought = [each for each in policy(_sight(shop, day)) if each.packs > 0]
    worth = np.zeros(len(scenario.suppliers))
    for each in bought:
        offer = scenario.offers[each.offer]
        worth[offer.supplier] += each.packs * offer.price_at(each.packs)
        arrival = day + int(max(round(scenario.lead_days[offer.supplier, day]), 1))
        shop.placed.append([each.offer, each.packs, day, arrival])
    if day >= scenario.from_day:
        shop.orders += int((worth > 0).sum())
        pairs = zip(scenario.suppliers, worth, strict=True)
        shop.carriage += sum(carriage_on(supplier, float(value)) for supplier, value in pairs)


def _sight(shop: _Shop, day: int) -> KnownThen:
    waiting = np.zeros(len(shop.scenario.needs), dtype=np.int64)
    for job, _ in shop.queue:
        waiting[job] += 1
    placed = tuple(
        PlacedLine(offer=offer, packs=packs, day=when, received=arrival if arrival <= day else None)
        for offer, packs, when, arrival in shop.placed
    )
    return KnownThen(
        day=day,
        on_hand=np.maximum(shop.book, 0.0),
        counted_on=shop.counted_on.copy(),
        waiting=waiting,
        placed=placed,
        true_on_hand=shop.shelf.copy(),
        lots={item: _lots(shop, item, day) for item in shop.layers},
        seen=tuple(shop.seen),
        finished=shop.finished.copy(),
        moved=shop.moved.copy(),
    )


def _lots(shop: _Shop, item: int, day: int) -> tuple[tuple[float, float], ...]:
    """Give the lots of an item as the book has them: what it has used is the first to expire."""
    left, found = max(float(shop.book[item]), 0.0), []
    for until, amount in reversed(shop.layers[item]):
        if part := min(amount, left):
            found.append((until - day, part))
        left -= part
    return tuple(reversed(found))


def _work(shop: _Shop, day: int) -> None:
    scenario, measured = shop.scenario, day >= shop.scenario.from_day
    shop.queue = [each for each in shop.queue if not _finish(shop, each[0])]
    for job in np.flatnonzero(scenario.tickets[day]):
        for _ in range(int(scenario.tickets[day, job])):
            shop.tickets += measured
            if not _finish(shop, int(job)):
                _look(shop, int(job), day)
                shop.queue.append((int(job), day))
                shop.held_up += measured
                shop.held_cost += measured * float(scenario.held_cost[job])
    shop.held_days += measured * len(shop.queue)
    shop.held_cost += measured * sum(float(scenario.held_day_cost[job]) for job, _ in shop.queue)


def _finish(shop: _Shop, job: int) -> bool:
    parts, amounts = _taken(shop, job)
    if (shop.shelf[parts] < amounts - 1e-9).any():
        return False
    shop.shelf[parts] -= amounts
    shop.owed[parts] += shop.parts[job][1] - amounts
    shop.book -= shop.scenario.recipe[job]
    shop.finished[job] += 1
    return True


def _taken(shop: _Shop, job: int) -> tuple[IntArray, FloatArray]:
    """Give the parts a job takes now; pieces whole, with what earlier jobs should have had more or less of them."""
    parts, amounts = shop.parts[job]
    if shop.scenario.whole is None:
        return parts, amounts
    return parts, np.where(shop.scenario.whole[parts], np.round(amounts + shop.owed[parts]), amounts)


def _look(shop: _Shop, job: int, day: int) -> None:
    """Whoever lacks a part for a ticket has looked at its shelf: the book is set right."""
    parts, amounts = _taken(shop, job)
    short = parts[shop.shelf[parts] < amounts - 1e-9]
    _read(shop, day, short, shop.shelf[short], exact=True)


def _sell(shop: _Shop, day: int) -> None:
    asked = shop.scenario.sales[day]
    sold = np.minimum(asked, np.maximum(shop.shelf, 0.0))
    shop.shelf -= sold
    shop.book -= sold
    shop.moved -= sold
    if day >= shop.scenario.from_day:
        shop.lost += float((asked - sold) @ shop.scenario.lost_margin)
    shop.shelf -= np.minimum(shop.scenario.waste[day], np.maximum(shop.shelf, 0.0))


def _outcome(shop: _Shop) -> Outcome:
    days = len(shop.scenario.tickets) - shop.scenario.from_day
    return Outcome(
        days=days,
        tickets=shop.tickets,
        held_up=shop.held_up,
        held_days=shop.held_days,
        held_cost=shop.held_cost,
        lost_margin=shop.lost,
        stock_value=shop.value / days,
        carriage=shop.carriage,
        orders=shop.orders,
        expired=shop.expired,
        holding_rate=shop.scenario.holding_rate,
    )
