"""What counts propose for the recipes, in the shop's own words, and the answer: a new version, never an edit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from stockroom.counting.learn import pooled
from stockroom.counting.lessons import LessonAdvice, LineLesson, Outlier
from stockroom.counting.proposals import Proposal, Voice, outlier_sentence, sentence, waste_sentence
from stockroom.errors import RefusedError, UnknownError
from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.flows.learning.lessons import WEEK, Diary, LineKey, Teaching, keep, teaching
from stockroom.phrases import joined, phrase
from stockroom.show.formats import Formats, formats_of
from stockroom.stock.materials import Material
from stockroom.stock.quantities import NANO, Dimension, Quantity, Unit
from stockroom.stock.recipes import Per, Recipe, RecipeLine, in_force
from stockroom.stock.suppliers import unit_costs
from stockroom.store import catalogue
from stockroom.store.book import Book

FIGURES = 3  # a recipe card is written in figures a person can weigh out
AGAIN_LATER = 3  # counts after which a proposal put off comes up again
AGAIN_KEPT = 26  # and one turned down, if the counts still say the same
NEWS = 0.05  # change of what the counts say that is worth asking again at once
YEAR = 52  # weeks
RECENT = timedelta(weeks=13)  # one-offs older than a quarter are past asking about
WORTH_TELLING = 0.25  # of a week's use: a smaller one-off is not worth a question
WORTH_NAMING = 0.03  # share of use; less waste than that is not reported
ORDER = (LessonAdvice.PROPOSE, LessonAdvice.LATER, LessonAdvice.KEEP)


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """One proposal as it is put to the owner: a line of a recipe card, whatever variants it draws."""

    key: LineKey
    proposal: Proposal  # amounts as on the card, in base units of the card's own dimension
    words: str
    materials: tuple[str, ...]  # the variants, the one used most first
    unit: Unit  # the base unit its amounts are in
    yearly: float  # minor units of money more (or, below zero, less) a year
    counts: int  # taken of the variants so far
    answer: str = ""  # 'kept' or 'later' while the owner's answer stands

    @property
    def wanted(self) -> bool:
        """Whether it asks for an answer now."""
        return self.proposal.verdict is LessonAdvice.PROPOSE and not self.answer


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """A recipe changed by what counts say about actual usage."""

    job: str
    line: str
    before: Quantity
    after: Quantity
    unit: Unit  # the card's
    valid_from: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Variant:
    """One material a line draws, and what its counts say of the line."""

    material: str
    lesson: LineLesson
    counts: int
    weeks: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """Something counts say of one material beside its recipes."""

    material: str
    words: str
    minor: float  # money it is about: a week's waste, or the one-off
    one_off: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """All that counts say: of every recipe line, and beside the recipes."""

    offered: tuple[Offered, ...]
    remarks: tuple[Remark, ...]


def survey(book: Book, moment: datetime) -> Survey:
    """Say all that counts teach as of a moment, what is worth most first."""
    facts, taught, notes = _read(book, moment)
    return Survey(offered=tuple(_offered(facts, taught, notes)), remarks=tuple(remarks(facts, taught)))


def offered(book: Book, moment: datetime) -> list[Offered]:
    """List what counts say of every recipe line, those worth most first."""
    return _offered(*_read(book, moment))


def accept(book: Book, job: str, line: str, moment: datetime) -> Accepted:
    """Make a new version of a recipe, from today, with what counts say a line uses.

    Raises
    ------
    UnknownError
        If the job has no recipe.
    """
    facts, taught, notes = _read(book, moment)
    mine = _the_one(_offered(facts, taught, notes), LineKey(job=job, line=line))
    _refuse_unfounded(mine)
    card = in_force(facts.recipes[job], moment.date())
    if card is None:
        raise UnknownError(phrase("%(job)s has no recipe.", job=job), fix="Load one first.")
    before = _line(card, line)
    ratio = Fraction(mine.proposal.use.estimate / mine.proposal.recipe).limit_denominator(10_000)
    changed = replace(before, amount=_weighable(before.amount, ratio))
    fresh = replace(
        card,
        valid_from=moment.date(),
        lines=tuple(changed if each.name == line else each for each in card.lines),
        source=f"counts until {moment.date()}",
    )
    with book.writing(at=moment) as session:
        catalogue.add_recipes(session, [fresh])
    return Accepted(
        job=job,
        line=line,
        before=before.amount,
        after=changed.amount,
        unit=card_unit(before.amount, [facts.shelf.materials[code] for code in mine.materials]),
        valid_from=moment.date().isoformat(),
    )


def keep_recipe(book: Book, job: str, line: str, moment: datetime) -> None:
    """Keep the recipe as it is; it comes up again when counts say something else."""
    _answer(book, LineKey(job=job, line=line), moment, "kept")


def ask_later(book: Book, job: str, line: str, moment: datetime) -> None:
    """Put a proposal off until its materials were counted three more times."""
    _answer(book, LineKey(job=job, line=line), moment, "later")


def _answer(book: Book, key: LineKey, moment: datetime, answer: str) -> None:
    mine = _the_one(_offered(*_read(book, moment)), key)
    with book.writing(at=moment) as session:
        catalogue.save_note(session, _note(key), f"{answer} {mine.counts} {mine.proposal.use.estimate!r}")


def _read(book: Book, moment: datetime) -> tuple[BookSnapshot, Teaching, Mapping[str, str]]:
    with book.reading() as session:
        facts = book_snapshot(session, moment)
        taught = teaching(session, moment)
        notes = catalogue.read_notes(session, "lesson:")
    if taught.mark:
        keep(book, taught)
    return facts, taught, notes


def _offered(facts: BookSnapshot, taught: Teaching, notes: Mapping[str, str]) -> list[Offered]:
    costs = minor_costs(facts)
    made = []
    for key, variants in _variants(taught).items():
        card = in_force(facts.recipes.get(key.job, ()), facts.day)
        if card is not None and any(line.name == key.line for line in card.lines):
            made.append(_one(facts, key, variants, (_line(card, key.line), costs, notes.get(_note(key), ""))))
    return sorted(made, key=lambda each: (ORDER.index(each.proposal.verdict), -abs(each.yearly)))


def _variants(taught: Teaching) -> dict[LineKey, list[_Variant]]:
    """Arrange lessons by the line of the card they are about, the variant used most first."""
    found: dict[LineKey, list[_Variant]] = {}
    for code, lesson in taught.by_material.items():
        diary = taught.diaries[code]
        weeks = (diary.counts[-1].at - diary.counts[0].at) / WEEK if diary.counts else 0.0
        for line in lesson.lines:
            one = _Variant(material=code, lesson=line, counts=len(diary.counts), weeks=weeks)
            found.setdefault(diary.keys[line.line], []).append(one)
    return {key: sorted(each, key=lambda one: -one.lesson.uses) for key, each in found.items()}


def _one(
    facts: BookSnapshot, key: LineKey, variants: list[_Variant], given: tuple[RecipeLine, Mapping[str, float], str]
) -> Offered:
    line, costs, note = given
    counts = sum(each.counts for each in variants)
    whole = pooled([each.lesson for each in variants], counts, line=str(key), recipe=float(line.amount.nano) / NANO)
    extra = (whole.use.estimate / whole.recipe - 1) * _spent(variants, costs)
    proposal = Proposal(
        material=variants[0].material,
        line=str(key),
        recipe=whole.recipe,
        use=whole.use,
        uses=whole.uses,
        verdict=whole.verdict,
        extra=extra,
        ask_after=whole.ask_after,
        blurred_with=whole.blurred_with,
        may_be_loss=whole.may_be_loss,
    )
    years = max(*(each.weeks for each in variants), 1.0) / YEAR
    materials = tuple(each.material for each in variants)
    yearly = extra * whole.uses / years
    words = sentence(proposal, line_voice(facts, line, materials, formats_of(facts.shop)), yearly=yearly)
    answer = _answered(note, counts, whole.use.estimate)
    return Offered(
        key=key,
        proposal=proposal,
        words=words,
        materials=materials,
        unit=line.amount.dimension.base,
        yearly=yearly,
        counts=counts,
        answer=answer,
    )


def _spent(variants: Sequence[_Variant], costs: Mapping[str, float]) -> float:
    """Give what a job's use of a line costs by the recipe, in minor units; variants weigh by how often they went."""
    uses = sum(each.lesson.uses for each in variants)
    total = sum(each.lesson.recipe * costs.get(each.material, 0.0) * each.lesson.uses for each in variants)
    return total / uses if uses else 0.0


