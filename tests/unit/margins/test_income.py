from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

import pytest

from stockroom.margins.income import Books, JobLine, PeriodWork, by_money_lost, grouped, mean_interval, work_done
from stockroom.margins.period import Period
from stockroom.stock.layers import replay
from stockroom.stock.moves import Document
from stockroom.stock.shop import Shop
from stockroom.stock.tax import tax_rules
from tests.unit.margins.book import JOBS, MATERIALS, Pen, tickets_of

FLOOR = Decimal(60)


def line(ticket: str, job: str, net: int, cost: int, *, minutes: int = 30, size: str = "EU 40") -> JobLine:
    return JobLine(
        ticket=ticket, job=job, day=date(2026, 1, int(ticket)), count=1, redo=False, size=size, chosen="",
        net=net, tax=0, uses={"X": (1, cost * 1000)}, minutes=minutes,
    )  # fmt: skip


LINES = [line("1", "SOLE", 2000, 900), line("2", "SOLE", 2000, 700), line("3", "HEELS", 1000, 100, size="")]


def test_groups_add_up_and_the_best_comes_first() -> None:
    first, second = grouped(LINES, "job", floor=FLOOR)
    assert (first.name, first.count, first.income, first.materials) == ("SOLE", 2, 4_000_000, 1_600_000)
    assert (first.margin, first.share, first.per_hour) == (2_400_000, Fraction(3, 5), 2_400_000)
    assert (second.name, second.materials_share) == ("HEELS", Fraction(1, 10))


def test_every_grouping_keeps_the_total() -> None:
    for by in ("ticket", "job", "size", "choice", "month"):
        assert sum(group.margin for group in grouped(LINES, by, floor=FLOOR)) == 3_300_000


def test_unknown_grouping_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="no grouping by colour"):
        grouped(LINES, "colour", floor=FLOOR)


def test_money_lost_ranks_before_per_cent() -> None:
    many = [line(str(n), "SOLE", 2000, 900) for n in range(1, 21)]  # 45 % materials, 20 jobs
    few = [line("21", "PATCH", 1000, 700)]  # 70 % materials, one job
    names = [(group.name, group.lost) for group in by_money_lost(grouped(many + few, "job", floor=FLOOR))]
    assert names == [("SOLE", 20 * 100_000), ("PATCH", 300_000)]


def test_single_ticket_tells_no_interval() -> None:
    assert mean_interval([5]) == (None, None)


def test_interval_narrows_with_more_tickets() -> None:
    few, many = ([each or 0 for each in mean_interval([900, 1100, 1000] * n)] for n in (1, 20))
    assert few[0] < many[0] < 1000 < many[1] < few[1]


def test_interval_is_students_t() -> None:
    """t(0.95, 2) = 2.919986: any table of Student's t, from memory; s = 100, n = 3."""
    least, most = mean_interval([900, 1000, 1100])
    assert (least, most) == (round(1000 - 2.919986 * 100 / 3**0.5), round(1000 + 2.919986 * 100 / 3**0.5))


JAN, FEB = datetime(2026, 1, 10), datetime(2026, 2, 10)
SHOP = Shop(card_fee=Decimal("1.5"), bench_hour_rate=Decimal(30))


def work(documents: list[Document], month: int = 1, shop: Shop = SHOP) -> PeriodWork:
    books = Books(tickets=tickets_of(documents), jobs=JOBS, rules=tax_rules(shop, {}), shop=shop)
    period = Period(first=date(2026, month, 1), last=date(2026, month, 28))
    return work_done(documents, replay(documents, MATERIALS).entries, books, period)


def one(found: PeriodWork) -> JobLine:
    (line,) = found.lines
    return line


def test_job_earns_its_net_price_less_what_it_used() -> None:
    pen = Pen()
    pen.deliver(JAN, [("HEEL", 10, 900), ("GLUE", 1000, 1000)])
    pen.finish(JAN, "T1", "HEELS")
    line = one(work(pen.documents))
    assert (line.net, line.tax) == (1157, 243)  # 14.00 with 21 % in it
    assert line.materials == 94_000  # a pair at 0.90 and 4 ml at 0.01
    assert line.fee == 21_000  # 1.5 % of 14.00
    assert line.bench == 600_000  # 12 minutes at 30.00 an hour
    assert line.margin == 1_157_000 - 94_000 - 21_000


def test_provisional_cost_is_named_and_trued_up_in_its_own_month() -> None:
    pen = Pen()
    pen.finish(JAN, "T1", "HEELS")
    assert one(work(pen.documents)).provisional == one(work(pen.documents)).materials == 94_000
    pen.deliver(FEB, [("HEEL", 10, 1000), ("GLUE", 1000, 1000)])
    assert one(work(pen.documents)).materials == 94_000
    assert work(pen.documents, month=2).earlier == 10_000


def test_job_taken_back_the_same_month_leaves_no_trace() -> None:
    pen = Pen()
    pen.undo(JAN, pen.finish(JAN, "T1", "HEELS"))
    assert work(pen.documents) == PeriodWork(lines=(), earlier=0)


def test_job_taken_back_later_is_a_minus_there_and_stays_here() -> None:
    pen = Pen()
    done = pen.finish(JAN, "T1", "HEELS")
    before = work(pen.documents)
    pen.undo(FEB, done)
    assert work(pen.documents) == before
    back = one(work(pen.documents, month=2))
    assert (back.count, back.net, back.materials) == (-1, -1157, -94_000)


def test_redone_work_costs_and_earns_nothing() -> None:
    pen = Pen()
    pen.finish(JAN, "T1", "HEELS", redo=True)
    line = one(work(pen.documents))
    assert (line.redo, line.net, line.margin) == (True, 0, -94_000)


def test_late_document_counts_on_the_day_it_is_booked() -> None:
    pen = Pen()
    late = replace(pen.finish(JAN, "T1", "HEELS"), booked_on=FEB.date())
    assert not work([late]).lines
    assert one(work([late], month=2)).day == FEB.date()


def test_shop_without_tax_keeps_the_whole_price() -> None:
    pen = Pen()
    pen.finish(JAN, "T1", "HEELS")
    line = one(work(pen.documents, shop=replace(SHOP, tax_registered=False)))
    assert (line.net, line.tax) == (1400, 0)


def test_ticket_that_is_no_longer_known_still_counts() -> None:
    pen = Pen()
    pen.finish(JAN, "T1", "HEELS")
    books = Books(tickets={}, jobs={}, rules=tax_rules(SHOP, {}), shop=SHOP)
    period = Period(first=date(2026, 1, 1), last=date(2026, 1, 31))
    line = one(work_done(pen.documents, replay(pen.documents, MATERIALS).entries, books, period))
    assert (line.job, line.net, line.minutes) == ("HEELS", 1157, 0)
