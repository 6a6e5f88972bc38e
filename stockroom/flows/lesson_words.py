"""What counts teach, in the shop's own words: names of variants, amounts as on the card, waste and one-offs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from stockroom.counting.lessons import Outlier
from stockroom.counting.proposals import Voice, outlier_sentence, waste_sentence
from stockroom.flows.book.snapshot import BookSnapshot
from stockroom.flows.count_rules import unit_costs
from stockroom.flows.lessons import WEEK, MaterialPast, Teaching
from stockroom.phrases import joined, phrase
from stockroom.show.formats import Formats, formats_of
from stockroom.stock.materials import Material
from stockroom.stock.quantities import NANO, Dimension, Quantity, Unit
from stockroom.stock.recipes import Per, RecipeLine

RECENT = timedelta(weeks=13)  # one-offs older than a quarter are past asking about
WORTH_TELLING = 0.25  # of a week's use: a smaller one-off is not worth a question
WORTH_NAMING = 0.03  # of use: less waste than that is nobody's concern


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """Something counts say of one material beside its recipes."""

    material: str
    words: str
    minor: float  # money it is about: a week's waste, or the one-off
    one_off: bool


def minor_costs(facts: BookSnapshot) -> dict[str, float]:
    """Cost of a base unit in minor units of money."""
    return {code: float(cost) for code, cost in unit_costs(facts.materials, facts.offers).items()}


def line_voice(facts: BookSnapshot, line: RecipeLine, materials: Sequence[str], formats: Formats) -> Voice:
    """Speak of a line as its card does: its unit, 'a coat', 'a shoe', 'where used'."""
    unit = card_unit(line.amount, [facts.shelf.materials[code] for code in materials])
    name = family_name([facts.shelf.materials[code].name for code in materials])
    return Voice(
        material=lambda _: name,
        amount=lambda _, amount: formats.amount(round(amount * NANO), unit),
        money=lambda minor: formats.money(round(minor)),
        per=_qualified(line),
    )


def card_unit(amount: Quantity, materials: Sequence[Material]) -> Unit:
    """Give the unit a recipe's amount is said in: pairs where its material is kept in pairs and it comes to whole ones.

    Weights, lengths and the like are said in the small units of a job, whatever the material is kept in.
    """
    units = [_spoken(material) for material in materials if material.dimension is amount.dimension]
    return next((unit for unit in units if not amount.nano % unit.nano), amount.dimension.base)


def _spoken(material: Material) -> Unit:
    return material.unit if material.dimension is Dimension.COUNT else material.dimension.base


def _qualified(line: RecipeLine) -> str:
    said = [phrase("a shoe")] if line.per is Per.SHOE else []
    said += [phrase("a coat")] if line.coats > 1 else []
    said += [phrase("where used")] if line.chance < 1 else []
    return joined(said)


def family_name(names: Sequence[str]) -> str:
    """Name variants together by what their names begin with alike: 'Thread, black' and 'Thread, brown' are 'Thread'."""
    if len(names) == 1:
        return names[0]
    first, last = min(names), max(names)
    alike = next((n for n, mark in enumerate(first) if not last.startswith(mark, n)), len(first))
    shared = first[:alike]
    cut = shared.rpartition(",")[0] or shared.rpartition(" ")[0]
    return cut.rstrip(" ,") or phrase("%(name)s and others", name=names[0])


def remarks(facts: BookSnapshot, taught: Teaching) -> list[Remark]:
    """Say what goes on no ticket, and what happened once and is still to be explained; dearest first."""
    costs, voice = minor_costs(facts), _voice(facts)
    return sorted((*_waste(taught, costs, voice), *_one_offs(facts, taught, costs)), key=lambda each: -each.minor)


def _voice(facts: BookSnapshot) -> Voice:
    formats, materials = formats_of(facts.shop), facts.shelf.materials
    return Voice(
        material=lambda code: materials[code].name,
        amount=lambda code, amount: formats.amount(round(amount * NANO), _spoken(materials[code])),
        money=lambda minor: formats.money(round(minor)),
    )


def _waste(taught: Teaching, costs: Mapping[str, float], voice: Voice) -> list[Remark]:
    found = []
    for code, lesson in taught.by_material.items():
        cost = costs.get(code, 0.0)
        if lesson.waste.estimate < WORTH_NAMING * _weekly_use(taught.diaries[code]):
            continue
        if words := waste_sentence(lesson, cost, voice):
            found.append(Remark(material=code, words=words, minor=lesson.waste.estimate * cost, one_off=False))
    return found


def _one_offs(facts: BookSnapshot, taught: Teaching, costs: Mapping[str, float]) -> list[Remark]:
    found = []
    for code, lesson in taught.by_material.items():
        diary = taught.diaries[code]
        for outlier in lesson.outliers:
            if _worth_asking(outlier, diary, taught.moment):
                words = _one_off(facts, code, outlier, diary)
                minor = abs(outlier.amount) * costs.get(code, 0.0)
                found.append(Remark(material=code, words=words, minor=minor, one_off=True))
    return found


def _worth_asking(outlier: Outlier, diary: MaterialPast, moment: datetime) -> bool:
    counted = [count.at for count in diary.counts]
    if moment - counted[min(outlier.index + 1, len(counted) - 1)] > RECENT:
        return False
    return abs(outlier.amount) > WORTH_TELLING * _weekly_use(diary)


def _weekly_use(diary: MaterialPast) -> float:
    """Give what jobs draw in a week by the recipes, over the time that was counted."""
    weeks = max((diary.counts[-1].at - diary.counts[0].at) / WEEK, 1.0) if diary.counts else 1.0
    return float(diary.uses.amount.sum()) / weeks


def _one_off(facts: BookSnapshot, code: str, outlier: Outlier, diary: MaterialPast) -> str:
    formats = formats_of(facts.shop)
    return outlier_sentence(code, outlier, [formats.day(count.at.date()) for count in diary.counts], _voice(facts))