def _answered(note: str, counts: int, estimate: float) -> str:
    """Say how the owner answered, as long as the answer stands."""
    answer, _, rest = note.partition(" ")
    then, _, said = rest.partition(" ")
    if not said:
        return ""
    patience = AGAIN_KEPT if answer == "kept" else AGAIN_LATER
    news = answer == "kept" and abs(estimate / float(said) - 1) > NEWS
    return "" if news or counts >= int(then) + patience else answer


def _the_one(found: Sequence[Offered], key: LineKey) -> Offered:
    mine = [each for each in found if each.key == key]
    if not mine:
        raise UnknownError(
            phrase("Counts say nothing of '%(line)s' in %(job)s.", line=key.line, job=key.job),
            fix="See: stockroom usage --all",
        )
    return mine[0]


def _refuse_unfounded(mine: Offered) -> None:
    if mine.proposal.verdict is LessonAdvice.LATER:
        raise RefusedError(
            phrase("Counts can't say yet what '%(line)s' in %(job)s uses.", line=mine.key.line, job=mine.key.job),
            fix="Count it a few more times; see: stockroom usage --all",
        )
    if mine.proposal.verdict is LessonAdvice.KEEP:
        raise RefusedError(
            phrase("Counts agree with the recipe: '%(line)s' in %(job)s holds.", line=mine.key.line, job=mine.key.job),
            fix="There is nothing to change.",
        )


