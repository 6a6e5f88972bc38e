"""What a sheet of the accountant's workbook consists of; how it becomes cells or CSV is not its business."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Generic, Self, TypeVar, overload

from stockroom.margins.accounts import Accounts
from stockroom.phrases import as_phrase, phrase
from stockroom.stock.materials import Material
from stockroom.stock.money import MILLI, major, milli_to_minor

# What a cell holds. Text in a column of figures is a formula of our own, such as '=B{row}-C{row}'.
Value = str | int | Decimal | date | datetime | None


class Worked(str):
    """A formula of our own, such as '=B{row}-C{row}', and what it comes to: plain files hold the value."""

    value: Decimal | None
    __slots__ = ("value",)

    def __new__(cls, formula: str, value: Decimal | None) -> Self:
        """Make the formula; its value is None where the cell stays empty."""
        made = super().__new__(cls, formula)
        made.value = value
        return made


class CellKind(StrEnum):
    """What a column holds, and so how it is written."""

    TEXT = "text"
    DAY = "day"
    MOMENT = "moment"
    WHOLE = "whole number"
    AMOUNT = "amount"  # in the unit named beside it
    COINS = "money"  # whole minor units, shown in major ones
    FINE = "fine money"  # to a thousandth of the minor unit
    SHARE = "share"
    WORKED = "formula"  # always worked out; shown as money


Item = TypeVar("Item")


class Rows(Sequence[Sequence[Value]], Generic[Item]):
    """The lines of a long sheet, made as they are written: a year of them need not lie in memory twice."""

    def __init__(self, items: Sequence[Item], make: Callable[[Item], Sequence[Value]]) -> None:
        self.items = items
        self.make = make

    def __len__(self) -> int:
        return len(self.items)

    @overload
    def __getitem__(self, at: int) -> Sequence[Value]: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[Sequence[Value]]: ...
    def __getitem__(self, at: int | slice) -> Sequence[Value] | Sequence[Sequence[Value]]:
        return [self.make(item) for item in self.items[at]] if isinstance(at, slice) else self.make(self.items[at])


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetColumn:
    """A heading, what is under it, how wide it is, whether it is added up, and whether its words are ours."""

    title: str
    kind: CellKind = CellKind.TEXT
    width: int = 12
    total: bool = False
    ours: bool = False  # names of kinds, units, reasons: said in the shop's language, as headings are


# Columns that several sheets share.
OF_A_MATERIAL = (
    SheetColumn(title="Family", width=16, ours=True),
    SheetColumn(title="Code", width=14),
    SheetColumn(title="Material", width=34),
)
ON_THE_SHELF = (
    *OF_A_MATERIAL,
    SheetColumn(title="Amount", kind=CellKind.AMOUNT, width=13),
    SheetColumn(title="Unit", width=8, ours=True),
)


def taxed(net: str) -> tuple[SheetColumn, ...]:
    """Give the columns of an amount of money with its tax: net, rate, tax, gross."""
    return (
        SheetColumn(title=net, kind=CellKind.COINS, width=13, total=True),
        SheetColumn(title="Tax %", kind=CellKind.AMOUNT, width=8),
        SheetColumn(title="Tax", kind=CellKind.COINS, width=12, total=True),
        SheetColumn(title="Gross", kind=CellKind.WORKED, width=13, total=True),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A sum that must come to nothing.

    `formula` names totals as [Sheet|Column], such as '[Valuation|Cost]-[Summary|Closing]'; figures stand in major
    units.
    """

    what: str
    formula: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A sheet filled: sentences on top, columns, rows, and the checks its totals must pass."""

    columns: tuple[SheetColumn, ...]
    rows: Sequence[Sequence[Value]]
    intro: str = ""
    checks: tuple[Check, ...] = ()
    wrap: bool = False  # long words break over lines, and rows grow
    pictures: tuple[bytes, ...] = ()  # PNG, below each other


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkbookSheet:
    """One sheet: its name on the tab, its place among the others, and how it is filled."""

    name: str
    place: int
    fill: Callable[[Accounts], Page]
    portrait: bool = False


@dataclass(frozen=True, slots=True)
class Money:
    """A shop's money in major units, exact."""

    digits: int = field(default=2)

    def coins(self, milli: int) -> Decimal:
        """Give a cost rounded to whole minor units."""
        return major(milli_to_minor(milli), self.digits)

    def minor(self, minor: int) -> Decimal:
        """Give whole minor units."""
        return major(minor, self.digits)

    def fine(self, milli: int) -> Decimal:
        """Give a cost as it is kept, to a thousandth of the minor unit."""
        return major(milli, self.digits) / MILLI


def money_of(accounts: Accounts) -> Money:
    """Give the shop's money."""
    return Money(accounts.shop.currency_digits)


def taxed_words(accounts: Accounts) -> str:
    """Say whether what things cost has tax in it."""
    return phrase("before tax" if accounts.shop.tax_registered else "with the tax that can't be recovered")


def job_of(accounts: Accounts, code: str) -> str:
    """Name a job as the price list does."""
    job = accounts.jobs.get(code)
    return job.name if job else code or phrase("not named")


def amount_of(nano: int, material: Material) -> Decimal:
    """Give an amount in the material's own unit, to nine decimals."""
    return round(material.unit.count(nano), 9)


def share_of(share: Fraction | None) -> Decimal | None:
    """Give a share as a decimal, to six places."""
    return None if share is None else round(Decimal(share.numerator) / Decimal(share.denominator), 6)


def rounding_row(columns: Sequence[SheetColumn], label: str, rests: Sequence[Decimal | None]) -> list[Value]:
    """Make the line that takes what rounding left, so that the total is the ledger's."""
    values: list[Value] = [None] * len(columns)
    values[0] = as_phrase(label)
    for n, rest in enumerate(rests):
        if rest is not None:
            values[n] = rest
    return values
