"""What was sold over the counter, and what jobs and sales brought in by month and tax rate."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import cast

from stockroom.margins.income import Books, JobLine, done_in, posted_of
from stockroom.margins.period import Period, month_of
from stockroom.phrases import phrase
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.sales import parts_of

JOBS, SALES = phrase("jobs"), phrase("counter sales")


@dataclass(frozen=True, slots=True, kw_only=True)
class SaleEarned:
    """A sale in a period, or one of an earlier period that is taken back there: then its figures are a minus."""

    document: int
    day: date
    material: str
    receipt: str
    nano: int
    net: int  # minor units
    tax: int
    per_cent: Decimal
    unpriced: bool  # what was paid is not known: no income
    post: int = 0  # what the post cost, on the sale's first line


@dataclass(frozen=True, slots=True, kw_only=True)
class Takings:
    """Income of one kind at one tax rate in a month, in minor units."""

    month: str
    kind: str
    per_cent: Decimal
    count: int
    net: int
    tax: int


def sales_done(documents: Sequence[Document], books: Books, period: Period) -> list[SaleEarned]:
    """List a period's counter sales by day, at the tax rate of their material and day."""
    lines = []
    posted = posted_of(documents, period)
    for done in done_in(documents, period, (DocumentKind.SALE,)):
        post = cast("int", done.document.content.get("post_cost", 0)) * done.count
        post += posted.get(f"sale {done.document.id}", 0)
        for part in parts_of(done.document):
            taxed = books.rules.sale((part.price or 0) * done.count, part.material, done.day)
            lines.append(
                SaleEarned(
                    document=done.document.id or 0,
                    day=done.day,
                    material=part.material,
                    receipt=str(done.document.content.get("receipt", "")),
                    nano=done.count * part.nano,
                    net=taxed.net,
                    tax=taxed.tax,
                    per_cent=taxed.per_cent,
                    unpriced=part.price is None,
                    post=post,
                )
            )
            post = 0  # stands on the first line
    return lines


def takings(jobs: Iterable[JobLine], sales: Iterable[SaleEarned]) -> list[Takings]:
    """Add up income and output tax by month, kind and rate; work under guarantee brings none."""
    sums: dict[tuple[str, str, Decimal], list[int]] = {}
    for job in jobs:
        if not job.redo:
            _add(sums, (month_of(job.day), JOBS, job.per_cent), (job.count, job.net, job.tax))
    for sale in sales:
        _add(sums, (month_of(sale.day), SALES, sale.per_cent), (1 if sale.nano > 0 else -1, sale.net, sale.tax))
    return [
        Takings(month=month, kind=kind, per_cent=rate, count=count, net=net, tax=tax)
        for (month, kind, rate), (count, net, tax) in sorted(sums.items())
    ]


def _add(
    sums: dict[tuple[str, str, Decimal], list[int]], key: tuple[str, str, Decimal], figures: tuple[int, int, int]
) -> None:
    held = sums.setdefault(key, [0, 0, 0])
    for n, figure in enumerate(figures):
        held[n] += figure
