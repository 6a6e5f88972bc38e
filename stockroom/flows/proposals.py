"""What counts propose for the recipes, and the owner's answer: a new version, never an edit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from stockroom.counting.lessons import Verdict
from stockroom.counting.proposals import Proposal, Voice, proposals, sentence
from stockroom.errors import RefusedError, UnknownError
from stockroom.flows.asking import unit_costs
from stockroom.flows.known import Known, known
from stockroom.flows.lessons import LineKey, Teaching, keep, teaching
from stockroom.show.formats import Formats, formats_of
from stockroom.stock.quantities import NANO, Quantity
from stockroom.stock.recipes import in_force
from stockroom.store import catalogue
from stockroom.store.book import Book

FIGURES = 3  # a recipe card is written in figures a person can weigh out


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """One proposal as it is put to the owner."""

    key: LineKey
    proposal: Proposal
    words: str
    answer: str = ""  # 'kept' when the owner chose to keep the recipe and no new count has come since


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """A recipe changed by what counts teach."""

    job: str
    line: str
    before: Quantity
    after: Quantity
    valid_from: date


def offered(book: Book, moment: datetime) -> list[Offered]:
    """List what counts say of every recipe line, those worth most first."""
    facts, taught, notes = _read(book, moment)
    return _offered(facts, taught, notes)


def accept(book: Book, job: str, line: str, moment: datetime) -> Accepted:
    """Make a new version of a recipe, from today, with what counts say a line uses."""
    facts, taught, notes = _read(book, moment)
    mine = _proposals_for(_offered(facts, taught, notes), LineKey(job=job, line=line))
    card = in_force(facts.recipes.get(job, ()), moment.date())
    if card is None:
        raise UnknownError(f"{job} has no recipe.", fix="Load one first.")
    ratio = _ratio(mine)
    before = next(each for each in card.lines if each.name == line)
    changed = replace(before, amount=_weighable(before.amount, ratio))
    fresh = replace(
        card,
        valid_from=moment.date(),
        lines=tuple(changed if each.name == line else each for each in card.lines),
        source=f"counts until {moment.date()}",
    )
    with book.writing() as session:
        catalogue.add_recipes(session, [fresh])
    return Accepted(job=job, line=line, before=before.amount, after=changed.amount, valid_from=moment.date())


def keep_recipe(book: Book, job: str, line: str, moment: datetime) -> None:
    """Keep the recipe as it is; it is not proposed again until new counts have come."""
    facts, taught, notes = _read(book, moment)
    key = LineKey(job=job, line=line)
    _proposals_for(_offered(facts, taught, notes), key)
    with book.writing() as session:
        catalogue.save_note(session, _note(key), _counts_seen(taught, key))


def _read(book: Book, moment: datetime) -> tuple[Known, Teaching, Mapping[str, str]]:
    with book.reading() as session:
        facts = known(session, moment)
        taught = teaching(session, moment)
        notes = catalogue.read_notes(session, "lesson:")
    if taught.mark:
        keep(book, taught)
    return facts, taught, notes


def _offered(facts: Known, taught: Teaching, notes: Mapping[str, str]) -> list[Offered]:
    scale = 10**facts.shop.currency_digits
    costs = {code: cost * scale for code, cost in unit_costs(facts).items()}
    voice = _voice(facts, formats_of(facts.shop))
    found = []
    for one in proposals(taught.lessons.materials, costs):
        key = taught.diaries[one.material].keys[one.line]
        kept = notes.get(_note(key)) == _counts_seen(taught, key)
        found.append(Offered(key=key, proposal=one, words=sentence(one, voice), answer="kept" if kept else ""))
    return found


def _proposals_for(found: Sequence[Offered], key: LineKey) -> list[Proposal]:
    mine = [each.proposal for each in found if each.key == key]
    if not mine:
        raise UnknownError(f"Counts say nothing of '{key.line}' in {key.job}.", fix="See: stockroom lessons --all")
    if not any(one.verdict is not Verdict.LATER for one in mine):
        raise RefusedError(
            f"Counts can't say yet what '{key.line}' in {key.job} uses.",
            fix="Count it a few more times; see: stockroom lessons --all",
        )
    return mine


def _ratio(mine: Sequence[Proposal]) -> Fraction:
    """Weigh the variants of a line (colours, sizes) by how often each was used."""
    uses = sum(one.uses for one in mine)
    ratio = sum(one.use.estimate / one.recipe * one.uses for one in mine) / uses
    return Fraction(ratio).limit_denominator(10_000)


def _weighable(before: Quantity, ratio: Fraction) -> Quantity:
    exact = Decimal(before.times(ratio).nano) / NANO
    step = Decimal(1).scaleb(exact.adjusted() - FIGURES + 1)
    rounded = exact.quantize(step, rounding=ROUND_HALF_EVEN)
    return before.dimension.base.of(rounded)


def _voice(facts: Known, formats: Formats) -> Voice:
    materials = facts.shelf.materials
    return Voice(
        material=lambda code: materials[code].name,
        amount=lambda code, amount: formats.amount(round(amount * NANO), materials[code].dimension.base),
        money=lambda minor: formats.money(round(minor)),
    )


def _note(key: LineKey) -> str:
    return f"lesson:{key.job}:{key.line}"


def _counts_seen(taught: Teaching, key: LineKey) -> str:
    return str(sum(len(diary.counts) for diary in taught.diaries.values() if str(key) in diary.keys))
