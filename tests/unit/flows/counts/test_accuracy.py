from datetime import date

import pytest

from stockroom.flows.counts.accuracy import accuracy, count_report
from stockroom.flows.counts.settle import settle_count, take_count
from stockroom.show.charts.past import accuracy_words
from stockroom.show.formats import Formats
from stockroom.show.tables.counts import report_tables
from stockroom.stock.counts import Count, CountLine
from stockroom.store.book import Book
from tests import build

NOW = build.at("2026-03-31")


def settle(book: Book, day: str, reasons: dict[str, str] | None = None, **found: str) -> None:
    lines = tuple(
        CountLine(material=code, amount=build.amount(text), counted=build.at(day)) for code, text in found.items()
    )
    take_count(book, Count(key=day, lines=lines), build.stamp(day))
    settle_count(book, day, build.stamp(day), confirmed=True, reasons=reasons)


def test_accuracy_reasons_and_money_are_those_of_the_settled_counts(open_shop: Book) -> None:
    settle(open_shop, "2026-01-10", TIP="60 pair", CEMENT="3 l", reasons={"CEMENT": "spoilt"})
    settle(open_shop, "2026-02-10", TIP="59 pair", CEMENT="3 l")
    found = count_report(open_shop, NOW)
    # Half a litre at 0.86 cents a ml; a pair of heel tips at 54.00 the gross of pieces.
    assert [(p.period, p.bins, p.right, p.net, p.gross) for p in found.periods] == [
        ("2026-01-10", 2, 1, -430, 430),
        ("2026-02-10", 2, 2, -75, 75),
    ]
    assert [(r.reason, r.family, r.bins, r.gross) for r in found.reasons] == [
        ("spoilt", "cement", 1, 430),
        ("other", "top pieces", 1, 75),
    ]
    assert [(each.day, each.bins, each.within) for each in accuracy(found)] == [
        (date(2026, 1, 10), 2, 1),
        (date(2026, 2, 10), 2, 2),
    ]
    assert count_report(open_shop, NOW, since=date(2026, 2, 1)).periods == found.periods[1:]
    assert count_report(open_shop, build.at("2026-01-31")).periods == found.periods[:1]


def test_a_bin_that_is_short_count_after_count_drifts(open_shop: Book) -> None:
    for month, left in enumerate(range(400, 260, -20), 1):
        settle(open_shop, f"2026-01-{9 + month:02}", THREAD=f"{left} m")
    [drift] = count_report(open_shop, NOW).drifting
    assert (drift.material, drift.counts, drift.short, drift.over, drift.average) == (
        "THREAD", 7, 7, 0, -build.nano("20 m"),
    )  # fmt: skip
    assert drift.chance == pytest.approx(2 / 2**7)
    assert drift.value == -76  # 20 m at 19.00 the 500 m


def test_many_counting_days_are_put_together_by_month(open_shop: Book) -> None:
    for day in range(10, 24):
        settle(open_shop, f"2026-01-{day}", TIP="60 pair")
    [month] = count_report(open_shop, NOW).periods
    assert (month.period, month.bins, month.right) == ("2026-01", 14, 14)
    [point] = accuracy(count_report(open_shop, NOW))
    assert (point.since, point.day) == (date(2026, 1, 10), date(2026, 1, 23))
    assert (
        accuracy_words([point], Formats()) == "From 10 Jan 2026 to 23 Jan 2026, 14 of 14 items were within tolerance."
    )


def test_nothing_counted_yet_is_said_so(open_shop: Book) -> None:
    found = count_report(open_shop, NOW)
    assert (found.periods, found.drifting) == ((), ())
    assert "Nothing has been counted and posted yet." in report_tables(found, Formats())
