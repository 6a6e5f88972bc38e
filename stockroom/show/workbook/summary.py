"""Opening, what came and went, and closing, by family."""

from decimal import Decimal

from stockroom.margins.accounts import Accounts
from stockroom.margins.valuation import COLUMNS, Roll
from stockroom.phrases import joined, phrase
from stockroom.show.formats import formats_of
from stockroom.show.workbook_page import (
    CellKind,
    Check,
    Page,
    SheetColumn,
    Value,
    WorkbookSheet,
    Worked,
    money_of,
    taxed_words,
)
from stockroom.stock.money import milli_to_minor

_FIRST, _LAST = "B", chr(ord("B") + len(COLUMNS) + 1)  # opening … rounding; closing stands right of them
_CLOSING = chr(ord(_LAST) + 1)


def _fill(accounts: Accounts) -> Page:
    money, day = money_of(accounts), formats_of(accounts.shop).day
    families: dict[str, list[Roll]] = {}
    for roll in accounts.rolls:
        families.setdefault(roll.material.family, []).append(roll)
    figures = {name: _figures(rolls) for name, rolls in families.items()}
    whole = _figures(accounts.rolls)
    rows = [_row(name, [money.coins(f) for f in sums], accounts) for name, sums in sorted(figures.items())]
    rests = [
        money.coins(sums) - sum((money.coins(f[n]) for f in figures.values()), Decimal(0))
        for n, sums in enumerate(whole)
    ]
    rows.append(_row(phrase("Rounding"), rests, accounts))
    return Page(
        intro=joined(
            [
                phrase(
                    "%(shop)s: stock from %(first)s to %(last)s, in %(currency)s, %(taxed)s. Minus: leaves the shelf.",
                    shop=accounts.shop.name,
                    first=day(accounts.period.first),
                    last=day(accounts.period.last),
                    currency=accounts.shop.currency,
                    taxed=taxed_words(accounts),
                ),
                _in_progress(accounts),
            ]
        ),
        columns=_columns(),
        rows=rows,
        checks=(
            Check(what="Summary: every line comes to its closing", formula="[Summary|Check]"),
            Check(
                what="Summary: closing is the ledger's value",
                formula=f"[Summary|Closing]-{money.coins(accounts.closing)}",
            ),
            Check(
                what="Summary: opening is the ledger's value",
                formula=f"[Summary|Opening]-{money.coins(accounts.opening)}",
            ),
        ),
    )


def _in_progress(accounts: Accounts) -> str:
    """Say what unfinished work has used, which stands on none of the lines: it left the shelf and is no cost yet."""
    if not any(accounts.in_progress):
        return ""
    before, after = (formats_of(accounts.shop).money(milli_to_minor(value)) for value in accounts.in_progress)
    return phrase(
        "Work in progress (used on tickets that are not finished): %(before)s at the beginning, %(after)s at the end.",
        before=before, after=after,
    )  # fmt: skip


def _columns() -> tuple[SheetColumn, ...]:
    sums = ("opening", *COLUMNS, "rounding", "closing")
    return (
        SheetColumn(title="Family", width=18, ours=True),
        *(SheetColumn(title=name.capitalize(), kind=CellKind.COINS, width=12, total=True) for name in sums),
        SheetColumn(title="Check", kind=CellKind.WORKED, width=8, total=True),
    )


def _figures(rolls: "list[Roll] | tuple[Roll, ...]") -> list[int]:
    """Sum opening, each column and closing, in thousandths of the minor unit."""
    flows = [sum(roll.flows.get(name, (0, 0))[1] for roll in rolls) for name in COLUMNS]
    return [sum(roll.opening[1] for roll in rolls), *flows, sum(roll.closing[1] for roll in rolls)]


def _row(name: str, figures: list[Decimal], accounts: Accounts) -> list[Value]:
    """Write a family: rounded figures, and what rounding left so that the line adds up."""
    *parts, closing = figures
    check = f"=ROUND(SUM({_FIRST}{{row}}:{_LAST}{{row}})-{_CLOSING}{{row}},{accounts.shop.currency_digits})"
    return [name, *parts, closing - sum(parts, Decimal(0)), closing, Worked(check, Decimal(0))]


SHEET = WorkbookSheet(name="Summary", place=10, fill=_fill)
