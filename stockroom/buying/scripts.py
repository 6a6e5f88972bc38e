"""What a rehearsal plays, what may be seen of it, and what comes of it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from stockroom.buying.ask import FloatArray, IntArray, Offer, Supplier

YEAR_DAYS = 365.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Script:
    """What happens day by day, whatever is ordered, and what things cost.

    `needs` is what a job really takes, `recipe` what the book says it takes, both (n_jobs, n_items).
    `tickets` has shape (n_days, n_jobs); `sales` and `waste` (n_days, n_items). `counted` holds what a
    count would read as a share of the true stock, NaN where nothing is counted, (n_days, n_items).
    `lead_days` (n_suppliers, n_days): how long an order placed that day takes. Sums start on `from_day`.
    """

    needs: FloatArray
    recipe: FloatArray
    tickets: IntArray
    sales: FloatArray
    waste: FloatArray
    counted: FloatArray
    opening: FloatArray
    lead_days: FloatArray
    offers: tuple[Offer, ...]
    suppliers: tuple[Supplier, ...]
    unit_cost: FloatArray
    shelf_days: FloatArray  # inf when it keeps
    lost_margin: FloatArray
    held_cost: FloatArray
    held_day_cost: FloatArray
    holding_rate: float = 0.20
    review_days: int = 7
    from_day: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """So many packs of one offer."""

    offer: int
    packs: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """An order line placed on a day; `received` is None while it is open."""

    offer: int
    packs: int
    day: int
    received: int | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sight:
    """What is known when an order may be placed: never anything of later days.

    `on_hand` is the book's stock; `counted_on` the day each item was last counted (-1: opening).
    `waiting` counts held-up tickets per job. `true_on_hand` is for judges who are told everything.
    """

    day: int
    on_hand: FloatArray
    counted_on: IntArray
    waiting: IntArray
    placed: tuple[Placed, ...]
    true_on_hand: FloatArray


Policy = Callable[[Sight], Sequence[Purchase]]


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
