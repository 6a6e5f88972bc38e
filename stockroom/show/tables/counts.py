"""How a count differs from the book, and the accuracy of the stock record: tables and spreadsheets."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from stockroom.counting.reconcile import Difference
from stockroom.show.formats import Formats, unit_word
from stockroom.show.layout import Head, TableLine, wrap
from stockroom.show.spreadsheet import (
    Heading,
    finish_list,
    money_format,
    new_book,
    put_headings,
    put_number,
    put_text,
    put_time,
    saved,
    set_page,
)
from stockroom.show.tables.listing import table
from stockroom.stock.money import major
from stockroom.stock.quantities import Unit

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet


_TABLE = (
    Head(text="Location"),
    Head(text="Code"),
    Head(text="Material", flexible=True),
    Head(text="Counted", right=True),
    Head(text="Book", right=True),
    Head(text="Difference", right=True),
    Head(text="Unit"),
    Head(text="%", right=True),
    Head(text="Value", right=True),
    Head(text="ABC class"),
    Head(text="Result"),
    Head(text="Reason"),
)
_HEADINGS = (
    ("Location", 12), ("Code", 14), ("Material", 34), ("Counted at", 17), ("Counted", 11), ("Book", 11),
    ("Difference", 11), ("Unit", 8), ("Share", 9), ("Value", 11), ("ABC class", 7), ("Result", 20), ("Reason", 18),
    ("Why", 44),
)  # fmt: skip
_RIGHT = {"Counted", "Book", "Difference", "Share", "Value"}


def differences_table(sheet: str, rows: Sequence[Difference], formats: Formats, *, width: int | None = 80) -> str:
    """Draw a sheet's differences, the bins to be counted again marked, with their sum."""
    drawn = table(
        f"Count sheet {sheet} against the book", _TABLE, [_line(row, formats) for row in rows],
        empty="Nothing was counted.", width=width,
    )  # fmt: skip
    return f"{drawn}\n{summary(rows, formats)}\n"


def summary(rows: Sequence[Difference], formats: Formats) -> str:
    """Say in a sentence what the differences come to."""
    held = [row.bin.material.code for row in rows if row.held]
    net, gross = sum(row.value for row in rows), sum(abs(row.value) for row in rows)
    right = sum(row.right for row in rows)
    said = f"{right} of {len(rows)} items right; differences {formats.money(net)} net, {formats.money(gross)} in total."
    return f"{said} Count again first: {', '.join(held)}." if held else said


def _line(row: Difference, formats: Formats) -> TableLine:
    material = row.bin.material
    verdict = _verdict(row)
    cells = (
        material.place,
        material.code,
        material.name,
        formats.bare(row.bin.found, material.unit),
        formats.bare(row.bin.booked, material.unit),
        formats.bare(row.amount, material.unit),
        unit_word(material.unit),
        "" if row.share is None else formats.percent(float(row.share), 1),
        formats.money(row.value),
        str(row.bin.grade),
        f"! {verdict}" if row.held else verdict,
        str(row.bin.line.reason) if row.amount else "",
    )
    return TableLine(cells=cells, notes=(f"{row.why[:1].upper()}{row.why[1:]}.",) if row.held else ())


def _verdict(row: Difference) -> str:
    return "settled" if row.settled else str(row.verdict)


def differences_xlsx(sheet: str, rows: Sequence[Difference], formats: Formats) -> bytes:
    """Write a sheet's differences as a spreadsheet."""
    book, page = new_book("Differences")
    put_headings(page, 1, [Heading(text=text, width=width, right=text in _RIGHT) for text, width in _HEADINGS])
    for number, row in enumerate(rows, 2):
        _put(page, number, row, formats)
    finish_list(page, 1, len(_HEADINGS))
    set_page(page, f"Count sheet {sheet} against the book", heading_row=1)
    return saved(book)


def _put(page: "Worksheet", number: int, row: Difference, formats: Formats) -> None:
    column = {heading: n for n, (heading, _) in enumerate(_HEADINGS, 1)}
    material, line = row.bin.material, row.bin.line
    texts = {
        "Location": material.place, "Code": material.code, "Material": material.name, "Unit": unit_word(material.unit),
        "ABC class": str(row.bin.grade), "Result": _verdict(row), "Reason": str(line.reason), "Why": row.why,
    }  # fmt: skip
    for heading, text in texts.items():
        put_text(page, (number, column[heading]), text)
    put_time(page, (number, column["Counted at"]), line.counted)
    for heading, nano in (("Counted", row.bin.found), ("Book", row.bin.booked), ("Difference", row.amount)):
        put_number(page, (number, column[heading]), material.unit.count(nano))
    money = money_format(formats.digits)
    put_number(page, (number, column["Value"]), major(row.value, formats.digits), number_format=money)
    if row.share is not None:
        share = material.unit.count(round(row.share * material.unit.nano))
        put_number(page, (number, column["Share"]), share, number_format="0.0%")


