from dataclasses import replace
from datetime import datetime

import pytest

from stockroom.margins.cutting import Pattern, Yield
from stockroom.margins.yields import own_yield
from stockroom.stock.layers import replay
from stockroom.stock.moves import DocumentKind, MoveKind
from stockroom.stock.quantities import NANO
from stockroom.stock.shoe_sizes import shoe_size
from stockroom.stock.tickets import Ticket
from tests.unit.margins.book import MATERIALS, Pen, line

DAY = datetime(2026, 1, 10)
PATTERN = Pattern(pair_area=5 * NANO, reference=(shoe_size("EU 42"),))


def ticket(size: str | None = "EU 42", shoes: int = 2) -> Ticket:
    return Ticket(number="T1", job="SOLE", taken_in=DAY, shoes=shoes, size=shoe_size(size) if size else None)


def measured(pen: Pen, made: Ticket) -> Yield | None:
    return own_yield(replay(pen.papers, MATERIALS).entries, "BEND", {"SOLE": PATTERN}, {"T1": made})


@pytest.fixture
def pen() -> Pen:
    made = Pen()
    made.deliver(DAY, [("BEND", 100, 6000), ("GLUE", 1000, 1000)])
    made.finish(DAY, "T1", "SOLE")  # draws 6.5 dm2
    return made


def found(result: Yield | None) -> float:
    assert result is not None
    return result.share


def test_without_counts_the_yield_is_the_recipes(pen: Pen) -> None:
    assert found(measured(pen, ticket())) == pytest.approx(5 / 6.5)


def test_what_counts_find_missing_lowers_it_and_offcuts_kept_raise_it(pen: Pen) -> None:
    pen.write(DocumentKind.COUNT, DAY, [line("BEND", -1, MoveKind.COUNT)])
    pen.write(DocumentKind.OFFCUT, DAY, [line("BEND", 0.5, MoveKind.OFFCUT)])
    assert found(measured(pen, ticket())) == pytest.approx(5 / 7)


def test_single_shoe_has_half_the_area(pen: Pen) -> None:
    assert found(measured(pen, ticket(shoes=1))) == pytest.approx(2.5 / 6.5)


def test_work_taken_back_has_cut_nothing(pen: Pen) -> None:
    pen.undo(DAY, pen.papers[-1])
    assert measured(pen, ticket()) is None
    pen.finish(DAY, "T2", "SOLE")
    entries = replay(pen.papers, MATERIALS).entries
    both = own_yield(entries, "BEND", {"SOLE": PATTERN}, {"T1": ticket(), "T2": ticket()})
    assert found(both) == pytest.approx(5 / 6.5)


def test_work_whose_size_cant_be_told_is_left_out(pen: Pen) -> None:
    assert measured(pen, ticket(None)) is None
    assert measured(pen, replace(ticket(), size=shoe_size("UK 8"))) is None
