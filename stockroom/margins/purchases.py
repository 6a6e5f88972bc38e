"""What was bought in a period, by supplier and document, with its tax."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import cast

from stockroom.margins.period import Period
from stockroom.stock.layers import Cause, LayerEntry
from stockroom.stock.money import MILLI, milli_to_minor
from stockroom.stock.moves import Document, DocumentKind, MoveKind
from stockroom.stock.tax import TaxRules, from_net, per_cent

CARRIAGE, DUTIES = "carriage", "duties"
_BOUGHT = (MoveKind.DELIVERY, MoveKind.SUPPLIER_RETURN)


@dataclass(frozen=True, slots=True, kw_only=True)
class PurchaseLine:
    """A line of a supplier's document. Money in minor units; credits are negative."""

    document: int
    day: date
    supplier: str
    reference: str
    what: str  # 'delivery', 'return to supplier', 'price correction', 'reversal'
    item: str  # a material's code, 'carriage' or 'duties'
    nano: int
    net: int
    tax: int
    per_cent: Decimal


@dataclass(frozen=True, slots=True)
class _Purchase:
    document: Document
    root: Document  # the delivery or return it undoes or corrects; itself for those
    day: date


def purchases(
    documents: Sequence[Document], entries: Iterable[LayerEntry], period: Period, rules: TaxRules
) -> list[PurchaseLine]:
    """List a period's purchases, returns, corrections and what was undone, by supplier and day.

    Notes
    -----
    A delivery is listed as its document says: goods by line, then carriage and duties. Anything else is read from its
    cost entries, so that the list always sums to purchases and returns in the ledger. Tax is worked out line by line
    at the line's rate, else the item's; duties carry none. What a supplier really charged stands on the invoice.
    """
    by_id = {document.id: document for document in documents}
    lines: list[PurchaseLine] = []
    for (number, kind), items in _sums(entries, period).items():
        document = by_id[number]
        purchase = _Purchase(document, _root(document, by_id), document.booked_on or document.happened.date())
        as_written = kind is MoveKind.DELIVERY and _plain(document)
        lines += _from_document(purchase, rules) if as_written else _from_entries(purchase, items, rules)
    return sorted(lines, key=lambda line: (line.supplier, line.day, line.document))


def _sums(entries: Iterable[LayerEntry], period: Period) -> dict[tuple[int, MoveKind], dict[str, list[int]]]:
    found: dict[tuple[int, MoveKind], dict[str, list[int]]] = {}
    for entry in entries:
        if entry.kind in _BOUGHT and entry.booked_on in period and entry.cause is not Cause.DIFFERENCE:
            mine = found.setdefault((entry.document, entry.kind), {}).setdefault(entry.move.material, [0, 0])
            mine[0] += entry.nano
            mine[1] += entry.value
    return found


def _plain(document: Document) -> bool:
    return document.kind is DocumentKind.DELIVERY and "lines" in document.content


def _root(document: Document, by_id: Mapping[int | None, Document]) -> Document:
    while document.reverses is not None:
        document = by_id[document.reverses]
    if document.kind is DocumentKind.PRICE_CORRECTION:
        return by_id[cast("int", document.content["delivery"])]
    return document


def _from_document(purchase: _Purchase, rules: TaxRules) -> list[PurchaseLine]:
    content = purchase.document.content
    made = []
    for line in cast("list[Mapping[str, object]]", content["lines"]):
        item, nano, net = cast("str", line["material"]), cast("int", line["nano"]), cast("int", line["cost"])
        made.append(_line(purchase, item, (nano, net), _rate(line, item, purchase, rules)))
    carriage, duties = (cast("int", content.get(name, 0)) for name in (CARRIAGE, DUTIES))
    if carriage:
        made.append(_line(purchase, CARRIAGE, (0, carriage), rules.rate("", purchase.day)))
    if duties:
        made.append(_line(purchase, DUTIES, (0, duties), Decimal(0)))
    return made


def _from_entries(purchase: _Purchase, items: Mapping[str, Sequence[int]], rules: TaxRules) -> list[PurchaseLine]:
    return [
        _line(purchase, item, (nano, milli_to_minor(value)), rules.rate(item, purchase.day))
        for item, (nano, value) in items.items()
        if nano or value
    ]


def _rate(line: Mapping[str, object], item: str, purchase: _Purchase, rules: TaxRules) -> Decimal:
    stated = cast("str", line.get("tax_rate", ""))
    return per_cent(stated) if stated else rules.rate(item, purchase.day)


def _line(purchase: _Purchase, item: str, worth: tuple[int, int], rate: Decimal) -> PurchaseLine:
    nano, net = worth
    content = purchase.root.content
    return PurchaseLine(
        document=purchase.document.id or 0,
        day=purchase.day,
        supplier=str(content.get("supplier", "")),
        reference=str(content.get("reference", "")),
        what=purchase.document.kind.label,
        item=item,
        nano=nano,
        net=net,
        tax=from_net(net, rate).tax,
        per_cent=rate,
    )


def total_milli(lines: Iterable[PurchaseLine]) -> int:
    """Add up net purchases, in thousandths of the minor unit."""
    return sum(line.net for line in lines) * MILLI
