from datetime import date, datetime

import numpy as np
import pytest

from stockroom.demo.dice import Dice
from stockroom.demo.truth import booked, factor, real
from stockroom.stock.quantities import NANO
from stockroom.stock.shoe_sizes import shoe_size
from stockroom.stock.tickets import Ticket

LATE = date(2026, 6, 2)


def _ticket(job: str, **more: object) -> Ticket:
    facts = {"number": "1", "job": job, "taken_in": datetime(2026, 6, 2, 10), "chosen": {"colour": "black"}}
    return Ticket(**(facts | more))  # type: ignore[arg-type]


def _mean_real(ticket: Ticket, material: str, times: int = 3000) -> float:
    dice = Dice(np.random.default_rng(3))
    return sum(use.nano for _ in range(times) for use in real(ticket, dice) if use.material == material) / times


@pytest.mark.parametrize(
    ("job", "line", "material", "card"),
    [
        ("HALF", "sole cement", "CEM-SOLV", 11.0),  # two coats of 5.5 ml at the reference size
        ("STITCH", "upper thread", "THREAD-BLK", 3.5),
        ("EYELET", "eyelets", "EYELET-BLK", 6.0),
        ("HALF", "half sole, rubber", "HALF-RUB-42", 2.0),
    ],
)
def test_real_use_averages_the_first_card_times_its_factor(job: str, line: str, material: str, card: float) -> None:
    ticket = _ticket(job, size=shoe_size("EU 42"))
    assert _mean_real(ticket, material) / NANO == pytest.approx(card * factor(job, line), rel=0.02)


def test_a_line_used_now_and_then_is_used_whole_or_not_at_all() -> None:
    dice = Dice(np.random.default_rng(3))
    ticket = _ticket("FULL", size=shoe_size("EU 42"))
    drawn = [sum(use.nano for use in real(ticket, dice) if use.material == "SHANK") for _ in range(400)]
    assert set(drawn) == {0, 2 * NANO}
    assert sum(drawn) / len(drawn) / NANO == pytest.approx(0.5, abs=0.15)


def test_the_book_follows_the_card_of_the_day() -> None:
    ticket = _ticket("HALF", size=shoe_size("EU 42"))
    before, after = (
        next(need.nano for need in booked(ticket, day) if need.line == "sole cement")
        for day in (date(2025, 2, 3), date(2025, 2, 4))
    )
    assert (before, after) == (11 * NANO, 12 * NANO)


def test_no_card_holds_before_the_first() -> None:
    with pytest.raises(ValueError, match="no card"):
        booked(_ticket("HALF", size=shoe_size("EU 42")), date(2023, 10, 31))