def _line(card: Recipe, name: str) -> RecipeLine:
    return next(each for each in card.lines if each.name == name)


def _weighable(before: Quantity, ratio: Fraction) -> Quantity:
    exact = Decimal(before.times(ratio).nano) / NANO
    step = Decimal(1).scaleb(exact.adjusted() - FIGURES + 1)
    rounded = exact.quantize(step, rounding=ROUND_HALF_EVEN)
    return before.dimension.base.of(rounded)


def _note(key: LineKey) -> str:
    return f"lesson:{key.job}:{key.line}"


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
    said += [phrase("a machine minute")] if line.per is Per.MINUTE else []
    said += [phrase("by hours of the machine")] if line.life_hours is not None else []
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


def _worth_asking(outlier: Outlier, diary: Diary, moment: datetime) -> bool:
    counted = [count.at for count in diary.counts]
    if moment - counted[min(outlier.index + 1, len(counted) - 1)] > RECENT:
        return False
    return abs(outlier.amount) > WORTH_TELLING * _weekly_use(diary)


def _weekly_use(diary: Diary) -> float:
    """Give what jobs draw in a week by the recipes, over the time that was counted."""
    weeks = max((diary.counts[-1].at - diary.counts[0].at) / WEEK, 1.0) if diary.counts else 1.0
    return float(diary.uses.amount.sum()) / weeks


def _one_off(facts: BookSnapshot, code: str, outlier: Outlier, diary: Diary) -> str:
    formats = formats_of(facts.shop)
    return outlier_sentence(code, outlier, [formats.day(count.at.date()) for count in diary.counts], _voice(facts))
