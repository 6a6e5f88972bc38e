"""What counts teach, worked out from the book: intervals between counts, lessons, and beliefs about the shelf."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from hashlib import sha256
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from stockroom.counting.belief import Belief, Losses, Work, after_count, after_work
from stockroom.counting.learn import learn
from stockroom.counting.lessons import Intervals, Lessons, MaterialLesson, ShockKind
from stockroom.errors import BookError
from stockroom.flows import lesson_memory
from stockroom.stock.materials import Material
from stockroom.stock.quantities import NANO, Dimension
from stockroom.stock.recipe_box import RecipeBox, by_job
from stockroom.stock.recipes import Recipe, catalogue
from stockroom.store import catalogue as kept
from stockroom.store import usage
from stockroom.store.book import Book, Session
from stockroom.store.usage import Counted, Drawn

Floats = NDArray[np.float64]

WEEK = 7 * 86400.0
UNSTATED_ERROR = 0.03  # of what was found, for a measured bin whose aid stated no error; counted pieces are exact
LEAST_WEEKS = 1 / 7  # two counts on one day are one occasion, not an interval


@dataclass(frozen=True, slots=True, kw_only=True)
class LineKey:
    """One line of one job's recipe, drawing one material."""

    job: str
    line: str

    def __str__(self) -> str:
        return f"{self.job}: {self.line}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Diary:
    """One material's past: its counts, and what moved between them."""

    material: Material
    keys: tuple[LineKey, ...]
    recipe: Floats  # (p,) base units of one usual job, by the recipes of today
    counts: tuple[Counted, ...]
    drawn: Sequence[tuple[datetime, int, float, int]]  # moment, line, base units by today's recipe, times
    others: Sequence[tuple[datetime, float]]  # base units joining the shelf

    def between(self, first: datetime, last: datetime) -> tuple[Floats, Floats, float]:
        """Add up expected use and times by line, and other moves, after `first` up to `last`."""
        expected, times = np.zeros(len(self.keys)), np.zeros(len(self.keys))
        for when, line, amount, count in self.drawn:
            if first < when <= last:
                expected[line] += amount
                times[line] += count
        received = sum(amount for when, amount in self.others if first < when <= last)
        return np.maximum(expected, 0.0), np.maximum(times, 0.0), received


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Teaching:
    """Everything the counts teach as of a moment."""

    moment: datetime
    diaries: Mapping[str, Diary]
    lessons: Lessons
    by_material: Mapping[str, MaterialLesson]
    mark: str = ""  # under which to keep what was worked out afresh; empty when it was kept already

    def ratios(self) -> dict[tuple[str, str], float]:
        """Give true use over recipe use, by job and material."""
        found: dict[tuple[str, str], float] = {}
        for code, lesson in self.by_material.items():
            keys = self.diaries[code].keys
            for job in {key.job for key in keys}:
                lines = [n for n, key in enumerate(keys) if key.job == job]
                weights = self.diaries[code].recipe[lines]
                found[job, code] = float(lesson.ratio_mean[lines] @ weights / weights.sum())
        return found

    def waste(self) -> dict[str, float]:
        """Give base units a week that leave the shelf on no ticket, by material."""
        return {code: lesson.waste.estimate for code, lesson in self.by_material.items()}


def teach(book: Book, moment: datetime, *, site: str | None = None) -> Teaching:
    """Work out what the counts until a moment teach, and keep it for the next who asks."""
    with book.reading() as session:
        taught = teaching(session, moment, site=site)
    if taught.mark:
        keep(book, taught)
    return taught


def keep(book: Book, taught: Teaching) -> None:
    """Keep lessons worked out afresh; a book that can't be written just works them out again."""
    with suppress(BookError), book.writing() as session:
        lesson_memory.remember(session, taught.mark, taught.lessons)


