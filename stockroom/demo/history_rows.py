"""The invented shop's papers as rows for the files."""

from collections.abc import Iterator
from fractions import Fraction

from stockroom.demo.catalogue import SHELF, Row
from stockroom.demo.cells import in_unit, moment, money, number, pairs, yes
from stockroom.demo.shelves import Diary, Left, Opened
from stockroom.stock.counts import CountLine, Reason
from stockroom.stock.orders import Delivery, Order
from stockroom.stock.recipes import PAIR
from stockroom.stock.tickets import Ticket, TicketState


def rows(diary: Diary) -> dict[str, list[Row]]:
    """Give the rows of every history file, by the file's stem."""
    deliveries = [row for each in diary.deliveries for row in _delivery(each)]
    return {
        "deliveries": deliveries + [row for each in diary.open_orders for row in _open_order(each)],
        "past-jobs": [_ticket(each) for each in diary.tickets],
        "sales": [_sale(each) for each in diary.sales],
        "waste": [_write_off(each) for each in diary.waste],
        "counts": [_count(sheet, line) for sheet, line in diary.counts],
    }


def opening(lines: list[Opened], day: str) -> list[Row]:
    """Give the rows of the opening stock."""
    return [
        {
            **_amount(line.material, line.nano),
            "day": day,
            "value": money(line.value),
            "lot": line.lot,
            "expiry": str(line.expiry or ""),
        }
        for line in lines
    ]


def _amount(code: str, nano: int) -> Row:
    unit = SHELF.materials[code].unit
    return {"material": code, "amount": in_unit(nano, unit), "unit": unit.name}


def _delivery(each: Delivery) -> Iterator[Row]:
    for line in each.lines:
        yield {
            "reference": each.reference,
            "order": each.order,
            "supplier": each.supplier,
            "ordered": str(each.ordered or ""),
            "received": moment(each.received),
            **_amount(line.material, line.amount.nano),
            "supplier code": line.supplier_code,
            "packs": str(line.packs or ""),
            "cost": money(line.cost),
            "carriage": money(each.carriage),
            "lot": line.lot,
            "expiry": str(line.expiry or ""),
        }


def _open_order(each: Order) -> Iterator[Row]:
    for line in each.lines:
        yield {
            "order": each.number,
            "supplier": each.supplier,
            "ordered": str(each.placed.date()),
            "expected": str(each.expected or ""),
            **_amount(line.material, line.expected),
            "supplier code": line.supplier_code,
            "packs": str(line.packs),
            "cost": money(line.cost),
            "carriage": money(each.carriage),
        }


def _ticket(each: Ticket) -> Row:
    return {
        "ticket": each.number,
        "taken in": moment(each.taken_in),
        "finished": moment(each.finished),
        "promised": str(each.promised or ""),
        "job": each.job,
        "size": str(each.size or ""),
        "pairs": "" if each.shoes == PAIR else number(Fraction(each.shoes, PAIR)),
        "choices": pairs(each.chosen),
        "price": money(each.price),
        "redo of": each.redo_of,
        "by post": yes(each.by_post),
        "post cost": money(each.post_cost),
        "cancelled": yes(each.state is TicketState.CANCELLED),
    }


def _sale(each: Left) -> Row:
    return {
        "when": moment(each.when),
        **_amount(each.material, each.nano),
        "price": money(each.price),
        "receipt": each.receipt,
    }


def _write_off(each: Left) -> Row:
    return {
        "when": moment(each.when),
        **_amount(each.material, each.nano),
        "kind": each.kind,
        "reason": each.reason,
    }


def _count(sheet: str, line: CountLine) -> Row:
    unit = SHELF.materials[line.material].unit
    return {
        "counted at": moment(line.counted),
        **_amount(line.material, line.amount.nano),
        "error": in_unit(line.error, unit) if line.error else "",
        "aid": line.aid,
        "who": line.who,
        "reason": "" if line.reason is Reason.OTHER else line.reason,
        "sheet": sheet,
    }
