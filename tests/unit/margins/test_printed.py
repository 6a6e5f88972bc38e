"""What is printed adds up as printed; income, tax and age of stock."""

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.margins.accounts import accounts
from stockroom.margins.changes import ChangePart, MarginChange
from stockroom.margins.income import Group, JobLine, grouped, in_coins
from stockroom.margins.period import Period
from stockroom.margins.sales import takings
from stockroom.margins.valuation import BANDS, band_of
from stockroom.show.formats import formats_of
from stockroom.show.tables.money import margin_table, moved_table
from stockroom.show.workbook import job_margins, margins_split, what_moved
from stockroom.stock.money import milli_to_minor, printed
from stockroom.stock.moves import DocumentKind, MoveKind
from stockroom.stock.shop import Shop
from tests.unit.margins.book import MATERIALS, YEAR, Pen, line, sources, year_of_documents

FORMATS = formats_of(Shop())
figures = st.integers(-(10**7), 10**7)


@given(parts=st.lists(figures, max_size=12))
def test_printed_parts_add_up_to_the_printed_whole_and_none_is_a_coin_off(parts: list[int]) -> None:
    shown = printed(parts)
    assert sum(shown) == milli_to_minor(sum(parts))
    assert all(abs(1000 * coin - part) < 1000 for coin, part in zip(shown, parts, strict=True))


@given(before=figures, effects=st.lists(figures, min_size=1, max_size=9))
def test_the_way_between_two_margins_adds_up_as_printed(before: int, effects: list[int]) -> None:
    parts = tuple(ChangePart(name=f"step {n}", effect=effect, by_job={}) for n, effect in enumerate(effects))
    found = MarginChange(before=before, after=before + sum(effects), parts=parts)
    first, shown, last = found.printed
    assert first + sum(shown) == last
    assert (first, last) == (milli_to_minor(found.before), milli_to_minor(found.after))
    assert all(abs(1000 * coin - effect) < 2000 for coin, effect in zip(shown, effects, strict=True))


def _group(name: str, income: int, materials: int, fee: int, post: int) -> Group:
    return Group(
        measured=0, hour_least=None, hour_most=None,
        name=name, count=1, income=income, materials=materials, fee=fee, post=post, bench=0, minutes=0,
        least=None, most=None, lost=0,
    )  # fmt: skip


@given(rows=st.lists(st.tuples(*[st.integers(0, 10**6)] * 4), min_size=1, max_size=8))
def test_margins_add_up_along_the_line_and_down_the_column_as_printed(rows: list[tuple[int, int, int, int]]) -> None:
    groups = [_group(f"J{n}", *row) for n, row in enumerate(rows)]
    whole = _group("All", *(sum(column) for column in zip(*rows, strict=True)))
    text = margin_table("Margins", groups, {}, FORMATS, whole=whole, width=None)
    lines = [
        [_coins(cell) for cell in re.split(r"\s{2,}", row.strip())]
        for row in text.splitlines()
        if re.match(r"\s*(J\d|All)\s", row)
    ]
    printed_rows = [[cell for cell in cells if cell is not None] for cells in lines]
    assert all(row[0] - sum(row[1:-1]) == row[-1] for row in printed_rows)
    assert [sum(column) for column in zip(*printed_rows[:-1], strict=True)] == printed_rows[-1]


def _coins(cell: str) -> int | None:
    """Read an amount of money as printed; None for anything else."""
    found = re.fullmatch(r"-?€[\d,]+\.\d\d", cell.replace("−", "-"))
    return int(re.sub(r"[€,.]", "", found[0])) if found else None


def test_table_of_what_moved_says_where_joint_effects_fall() -> None:
    found = MarginChange(before=1400, after=3300, parts=(ChangePart(name="prices charged", effect=1900, by_job={}),))
    text = moved_table("t", found, {}, FORMATS, width=None)
    assert "falls to the later one" in " ".join(text.split())


def _money(cells: Sequence[object]) -> list[Decimal]:
    assert all(isinstance(cell, Decimal) for cell in cells)
    return [cell for cell in cells if isinstance(cell, Decimal)]


