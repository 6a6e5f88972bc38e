"""What the basket is asked: shelves, futures, offers, suppliers, limits and what-ifs, as plain arrays."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OnTheWay:
    """Something already ordered: how much, and on which day from now each future sees it arrive."""

    quantity: float
    arrives: FloatArray  # shape (n_paths,) or (1,), days from now


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfLot:
    """A part of what lies on a shelf, and how many days from now it can be used; inf where it keeps."""

    quantity: float
    until: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrderItem:
    """One material as the basket sees it; amounts in its own unit, money in the shop's."""

    name: str
    on_hand: FloatArray  # shape (n_paths,) or (1,): one belief about the shelf per future
    unit_cost: float
    coming: tuple[OnTheWay, ...] = ()
    lots: tuple[ShelfLot, ...] = ()  # shares of what is on hand, the first to expire first; none: all of it keeps
    sales_share: float = 0.0  # part of the use that is counter sale, 0..1
    lost_margin: float = 0.0  # per unit of a counter sale that walks away
    shelf_days: float | None = None
    space: float = 0.0  # room one unit takes, in the unit of Limits.space
    flammable: float = 0.0  # litres of flammable liquid in one unit
    holding_rate: float = 0.20  # of its cost, per year
    at_once: float = 0.0  # what usually leaves the shelf at one go; 0: it flows
    overdue: float = 0.0  # of the first step's use, what should have left by now


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceStep:
    """From so many packs on one line, every pack costs this."""

    packs: int
    price: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GoingBack:
    """The right to send unused packs back until a day (days from now), and what sending a unit back costs.

    Goods on approval are paid for only once they are used, or that day has passed.
    """

    until: float
    cost: float = 0.0
    on_approval: bool = False
    weeks: int = 0  # that it lasts from the day they come; 0: the day is fixed


