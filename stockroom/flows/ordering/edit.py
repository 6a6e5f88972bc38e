"""A basket changed by the owner, priced at once against the suggested one, in the same words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from stockroom.buying.most_urgent import most_urgent_first
from stockroom.buying.repricing import PricedBasket, reprice
from stockroom.errors import UnknownError, UsageError
from stockroom.flows.ordering.place import OrderedPacks
from stockroom.flows.ordering.plan import NAMED, SMALL, OrderPlan, listed, words_of
from stockroom.flows.ordering.preview import the_offer
from stockroom.intake.sheets import open_sheets
from stockroom.phrases import joined, phrase
from stockroom.show.tables.columns import REORDER
from stockroom.stock.lists import ReorderList
from stockroom.stock.typed import find

_COLUMNS = {column.heading: column.key for column in REORDER if column.key in ("material", "supplier_code", "packs")}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EditedPlan:
    """The basket as the owner changed it, what each order would be, and how it compares with the suggested one."""

    lists: tuple[ReorderList, ...]
    priced: PricedBasket
    spent: str  # what it costs beside what was suggested
    compared: str  # what it is expected to cost and to risk, and what it goes beyond

    @property
    def words(self) -> str:
        """All of it in words."""
        return joined([self.spent, self.compared])

    def worth(self, digits: int) -> dict[str, str]:
        """Give to a program how it compares: exact decimals in major units, and the words."""
        figures = {
            "dearer": self.priced.dearer,
            "risk": float(self.priced.risk.sum()),
            "risk_suggested": float(self.priced.risk_suggested.sum()),
        }
        return {name: f"{value:.{digits}f}" for name, value in figures.items()} | {"words": self.words}


def edited(plan: OrderPlan, changes: Sequence[OrderedPacks], *, whole: bool = False) -> EditedPlan:
    """Price a changed basket against the suggested one.

    Parameters
    ----------
    plan : OrderPlan
        What was suggested.
    changes : sequence of OrderedPacks
        Packs of materials, in whatever offer; none takes a material off. Materials not named stay as suggested.
    whole : bool
        Whether the changes are the whole basket: what they don't name is not bought.

    Raises
    ------
    UnknownError
        If a material or one of its offers is not known, or it is offered in several packs and none was named.
    """
    packs = {} if whole else {line.offer: line.packs for line in plan.basket.lines}
    for change in changes:
        offer = _offer(plan, change, packs)
        if not change.supplier_code:
            material = plan.outlook.question.offers[offer].material
            packs = {n: each for n, each in packs.items() if plan.outlook.question.offers[n].material != material}
        packs[offer] = change.packs
    return _edited(plan, packs)


def edited_lines(plan: OrderPlan, changed: Sequence[tuple[str, OrderedPacks]]) -> EditedPlan:
    """Price a basket in which lines of suppliers are changed, the others as suggested.

    Raises
    ------
    UnknownError
        If a supplier does not offer what is changed.
    """
    packs = {line.offer: line.packs for line in plan.basket.lines}
    packs |= {the_offer(plan, supplier, asked): asked.packs for supplier, asked in changed}
    return _edited(plan, packs)


def urgent_first(plan: OrderPlan) -> EditedPlan | None:
    """Price the other way to fill a limit, where one binds: what runs out first takes the money first."""
    free = plan.basket.free
    if free is None:
        return None
    return _edited(plan, most_urgent_first(plan.problem, free, plan.seen.runs.median), urgent=True)


def _edited(plan: OrderPlan, packs: Mapping[int, int], *, urgent: bool = False) -> EditedPlan:
    bought = {offer: count for offer, count in packs.items() if count}
    priced = reprice(plan.problem, plan.basket, bought)
    return EditedPlan(
        lists=listed(plan, bought),
        priced=priced,
        spent=_spent(plan, priced, urgent=urgent),
        compared=_compared(plan, priced),
    )


def both_priced(plan: OrderPlan, changed: EditedPlan) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Give goods, carriage, risk and what it costs beyond the suggestion, in major units: as suggested, as changed."""
    mine, carriage = changed.priced, sum(each.carriage for each in plan.basket.orders)
    its = (plan.basket.value, carriage, float(mine.risk_suggested.sum()), 0.0)
    return its, (mine.goods, mine.carriage, float(mine.risk.sum()), mine.dearer)


def edits(path: Path) -> list[OrderedPacks]:
    """Read a basket from a file: the list of suggested orders as reports write it, or any with its columns.

    Raises
    ------
    BadFileError
        If the file can't be read.
    UsageError
        If columns are missing, or packs are no whole numbers.
    """
    sheet, *others = open_sheets(path, frozenset(_COLUMNS))
    try:
        rows = sheet.rows
        heads = [str(each or "").strip() for each in next(rows, (0, ()))[1]]
        missing = [each for each in ("Code", "Packs") if each not in heads]
        if missing:
            raise UsageError(
                phrase("%(file)s has no column '%(missing)s'.", file=path.name, missing="', '".join(missing)),
                fix="Start from the list of suggested orders that 'stockroom reports' writes, and change its packs.",
            )
        return [change for number, cells in rows if (change := _change(dict(zip(heads, cells, strict=False)), number))]
    finally:
        for each in (sheet, *others):
            each.close()


def _change(cells: Mapping[str, object], row: int) -> OrderedPacks | None:
    told = {key: str(cells.get(heading) or "").strip() for heading, key in _COLUMNS.items()}
    if not told["material"]:
        return None
    packs = told["packs"].removesuffix(".0") or "0"
    if not packs.isdigit():
        raise UsageError(
            phrase("Row %(row)s: '%(packs)s' is no number of packs.", row=row, packs=told["packs"]),
            fix="Write a whole number; 0 takes the line off.",
        )
    return OrderedPacks(material=told["material"], packs=int(packs), supplier_code=told["supplier_code"])


