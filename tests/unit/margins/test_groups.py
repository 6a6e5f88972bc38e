from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from stockroom.margins.groups import by_money_lost, grouped, mean_interval
from stockroom.margins.income import JobLine

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
