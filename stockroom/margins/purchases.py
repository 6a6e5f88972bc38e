"""What was bought in a period, by supplier and document, with its tax."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import cast

from stockroom.margins.period import Period
from stockroom.stock.layers import Cause, LayerEntry
from stockroom.stock.money import milli_to_minor
from stockroom.stock.moves import Document, DocumentKind, MoveKind
from stockroom.stock.tax import Taxed, TaxRules, from_gross, from_net, per_cent

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
    borne: bool = False  # the tax is part of the goods' cost: the shop can't take it back

    @property
    def cost(self) -> int:
        """What the line adds to stock."""
        return self.net + self.tax if self.borne else self.net


@dataclass(frozen=True, slots=True)
class _Purchase:
    document: Document
    root: Document  # the delivery or return it undoes or corrects; itself for those
    day: date
    rules: TaxRules
    supplier_rate: str


def purchases(
    documents: Sequence[Document],
    entries: Iterable[LayerEntry],
    period: Period,
    rules: TaxRules,
    supplier_rates: Mapping[str, str] | None = None,
) -> list[PurchaseLine]:
    """List a period's purchases, returns, corrections and what was undone, by supplier and day.

    Notes
    -----
    A delivery is listed as its document says: goods by line, then carriage and duties. Anything else is read from its
    cost entries, so that the list always sums to purchases and returns in the ledger. Tax is worked out line by line
    at the delivery's rate, else the supplier's, else the item's; duties carry none. Where the shop can't take the tax
    back, cost is net and tax together. What a supplier really charged stands on the invoice.
    """
    by_id = {document.id: document for document in documents}
    lines: list[PurchaseLine] = []
    for (number, kind, day), items in _sums(entries, period).items():
        document = by_id[number]
        root = _root(document, by_id)
        rate = (supplier_rates or {}).get(str(root.content.get("supplier", "")), "")
        purchase = _Purchase(document, root, day, rules, rate)
        as_written = kind is MoveKind.DELIVERY and _plain(document)
        lines += _from_document(purchase) if as_written else _from_entries(purchase, items)
    return sorted(lines, key=lambda line: (line.supplier, line.day, line.document))


def _sums(entries: Iterable[LayerEntry], period: Period) -> dict[tuple[int, MoveKind, date], dict[str, list[int]]]:
    found: dict[tuple[int, MoveKind, date], dict[str, list[int]]] = {}
    for entry in entries:
        if entry.kind in _BOUGHT and entry.booked_on in period and entry.cause is not Cause.DIFFERENCE:
            key = (entry.document, entry.kind, entry.booked_on)
            mine = found.setdefault(key, {}).setdefault(entry.move.material, [0, 0])
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


def _from_document(purchase: _Purchase) -> list[PurchaseLine]:
    content = purchase.document.content
    made = []
    for line in cast("list[Mapping[str, object]]", content["lines"]):
        item, nano, net = cast("str", line["material"]), cast("int", line["nano"]), cast("int", line["cost"])
        made.append(_line(purchase, item, nano, from_net(net, _rate(purchase, item, line))))
    carriage, duties = (cast("int", content.get(name, 0)) for name in (CARRIAGE, DUTIES))
    if carriage:
        made.append(
            _line(purchase, CARRIAGE, 0, from_net(carriage, _rate(purchase, "", {"tax_rate": _on_carriage(content)})))
        )
    if duties:
        made.append(_line(purchase, DUTIES, 0, from_net(duties, Decimal(0))))
    return made


def _from_entries(purchase: _Purchase, items: Mapping[str, Sequence[int]]) -> list[PurchaseLine]:
    """Read lines from their cost; tax that is part of it is taken out again."""
    taxed = from_net if purchase.rules.registered else from_gross
    charge = purchase.document.content.get("charge")
    if charge:  # carriage or a credit that came later: one line, as on its invoice
        value = milli_to_minor(sum(value for _, value in items.values()))
        stated = str(purchase.document.content.get("tax_rate", "")) or _on_carriage(purchase.root.content)
        return [_line(purchase, str(charge), 0, taxed(value, _rate(purchase, "", {"tax_rate": stated})))]
    return [
        _line(
            purchase, item, nano, taxed(milli_to_minor(value), _rate(purchase, item, _delivered(purchase.root, item)))
        )
        for item, (nano, value) in items.items()
        if nano or value
    ]


def _delivered(root: Document, item: str) -> Mapping[str, object]:
    """Find the line of a delivery that brought an item."""
    lines = cast("list[Mapping[str, object]]", root.content.get("lines", []))
    return next((line for line in lines if line["material"] == item), {})


def _on_carriage(content: Mapping[str, object]) -> object:
    return content.get("carriage_tax_rate", "")


def _rate(purchase: _Purchase, item: str, line: Mapping[str, object]) -> Decimal:
    stated = str(line.get("tax_rate", "")) or purchase.supplier_rate
    return per_cent(stated) if stated else purchase.rules.rate(item, purchase.day)


def _line(purchase: _Purchase, item: str, nano: int, taxed: Taxed) -> PurchaseLine:
    content, key = purchase.root.content, purchase.root.key
    return PurchaseLine(
        document=purchase.document.id or 0,
        day=purchase.day,
        supplier=str(content.get("supplier", "")),
        reference=str(content.get("reference", "")).removeprefix(key),  # the key is shown where no note was typed
        what=purchase.document.kind.label,
        item=item,
        nano=nano,
        net=taxed.net,
        tax=taxed.tax,
        per_cent=taxed.per_cent,
        borne=not purchase.rules.registered,
    )
