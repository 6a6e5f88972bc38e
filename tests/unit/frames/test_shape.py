"""A frame is made as it was declared, or not at all."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.frames.shape import FrameError, Holds, Shape, facts, field, made
from stockroom.stock.money import major
from stockroom.stock.quantities import LIMIT, UNITS, Unit
from stockroom.stock.tickets import TicketState


@dataclass(frozen=True, kw_only=True)
class Row:
    name: str
    amount: int | None = 0
    unit: Unit = UNITS["pair"]
    price: int | None = 0
    cost: int | None = 0
    day: date | str | None = None
    at: datetime | str | None = None
    state: str = "booked"
    worth: float = 0.0
    packs: int | None = None


SHAPE = Shape(
    name="things",
    row="A thing.",
    index=("name",),
    fields=(
        field("name", Holds.TEXT, "Its name."),
        field("amount", Holds.AMOUNT, "How much."),
        field("unit", Holds.UNIT, "In what."),
        field("price", Holds.MONEY, "For what."),
        field("cost", Holds.COST, "At what cost."),
        field("day", Holds.DAY, "On which day."),
        field("at", Holds.MOMENT, "At which moment."),
        field("state", Holds.CHOICE, "Where it stands.", choices=TicketState),
        field("worth", Holds.WORTH, "An estimate."),
        field("packs", Holds.MAYBE_NUMBER, "How many packs."),
    ),
)
nanos = st.integers(-LIMIT, LIMIT)
minors = st.integers(-(10**12), 10**12)


def frame(*rows: Row, digits: int = 2, **written: object) -> pd.DataFrame:
    return made(SHAPE, facts(SHAPE, rows), digits=digits, **written)  # type: ignore[arg-type]


@given(amounts=st.lists(st.none() | nanos, max_size=8), unit=st.sampled_from(list(UNITS.values())))
def test_amounts_are_in_the_rows_unit_and_exact_beside_it(amounts: list[int | None], unit: Unit) -> None:
    found = frame(*(Row(name=str(n), amount=nano, unit=unit) for n, nano in enumerate(amounts)), exact=True)
    assert found["amount_nano"].dtype == "Int64"
    assert [None if pd.isna(nano) else int(nano) for nano in found["amount_nano"]] == amounts
    for amount, nano in zip(found["amount"], amounts, strict=True):
        assert pd.isna(amount) if nano is None else amount == pytest.approx(float(unit.count(nano)), rel=1e-15)


@given(money=st.lists(st.tuples(minors, minors), min_size=1, max_size=8), digits=st.sampled_from([0, 2, 3]))
def test_money_is_exact_as_decimals_and_near_as_floats(money: list[tuple[int, int]], digits: int) -> None:
    rows = [Row(name=str(n), price=price, cost=cost) for n, (price, cost) in enumerate(money)]
    exact, near = frame(*rows, digits=digits, money="decimal"), frame(*rows, digits=digits)
    assert exact["price"].tolist() == [major(price, digits) for price, _ in money]
    assert sum(exact["cost"]) == major(sum(cost for _, cost in money), digits) / 1000
    assert near["price"].tolist() == pytest.approx([float(major(price, digits)) for price, _ in money])
    assert near["worth"].dtype == exact["worth"].dtype == "float64", "an estimate has no exact decimals"


def test_what_is_not_there_is_missing_and_a_text_is_empty() -> None:
    found = frame(Row(name="", amount=None, price=None, cost=None)).reset_index()
    assert found["name"].tolist() == [""]
    assert found[["amount", "price", "cost", "day", "at", "packs"]].isna().all(axis=None)
    decimals = frame(Row(name="", price=None, cost=None), money="decimal")
    assert decimals[["price", "cost"]].isna().all(axis=None)


def test_days_and_moments_may_be_given_as_the_book_keeps_them() -> None:
    day, at = date(2026, 1, 5), datetime(2026, 1, 5, 9, 30, 15)
    found = frame(Row(name="a", day=day, at=at), Row(name="b", day=day.isoformat(), at=at.isoformat()))
    assert found["day"].tolist() == [pd.Timestamp(day)] * 2
    assert found["at"].tolist() == [pd.Timestamp(at)] * 2


def test_a_closed_list_keeps_all_its_choices() -> None:
    assert list(frame()["state"].cat.categories) == [str(state) for state in TicketState]
    with pytest.raises(FrameError, match="state: \\['lost'\\] was never declared"):
        frame(Row(name="a", state="lost"))


def test_a_name_borne_twice_makes_no_frame() -> None:
    with pytest.raises(FrameError, match="name does not name each row once"):
        frame(Row(name="a"), Row(name="a"))


def test_a_value_that_is_not_of_its_kind_makes_no_frame() -> None:
    with pytest.raises((TypeError, ValueError)):
        frame(Row(name="a", packs="two"))  # type: ignore[arg-type]


def test_decimals_add_up_where_floats_would_not() -> None:
    found = frame(*(Row(name=str(n), price=10) for n in range(3)), money="decimal")
    assert sum(found["price"]) == Decimal("0.30")
