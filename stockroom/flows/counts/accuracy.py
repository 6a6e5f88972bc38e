"""Stock record accuracy over time, differences by reason and family, bins that drift."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta

from stockroom.counting.reconcile import Difference, Drift, by_reason, compare, drifts, over_time
from stockroom.flows.counts.review import Measures, measures
from stockroom.show.charts.facts import CountAccuracy
from stockroom.show.tables.counts import AccuracyRow, CountReport, DriftRow, ReasonRow
from stockroom.stock.counts import CountReason
from stockroom.stock.money import half_up
from stockroom.stock.quantities import NANO
from stockroom.store import catalogue, counts
from stockroom.store.book import Book

YEAR = timedelta(days=365)
BY_DAY = 12  # counting days up to which each stands for itself; more are put together by month

Dated = tuple[date, Difference]


def count_report(book: Book, moment: datetime, *, since: date | None = None) -> CountReport:
    """Work out the accuracy of the stock record, from a day on [the last year]."""
    start = since or (moment - YEAR).date()
    with book.reading() as session:
        kinds = catalogue.dimensions(session)
        settled = counts.settled_bins(session, kinds, since=datetime.combine(start, datetime.min.time()))
        by = measures(session, moment)
    lines = [(each.line, each.line.amount.nano - each.nano) for each in settled if each.line.counted <= moment]
    dated = [(line.counted.date(), compare(by.bin(line, booked), by.rules)) for line, booked in lines]
    return CountReport(
        since=start,
        until=moment.date(),
        periods=_periods(dated),
        reasons=_reasons([found for _, found in dated]),
        drifting=_drifting(dated, by),
    )


def accuracy(report: CountReport) -> list[CountAccuracy]:
    """Give the points of the accuracy chart."""
    return [
        CountAccuracy(day=each.last, since=each.first, bins=each.bins, within=each.right) for each in report.periods
    ]


def _periods(dated: Sequence[Dated]) -> tuple[AccuracyRow, ...]:
    days = {day for day, _ in dated}
    by_day = len(days) <= BY_DAY
    named = [(day.isoformat() if by_day else f"{day:%Y-%m}", found) for day, found in dated]
    spans: dict[str, list[date]] = {}
    for (day, _), (period, _) in zip(dated, named, strict=True):
        spans.setdefault(period, []).append(day)
    return tuple(
        AccuracyRow(
            period=period,
            first=min(spans[period]),
            last=max(spans[period]),
            bins=each.bins,
            right=each.right,
            net=each.net,
            gross=each.gross,
        )
        for period, each in over_time(named).items()
    )


def _reasons(found: Sequence[Difference]) -> tuple[ReasonRow, ...]:
    differing = [each for each in found if each.amount]
    return tuple(
        ReasonRow(reason=str(CountReason(reason)), family=family, bins=each.bins, net=each.net, gross=each.gross)
        for (reason, family), each in by_reason(differing).items()
    )


def _drifting(dated: Sequence[Dated], by: Measures) -> tuple[DriftRow, ...]:
    histories: dict[str, list[int]] = {}
    for _, found in dated:
        histories.setdefault(found.bin.material.code, []).append(found.amount)
    return tuple(_drift(each, by) for each in drifts(_outside(histories, dated)))


def _outside(histories: Mapping[str, Sequence[int]], dated: Sequence[Dated]) -> dict[str, Sequence[int]]:
    """Leave out bins whose every difference was small enough to ignore."""
    wrong = {found.bin.material.code for _, found in dated if not found.right}
    return {code: amounts for code, amounts in histories.items() if code in wrong}


def _drift(found: Drift, by: Measures) -> DriftRow:
    material = by.materials[found.material]
    return DriftRow(
        material=material.code,
        name=material.name,
        unit=material.unit,
        counts=found.counts,
        short=found.short,
        over=found.over,
        average=round(found.average),
        value=half_up(found.average * by.costs[material.code] / NANO),
        chance=float(found.chance),
    )
