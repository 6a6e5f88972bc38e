"""A small invented shop's documents, for tests of accounts: made by hand, or many at once from a seed."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal

import numpy as np

from stockroom.margins.accounts import Sources
from stockroom.margins.period import Period
from stockroom.stock.materials import Material, Purpose
from stockroom.stock.moves import Document, DocumentKind, Move, MoveKind
from stockroom.stock.quantities import UNITS
from stockroom.stock.recipes import Job
from stockroom.stock.shoe_sizes import shoe_size
from stockroom.stock.shop import Shop
from stockroom.stock.tickets import Ticket, TicketState

YEAR = Period(first=date(2026, 1, 1), last=date(2026, 12, 31))
MATERIALS = {
    m.code: m
    for m in (
        Material(code="BEND", name="Leather bend", family="soling sheet", unit=UNITS["dm2"], usual_cost=60, place="A1"),
        Material(code="HEEL", name="Top pieces, ladies", family="top pieces", unit=UNITS["pair"], usual_cost=90),
        Material(code="GLUE", name="Contact cement", family="cement", unit=UNITS["ml"], usual_cost=1, place="B2"),
        Material(code="DYE", name="Spirit dye", family="finish", unit=UNITS["ml"], usual_cost=2),
        Material(
            code="WAX", name="=Neutral cream", family="care", unit=UNITS["piece"], usual_cost=250,
            purpose=Purpose.COUNTER, sell_price=590,
        ),
    )
}  # fmt: skip
JOBS = {
    j.code: j
    for j in (
        Job(code="SOLE", name="Half soles", price=3200, bench_minutes=35, sized=True),
        Job(code="HEELS", name="Heel tops", price=1400, bench_minutes=12),
    )
}
_USES = {"SOLE": (("BEND", 6.5), ("GLUE", 22)), "HEELS": (("HEEL", 1), ("GLUE", 4))}
_OF = {code: material.unit.nano for code, material in MATERIALS.items()}


class Pen:
    """Writes numbered documents one after another."""

    def __init__(self) -> None:
        self.documents: list[Document] = []

    def write(self, kind: DocumentKind, when: datetime, moves: Sequence[Move], **more: object) -> Document:
        number = len(self.documents) + 1
        document = Document(
            kind=kind, key=str(number), happened=when, entered=when, id=number,
            moves=tuple(move._replace(happened=when) for move in moves), **more,  # type: ignore[arg-type]
        )  # fmt: skip
        self.documents.append(document)
        return document

    def deliver(self, when: datetime, lines: Sequence[tuple[str, float, int]], *, carriage: int = 0) -> Document:
        """Take in goods: material, amount in its unit, cost in minor units."""
        moves = [line(code, amount, MoveKind.DELIVERY, value=cost * 1000) for code, amount, cost in lines]
        moves[0] = moves[0]._replace(value=(moves[0].value or 0) + carriage * 1000)
        said = [{"material": c, "nano": m.nano, "cost": cost} for m, (c, _, cost) in zip(moves, lines, strict=True)]
        content = {"supplier": "north", "reference": f"N{len(self.documents)}", "lines": said, "carriage": carriage}
        return self.write(DocumentKind.DELIVERY, when, moves, content=content)

    def finish(self, when: datetime, ticket: str, job: str, *, size: float = 1, redo: bool = False) -> Document:
        kind = MoveKind.REDO_USE if redo else MoveKind.JOB_USE
        moves = [line(c, -amount * size, kind)._replace(ticket=ticket) for c, amount in _USES[job]]
        content = {"job": job, "price": 0 if redo else JOBS[job].price}
        document = DocumentKind.REDO if redo else DocumentKind.FINISH
        return self.write(document, when, moves, subject=ticket, content=content)

    def undo(self, when: datetime, original: Document) -> Document:
        moves = [m._replace(nano=-m.nano, value=None if m.value is None else -m.value) for m in original.moves]
        return self.write(DocumentKind.REVERSAL, when, moves, subject=original.subject, reverses=original.id)


def line(code: str, amount: float, kind: MoveKind, *, value: int | None = None) -> Move:
    return Move(material=code, nano=round(amount * _OF[code]), kind=kind, happened=datetime(2026, 1, 1), value=value)


def tickets_of(documents: Sequence[Document]) -> dict[str, Ticket]:
    return {
        document.subject: Ticket(
            number=document.subject, job=str(document.content["job"]), taken_in=document.happened, finished=document.happened,
            state=TicketState.FINISHED, price=int(str(document.content["price"])), size=shoe_size(f"EU {38 + n % 8}"),
            chosen={"sole": ("bend", "rubber")[n % 2]},
        )
        for n, document in enumerate(documents)
        if document.kind in (DocumentKind.FINISH, DocumentKind.REDO)
    }  # fmt: skip


def sources(documents: Sequence[Document], **more: object) -> Sources:
    shop = Shop(card_fee=Decimal("1.5"), bench_hour_rate=Decimal(30), name="The Invented Heel")
    facts: dict[str, object] = {
        "documents": documents, "materials": MATERIALS, "tickets": tickets_of(documents), "jobs": JOBS, "shop": shop,
        "supplier_names": {"north": "North Harbour Findings (invented)"}, "check_figure": "1f0c-77aa",
    }  # fmt: skip
    return Sources(**(facts | more))  # type: ignore[arg-type]


def year_of_documents(count: int = 600, seed: int = 7) -> list[Document]:
    """Two years of an invented shop with everything in it: late deliveries, returns, losses, re-dos, undone documents."""
    rng = np.random.default_rng(seed)
    pen = Pen()
    start = datetime(2025, 1, 2, 9)
    opening = [line(c, 40, MoveKind.OPENING, value=40 * (m.usual_cost or 0) * 1000) for c, m in MATERIALS.items()]
    stale = [m._replace(expiry=date(2026, 3, 31)) if m.material == "DYE" else m for m in opening]
    pen.write(DocumentKind.OPENING, start, stale)
    for n in range(count):
        _one(pen, rng, start + timedelta(days=1 + 728 * n // count, hours=n % 8), n)
    return pen.documents


def _one(pen: Pen, rng: np.random.Generator, when: datetime, n: int) -> None:
    rise = 1 + n / 3000
    if n % 24 == 7:
        pen.deliver(when, [("BEND", 190.5, round(11900 * rise)), ("GLUE", 1000, round(990 * rise))], carriage=795)
    elif n % 24 == 15:
        pen.deliver(when, [("HEEL", 20, round(1833 * rise)), ("WAX", 12, 3001)], carriage=650)
    elif n % 50 == 21:
        pen.write(DocumentKind.SALE, when, [line("WAX", -2, MoveKind.SALE)], content={"price": 1180})
    elif n % 50 == 33:
        pen.write(DocumentKind.WASTE, when, [line("BEND", -2.25, MoveKind.WASTE)], content={"reason": "torn"})
    elif n % 100 == 44:
        found = line("GLUE", float(rng.normal(0, 30)), MoveKind.COUNT)
        pen.write(DocumentKind.COUNT, when, [found], content={"reasons": {"GLUE": "measuring"}})
    elif n % 100 == 71:
        pen.undo(when, pen.documents[-1])
    elif n % 150 == 101:
        back = line("HEEL", -2, MoveKind.SUPPLIER_RETURN, value=-150_000)
        pen.write(DocumentKind.SUPPLIER_RETURN, when, [back], content={"supplier": "north", "credit": 150})
    else:
        job = "SOLE" if rng.random() < 0.45 else "HEELS"
        pen.finish(when, f"T{n}", job, size=float(rng.uniform(0.85, 1.2)), redo=n % 40 == 12)
