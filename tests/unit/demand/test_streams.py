from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from stockroom.demand.streams import Streams, streams
from stockroom.stock.quantities import NANO
from stockroom.stock.recipes import Per
from stockroom.stock.tickets import RecipeBox, Ticket, TicketState, by_job
from tests import build

DAY = date(2026, 3, 1)
CODES = tuple(m.code for m in build.materials())


def ticket(number: str, job: str = "RESOLE", **facts: Any) -> Ticket:
    named: dict[str, Any] = {"size": build.size("EU 42")} | facts
    return Ticket(number=number, job=job, taken_in=datetime(2026, 2, 3, 10), **named)


def sorted_out(*tickets: Ticket, extra: tuple[Any, ...] = ()) -> Streams:
    box = RecipeBox(by_job([*build.recipes(), *extra]), build.shelf())
    return streams(tickets, box, DAY, CODES)


def test_a_stream_is_a_job_with_the_parts_it_takes() -> None:
    made = sorted_out(
        ticket("1", chosen={"sole": "rubber"}, size=build.size("EU 38")),
        ticket("2", chosen={"sole": "rubber"}, size=build.size("EU 44")),
        ticket("3", chosen={"sole": "rubber"}, size=build.size("EU 44")),
        ticket("4", chosen={"sole": "leather"}, size=build.size("EU 38")),
        ticket("5", chosen={"sole": "leather"}, size=build.size("EU 44")),
    )
    sizes = [int((made.facts.series == n).sum()) for n in range(len(made.names))]
    assert sorted(sizes) == [1, 2, 2], "two sizes of rubber sole are two streams; the bend serves every size"
    assert set(made.jobs) == {"RESOLE"}


def test_use_is_the_mean_over_the_tickets_of_a_stream() -> None:
    small, large = ticket("1", size=build.size("EU 38")), ticket("2", size=build.size("EU 46"))
    box = RecipeBox(by_job(build.recipes()), build.shelf())
    want = [sum(n.nano for n in box.needs(t, DAY) if n.material == "BEND") / NANO for t in (small, large)]
    assert want[0] < want[1]
    made = sorted_out(small, large)
    assert made.uses[0, CODES.index("BEND")] == pytest.approx(sum(want) / 2)


def test_a_line_used_on_some_jobs_keeps_its_chance() -> None:
    card = build.recipe(
        "HEELS",
        build.line("tips", "TIP", "1 pair"),
        build.line("thread", "THREAD", "6 m", per=Per.JOB, chance=Fraction(1, 3)),
        valid_from=date(2026, 2, 1),
    )
    made = sorted_out(ticket("1", job="HEELS", size=None), extra=(card,))
    (line,) = made.chances
    assert CODES[line.material] == "THREAD"
    assert [line.amount, line.chance] == pytest.approx([6.0, 1 / 3])
    assert made.uses[0, line.material] == pytest.approx(2.0), "the mean use holds the chance"


def test_cancelled_tickets_are_no_demand_and_unclear_ones_are_named() -> None:
    made = sorted_out(
        ticket("1", state=TicketState.CANCELLED),
        ticket("2", size=build.size("UK 8")),
        ticket("3", size=build.size("Mondo 265")),
    )
    assert list(made.unclear) == ["3"]
    assert len(made.facts.series) == 1
    assert made.facts.dates[0] == np.datetime64("2026-02-03")


def test_a_stream_starts_where_the_history_of_its_job_starts() -> None:
    early = ticket("1", size=build.size("EU 42"))
    rare = replace(ticket("2", chosen={"sole": "rubber"}), taken_in=datetime(2026, 2, 24, 10))
    other = replace(ticket("3", job="HEELS", size=None), taken_in=datetime(2026, 2, 17, 10))
    made = sorted_out(early, rare, other)
    began = dict(zip(made.jobs, made.began.astype(object).tolist(), strict=True))
    assert began == {"RESOLE": date(2026, 2, 3), "HEELS": date(2026, 2, 17)}
    assert sorted(made.began.astype(object).tolist()) == [date(2026, 2, 3), date(2026, 2, 3), date(2026, 2, 17)]
