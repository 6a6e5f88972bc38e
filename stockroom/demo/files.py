"""The invented shop's documents as rows for the files."""

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from pathlib import Path

from stockroom.demo.catalogue import SHELF, Row, in_unit, moment, money, number, pairs, yes
from stockroom.demo.shelves import Left, Opened, ShopDiary
from stockroom.intake.columns import KINDS
from stockroom.stock.counts import CountLine, CountReason
from stockroom.stock.orders import Delivery, Order
from stockroom.stock.recipes import PAIR
from stockroom.stock.tickets import Ticket, TicketState


def rows(diary: ShopDiary) -> dict[str, list[Row]]:
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
        "reason": "" if line.reason is CountReason.OTHER else line.reason,
        "sheet": sheet,
    }


def csv_text(stem: str, rows: Sequence[Mapping[str, str]]) -> str:
    """Write one file's text, in the declared order of columns; columns nobody fills are left out."""
    columns = {c.name: c.title for c in KINDS[stem].columns if c.required or any(row.get(c.name) for row in rows)}
    written = io.StringIO()
    writer = csv.DictWriter(written, tuple(columns), restval="", lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        strangers = row.keys() - {column.name for column in KINDS[stem].columns}
        if strangers:
            raise ValueError(f"{stem} has no columns {sorted(strangers)}")
        writer.writerow({name: row.get(name, "") for name in columns})
    return written.getvalue()


def write_files(files: Mapping[str, Sequence[Mapping[str, str]]], folder: Path) -> list[Path]:
    """Write every file into a folder, which is made when missing; nothing else is touched."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for stem, rows in files.items():
        path = folder / f"{KINDS[stem].title}.csv"
        path.write_bytes(csv_text(stem, rows).encode())
        paths.append(path)
    return paths
