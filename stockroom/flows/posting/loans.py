"""What is lent out, as the documents leave it: no stock moves, but a count finds less on the shelf."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, cast

from stockroom.stock.moves import Document, DocumentKind, is_in_force
from stockroom.store import ledger
from stockroom.store.book import Session


@dataclass(frozen=True, slots=True, kw_only=True)
class Loan:
    """Something lent out, and what of it is not back yet."""

    document: int
    material: str
    nano: int  # still out
    lent: datetime
    site: str
    ticket: str = ""
    due: date | None = None
    note: str = ""

    def overdue(self, day: date) -> int:
        """Say by how many days it is overdue; 0 while it is not."""
        return max((day - self.due).days, 0) if self.due else 0


def loans_open(session: Session, *, at: datetime | None = None, site: str | None = None) -> list[Loan]:
    """List what is lent out, now or as of a moment, the first to be back first."""
    kinds = [DocumentKind.LENT, DocumentKind.LENT_BACK]
    documents = ledger.read_documents(session, kinds=kinds, with_moves=False)
    if not documents:
        return []
    taken = ledger.reversals(session)
    there = [d for d in documents if is_in_force(d.id or 0, taken) and (at is None or d.happened <= at)]
    back: dict[int, int] = {}
    for document in there:
        if document.kind is DocumentKind.LENT_BACK:
            loan = cast("int", document.content["loan"])
            back[loan] = back.get(loan, 0) + cast("int", document.content["nano"])
    found = [_loan(d, back.get(d.id or 0, 0)) for d in there if d.kind is DocumentKind.LENT and site in (None, d.site)]
    return sorted((loan for loan in found if loan.nano > 0), key=lambda loan: (loan.due or date.max, loan.document))


def _loan(document: Document, back: int) -> Loan:
    said: Any = document.content
    return Loan(
        document=document.id or 0,
        material=document.subject,
        nano=said["nano"] - back,
        lent=document.happened,
        site=document.site,
        ticket=said.get("ticket", ""),
        due=date.fromisoformat(said["due"]) if said.get("due") else None,
        note=document.note,
    )