def teaching(session: Session, moment: datetime, *, site: str | None = None) -> Teaching:
    """Work it out within a transaction under way, or take it from what was kept since the last count."""
    diaries = read_diaries(session, moment, site=site)
    learnable = [diary for diary in diaries.values() if diary.keys]
    mark = _mark(session, learnable, moment, site)
    lessons = lesson_memory.recall(session, mark)
    fresh = lessons is None
    lessons = learn([intervals(diary) for diary in learnable]) if lessons is None else lessons
    by_material = {diary.material.code: lesson for diary, lesson in zip(learnable, lessons.materials, strict=True)}
    return Teaching(
        moment=moment, diaries=diaries, lessons=lessons, by_material=by_material, mark=mark if fresh else ""
    )


def _mark(session: Session, learnable: Sequence[Diary], moment: datetime, site: str | None) -> str:
    """Mark the state that lessons depend on: counts, what they correct, the lines drawn, the recipes in force."""
    bins = [(d.material.code, len(d.counts), d.counts[-1].counted if d.counts else "", d.keys) for d in learnable]
    cards = [(r.job, r.valid_from) for r in kept.read_recipes(session) if r.valid_from <= moment.date()]
    said = f"{usage.counting_state(session)}|{site}|{bins}|{cards}"
    return sha256(said.encode()).hexdigest()


def read_diaries(session: Session, moment: datetime, *, site: str | None = None) -> dict[str, Diary]:
    """Gather each material's counts and moves."""
    materials = {m.code: m for m in kept.read_materials(session)}
    box = RecipeBox(by_job(kept.read_recipes(session)), catalogue(list(materials.values())))
    scale = _Scale(box, moment.date())
    drawn: dict[str, list[Drawn]] = defaultdict(list)
    for one in usage.drawn_by_jobs(session, moment, site=site):
        drawn[one.material].append(one)
    counts: dict[str, list[Counted]] = defaultdict(list)
    for bin_ in usage.counted_bins(session, moment, site=site):
        counts[bin_.material].append(bin_)
    others: dict[str, list[tuple[datetime, float]]] = defaultdict(list)
    for moved in usage.other_moves(session, moment, site=site):
        others[moved.material].append((moved.happened, moved.nano / NANO))
    return {
        code: _diary(material, drawn[code], counts[code], others[code], scale) for code, material in materials.items()
    }


class _Scale:
    """How today's recipe compares with the one a job was drawn by, line by line."""

    def __init__(self, box: RecipeBox, today: date) -> None:
        self.box = box
        self.today = today
        self.known: dict[tuple[str, str, int], float] = {}

    def __call__(self, job: str, line: str, day: date) -> float:
        then, now = self.box.recipe(job, day), self.box.recipe(job, self.today)
        if then is None or now is None or then is now:
            return 1.0
        key = (job, line, id(then))
        if key not in self.known:
            self.known[key] = _line_amount(now, line) / _line_amount(then, line) if _both(then, now, line) else 1.0
        return self.known[key]


def _both(then: Recipe, now: Recipe, line: str) -> bool:
    return _line_amount(then, line) > 0 and _line_amount(now, line) > 0


def _line_amount(recipe: Recipe, name: str) -> float:
    factors = (
        line.amount.nano * line.coats * (1 + line.waste / 100) * line.chance
        for line in recipe.lines
        if line.name == name
    )
    return float(sum(factors, Fraction(0)))


def _diary(
    material: Material,
    drawn: Sequence[Drawn],
    counts: Sequence[Counted],
    others: Sequence[tuple[datetime, float]],
    scale: _Scale,
) -> Diary:
    keys = tuple(dict.fromkeys(LineKey(job=d.job, line=d.line) for d in drawn))
    place = {key: n for n, key in enumerate(keys)}
    rows = []
    total, times = np.zeros(len(keys)), np.zeros(len(keys))
    for one in drawn:
        n = place[LineKey(job=one.job, line=one.line)]
        amount = one.nano / NANO * scale(one.job, one.line, one.happened.date())
        count = 1 if one.nano > 0 else -1
        rows.append((one.happened, n, amount, count))
        total[n] += amount
        times[n] += count
    used = times > 0
    recipe = np.divide(total, times, out=np.ones_like(total), where=used)
    return Diary(
        material=material,
        keys=keys,
        recipe=np.where(recipe > 0, recipe, 1.0),
        counts=tuple(counts),
        drawn=rows,
        others=others,
    )


