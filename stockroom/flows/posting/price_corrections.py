"""What delivered goods really cost, once the supplier's invoice says otherwise; and deliveries that documents name."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import cast

from stockroom.errors import RefusedError, UnknownError, UsageError
from stockroom.flows.book.terms import rules
from stockroom.flows.posting.post import Posted, entered_before, post_one
from stockroom.phrases import phrase
from stockroom.stock.landing import line_weights
from stockroom.stock.materials import Material
from stockroom.stock.money import MILLI, split
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.orders import DeliveryLine
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import Quantity
from stockroom.stock.tax import TaxRules, from_net, per_cent
from stockroom.stock.typed import find
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book, Session

CARRIAGE, CREDIT = "carriage", "credit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """What a price correction changed: cost before and after by material, minor units without tax or carriage."""

    number: int
    fresh: bool
    delivery: int
    changes: Mapping[str, tuple[int, int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Charged:
    """Carriage or a credit entered against a delivery, in minor units without tax."""

    number: int
    fresh: bool
    delivery: int
    what: str
    amount: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryCard:
    """A delivery as it is looked at: what its goods cost now, and what was charged or credited since."""

    document: Document
    goods: Mapping[str, int]  # by material, minor units without tax or carriage
    names: Mapping[str, str]
    charges: tuple[tuple[str, int], ...]  # 'carriage' or 'credit', in minor units without tax; a credit is below zero

    @property
    def carriage(self) -> int:
        """Carriage as it was entered with the goods."""
        return cast("int", self.document.content.get("carriage", 0))


def delivery_card(book: Book, delivery: int) -> DeliveryCard:
    """Give a delivery's card.

    Raises
    ------
    UnknownError, RefusedError
        As `the_delivery`.
    """
    with book.reading() as session:
        document = the_delivery(session, delivery)
        goods = _goods(document) | _corrected(session, delivery)
        said = [each.content for each in corrections_of(session, delivery)]
        names = {m.code: m.name for m in catalogue.read_materials(session, list(goods))}
    charges = [(cast("str", each["charge"]), cast("int", each["amount"])) for each in said if "charge" in each]
    return DeliveryCard(document=document, goods=goods, names=names, charges=tuple(charges))


def correct_price(book: Book, delivery: int, costs: Mapping[str, int], stamp: Stamp) -> Corrected:
    """Say what goods of a delivery really cost.

    Parameters
    ----------
    delivery : int
        The delivery's document.
    costs : mapping of str to int
        By material (code or enough of its name), what all of it in the delivery cost, in minor units without tax and
        carriage.

    Raises
    ------
    UsageError
        If a cost is below zero.
    RefusedError
        If the delivery says so already.

    Notes
    -----
    The correction belongs to the delivery's accounting day: until that is closed, the goods cost from the start what
    they really cost, on the shelf and in the jobs that used them. Afterwards what was left at the closing is re-valued,
    and what had been used or sold costs more or less in the open period. Carriage that was spread stays as it was.
    """
    with book.writing() as session:
        document = the_delivery(session, delivery)
        names = {m.code: m.name for m in catalogue.read_materials(session)}
        here = {code: names[code] for code in _goods(document)}
        wanted = {find("material of the delivery", typed, here): cost for typed, cost in costs.items()}
        if any(cost < 0 for cost in wanted.values()):
            raise UsageError("The cost of goods can't be negative.", fix="For goods sent back: stockroom send-back.")
        stamp = stamp.asking("correct price", delivery=delivery, costs=wanted)
        known = entered_before(session, stamp, DocumentKind.PRICE_CORRECTION, subject=_subject(delivery))
        now = _goods(document) | _corrected(session, delivery)
        changes = {code: (now[code], cost) for code, cost in wanted.items() if known is not None or now[code] != cost}
        if not changes:
            raise RefusedError(
                phrase("Document %(delivery)s says so already.", delivery=delivery),
                fix="Give the cost as the invoice has it.",
            )
        taxed = _Taxed(document, rules(session))
        lines = [_line(code, cost, taxed.of_goods(code, cost)) for code, (_, cost) in changes.items()]
        posted = _post(session, document, stamp, lines=lines)
    return Corrected(number=posted.number, fresh=posted.fresh, delivery=delivery, changes=changes)


def charge_later(book: Book, delivery: int, amounts: Mapping[str, int], stamp: Stamp, *, tax_rate: str = "") -> Charged:
    """Enter what a supplier charged or credited for a delivery after it was entered.

    Parameters
    ----------
    delivery : int
        The delivery's document.
    amounts : mapping of str to int
        'carriage' or 'credit', in minor units without tax, above zero. Carriage is spread as on the delivery itself, a
        credit by cost.
    tax_rate : str
        Its tax rate; empty for that of the delivery's carriage, or of its goods.

    Raises
    ------
    UsageError
        If the amount is not above zero, or the rate is none.
    RefusedError
        If a credit is more than the goods cost.

    Notes
    -----
    It changes layers as a corrected price does, on the delivery's accounting day while that is open.
    """
    ((what, amount),) = amounts.items()
    if amount <= 0:
        raise UsageError(phrase("Nothing is charged or credited: %(amount)s.", amount=amount), fix="Give the amount.")
    if tax_rate:
        per_cent(tax_rate)
    with book.writing() as session:
        document = the_delivery(session, delivery)
        if what == CREDIT and amount > sum(_goods(document).values()):
            raise RefusedError(
                "The credit is more than the goods cost.", fix="For goods sent back: stockroom send-back."
            )
        shop, materials = catalogue.read_shop(session), {m.code: m for m in catalogue.read_materials(session)}
        came = _came(document, materials)
        taxed = _Taxed(document, rules(session))
        sign, by = (-1, "value") if what == CREDIT else (1, shop.carriage_by)
        whole = amount + taxed.of_charge(what, amount, tax_rate)
        shares = split(whole * MILLI, line_weights(came, materials, by=by) or [line.cost for line in came])
        lines = [
            {"material": line.material, "rise": sign * share} for line, share in zip(came, shares, strict=True) if share
        ]
        facts = {"charge": what, "amount": sign * amount, "tax_rate": tax_rate}
        posted = _post(session, document, stamp, lines=lines, **facts)
    return Charged(number=posted.number, fresh=posted.fresh, delivery=delivery, what=what, amount=amount)


def the_delivery(session: Session, number: int) -> Document:
    """Find a delivery in force by its document.

    Raises
    ------
    UnknownError
        If there is no such document.
    RefusedError
        If it is no delivery, or was undone.
    """
    found = ledger.read_documents(session, numbers=[number])
    if not found:
        raise UnknownError(
            phrase("There is no document %(number)s.", number=number), fix="See the last ones: stockroom documents"
        )
    if found[0].kind is not DocumentKind.DELIVERY or not _goods(found[0]):
        raise RefusedError(
            phrase("Document %(number)s is no delivery: %(kind)s.", number=number, kind=found[0].kind),
            fix="Name the delivery's document.",
        )
    if not in_force(session, number):
        raise RefusedError(
            phrase("Delivery %(number)s was undone.", number=number), fix="Name the delivery that stands."
        )
    return found[0]


def in_force(session: Session, number: int) -> bool:
    """Say whether a document is in force: undone an even number of times."""
    holds, taken_by = True, ledger.reversal_of(session, number)
    while taken_by is not None:
        holds, taken_by = not holds, ledger.reversal_of(session, taken_by)
    return holds


def corrections_of(session: Session, delivery: int) -> list[Document]:
    """Give the price corrections of a delivery that are in force, oldest first."""
    kinds = [DocumentKind.PRICE_CORRECTION]
    documents = ledger.read_documents(session, subject=_subject(delivery), kinds=kinds, with_moves=False)
    return [document for document in documents if in_force(session, document.id or 0)]


@dataclass(frozen=True, slots=True)
class _Taxed:
    """What tax a delivery's goods and charges bear, for a shop that can't take it back."""

    document: Document
    rules: TaxRules

    def of_goods(self, material: str, cost: int) -> int:
        lines = cast("list[Mapping[str, object]]", self.document.content["lines"])
        stated = {str(line.get("tax_rate", "")) for line in lines if line["material"] == material}
        return self._tax(cost, stated.pop() if len(stated) == 1 else "", material)

    def of_charge(self, what: str, amount: int, stated: str) -> int:
        on_carriage = str(self.document.content.get("carriage_tax_rate", "")) if what == CARRIAGE else ""
        return self._tax(amount, stated or on_carriage, "")

    def _tax(self, net: int, stated: str, item: str) -> int:
        if self.rules.registered:
            return 0
        rate = per_cent(stated) if stated else self.rules.rate(item, self.document.happened.date())
        return from_net(net, rate).tax


def _line(code: str, cost: int, tax: int) -> dict[str, object]:
    return {"material": code, "new_cost": cost} | ({"tax": tax} if tax else {})


def _post(session: Session, document: Document, stamp: Stamp, **content: object) -> Posted:
    """Post a correction on its delivery's accounting day, or in the open period once that is closed."""
    number = document.id or 0
    made = stamp.document(DocumentKind.PRICE_CORRECTION, _subject(number), (), delivery=number, **content)
    return post_one(session, replace(made, booked_on=document.booked_on))


def _came(document: Document, materials: Mapping[str, Material]) -> list[DeliveryLine]:
    lines = cast("list[Mapping[str, object]]", document.content["lines"])
    return [
        DeliveryLine(
            material=cast("str", line["material"]),
            amount=Quantity(
                nano=cast("int", line["nano"]), dimension=materials[cast("str", line["material"])].dimension
            ),
            cost=cast("int", line["cost"]),
        )
        for line in lines
    ]


def _subject(delivery: int) -> str:
    return f"delivery {delivery}"


def _goods(document: Document) -> dict[str, int]:
    """Add up what a delivery's document asks for each material."""
    sums: dict[str, int] = {}
    for line in cast("list[Mapping[str, object]]", document.content.get("lines", [])):
        code = cast("str", line["material"])
        sums[code] = sums.get(code, 0) + cast("int", line["cost"])
    return sums


def _corrected(session: Session, delivery: int) -> dict[str, int]:
    lines = [line for document in corrections_of(session, delivery) for line in _lines(document)]
    return {cast("str", line["material"]): cast("int", line["new_cost"]) for line in lines if "new_cost" in line}


def _lines(document: Document) -> list[Mapping[str, object]]:
    return cast("list[Mapping[str, object]]", document.content["lines"])
