"""Ten years of work beside the invented shop's own: tickets, timed ones among them, dated deliveries, sales, counts.

Run: python -m tests.benchmarks.years_of_work BOOK [moves]
"""

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from stockroom.demo.files import write_files
from stockroom.demo.shop import files
from stockroom.flows.book.opening import new_book, open_book
from stockroom.flows.loading.load import load_files
from stockroom.stock.counts import CountLine, CountReason
from stockroom.stock.materials import Material
from stockroom.stock.moves import Document, DocumentKind, Move, MoveKind
from stockroom.stock.quantities import NANO, Quantity
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store import catalogue, counts, ledger, tickets
from stockroom.store.book import Session

UNTIL = datetime(2026, 11, 21, 18, 30)  # when the invented shop's own documents end
YEARS, TIMED_YEARS = 10, 4
USES = 5  # moves of a ticket
BATCH = 400  # tickets entered at once
DELIVERY, SALE, COUNT = 20, 8, 2000  # one in so many tickets
CAME = 61  # tenths of a unit a line: about what twenty tickets use
KEEPS = timedelta(days=540)
NUMBERS_FROM = 500_001


def fill(place: Path, moves: int) -> None:
    """Make the invented shop's book, and enter the years straight into it."""
    files_in = write_files(files(), place.parent / "files")
    with_shop = new_book(str(place))
    load_files(with_shop, [files_in[0].parent], UNTIL)
    with_shop.close()
    book = open_book(str(place))
    with book.reading() as session:
        materials = [m for m in catalogue.read_materials(session) if m.active]
        jobs = [job.code for job in catalogue.read_jobs(session) if job.active]
    years = _Years(materials=materials, jobs=jobs, count=moves // (USES + 1))
    for first in range(0, years.count, BATCH):
        with book.writing() as session:
            years.enter(session, range(first, min(first + BATCH, years.count)))
    book.close()


@dataclass(frozen=True, kw_only=True)
class _Years:
    materials: list[Material]
    jobs: list[str]
    count: int  # tickets in all

    def enter(self, session: Session, tickets_at: range) -> None:
        documents: list[Document] = []
        finished: list[Ticket] = []
        lines: list[CountLine] = []
        for n in tickets_at:
            documents += self._documents(n)
            finished.append(self._ticket(n))
            if n % COUNT == 0:
                lines += list(self._counted(n))
        numbers = ledger.append(session, documents)
        counts.mark(
            session,
            counts.add_lines(session, f"sheet {tickets_at[0]}", lines, UNTIL),
            state="settled",
            settled_by=numbers[-1],
        )
        tickets.save_tickets(session, finished)

    def _when(self, n: int) -> datetime:
        step = timedelta(days=365 * YEARS) / self.count
        return (UNTIL - timedelta(days=365 * YEARS) + n * step).replace(microsecond=0)

    def _ticket(self, n: int) -> Ticket:
        when = self._when(n)
        return Ticket(
            number=str(NUMBERS_FROM + n), job=self.jobs[n % len(self.jobs)], taken_in=when - timedelta(days=3),
            promised=when.date(), price=2500, state=TicketState.FINISHED, finished=when,
        )  # fmt: skip

    def _documents(self, n: int) -> Iterator[Document]:
        when, number = self._when(n), str(NUMBERS_FROM + n)
        if when > UNTIL - timedelta(days=365 * TIMED_YEARS):
            begun = when - timedelta(minutes=10 + n % 30)
            yield _document(DocumentKind.BEGUN, f"{n} begun", begun, subject=number)
            if n % 3 == 0:
                yield _document(DocumentKind.PAUSED, f"{n} paused", when - timedelta(minutes=2), subject=number)
        used = tuple(self._move(n, k, MoveKind.JOB_USE, -(1 + k), when, ticket=number) for k in range(USES))
        yield _document(DocumentKind.FINISH, f"{n} finished", when, *used, subject=number)
        if n % SALE == 0:
            yield _document(DocumentKind.SALE, f"{n} sold", when, self._move(n, 7, MoveKind.SALE, -1, when))
        if n % DELIVERY == 0:
            brought = (
                self._move(n, k, MoveKind.DELIVERY, CAME, when, expiry=when.date() + KEEPS, value=10**6)
                for k in range(USES)
            )
            yield _document(DocumentKind.DELIVERY, f"{n} came", when, *brought, subject=f"D{n}")

    def _move(
        self, n: int, k: int, kind: MoveKind, units: int, when: datetime, *,
        ticket: str = "", expiry: date | None = None, value: int | None = None,
    ) -> Move:  # fmt: skip
        material = self.materials[(n // DELIVERY * USES + n % DELIVERY + k) % len(self.materials)]
        dated = expiry if material.shelf_life_days or material.hazards else None
        nano = units * NANO // 10
        return Move(material.code, nano, kind, when, value=value, recipe_line=f"line {k}" if ticket else "",
                    ticket=ticket, lot=f"lot {n}" if dated else "", expiry=dated)  # fmt: skip

    def _counted(self, n: int) -> Iterator[CountLine]:
        for material in self.materials:
            found = Quantity(nano=NANO, dimension=material.dimension)
            yield CountLine(material=material.code, amount=found, counted=self._when(n), reason=CountReason.OTHER)


def _document(kind: DocumentKind, key: str, when: datetime, *moves: Move, subject: str = "") -> Document:
    facts = {"job": "HEEL-L", "price": 2500} if kind is DocumentKind.FINISH else {}
    return Document(
        kind=kind, key=f"years:{key}", happened=when, entered=UNTIL, subject=subject, moves=moves, content=facts
    )


if __name__ == "__main__":
    fill(Path(sys.argv[1]), int(sys.argv[2]) if sys.argv[2:] else 1_000_000)