def intervals(diary: Diary) -> Intervals:
    """Cut a material's past into the spans between its counts."""
    counts = _occasions(diary.counts)
    pairs = list(pairwise(counts))
    p = len(diary.keys)
    expected, times = np.zeros((len(pairs), p)), np.zeros((len(pairs), p))
    observed, weeks = np.zeros(len(pairs)), np.zeros(len(pairs))
    for n, (before, after) in enumerate(pairs):
        expected[n], times[n], received = diary.between(before.counted, after.counted)
        observed[n] = (before.nano - after.nano) / NANO + received
        weeks[n] = (after.counted - before.counted).total_seconds() / WEEK
    variance = np.array([count_variance(diary.material, c) for c in counts]) if counts else np.zeros(1)
    return Intervals(
        material=diary.material.code,
        lines=tuple(str(key) for key in diary.keys),
        recipe=diary.recipe,
        expected=expected,
        times=times,
        observed=observed,
        weeks=weeks,
        count_variance=variance,
    )


def _occasions(counts: Iterable[Counted]) -> list[Counted]:
    """Keep the last of the counts taken within a day of each other."""
    made: list[Counted] = []
    for count in counts:
        if made and (count.counted - made[-1].counted).total_seconds() / WEEK < LEAST_WEEKS:
            made[-1] = count
        else:
            made.append(count)
    return made


def count_variance(material: Material, count: Counted) -> float:
    """Square of one standard error of a count, base units."""
    if count.error is not None:
        return float((count.error / NANO) ** 2)
    if material.dimension is Dimension.COUNT:
        return 0.0
    return float((UNSTATED_ERROR * count.nano / NANO) ** 2)


def beliefs(taught: Teaching) -> dict[str, Belief]:
    """Say how sure the book can be of each shelf now."""
    return {code: _belief(taught, diary) for code, diary in taught.diaries.items()}


def _belief(taught: Teaching, diary: Diary) -> Belief:
    lesson = taught.by_material.get(diary.material.code)
    counts = _occasions(diary.counts)
    first = counts[-1] if counts else None
    start = first.counted if first else datetime.min
    variance = count_variance(diary.material, first) if first else 0.0
    belief = Belief(mean=first.nano / NANO if first else 0.0, variance=variance)
    expected, times, received = diary.between(start, taught.moment)
    if lesson is None:
        return Belief(mean=belief.mean + received - float(expected.sum()), variance=belief.variance)
    weeks = _weeks_since(diary, start, taught.moment)
    work = Work(expected=expected, times=times, received=received, weeks=weeks)
    return after_work(belief, work, lesson, _losses(lesson, diary))


def _weeks_since(diary: Diary, start: datetime, now: datetime) -> float:
    first = min((when for when, _ in diary.others), default=now)
    return max((now - max(start, first)).total_seconds() / WEEK, 0.0)


def _losses(lesson: MaterialLesson, diary: Diary) -> Losses:
    """Learn how often, and how much at once, goes missing from this bin."""
    sudden = [s.amount for s in lesson.shocks if s.kind is ShockKind.SUDDEN and s.amount > 0]
    counts = diary.counts
    weeks = (counts[-1].counted - counts[0].counted).total_seconds() / WEEK if len(counts) > 1 else 0.0
    size = float(np.mean(sudden)) if sudden else 0.0
    return Losses(size=size).seen(len(sudden), weeks)


def narrowed(belief: Belief, found: float, variance: float) -> Belief:
    """Say what a count would leave of a doubt."""
    return after_count(belief, found, variance)
