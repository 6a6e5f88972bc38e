"""The bench's queue: minutes promised against minutes open, by day."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from stockroom.stock.calendar import OpenDays, OpenHours

if TYPE_CHECKING:
    from stockroom.demand.history import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchHours:
    """When the bench works, and with how many heads."""

    open_days: OpenDays
    hours: OpenHours
    heads: int = 1

    def minutes(self, day: date, after: datetime | None = None) -> int:
        """Give the minutes worked on a day, of all heads; only those after a moment where one is given."""
        if not self.open_days.is_open(day):
            return 0
        return self.heads * self.hours.minutes(day, after if after is not None and after.date() == day else None)

    def until(self, now: datetime, day: date) -> int:
        """Give the minutes from a moment until the end of a day."""
        days = (now.date() + timedelta(days=n) for n in range((day - now.date()).days + 1))
        return sum(self.minutes(each, now) for each in days)


@dataclass(frozen=True, slots=True, kw_only=True)
class QueuedTicket:
    """A ticket that waits for the bench."""

    ticket: str
    minutes: float  # still to be worked
    due: date | None = None  # None: as soon as it may be


def ahead_of(queue: Iterable[QueuedTicket], day: date) -> float:
    """Add up the minutes of the tickets that go first: those promised until a day, or for no day."""
    return sum(each.minutes for each in queue if each.due is None or each.due <= day)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayLoad:
    """A day at the bench."""

    day: date
    open: int  # minutes, of all heads
    due: float  # minutes of tickets promised for it; on the first day also of those promised before, or for no day
    tickets: tuple[str, ...]
    free: float  # minutes left of all days until then once what is due until then is done; below zero: too much
    chance: float  # of having done all of it by the end of the day


def day_loads(
    queue: Sequence[QueuedTicket], hours: BenchHours, now: datetime, days: int, scale: float
) -> list[DayLoad]:
    """Set what is promised against the minutes open, for each day that is worked or has something promised.

    Parameters
    ----------
    queue : sequence of QueuedTicket
        The tickets, in any order.
    hours : BenchHours
        When the bench works.
    now : datetime
        The moment from which it does.
    days : int
        How many days to look ahead.
    scale : float
        Variance of minutes over their mean.
    """
    found = []
    for n in range(days):
        day = now.date() + timedelta(days=n)
        mine = [each for each in queue if each.due == day or (n == 0 and (each.due is None or each.due < day))]
        opens = hours.minutes(day, now)
        if opens or mine:
            room, ahead = hours.until(now, day), ahead_of(queue, day)
            found.append(
                DayLoad(
                    day=day,
                    open=opens,
                    due=sum(each.minutes for each in mine),
                    tickets=tuple(sorted(each.ticket for each in mine)),
                    free=room - ahead,
                    chance=chance_within(ahead, room, scale),
                )
            )
    return found


def chance_within(minutes: float, room: float, scale: float) -> float:
    """Give the chance that work said to take so many minutes takes no more than there is room for.

    Notes
    -----
    A sum of times whose variance is `scale` times their mean, as gamma: with more minutes it never gets likelier, with
    more room never less likely, and it does not matter in how many tickets the minutes come.
    """
    if minutes <= 0:
        return 1.0
    if room <= 0:
        return 0.0
    from scipy.special import gammainc  # noqa: PLC0415 -- slow to import

    return float(gammainc(minutes / scale, room / scale))


def minutes_in_futures(minutes: float, scale: float, n_paths: int) -> "Floats":
    """Draw what work said to take so many minutes takes in each future; more work takes longer in every one of them.

    Futures are evenly spread over the chances, in an order that hangs on their number only.
    """
    import numpy as np  # noqa: PLC0415 -- as above
    from scipy.special import gammaincinv  # noqa: PLC0415 -- as above

    places = np.random.default_rng(n_paths).permutation(n_paths)
    drawn: Floats = gammaincinv(max(minutes, 0.0) / scale, (places + 0.5) / n_paths) * scale
    return drawn