@dataclass(frozen=True, slots=True, kw_only=True)
class AccuracyRow:
    """Record accuracy in one period; money in minor units."""

    period: str
    first: date  # day of counting
    last: date
    bins: int
    right: int
    net: int
    gross: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ReasonRow:
    """What differences of one reason and family came to; money in minor units."""

    reason: str
    family: str
    bins: int
    net: int
    gross: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftRow:
    """A bin the book is wrong about in one direction, count after count."""

    material: str
    name: str
    unit: Unit
    counts: int
    short: int
    over: int
    average: int  # nano a count
    value: int  # minor units a count
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CountReport:
    """Record accuracy over time."""

    since: date
    until: date
    periods: tuple[AccuracyRow, ...]
    reasons: tuple[ReasonRow, ...]
    drifting: tuple[DriftRow, ...]


_PERIODS = (
    Head(text="Period"),
    Head(text="Items counted", right=True),
    Head(text="Right", right=True),
    Head(text="Share", right=True),
    Head(text="Net", right=True),
    Head(text="Total", right=True),
)
_REASONS = (
    Head(text="Reason"),
    Head(text="Family"),
    Head(text="Items", right=True),
    Head(text="Net", right=True),
    Head(text="Total", right=True),
)
_DRIFTS = (
    Head(text="Code"),
    Head(text="Material", flexible=True),
    Head(text="Counts", right=True),
    Head(text="Less", right=True),
    Head(text="More", right=True),
    Head(text="A count", right=True),
    Head(text="Unit"),
    Head(text="Worth", right=True),
)


def report_tables(report: CountReport, formats: Formats, *, width: int | None = 80) -> str:
    """Draw accuracy over time, differences by reason and family, and bins that drift."""
    span = f"{formats.day(report.since)} to {formats.day(report.until)}"
    parts = [
        table(f"Stock record accuracy, {span}", _PERIODS, [_period(p, formats) for p in report.periods],
              empty="Nothing has been counted and posted yet.", width=width),
        table("Count differences by reason and family", _REASONS, [_reason(r, formats) for r in report.reasons],
              empty="No differences.", width=width),
        table("Items the book is wrong about in one direction", _DRIFTS, [_drift(d, formats) for d in report.drifting],
              empty="None.", width=width),
    ]  # fmt: skip
    if report.periods:
        parts.append(wrap("Net: what was found too much, less what was missing. Total: both together.", width))
    return "\n".join(parts)


def _period(row: AccuracyRow, formats: Formats) -> TableLine:
    share = formats.percent(row.right / row.bins) if row.bins else ""
    figures = (formats.number(row.bins), formats.number(row.right), share)
    return TableLine(cells=(row.period, *figures, formats.money(row.net), formats.money(row.gross)))


def _reason(row: ReasonRow, formats: Formats) -> TableLine:
    figures = (formats.number(row.bins), formats.money(row.net), formats.money(row.gross))
    return TableLine(cells=(row.reason, row.family, *figures))


def _drift(row: DriftRow, formats: Formats) -> TableLine:
    cells = (
        row.material,
        row.name,
        formats.number(row.counts),
        formats.number(row.short),
        formats.number(row.over),
        formats.bare(row.average, row.unit),
        unit_word(row.unit),
        formats.money(row.value),
    )
    return TableLine(cells=cells)


def report_xlsx(report: CountReport, formats: Formats) -> bytes:
    """Write the report as a workbook of three sheets."""
    book, page = new_book("Accuracy")
    money = ("Net", "Total", "Worth")
    rows = [(p.period, p.bins, p.right, p.right / p.bins if p.bins else 0, p.net, p.gross) for p in report.periods]
    _fill(page, [head.text for head in _PERIODS], rows, money, formats)
    _fill(
        book.create_sheet("Reasons"), [head.text for head in _REASONS],
        [(r.reason, r.family, r.bins, r.net, r.gross) for r in report.reasons], money, formats,
    )  # fmt: skip
    drifting = [
        (d.material, d.name, d.counts, d.short, d.over, d.unit.count(d.average), unit_word(d.unit), d.value)
        for d in report.drifting
    ]
    _fill(book.create_sheet("Drifting"), [head.text for head in _DRIFTS], drifting, money, formats)
    return saved(book)


def _fill(
    page: "Worksheet", heads: Sequence[str], rows: Sequence[Sequence[object]], money: Sequence[str], formats: Formats
) -> None:
    put_headings(page, 1, [Heading(text=head, width=14, right=False) for head in heads])
    for number, row in enumerate(rows, 2):
        for column, (head, value) in enumerate(zip(heads, row, strict=True), 1):
            _put_value(page, (number, column), value, formats if head in money else None, share=head == "Share")
    finish_list(page, 1, len(heads))
    set_page(page, page.title, heading_row=1)


def _put_value(page: "Worksheet", at: tuple[int, int], value: object, money: Formats | None, *, share: bool) -> None:
    if isinstance(value, str):
        put_text(page, at, value)
    elif money is not None and isinstance(value, int):
        put_number(page, at, major(value, money.digits), number_format=money_format(money.digits))
    elif isinstance(value, int | float | Decimal):
        put_number(page, at, Decimal(str(value)), number_format="0%" if share else "")
