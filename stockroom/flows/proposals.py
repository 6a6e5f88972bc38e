"""What counts propose for the recipes, and the owner's answer: a new version, never an edit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from stockroom.counting.learn import pooled
from stockroom.counting.lessons import LessonAdvice, LineLesson
from stockroom.counting.proposals import Proposal, sentence
from stockroom.errors import RefusedError, UnknownError
from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.flows.lesson_words import Remark, card_unit, line_voice, minor_costs, remarks
from stockroom.flows.lessons import WEEK, LineKey, Teaching, keep, teaching
from stockroom.phrases import phrase
from stockroom.show.formats import formats_of
from stockroom.stock.quantities import NANO, Quantity, Unit
from stockroom.stock.recipes import Recipe, RecipeLine, in_force
from stockroom.store import catalogue
from stockroom.store.book import Book

FIGURES = 3  # a recipe card is written in figures a person can weigh out
AGAIN_LATER = 3  # counts after which a proposal put off comes up again
AGAIN_KEPT = 26  # and one turned down, if the counts still say the same
NEWS = 0.05  # change of what the counts say that is worth asking again at once
YEAR = 52  # weeks
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
    """A recipe changed by what counts teach."""

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
    """Make a new version of a recipe, from today, with what counts say a line uses."""
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
    with book.writing() as session:
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
    with book.writing() as session:
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
            fix="See: stockroom lessons --all",
        )
    return mine[0]


def _refuse_unfounded(mine: Offered) -> None:
    if mine.proposal.verdict is LessonAdvice.LATER:
        raise RefusedError(
            phrase("Counts can't say yet what '%(line)s' in %(job)s uses.", line=mine.key.line, job=mine.key.job),
            fix="Count it a few more times; see: stockroom lessons --all",
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
