from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal

from stockroom.margins.income import Books, JobLine, Work, work_done
from stockroom.margins.period import Period
from stockroom.stock.layers import replay
from stockroom.stock.moves import Document
from stockroom.stock.shop import Shop
from stockroom.stock.tax import tax_rules
from tests.unit.margins.book import JOBS, MATERIALS, Pen, tickets_of

JAN, FEB = datetime(2026, 1, 10), datetime(2026, 2, 10)
SHOP = Shop(card_fee=Decimal("1.5"), bench_hour_rate=Decimal(30))


def work(papers: list[Document], month: int = 1, shop: Shop = SHOP) -> Work:
    books = Books(tickets=tickets_of(papers), jobs=JOBS, rules=tax_rules(shop, {}), shop=shop)
    period = Period(first=date(2026, month, 1), last=date(2026, month, 28))
    return work_done(papers, replay(papers, MATERIALS).entries, books, period)


def one(found: Work) -> JobLine:
    (line,) = found.lines
    return line


def test_job_earns_its_net_price_less_what_it_used() -> None:
    pen = Pen()
    pen.deliver(JAN, [("HEEL", 10, 900), ("GLUE", 1000, 1000)])
    pen.finish(JAN, "T1", "HEELS")
    line = one(work(pen.papers))
    assert (line.net, line.tax) == (1157, 243)  # 14.00 with 21 % in it
    assert line.materials == 94_000  # a pair at 0.90 and 4 ml at 0.01
    assert line.fee == 21_000  # 1.5 % of 14.00
    assert line.bench == 600_000  # 12 minutes at 30.00 an hour
    assert line.margin == 1_157_000 - 94_000 - 21_000


def test_provisional_cost_is_named_and_trued_up_in_its_own_month() -> None:
    pen = Pen()
    pen.finish(JAN, "T1", "HEELS")
    assert one(work(pen.papers)).provisional == one(work(pen.papers)).materials == 94_000
    pen.deliver(FEB, [("HEEL", 10, 1000), ("GLUE", 1000, 1000)])
    assert one(work(pen.papers)).materials == 94_000
    assert work(pen.papers, month=2).earlier == 10_000


def test_job_taken_back_the_same_month_leaves_no_trace() -> None:
    pen = Pen()
    pen.undo(JAN, pen.finish(JAN, "T1", "HEELS"))
    assert work(pen.papers) == Work(lines=(), earlier=0)


def test_job_taken_back_later_is_a_minus_there_and_stays_here() -> None:
    pen = Pen()
    done = pen.finish(JAN, "T1", "HEELS")
    before = work(pen.papers)
    pen.undo(FEB, done)
    assert work(pen.papers) == before
    back = one(work(pen.papers, month=2))
    assert (back.count, back.net, back.materials) == (-1, -1157, -94_000)


def test_redone_work_costs_and_earns_nothing() -> None:
    pen = Pen()
    pen.finish(JAN, "T1", "HEELS", redo=True)
    line = one(work(pen.papers))
    assert (line.redo, line.net, line.margin) == (True, 0, -94_000)


def test_late_paper_counts_on_the_day_it_is_booked() -> None:
    pen = Pen()
    late = replace(pen.finish(JAN, "T1", "HEELS"), booked_on=FEB.date())
    assert not work([late]).lines
    assert one(work([late], month=2)).day == FEB.date()


def test_shop_without_tax_keeps_the_whole_price() -> None:
    pen = Pen()
    pen.finish(JAN, "T1", "HEELS")
    line = one(work(pen.papers, shop=replace(SHOP, tax_registered=False)))
    assert (line.net, line.tax) == (1400, 0)


def test_ticket_that_is_no_longer_known_still_counts() -> None:
    pen = Pen()
    pen.finish(JAN, "T1", "HEELS")
    books = Books(tickets={}, jobs={}, rules=tax_rules(SHOP, {}), shop=SHOP)
    period = Period(first=date(2026, 1, 1), last=date(2026, 1, 31))
    line = one(work_done(pen.papers, replay(pen.papers, MATERIALS).entries, books, period))
    assert (line.job, line.net, line.minutes) == ("HEELS", 1157, 0)