def _offer(plan: OrderPlan, change: OrderedPacks, packs: Mapping[int, int]) -> int:
    """Find the offer that is meant: by a supplier's code, else the suggested one, else the cheapest one."""
    offers, shelf = plan.outlook.question.offers, plan.outlook.known.shelf.materials
    typed = change.material.strip().casefold()
    of_it = [n for n, offer in enumerate(offers) if offer.supplier_code.casefold() == typed and typed]
    code = change.material
    if not of_it:
        code = find("material", change.material, {code: material.name for code, material in shelf.items()})
        of_it = [n for n, offer in enumerate(offers) if offer.material == code]
    if change.supplier_code:
        of_it = [n for n in of_it if offers[n].supplier_code.casefold() == change.supplier_code.casefold()]
    if not of_it:
        raise UnknownError(
            phrase("No supplier offers %(material)s like that.", material=code),
            fix="Name one of its suppliers' own codes, or none.",
        )
    suggested = [n for n in of_it if n in packs]
    cost = plan.problem.offers
    return (
        suggested[0] if suggested else min(of_it, key=lambda n: cost[n].price_at(max(change.packs, 1)) / cost[n].pack)
    )


def _spent(plan: OrderPlan, priced: PricedBasket, *, urgent: bool) -> str:
    words, its = words_of(plan), sum(each.carriage for each in plan.basket.orders)
    facts = {
        "goods": words.money(priced.goods),
        "carriage": words.money(priced.carriage),
        "mine": words.money(priced.goods + priced.carriage),
        "suggested": words.money(plan.basket.value + its),
        "its": words.money(its),
    }
    if urgent:
        return phrase(
            "The most urgent first: goods %(goods)s, carriage %(carriage)s, total %(mine)s before tax; suggested: "
            "%(suggested)s, of which carriage %(its)s.",
            **facts,
        )
    return phrase(
        "As changed: goods %(goods)s, carriage %(carriage)s, total %(mine)s before tax; suggested: %(suggested)s, of "
        "which carriage %(its)s.",
        **facts,
    )


def _compared(plan: OrderPlan, priced: PricedBasket) -> str:
    words = words_of(plan)
    said: list[str] = []
    if abs(priced.dearer) <= SMALL:
        said.append(phrase("It is expected to cost as much as the suggested orders."))
    elif priced.dearer > 0:
        said.append(
            phrase(
                "It is expected to cost %(money)s more than the suggested orders, all in all.",
                money=words.money(priced.dearer),
            )
        )
    else:
        said.append(
            phrase(
                "It is expected to cost %(money)s less than the suggested orders, all in all.",
                money=words.money(-priced.dearer),
            )
        )
    said.append(
        phrase(
            "Until the orders after these come, delayed work and lost sales are expected to come to %(mine)s; with the "
            "suggested orders to %(suggested)s.",
            mine=words.money(float(priced.risk.sum())),
            suggested=words.money(float(priced.risk_suggested.sum())),
        )
    )
    return joined([*said, *_riskier(plan, priced), *beyond(plan, priced)])


def _riskier(plan: OrderPlan, priced: PricedBasket) -> list[str]:
    """Name the materials that the changes put most at risk."""
    words, more = words_of(plan), priced.risk - priced.risk_suggested
    worst = [n for n in np.argsort(-more)[:NAMED].tolist() if more[n] > SMALL]
    if not worst:
        return []
    names = plan.outlook.known.shelf.materials
    told = []
    for n in worst:
        name, money = names[plan.problem.items[n].name].name, words.money(float(more[n]))
        days = float(plan.seen.runs.median[n])
        if np.isfinite(days):
            day = words.day(days)
            told.append(phrase("%(name)s (runs out around %(day)s; %(money)s)", name=name, day=day, money=money))
        else:
            told.append(phrase("%(name)s (mostly lasts beyond the outlook; %(money)s)", name=name, money=money))
    return [phrase("More at risk: %(named)s.", named=joined(told, ", "))]


def beyond(plan: OrderPlan, priced: PricedBasket) -> list[str]:
    """Say which limits and minimum orders the changes don't keep."""
    words, (cash, _, litres) = words_of(plan), priced.over.tolist()
    said: list[str] = []
    if cash > SMALL:
        said.append(phrase("That is %(money)s more than may be spent.", money=words.money(cash)))
    if litres > SMALL:
        said.append(
            phrase("Flammables would come to %(litres)s l more than may be stored.", litres=words.number(litres))
        )
    for supplier, missing in priced.below.items():
        said.append(
            phrase(
                "%(supplier)s takes no order this small: %(money)s are missing.",
                supplier=plan.problem.suppliers[supplier].name,
                money=words.money(missing),
            )
        )
    for supplier, missing in priced.light.items():
        said.append(
            phrase(
                "%(supplier)s sends nothing this light: %(weight)s kg are missing.",
                supplier=plan.problem.suppliers[supplier].name,
                weight=words.number(missing),
            )
        )
    for number in priced.unsold:
        offer = plan.outlook.question.offers[number]
        said.append(
            phrase(
                "%(material)s is sold in multiples of %(multiple)s packs, %(least)s at least.",
                material=offer.material,
                multiple=offer.multiple,
                least=offer.fewest_packs,
            )
        )
    return said
