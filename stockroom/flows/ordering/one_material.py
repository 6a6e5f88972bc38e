"""One material of the order question: what is there, comes and goes, and what more, fewer or none would cost."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from stockroom.buying.repricing import reprice
from stockroom.flows.ordering.edit import beyond
from stockroom.flows.ordering.plan import OrderPlan, words_of
from stockroom.flows.outlook.run_outs import open_orders_of, run_out_rows
from stockroom.phrases import joined, phrase
from stockroom.show.formats import Formats
from stockroom.stock.lists import ReorderLine, ReorderList, RunOutRow
from stockroom.stock.materials import Material
from stockroom.stock.money import major
from stockroom.stock.quantities import NANO, Unit, plain
from stockroom.stock.suppliers import Offer
from stockroom.stock.typed import find


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """What is on its way of a material by one order."""

    order: str
    supplier: str  # name
    amount: int  # nano
    expected: date | None
    late: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Instead:
    """So many packs of an offer in place of what is suggested, priced with the whole basket."""

    offer: Offer
    packs: int
    dearer: float  # than the suggested basket, in all; below zero: cheaper
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialKnown:
    """Everything that is known of a material when orders are thought about."""

    material: Material
    on_hand: int  # nano
    row: RunOutRow | None  # None where nothing is expected to be used
    coming: tuple[Coming, ...]
    offers: tuple[tuple[str, Offer], ...]  # with their suppliers' names
    suggested: tuple[tuple[ReorderList, ReorderLine], ...]
    instead: tuple[Instead, ...]


def named_materials(plan: OrderPlan, typed: Sequence[str]) -> list[str]:
    """Find materials by code, a few letters of a name, or a supplier's own code.

    Raises
    ------
    UnknownError, AmbiguousError
        If nothing fits, or more than one thing fits equally well.
    """
    names = {code: material.name for code, material in plan.outlook.known.shelf.materials.items()}
    theirs = {offer.supplier_code.casefold(): offer.material for offer in plan.outlook.question.offers}
    return [theirs.get(each.strip().casefold()) or find("material", each, names) for each in typed]


def known_of(plan: OrderPlan, code: str) -> MaterialKnown:
    """Gather what is known of a material, and price more, fewer and none of it."""
    known = plan.outlook.known
    names = {supplier.code: supplier.name for supplier in plan.outlook.question.suppliers}
    return MaterialKnown(
        material=known.shelf.materials[code],
        on_hand=known.on_hand.get(code, 0),
        row=next((row for row in run_out_rows(plan.outlook) if row.material == code), None),
        coming=tuple(
            Coming(
                order=order.number,
                supplier=names.get(order.supplier, order.supplier),
                amount=sum(line.outstanding for line in order.lines if line.material == code),
                expected=order.expected,
                late=order.expected is not None and order.expected < known.day,
            )
            for order in open_orders_of(known, code)
        ),
        offers=tuple((names[o.supplier], o) for o in plan.outlook.question.offers if o.material == code),
        suggested=tuple((each, line) for each in plan.lists for line in each.lines if line.material == code),
        instead=in_place_of(plan, code),
    )


def in_place_of(plan: OrderPlan, code: str) -> tuple[Instead, ...]:
    """Price a few packs fewer or more than suggested, and none; of what is not suggested, the fewest of each offer."""
    asked = plan.outlook.question.offers
    suggested = {line.offer: line.packs for line in plan.basket.lines if asked[line.offer].material == code}
    if not suggested:
        offers = [n for n, offer in enumerate(asked) if offer.material == code]
        return tuple(_priced(plan, n, plan.problem.offers[n].at_least(1)) for n in offers)
    tried = [(offer, packs) for offer, now in suggested.items() for packs in _around(plan, offer, now)]
    return tuple(_priced(plan, offer, packs) for offer, packs in tried)


def _around(plan: OrderPlan, offer: int, packs: int) -> list[int]:
    """Give the next fewer packs that are sold, the next more, and none."""
    sold = plan.problem.offers[offer]
    fewer = next((n for n in range(packs - 1, 0, -1) if sold.at_least(n) == n), None)
    return [*([fewer] if fewer else []), sold.at_least(packs + 1), 0]


def _priced(plan: OrderPlan, place: int, packs: int) -> Instead:
    bought = {line.offer: line.packs for line in plan.basket.lines} | {place: packs}
    priced = reprice(plan.problem, plan.basket, {offer: count for offer, count in bought.items() if count})
    beside = joined([_beside(plan, place, packs, priced.dearer), *beyond(plan, priced)])
    return Instead(offer=plan.outlook.question.offers[place], packs=packs, dearer=priced.dearer, words=beside)


def _beside(plan: OrderPlan, place: int, packs: int, dearer: float) -> str:
    words = words_of(plan)
    money = words.money(abs(dearer))
    if not packs:
        if dearer >= 0:
            return phrase("None would cost %(money)s more in all.", money=money)
        return phrase("None would cost %(money)s less in all.", money=money)
    facts = {
        "packs": words.packs(place, packs),
        "supplier": plan.problem.suppliers[plan.problem.offers[place].supplier].name,
        "money": money,
    }
    if dearer >= 0:
        return phrase("%(packs)s from %(supplier)s would cost %(money)s more in all.", **facts)
    return phrase("%(packs)s from %(supplier)s would cost %(money)s less in all.", **facts)


def words_about(plan: OrderPlan, found: MaterialKnown) -> list[str]:
    """Say everything that is known of a material, a sentence or two to each thing."""
    formats, unit, row = words_of(plan).formats, found.material.unit, found.row
    free = found.on_hand if row is None else row.free
    said = [
        phrase(
            "On hand %(hand)s, reserved %(aside)s, available %(free)s.",
            hand=formats.told(found.on_hand, unit),
            aside=formats.told(found.on_hand - free, unit),
            free=formats.told(free, unit),
        ),
        *(_on_its_way(each, unit, formats) for each in found.coming),
        *(_expected(row, formats) if row else [phrase("No use of it is expected.")]),
        *(_offered(name, each, formats) for name, each in found.offers),
        *([] if found.offers else [phrase("No supplier offers it.")]),
    ]
    for order, line in found.suggested:
        said += [
            _suggested(order, line, formats),
            line.warning,
            joined([each for each in (line.reason, line.more) if each]),
        ]
        said += line.cautions
    said += [] if found.suggested else [phrase("It is not suggested now.")]
    return [each for each in (*said, *(each.words for each in found.instead)) if each]


def _on_its_way(each: Coming, unit: Unit, formats: Formats) -> str:
    facts = {"amount": formats.told(each.amount, unit), "order": each.order, "supplier": each.supplier}
    if each.expected is None:
        return phrase("On its way: %(amount)s by order %(order)s with %(supplier)s.", **facts)
    facts["day"] = formats.weekday(each.expected)
    if each.late:
        return phrase("On its way: %(amount)s by order %(order)s with %(supplier)s, late since %(day)s.", **facts)
    return phrase("On its way: %(amount)s by order %(order)s with %(supplier)s, expected %(day)s.", **facts)


def _expected(row: RunOutRow, formats: Formats) -> list[str]:
    said: list[str] = [
        phrase(
            "About %(amount)s a week are expected to be used.",
            amount=formats.told(round(row.weekly_use * NANO), row.unit),
        )
    ]
    if row.earliest and row.latest and row.earliest < row.latest:
        early, late = formats.day(row.earliest), formats.day(row.latest)
        said.append(phrase("In 8 of 10 cases it runs out between %(early)s and %(late)s.", early=early, late=late))
    elif row.earliest and row.latest is None:
        said.append(phrase("It could run out as early as %(day)s.", day=formats.day(row.earliest)))
    if row.why:
        said.append(phrase("%(what)s.", what=row.why))
    if row.tickets_at_risk:
        said.append(phrase("Tickets at risk: %(numbers)s.", numbers=", ".join(row.tickets_at_risk)))
    return said


def _offered(supplier: str, offer: Offer, formats: Formats) -> str:
    steps = [(offer.fewest_packs, offer.price_at(offer.fewest_packs))]
    steps += [(each.packs, each.price) for each in offer.breaks if each.packs > offer.fewest_packs]
    prices = [
        phrase("from %(packs)s on %(price)s", packs=packs, price=formats.money(price))
        if packs > 1
        else formats.money(price)
        for packs, price in steps
    ]
    return phrase(
        "%(supplier)s offers it as %(code)s, a pack at %(prices)s.",
        supplier=supplier,
        code=offer.supplier_code,
        prices=joined(prices, ", "),
    )


def _suggested(order: ReorderList, line: ReorderLine, formats: Formats) -> str:
    facts = {
        "packs": formats.number(line.packs),
        "pack": line.pack_name or formats.told(line.pack, line.unit),
        "supplier": order.name,
        "money": formats.money(line.cost),
    }
    return phrase("Suggested: %(packs)s x %(pack)s from %(supplier)s for %(money)s.", **facts)


def material_facts(found: MaterialKnown, digits: int) -> dict[str, object]:
    """Give to a program what is known of a material; amounts in its own unit, money in major units."""
    material, unit = found.material, found.material.unit
    row = found.row
    return {
        "material": material.code,
        "name": material.name,
        "unit": unit.name,
        "on_hand": plain(unit.count(found.on_hand)),
        "available": plain(unit.count(row.free if row else found.on_hand)),
        "on_order": [
            {"order": each.order, "amount": plain(unit.count(each.amount)), "expected": _iso(each.expected)}
            for each in found.coming
        ],
        "weekly_use": round(row.weekly_use * NANO / unit.nano, 6) if row else 0.0,
        "runs_out": _iso(row.runs_out) if row else None,
        "suggested": [
            {
                "supplier": line.supplier, "supplier_code": line.supplier_code, "packs": line.packs,
                "cost": f"{major(line.cost, digits):f}", "warning": line.warning, "reason": line.reason,
                "more": line.more,
            }
            for _, line in found.suggested
        ],
        "instead": [
            {
                "supplier": each.offer.supplier, "supplier_code": each.offer.supplier_code, "packs": each.packs,
                "dearer": f"{each.dearer:.{digits}f}", "words": each.words,
            }
            for each in found.instead
        ],
    }  # fmt: skip


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day else None
