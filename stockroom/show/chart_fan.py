"""The shape of a forecast fan: from week's ends to a line that drops with the work and jumps with a delivery."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from stockroom.show.chart_facts import StockOutlook

BEYOND = timedelta(weeks=3)  # shown after the last day of interest
SHORTEST = timedelta(weeks=5)

Point = tuple[date, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """Days, and on hand on each in the worst, middle and best case; a delivery's day comes twice."""

    days: tuple[date, ...]
    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]


def last_day(outlook: StockOutlook) -> date:
    """Choose where the picture ends: some weeks after the range of run-out days, or at the end of the outlook."""
    end = max(outlook.weeks, default=outlook.as_of)
    if outlook.runs_out is None or outlook.latest is None:
        return end
    shown = [outlook.as_of + SHORTEST, outlook.latest + BEYOND, *(day for day, _ in outlook.deliveries)]
    return min(end, max(shown))


def fan_of(outlook: StockOutlook) -> Fan:
    """Build the fan up to the picture's last day."""
    until = last_day(outlook)
    shown = [n for n, week in enumerate(outlook.weeks) if week < until + timedelta(weeks=1)]
    start = [amount for _, amount in outlook.history[-1:]]
    days = [*([outlook.as_of] if start else []), *(outlook.weeks[n] for n in shown)]
    arrivals = sorted({day for day, _ in outlook.deliveries})
    bands = [
        _drawn(days, [*start, *(band[n] for n in shown)], arrivals)
        for band in (outlook.low, outlook.middle, outlook.high)
    ]
    low, middle, high = ([max(amount, 0.0) for _, amount in band] for band in bands)
    return Fan(days=tuple(day for day, _ in bands[0]), low=tuple(low), middle=tuple(middle), high=tuple(high))


def _drawn(days: Sequence[date], amounts: Sequence[float], arrivals: Sequence[date]) -> list[Point]:
    points = list(zip(days[:1], amounts[:1], strict=True))
    for n in range(1, len(days)):
        week = ((days[n - 1], amounts[n - 1]), (days[n], amounts[n]))
        rate = _use_a_day(days, amounts, n)
        for arrival in (day for day in arrivals if days[n - 1] < day <= days[n]):
            points += _jump(week, arrival, rate)
        points.append(week[1])
    return points


def _use_a_day(days: Sequence[date], amounts: Sequence[float], n: int) -> float:
    """Give the use of the following week: in a week with a delivery, use and delivery can't be told apart."""
    if n + 1 >= len(days):
        return 0.0
    return max(amounts[n] - amounts[n + 1], 0.0) / (days[n + 1] - days[n]).days


def _jump(week: tuple[Point, Point], arrival: date, rate: float) -> list[Point]:
    (first, before), (last, after) = week
    if after <= before:  # the delivery isn't there yet in this future: a plain slope
        part = (arrival - first) / (last - first)
        return [(arrival, before + part * (after - before))] * 2
    return [
        (arrival, max(before - rate * (arrival - first).days, 0.0)),
        (arrival, after + rate * (last - arrival).days),
    ]
