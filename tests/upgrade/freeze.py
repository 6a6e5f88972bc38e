"""Freeze a book of the schema of the day, with something of every kind in it, as a small SQL file.

Run once for each schema that is released: `python -m tests.upgrade.freeze`. A frozen file is never made again: it is
what owners have on their disks.
"""

import gzip
import sqlite3
from contextlib import closing
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

from stockroom.flows.accounts.closing import close_period
from stockroom.flows.bench.counter import keep_offcut, sell, send_back, transfer, write_off
from stockroom.flows.bench.tickets import Wanted, cancel_ticket, finish_at_once, finish_ticket, redo_ticket, take_in
from stockroom.flows.book.check import check
from stockroom.flows.counts.settle import settle_count, take_count
from stockroom.flows.ordering.place import OrderedPacks, place_order, receive_order
from stockroom.flows.posting.undo import undo
from stockroom.margins.period import Period
from stockroom.stock.audit_log import LogLine
from stockroom.stock.calendar import Closure, Event
from stockroom.stock.counts import Count, CountLine
from stockroom.store import audit_log, catalogue, tables
from stockroom.store.book import Book, new_book, open_any
from stockroom.store.upgrading import copy_as_it_is
from tests import build

HERE = Path(__file__).parent


def live(book: Book) -> Book:
    """Put a document of every kind into an empty book."""
    build.opened(book)
    with book.writing() as session:
        catalogue.save_shop(session, catalogue.read_shop(session))
        catalogue.save_closures(
            session, [Closure(who="", first=date(2026, 2, 16), last=date(2026, 2, 20), reason="rest")]
        )
        catalogue.save_events(session, [Event(name="fair", day=date(2026, 5, 1))])
        when = build.at("2026-01-05")
        done = LogLine(when=when, door="pages", who="owner", device="192.0.2.7", what="counter.sell", outcome="done")
        audit_log.append(session, [done])  # as a book has them that came from a server
    _work(book)
    _goods(book)
    close_period(book, Period(first=date(2026, 1, 1), last=date(2026, 1, 31)), build.stamp("2026-02-02", "closing"))
    sell(book, "POLISH", build.amount("1 piece"), build.stamp("2026-01-30", "late sale", entered="2026-02-03"))
    take_in(
        book, Wanted(job="RESOLE", size=build.size("EU 42"), customer="A. Customer"), build.stamp("2026-02-04", "t9")
    )
    return book


def _work(book: Book) -> None:
    booked = take_in(book, Wanted(job="HEELS"), build.stamp("2026-01-06", "t1"))
    finish_ticket(book, booked.number, build.stamp("2026-01-07", "f1"))
    redo_ticket(book, booked.number, build.stamp("2026-01-08", "r1"))
    gone = take_in(book, Wanted(job="LACES", chosen={"colour": "black"}), build.stamp("2026-01-08", "t2"))
    cancel_ticket(book, gone.number, build.stamp("2026-01-09", "c2"))
    finish_at_once(book, Wanted(job="RESOLE", size=build.size("EU 40")), build.stamp("2026-01-09", "f3"))
    sale = sell(book, "POLISH", build.amount("2 piece"), build.stamp("2026-01-10", "s1"))
    undo(book, sale.document, build.stamp("2026-01-10", "u1"))
    write_off(book, "CEMENT", build.amount("50 ml"), build.stamp("2026-01-10", "w1"), reason="skinned over")
    keep_offcut(book, "BEND", "OFFCUT", (build.amount("3 dm2"), build.amount("2 dm2")), build.stamp("2026-01-10", "o1"))
    transfer(book, "TIP", build.amount("5 pair"), build.stamp("2026-01-10", "m1"), to_site="kiosk")


def _goods(book: Book) -> None:
    lines = [OrderedPacks(material="THREAD", packs=2), OrderedPacks(material="FILLER", packs=2)]
    order = place_order(book, "NORTH", lines, build.stamp("2026-01-12", "order"))
    receive_order(book, order.number, [], build.stamp("2026-01-16", "delivery"), carriage=900)
    back = build.stamp("2026-01-17", "back")
    send_back(book, "THREAD", build.amount("100 m"), back, supplier="NORTH", credit=300)
    counted = CountLine(material="TIP", amount=build.amount("50 pair"), counted=build.at("2026-01-17"))
    take_count(book, Count(key="W3", lines=(counted,)), build.stamp("2026-01-17", "counted"))
    settle_count(book, "W3", build.stamp("2026-01-17", "settled"))


def freeze() -> Path:
    """Write the frozen file of this schema; refuses to make one again."""
    target = HERE / f"schema-{tables.SCHEMA}.sql.gz"
    if target.exists():
        raise SystemExit(f"{target} is there: what was released stays as it was.")
    with TemporaryDirectory() as folder:
        place = Path(folder) / "book.sqlite"
        book = live(new_book(str(place)))
        found = check(book)
        book.close()
        with closing(sqlite3.connect(place)) as raw:
            said = f"-- {found.documents} {found.figure}\n" + "\n".join(raw.iterdump())
    target.write_bytes(gzip.compress(said.encode(), mtime=0))
    return target


def thaw(frozen: Path, place: Path) -> tuple[int, str]:
    """Make the book a frozen file holds; give its documents and its check figure as they were."""
    said = gzip.decompress(frozen.read_bytes()).decode()
    with closing(sqlite3.connect(place)) as raw:
        raw.executescript(said)
        raw.execute("PRAGMA journal_mode=WAL")  # as every book in a file is kept
    _, documents, figure = said.partition("\n")[0].split(" ")
    return int(documents), figure


def pour(file: Path, place: str) -> None:
    """Make the same book in an empty database of a server, with the schema it has."""
    source, schema = open_any(str(file))
    with (
        closing(source),
        closing(new_book(place, schema=schema)) as target,
        source.reading() as reading,
        target.writing() as writing,
    ):
        copy_as_it_is(reading, writing)


def thaw_on_server(frozen: Path, place: str, folder: Path) -> tuple[int, str]:
    """Make the book a frozen file holds on a server; give its documents and its check figure as they were."""
    file = folder / f"thawed-{frozen.name}.sqlite"
    said = thaw(frozen, file)
    pour(file, place)
    return said


if __name__ == "__main__":
    print(freeze())
