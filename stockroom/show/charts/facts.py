"""What the pictures are drawn from. Amounts are in base units, as floats: they come from forecasts."""

from dataclasses import dataclass
from datetime import date

from stockroom.stock.quantities import Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class StockOutlook:
    """One material's stock: as it was, and as it may become if nothing more is ordered."""

    name: str
    unit: Unit
    as_of: date
    history: tuple[tuple[date, float], ...]  # day, on hand at its end; oldest first
    weeks: tuple[date, ...]  # ends of the coming weeks
    low: tuple[float, ...]  # at each week's end, on hand in the worst of ten futures
    middle: tuple[float, ...]
    high: tuple[float, ...]  # in the best of ten
    runs_out: date | None = None
    earliest: date | None = None
    latest: date | None = None
    order_by: date | None = None
    deliveries: tuple[tuple[date, float], ...] = ()  # day expected, amount

    def __post_init__(self) -> None:
        """Refuse a fan whose bands don't match its weeks."""
        if {len(self.low), len(self.middle), len(self.high)} != {len(self.weeks)}:
            raise ValueError(f"{self.name}: low, middle and high must each have {len(self.weeks)} values")


@dataclass(frozen=True, slots=True, kw_only=True)
class CountAccuracy:
    """How well book and shelf agreed at one count, or at several put together."""

    day: date  # the last of them
    bins: int  # counted
    within: int  # of them within tolerance
    since: date | None = None  # the first of several

    @property
    def share(self) -> float:
        """Part of the bins within tolerance, 0 to 1."""
        return self.within / self.bins if self.bins else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastPicture:
    """How true the forecast was, past day by past day."""

    days: tuple[date, ...]
    within: tuple[float, ...]  # part of the materials whose use stayed within the range of nine in ten
    loss: tuple[float, ...]  # what its misses cost, as a part of what a year's average's would have


@dataclass(frozen=True, slots=True, kw_only=True)
class YearPicture:
    """What orders take month by month, in major money: on average, and what eight futures in ten lie between."""

    months: tuple[date, ...]
    spend: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionPicture:
    """What is paid a year for stock and carriage at several degrees of caution, and the jobs delayed; `own` is ours."""

    paid: tuple[float, ...]
    delayed: tuple[float, ...]
    own: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyYear:
    """A way of ordering, replayed over past weeks."""

    name: str
    stock_value: tuple[float, ...]  # at each week's end, major units of money
    held_up: tuple[int, ...]  # jobs held up in each week
    ours: bool = False  # drawn heaviest


@dataclass(frozen=True, slots=True, kw_only=True)
class BacktestPicture:
    """The same weeks under several ways of ordering."""

    weeks: tuple[date, ...]
    policies: tuple[PolicyYear, ...]

    def __post_init__(self) -> None:
        """Refuse a policy that doesn't cover the weeks."""
        for each in self.policies:
            if not len(each.stock_value) == len(each.held_up) == len(self.weeks):
                raise ValueError(f"{each.name}: one stock value and one count of delayed jobs for each week")