@pytest.mark.parametrize("costing", ["fifo", "average"])
def test_sheets_of_margins_add_up_as_printed(costing: str) -> None:
    """Along each line; down each part of 'Margins split' to the same sums as 'Job margins'; changes to their ends."""
    last = Period(first=date(2026, 7, 1), last=date(2026, 12, 31))
    first = Period(first=date(2026, 1, 1), last=date(2026, 6, 30))
    made = accounts(sources(year_of_documents(400), shop=Shop(costing=costing)), last, against=first)
    jobs = [_money(row[2:6]) for row in job_margins.SHEET.fill(made).rows]
    whole = [sum(column) for column in zip(*jobs, strict=True)]
    split = margins_split.SHEET.fill(made).rows
    assert {row[0] for row in split} == {"month", "size", "choice"}
    for by in ("month", "size", "choice"):
        rows = [_money(row[3:8]) for row in split if row[0] == by]
        assert all(income - sum(less) == margin for income, *less, margin in rows)
        assert [sum(column) for column in zip(*[row[:4] for row in rows], strict=True)] == whole
    assert made.moved is not None
    before, parts, after = made.moved.printed
    shown = _money([row[1] for row in what_moved.SHEET.fill(made).rows])
    assert shown == [Decimal(part) / 100 for part in parts]
    assert sum(shown) == Decimal(after - before) / 100


def test_job_taken_back_in_a_later_month_lost_nothing_there() -> None:
    """Its materials come back as its income goes: a minus of both is no loss beyond the floor."""
    back = JobLine(
        ticket="T1", job="HEELS", day=date(2026, 2, 1), count=-1, redo=False, size="", chosen="", net=-1000, tax=-210,
        uses={"HEEL": (-1, -470_000)},
    )  # fmt: skip
    (group,) = grouped([back], "job", floor=Decimal(70))
    assert (group.count, group.lost) == (-1, 0)
    assert in_coins([group])[0].margin == -530


@pytest.mark.parametrize("costing", ["fifo", "average"])
def test_aged_stock_is_the_valuation_parted_by_age(costing: str) -> None:
    made = accounts(sources(year_of_documents(400), shop=Shop(costing=costing)), YEAR)
    assert [sum(each.parts) + each.waiting for each in made.aged] == [each.value for each in made.valued]
    assert sum(any(each.parts[n] for each in made.aged) for n in range(len(BANDS))) > 1


@pytest.mark.parametrize(("days", "band"), [(0, 0), (90, 0), (91, 1), (180, 1), (181, 2), (365, 2), (366, 3)])
def test_bands_of_age_end_where_they_say(days: int, band: int) -> None:
    assert band_of(date(2026, 12, 31) - timedelta(days=days), date(2026, 12, 31)) == band


@pytest.mark.parametrize("costing", ["fifo", "average"])
def test_what_is_left_is_as_old_as_what_came_last(costing: str) -> None:
    pen = Pen()
    pen.deliver(datetime(2026, 1, 10), [("HEEL", 10, 1000)])
    pen.deliver(datetime(2026, 11, 1), [("HEEL", 10, 1000)])
    pen.write(DocumentKind.WASTE, datetime(2026, 11, 2), [line("HEEL", -8, MoveKind.WASTE)])
    (aged,) = accounts(sources(pen.documents, shop=Shop(costing=costing)), YEAR).aged
    assert aged.parts == (1_000_000, 0, 200_000, 0)


def test_income_and_tax_are_those_of_tickets_and_sales_by_month_and_rate() -> None:
    pen = Pen()
    pen.finish(datetime(2026, 1, 10), "T1", "HEELS")
    sale = pen.write(
        DocumentKind.SALE, datetime(2026, 1, 11), [line("WAX", -2, MoveKind.SALE)], content={"price": 1210}
    )
    pen.write(DocumentKind.SALE, datetime(2026, 2, 11), [line("WAX", -1, MoveKind.SALE)], content={"price": 545})
    pen.undo(datetime(2026, 3, 1), sale)
    book = sources(pen.documents, materials={**MATERIALS, "WAX": replace(MATERIALS["WAX"], tax_rate="9")})
    made = accounts(book, YEAR)
    shown = [(t.month, t.kind, t.per_cent, t.count, t.net, t.tax) for t in takings(made.work.lines, made.sales)]
    assert shown == [
        ("2026-01", "jobs", Decimal(21), 1, 1157, 243),
        ("2026-02", "counter sales", Decimal(9), 1, 500, 45),
    ], "a sale taken back within the period leaves no trace"
    march = accounts(book, Period(first=date(2026, 3, 1), last=date(2026, 3, 31)))
    assert [(s.net, s.tax, s.nano < 0) for s in march.sales] == [(-1110, -100, True)]