@dataclass(frozen=True, slots=True, kw_only=True)
class PackOffer:
    """One supplier's pack of one material; `item` and `supplier` are positions in the order problem."""

    item: int
    supplier: int
    pack: float
    price: float  # per pack
    breaks: tuple[PriceStep, ...] = ()
    least_packs: int = 1
    multiple: int = 1  # packs are sold so many together
    weight: float = 0.0  # of a pack, in the unit of SupplierTerms.least_weight
    then: "PackOffer | None" = None  # what it is from day `changes` on: another price is announced
    changes: float = np.inf
    back: GoingBack | None = None  # None: what is bought stays

    def at_least(self, packs: float) -> int:
        """Give the fewest packs that are sold and are no less than so many."""
        return int(np.ceil(max(packs, self.least_packs) / self.multiple - 1e-9)) * self.multiple

    def price_at(self, packs: int) -> float:
        """Price of one pack when so many are bought on one line."""
        reached = [each for each in self.breaks if packs >= each.packs]
        return max(reached, key=lambda each: each.packs).price if reached else self.price


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SupplierTerms:
    """A supplier's terms, his coming order days, and how long he may take."""

    name: str
    leads: FloatArray  # shape (n_paths,), days from now to the shelf of what is ordered on his first order day
    carriage: float = 0.0
    free_over: float | None = None  # goods value from which carriage is free
    least_order: float = 0.0
    least_weight: float = 0.0  # of an order's packs
    order_days: tuple[float, ...] = (0.0, 7.0, 14.0)  # days from now; first 0 when he takes orders today
    delays: tuple[float, ...] = ()  # by order day, to be added to `leads` for an order of that day
    ordered_now: bool = False  # whether an order that starts on his first order day is placed already

    def delay(self, days: FloatArray) -> FloatArray:
        """Give how much longer than `leads` an order of each of these order days takes from that day on.

        Less, where his first order day is still ahead: `leads` wait for it, an order placed on its day does not. More,
        where it waits out a closure.
        """
        if not self.delays:
            return np.zeros(len(days))
        place = np.searchsorted(np.array(self.order_days), days)
        return np.array(self.delays)[np.minimum(place, len(self.delays) - 1)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Jobs:
    """Which jobs use what, how many may come, and what holding one up costs."""

    names: tuple[str, ...]
    needs: FloatArray  # shape (n_jobs, n_items), amount one job uses
    paths: FloatArray  # shape (n_paths, n_jobs, n_steps), jobs per step
    held_cost: FloatArray  # shape (n_jobs,), once per held-up job
    held_day_cost: FloatArray  # shape (n_jobs,), per day a job waits


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the shop can afford and hold; None means no limit."""

    cash: float | None = None
    space: float | None = None
    flammable: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Promise:
    """A big job promised for a day: what it will take off the shelves."""

    name: str
    needs: FloatArray  # shape (n_items,), in all
    day: float  # days from now


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """Switches to try before deciding."""

    cash: float | None = None
    skip: frozenset[str] = frozenset()  # suppliers not to order from now
    service: float | None = None  # wished chance, per material, of lasting until the next delivery
    promises: tuple[Promise, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrderProblem:
    """Everything a basket depends on.

    `use` has shape (n_paths, n_items, n_steps): what each future takes off each shelf in each step.
    """

    items: tuple[OrderItem, ...]
    use: FloatArray
    offers: tuple[PackOffer, ...]
    suppliers: tuple[SupplierTerms, ...]
    jobs: Jobs | None = None
    limits: Limits = field(default_factory=Limits)
    what_if: WhatIf = field(default_factory=WhatIf)
    step_days: float = 7.0
    review_days: float = 7.0  # how often the shop looks at its orders

    def __post_init__(self) -> None:
        _check_use(self)
        _check_offers(self)
        _check_jobs(self)

    @property
    def n_paths(self) -> int:
        """How many futures are looked at."""
        return int(self.use.shape[0])


def _check_use(problem: OrderProblem) -> None:
    if problem.use.ndim != 3 or problem.use.shape[1] != len(problem.items) or 0 in problem.use.shape[::2]:  # noqa: PLR2004 -- paths x items x steps
        raise ValueError("use must have shape (n_paths, n_items, n_steps)")
    if not np.isfinite(problem.use).all() or (problem.use < 0).any():
        raise ValueError("use must be finite and not negative")
    for each in problem.items:
        if each.on_hand.size not in (1, problem.n_paths):
            raise ValueError(f"on_hand of {each.name} must have one value or one per path")
        if [lot.until for lot in each.lots] != sorted(lot.until for lot in each.lots):
            raise ValueError(f"lots of {each.name} must be in the order in which they expire")
    if problem.step_days <= 0 or problem.review_days <= 0:
        raise ValueError("step_days and review_days must be positive")


def _check_offers(problem: OrderProblem) -> None:
    for offer in problem.offers:
        if not (0 <= offer.item < len(problem.items) and 0 <= offer.supplier < len(problem.suppliers)):
            raise ValueError("an offer points outside the ask")
        if offer.pack <= 0 or offer.price < 0 or offer.least_packs < 1 or offer.multiple < 1:
            raise ValueError("an offer needs a positive pack, a price and at least one pack")
    for supplier in problem.suppliers:
        days = supplier.order_days
        if not days or list(days) != sorted(set(days)) or days[0] < 0:
            raise ValueError(f"order days of {supplier.name} must ascend from today")
        if supplier.leads.size not in (1, problem.n_paths) or (supplier.leads < 0).any():
            raise ValueError(f"leads of {supplier.name} must be one per path, not negative")


def _check_jobs(problem: OrderProblem) -> None:
    jobs = problem.jobs
    if jobs is None:
        return
    if jobs.needs.shape != (len(jobs.names), len(problem.items)):
        raise ValueError("needs must have shape (n_jobs, n_items)")
    if jobs.paths.shape != (problem.n_paths, len(jobs.names), problem.use.shape[2]):
        raise ValueError("job paths must have shape (n_paths, n_jobs, n_steps)")
