"""Cost layers against worked examples printed elsewhere. Amounts are pieces; money in thousandths of a cent."""

from datetime import datetime, timedelta
from fractions import Fraction

import pytest

from stockroom.stock.layers import Costing, closing, replay
from stockroom.stock.moves import Document, DocumentKind, Move, MoveKind
from stockroom.stock.quantities import NANO

DAY = datetime(2026, 1, 31)
CENT = 1000  # thousandths
Money = Fraction | int
UNIT = 100 * CENT  # one unit of money


def book(events: list[tuple[int, int | None]]) -> list[Document]:
    """Arrivals (pieces, price each) and issues (-pieces, None), one document each, one minute after another."""
    made = []
    for number, (pieces, price) in enumerate(events, start=1):
        when = DAY + timedelta(minutes=number)
        kind = MoveKind.JOB_USE if price is None else MoveKind.DELIVERY
        value = None if price is None else pieces * price * UNIT
        line = Move(material="x", nano=pieces * NANO, kind=kind, happened=when, value=value)
        made.append(
            Document(kind=DocumentKind.FINISH, key=str(number), happened=when, entered=DAY, moves=(line,), id=number)
        )
    return made


def costs(events: list[tuple[int, int | None]], method: str) -> tuple[Money, Money]:
    """Cost of what was issued and of what is left."""
    costing: Costing = replay(book(events), {}, method=method)
    issued = -sum(e.value for e in costing.entries if e.kind is MoveKind.JOB_USE)
    left = sum(s.value for s in closing(costing))
    return Fraction(issued, UNIT), Fraction(left, UNIT)


GRAHAM: list[tuple[int, int | None]] = [(440, 5), (740, 6), (-810, None), (940, 7), (-840, None)]


def test_perpetual_fifo() -> None:
    """Source: 'Graham Company' exercise (Weygandt, Kimmel), answer printed at wizedu.com/questions/575300."""
    assert costs(GRAHAM, "fifo") == (9930, 3290)


def test_perpetual_moving_average() -> None:
    """Source: as above: 10,112 and 3,108 in whole money, after unit costs of 5.627 and 6.612."""
    issued, left = costs(GRAHAM, "average")
    assert (round(issued), round(left)) == (10112, 3108)
    assert issued + left == 13220
    after_two, after_four = costs(GRAHAM[:2], "average")[1] / 1180, costs(GRAHAM[:4], "average")[1] / 1310
    assert (round(float(after_two), 3), round(float(after_four), 3)) == (5.627, 6.612)


def test_moving_average_unit_cost_after_each_event() -> None:
    """Source: 'Sweet Acacia' exercise, tutorsglobe question 52814588: 71, 71, 74, 74, 79.71, 79.71."""
    events: list[tuple[int, int | None]] = [(8, 71), (-6, None), (3, 76), (-3, None), (5, 82), (-3, None)]
    on_hand = [8, 2, 5, 2, 7, 4]
    units = [round(float(costs(events[: n + 1], "average")[1] / pieces), 2) for n, pieces in enumerate(on_hand)]
    assert units == [71, 71, 74, 74, 79.71, 79.71]


EZ: list[tuple[int, int | None]] = [(12, 100), (45, 103), (50, 104), (20, 105), (-102, None)]


def test_all_bought_before_all_issued_fifo() -> None:
    """Source: 'EZ Slide snowboards' exercise, answer.ya.guru question 770312."""
    assert costs(EZ, "fifo") == (10515, 2620)


def test_all_bought_before_all_issued_average() -> None:
    """Source: as above, 10,549.25 and 2,585.75 after rounding the unit cost to 103.43; ours is not rounded."""
    issued, left = costs(EZ, "average")
    assert issued + left == 13135
    assert float(issued) == pytest.approx(10549.25, abs=102 * 0.005)  # half a cent of unit cost on 102 pieces
    assert float(left) == pytest.approx(2585.75, abs=25 * 0.005)


PERIODIC: list[tuple[int, int | None]] = [(55, 26), (130, 28), (95, 29), (65, 31), (-255, None)]
SALES = 95 * 45 + 55 * 50 + 105 * 50


def test_fifo_and_average_cost_of_sales_and_gross_profit() -> None:
    """Source: a 345-unit exercise, answer.ya.guru question 3369911: 7,100/2,740/5,175 and 7,273/2,567/5,002.

    The page then calls 7,100/12,275 = 57.8 % a gross margin; that is cost over sales. The margin is 42.2 %.
    """
    issued, left = costs(PERIODIC, "fifo")
    assert (issued, left, SALES - issued) == (7100, 2740, 5175)
    assert float(1 - issued / SALES) == pytest.approx(0.422, abs=5e-4)
    issued, left = costs(PERIODIC, "average")
    assert (round(issued), round(left), round(SALES - issued)) == (7273, 2567, 5002)


def test_fifo_and_moving_average_of_a_textbook_company() -> None:
    """Source: OpenStax Principles of Accounting vol. 1 ch. 10; figures from memory, recomputed."""
    events: list[tuple[int, int | None]] = [(150, 21), (-120, None), (225, 27), (-180, None), (210, 33)]
    assert costs(events, "fifo") == (7200, 8955)
    assert round(float(costs(events[:3], "average")[1] / 255), 2) == 26.29
    assert round(float(costs(events, "average")[1] / 285), 2) == 31.24


@pytest.mark.parametrize(
    ("in_book", "counted", "short"), [(73200, 72980, 220), (535500, 504580, 30920), (41300, 39800, 1500)]
)
def test_count_below_the_book_is_charged_at_cost(in_book: int, counted: int, short: int) -> None:
    """Source: tutorialsmagnet.com; qammunity question 6655017; smartsolve exercise 5-14 (pieces at 1 of money)."""
    later = DAY + timedelta(hours=1)
    found = Move(material="x", nano=(counted - in_book) * NANO, kind=MoveKind.COUNT, happened=later)
    document = Document(kind=DocumentKind.COUNT, key="2", happened=DAY, entered=DAY, moves=(found,), id=2)
    costing = replay([*book([(in_book, 1)]), document], {})
    assert -sum(e.value for e in costing.entries if e.kind is MoveKind.COUNT) == short * UNIT
    assert sum(s.value for s in closing(costing)) == counted * UNIT
