"""Opening stock, counter sales and waste."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Any

from stockroom.errors import UnknownError, UsageError
from stockroom.intake.loaded import OpeningLine, SaleLine, UseLine, WasteLine
from stockroom.intake.tables import Context, Keys, ReadRow, RowsSeen, amount, digest, tax
from stockroom.phrases import as_phrase, phrase
from stockroom.stock.calendar import NOON
from stockroom.stock.counts import Count, CountLine, CountReason
from stockroom.stock.moves import MoveKind
from stockroom.stock.orders import Delivery, DeliveryLine, Order, OrderLine
from stockroom.stock.quantities import Quantity


def read_opening(lines: Iterable[ReadRow], context: Context) -> list[OpeningLine]:
    """Read opening stock."""
    found, seen = [], RowsSeen(context, "This opening stock")
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


def read_sales(lines: Iterable[ReadRow], context: Context) -> list[SaleLine]:
    """Read sales over the counter."""
    found, keys = [], Keys("sale", context)
    for line in lines:
        sold = amount(line, context)
        if line.bad or sold is None:
            continue
        back, post = line["returned"] or "no", line["post cost"]
        more = (back, post) if back != "no" or post is not None else ()  # keys of plain sales stay what they were
        key = keys.key(line, line["when"], line["material"], sold.nano, line["price"], line["receipt"], *more)
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
                returned=back != "no",
                wasted=back == "wasted",
                post_cost=post,
            )
        )
    return found


def read_uses(lines: Iterable[ReadRow], context: Context) -> list[UseLine]:
    """Read what tickets had used before they were finished."""
    found, keys = [], Keys("use", context)
    for line in lines:
        used = amount(line, context)
        if line.bad or used is None:
            continue
        if line["ticket"] not in context.book.tickets:
            error = UnknownError(
                phrase("No ticket has the number '%(number)s'.", number=line["ticket"]),
                fix="Load it too, or correct the number.",
            )
            context.blame(line, error, column="ticket", value=line["ticket"])
            continue
        key = keys.key(line, line["when"], line["ticket"], line["material"], used.nano, line["line"])
        if key is not None:
            facts = {name: line[name] for name in ("when", "ticket", "material", "line")}
            found.append(UseLine(key=key, amount=used, **facts))
    return found


def read_waste(lines: Iterable[ReadRow], context: Context) -> list[WasteLine]:
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


WHEN = phrase(
    "Fill it in, such as 2026-02-07 17:55, so that it is compared with the book of that moment; or say it for the "
    "whole sheet: stockroom count SHEET --at 2026-02-07T17:55."
)


def read_counts(lines: Iterable[ReadRow], context: Context) -> list[Count]:
    """Read counts: rows of one sheet are one count; rows without a sheet, those of one day."""
    sheets: dict[tuple[str, str], list[CountLine]] = {}
    seen = RowsSeen(context, "This item's count")
    for line in lines:
        if line["amount"] is None:
            continue
        found, error = amount(line, context), amount(line, context, column="error")
        when = line["counted at"] or context.counted
        if when is None and not line.bad:
            context.blame(line, UsageError("When the item was counted isn't stated.", fix=WHEN), column="counted at")
            continue
        if line.bad or found is None or when is None:
            continue
        day = "" if line["sheet"] else str(when.date())
        counted = CountLine(
            material=line["material"],
            amount=found,
            counted=when,
            error=error,
            aid=line["aid"],
            who=line["who"],
            reason=CountReason(line["reason"] or CountReason.OTHER),
            note=line["note"],
        )
        if not seen.again(line, (line["sheet"], counted.material, counted.counted), counted):
            sheets.setdefault((line["sheet"], day), []).append(counted)
    return [Count(key=_key(sheet, rows), lines=tuple(rows)) for (sheet, _), rows in sheets.items()]


def _key(sheet: str, rows: list[CountLine]) -> str:
    """Give the sheet's own mark; without one, the day and a hash of what was counted."""
    if sheet:
        return sheet
    content = sorted((str(row.counted), row.material, row.amount.nano) for row in rows)
    return f"{rows[0].counted.date()}:{digest(*content)}"


@dataclass(frozen=True, slots=True)
class _Row:
    """A row with its amount in the material's dimension."""

    line: ReadRow
    amount: Quantity

    def __getitem__(self, column: str) -> Any:  # noqa: ANN401 -- a row holds values of many types
        return self.line[column]


@dataclass(frozen=True, slots=True, kw_only=True)
class Goods:
    """Deliveries, and the orders of which something is outstanding."""

    deliveries: tuple[Delivery, ...] = ()
    orders: tuple[Order, ...] = ()


def read_goods(lines: Iterable[ReadRow], context: Context) -> Goods:
    """Read deliveries and open orders.

    An order of which something is outstanding is given whole, as it was placed: the rows received as well, which
    the deliveries then fill.
    """
    received: dict[tuple[str, str], list[_Row]] = {}
    ordered: dict[tuple[str, str], list[_Row]] = {}
    for line in lines:
        found = amount(line, context)
        sound = _check_row(line, context)
        if line.bad or found is None or not sound:
            continue
        row = _Row(line, found)
        if line["received"]:
            received.setdefault((line["supplier"], line["reference"]), []).append(row)
        if line["order"]:
            ordered.setdefault((line["supplier"], line["order"]), []).append(row)
    deliveries = [_delivery(rows, context) for rows in received.values()]
    open_orders = [rows for rows in ordered.values() if any(not row["received"] for row in rows)]
    orders = [_order(rows, context) for rows in open_orders]
    return Goods(
        deliveries=tuple(each for each in deliveries if each is not None),
        orders=tuple(each for each in orders if each is not None),
    )


