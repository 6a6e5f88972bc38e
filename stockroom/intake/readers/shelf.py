"""Opening stock, counter sales and waste."""

from collections.abc import Iterable

from stockroom.intake.loaded import OpeningLine, SaleLine, WasteLine
from stockroom.intake.readers.rows import Context, Keys, Seen, amount
from stockroom.intake.tables import Line
from stockroom.stock.moves import MoveKind


def read_opening(lines: Iterable[Line], context: Context) -> list[OpeningLine]:
    """Read opening stock."""
    found, seen = [], Seen(context, "This opening stock")
    for line in lines:
        held = amount(line, context)
        if line.bad or held is None:
            continue
        opening = OpeningLine(
            key=f"opening:{line['material']}:{line['day']}:{line['lot']}",
            material=line["material"],
            amount=held,
            day=line["day"],
            value=line["value"],
            lot=line["lot"],
            expiry=line["expiry"],
        )
        if not seen.again(line, opening.key, opening) and held.nano:
            found.append(opening)
    return found


def read_sales(lines: Iterable[Line], context: Context) -> list[SaleLine]:
    """Read sales over the counter."""
    found, keys = [], Keys("sale", context)
    for line in lines:
        sold = amount(line, context)
        if line.bad or sold is None:
            continue
        key = keys.key(line, line["when"], line["material"], sold.nano, line["price"], line["receipt"])
        if key is None:
            continue
        found.append(
            SaleLine(
                key=key,
                when=line["when"],
                material=line["material"],
                amount=sold,
                price=line["price"],
                receipt=line["receipt"],
            )
        )
    return found


def read_waste(lines: Iterable[Line], context: Context) -> list[WasteLine]:
    """Read waste, expiry and own use."""
    found, keys = [], Keys("waste", context)
    for line in lines:
        lost = amount(line, context)
        if line.bad or lost is None:
            continue
        kind = MoveKind(line["kind"] or MoveKind.WASTE)
        key = keys.key(line, line["when"], line["material"], lost.nano, kind, line["reason"], line["lot"])
        if key is None:
            continue
        found.append(
            WasteLine(
                key=key,
                when=line["when"],
                material=line["material"],
                amount=lost,
                kind=kind,
                reason=line["reason"],
                lot=line["lot"],
            )
        )
    return found