def _check_row(line: ReadRow, context: Context) -> bool:
    if line["received"]:
        needed = [("reference", phrase("the supplier's delivery note"))]
    else:
        needed = [
            ("order", phrase("your order's number")),
            ("ordered", phrase("the day of the order")),
            ("packs", phrase("packs ordered")),
        ]
    wrong = [
        (
            column,
            UsageError(phrase("The cell is blank, but it is needed here: %(what)s.", what=what), fix="Fill it in."),
        )
        for column, what in needed
        if not line[column]
    ]
    early = "expected" if not line["received"] else "received"
    if line["ordered"] and line[early] and _day(line[early]) < line["ordered"]:
        wrong.append(
            (
                early,
                UsageError(
                    phrase("This lies before the order (%(day)s).", day=line["ordered"]), fix="Correct one of the two."
                ),
            )
        )
    for column, error in wrong:
        context.blame(line, error, column=column, value=line[column] or "")
    return not wrong


def _day(moment: Any) -> Any:  # noqa: ANN401 -- a day or a moment
    return moment.date() if isinstance(moment, datetime) else moment


def _delivery(rows: Sequence[_Row], context: Context) -> Delivery | None:
    try:
        return Delivery(
            reference=rows[0]["reference"],
            supplier=rows[0]["supplier"],
            received=_same("received", rows, "delivery"),
            lines=tuple(_delivery_line(row) for row in rows),
            order=_same("order", rows, "delivery") or "",
            ordered=_same("ordered", rows, "delivery"),
            carriage=_charge("carriage", rows),
            carriage_tax_rate=tax(_stated("carriage tax %", rows)),
            duties=_charge("duties", rows),
        )
    except UsageError as wrong:
        context.blame(rows[0].line, wrong, column="reference", value=rows[0]["reference"])
        return None


def _delivery_line(row: _Row) -> DeliveryLine:
    return DeliveryLine(
        material=row["material"],
        amount=row.amount,
        cost=row["cost"],
        supplier_code=row["supplier code"],
        packs=row["packs"],
        lot=row["lot"],
        expiry=row["expiry"],
        tax_rate=tax(row["tax %"]),
    )


def _order(rows: Sequence[_Row], context: Context) -> Order | None:
    coming = [row for row in rows if not row["received"]]
    alike: dict[tuple[str, str], list[_Row]] = {}
    for row in rows:
        alike.setdefault((row["material"], row["supplier code"]), []).append(row)
    try:
        return Order(
            number=coming[0]["order"],
            supplier=coming[0]["supplier"],
            placed=datetime.combine(_same("ordered", rows, "order"), NOON),
            lines=tuple(_order_line(each) for each in alike.values()),
            expected=_same("expected", coming, "order"),
            carriage=_charge("carriage", coming),
        )
    except UsageError as wrong:
        context.blame(coming[0].line, wrong, column="order", value=coming[0]["order"])
        return None


def _order_line(rows: Sequence[_Row]) -> OrderLine:
    """Give one material of an order; the pack is that of a row still to come, since arrivals are measured."""
    if any(row["packs"] is None for row in rows):
        raise UsageError("A row of an open order doesn't say its packs.", fix="Fill in 'packs' on each of its rows.")
    coming = [row for row in rows if not row["received"]]
    nominal = (coming or rows)[0]
    pack = Fraction(nominal.amount.nano, nominal["packs"])
    if coming and pack.denominator != 1:
        raise UsageError(
            phrase(
                "%(amount)s of %(material)s isn't %(packs)s equal packs.",
                amount=nominal.amount,
                material=nominal["material"],
                packs=nominal["packs"],
            ),
            fix="Correct amount or packs.",
        )
    return OrderLine(
        material=nominal["material"],
        supplier_code=nominal["supplier code"],
        packs=sum(row["packs"] for row in rows),
        pack=Quantity(nano=round(pack), dimension=nominal.amount.dimension),
        cost=sum(row["cost"] for row in rows),
    )


def _same(column: str, rows: Sequence[_Row], what: str) -> Any:  # noqa: ANN401 -- a column's value
    """Give what rows of one document agree on; blanks agree with anything."""
    stated = {row[column] for row in rows if row[column]}
    if len(stated) > 1:
        listed = " and ".join(sorted(map(str, stated)))
        raise UsageError(
            phrase(
                "The rows of this %(what)s don't agree on '%(column)s': %(listed)s.",
                what=as_phrase(what),
                column=column,
                listed=listed,
            ),
            fix="Write the same on each, or give what came apart a reference of its own.",
        )
    return next(iter(stated), None)


def _stated(column: str, rows: Sequence[_Row]) -> Any:  # noqa: ANN401 -- a column's value
    """Give what rows of one delivery agree on, where nought is a statement and not a blank."""
    _same(column, rows, "delivery")
    return next((row[column] for row in rows if row[column] is not None), None)


def _charge(column: str, rows: Sequence[_Row]) -> int:
    """Give a charge on a whole document, written on one row or alike on several."""
    return int(_same(column, rows, "document") or 0)
