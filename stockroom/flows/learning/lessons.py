"""What counts teach, worked out from the book: lessons about recipes, and how sure of each shelf they leave it."""

import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from datetime import date, datetime, timedelta
from hashlib import sha256
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stockroom.counting.lessons import (
    Intervals,
    LessonAdvice,
    Lessons,
    LineLesson,
    MaterialLesson,
    Outlier,
    OutlierKind,
    Reading,
    Span,
    Spreads,
)
from stockroom.counting.observations import Counted, Moments, OtherMove, Uses, chance_variance, gather, no_uses
from stockroom.counting.shelf_posterior import (
    Losses,
    ShelfPosterior,
    SinceCount,
    after_work,
    counted,
    learn_losses,
    use_doubt,
)
from stockroom.errors import BookError
from stockroom.stock.counts import CountReason
from stockroom.stock.materials import Material
from stockroom.stock.quantities import NANO, Dimension
from stockroom.stock.recipes import Recipe, recipe_catalogue, times_for_pair
from stockroom.stock.tickets import RecipeBox, by_job
from stockroom.store import catalogue, ledger, result_cache, usage
from stockroom.store.book import Book, Session

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]
Kept = tuple[Lessons, Losses]  # between two counts, in the book

WEEK = timedelta(weeks=1)
NAME = "lessons"
METHOD = 4  # raise it when learning changes: lessons kept from before are worked out again
EXPLAINED = frozenset(
    {
        CountReason.SPOILT,
        CountReason.UNRECORDED,
        CountReason.SHORT,
        CountReason.NOT_ENTERED,
        CountReason.GIFT,
        CountReason.LOSS,
    }
)  # not by recipes
UNSTATED_ERROR = 0.03  # of what was found, for a measured bin whose aid stated no error; counted pieces are exact
ONE_OCCASION = timedelta(days=1)  # counts of a bin within a day are one occasion: the last holds


@dataclass(frozen=True, slots=True, kw_only=True)
class LineKey:
    """One line of one job's recipe, drawing one material."""

    job: str
    line: str

    def __str__(self) -> str:
        return f"{self.job}: {self.line}"


@dataclass(slots=True, kw_only=True)
class Diary:
    """One material's past, in base units: what was counted, what jobs drew by today's recipes, what else moved."""

    material: Material
    counts: list[Counted] = field(default_factory=list)
    uses: Uses = field(default_factory=no_uses)
    moves: list[OtherMove] = field(default_factory=list)
    keys: dict[str, LineKey] = field(default_factory=dict)  # by name, in the order first drawn; `uses` follow it

    @property
    def recipe(self) -> dict[str, float]:
        """What a usual job draws, line by line."""
        amounts, times = self.uses.by_line(len(self.keys))
        return {name: _mean(*each) for name, *each in zip(self.keys, amounts.tolist(), times.tolist(), strict=True)}

    def intervals(self) -> Intervals:
        """Lay the past between its counts."""
        found = gather(self.material.code, self.recipe, counts=self.counts, uses=self.uses, moves=self.moves)
        return replace(found, whole=self.whole)

    @property
    def usual(self) -> Floats:
        """What jobs ever drew, line by line."""
        return np.maximum(self.uses.by_line(len(self.keys))[0], 0.0)

    @property
    def whole(self) -> bool:
        """Whether it is only ever found in whole pieces; a band or jar in use is judged to a tenth."""
        return self.material.dimension is Dimension.COUNT and all(c.amount.is_integer() for c in self.counts)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Teaching:
    """Everything the counts teach as of a moment."""

    moment: datetime
    diaries: Mapping[str, Diary]
    lessons: Lessons
    losses: Losses
    mark: str = ""  # under which to keep what was worked out afresh; empty when it was kept already
    site: str | None = None  # one site only; None: all of them

    @property
    def by_material(self) -> dict[str, MaterialLesson]:
        """The lessons by material."""
        return {lesson.material: lesson for lesson in self.lessons.materials}

    def ratios(self) -> dict[tuple[str, str], float]:
        """Give true use over recipe use, by job and material."""
        found: dict[tuple[str, str], float] = {}
        for code, lesson in self.by_material.items():
            diary = self.diaries[code]
            weights = np.array(list(diary.recipe.values()))
            jobs = [key.job for key in diary.keys.values()]
            for job in set(jobs):
                mine = np.array([each == job for each in jobs])
                found[job, code] = float(lesson.ratio_mean[:-1][mine] @ weights[mine] / weights[mine].sum())
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
    """Keep lessons worked out afresh; where the book can't be written they are worked out again."""
    with suppress(BookError), book.writing() as session:
        remember(session, taught.mark, (taught.lessons, taught.losses), site=taught.site)


def teaching(session: Session, moment: datetime, *, site: str | None = None) -> Teaching:
    """Work it out within a transaction under way, or take it from what was kept since the last count."""
    diaries = read_diaries(session, moment, site=site)
    learnable = [diary for diary in diaries.values() if diary.keys]
    mark = _mark(session, learnable, moment, site)
    found = recall(session, mark, site=site)
    if found is not None:
        return Teaching(moment=moment, diaries=diaries, lessons=found[0], losses=found[1], site=site)
    from stockroom.counting.learn import learn  # noqa: PLC0415 -- slow import, and what was learnt is kept

    known = [diary.intervals() for diary in learnable]
    lessons = learn(known)
    losses = learn_losses(known, lessons)
    return Teaching(moment=moment, diaries=diaries, lessons=lessons, losses=losses, mark=mark, site=site)


def read_diaries(session: Session, moment: datetime, *, site: str | None = None) -> dict[str, Diary]:
    """Gather each material's counts, uses and other moves until a moment."""
    materials = catalogue.read_materials(session)
    box = RecipeBox(by_job(catalogue.read_recipes(session)), recipe_catalogue(materials))
    diaries = {m.code: Diary(material=m) for m in materials}
    _add_uses(diaries, usage.drawn_by_jobs(session, moment, site=site), box, moment.date())
    for moved in usage.other_moves(session, moment, site=site):
        diaries[moved.material].moves.append(OtherMove(at=moved.happened, amount=moved.nano / NANO))
    for found in usage.counted_bins(session, moment, site=site):
        _add_count(diaries[found.material], found)
        if found.reason in EXPLAINED:
            diaries[found.material].moves.append(_explained(session, found))
    return diaries


def _add_uses(diaries: Mapping[str, Diary], drawn: usage.DrawnLines, box: RecipeBox, today: date) -> None:
    """Give each material what jobs drew of it, by today's recipes."""
    each = zip(drawn.material, drawn.job, drawn.line, strict=True)
    lines: dict[tuple[str, str, str], int] = {}
    line = np.array([lines.setdefault(facts, len(lines)) for facts in each], np.intp)
    at, amount = np.array(drawn.happened, "datetime64[s]"), np.array(drawn.nano, np.float64) / NANO
    times, chance = np.where(amount > 0, 1.0, -1.0), np.ones(line.size)
    for (_, job, name), rows in zip(lines, _rows_of(line), strict=True):
        scale, chance[rows] = _by_day(box, LineKey(job=job, line=name), at[rows], today)
        amount[rows] *= scale
    variance = times * chance_variance(amount, chance)
    places = np.array([_place(diaries[code], LineKey(job=job, line=name)) for code, job, name in lines], np.intp)
    uses = Uses(at=at, line=places[line], amount=amount, times=times, variance=variance)
    codes: dict[str, int] = {}
    of = np.array([codes.setdefault(code, len(codes)) for code, _, _ in lines], np.intp)
    for code, rows in zip(codes, _rows_of(of[line]), strict=True):
        diaries[code].uses = uses.where(rows)


def _rows_of(numbers: Whole) -> list[Whole]:
    """Sort rows by their numbers, 0 and up: the places of each number's rows, in their order."""
    if not numbers.size:
        return []
    return np.split(np.argsort(numbers, kind="stable"), np.cumsum(np.bincount(numbers))[:-1])


def _place(diary: Diary, key: LineKey) -> int:
    """Give a line's place among a material's lines, in the order first drawn."""
    diary.keys.setdefault(str(key), key)
    return list(diary.keys).index(str(key))


def _by_day(box: RecipeBox, key: LineKey, at: Moments, today: date) -> tuple[Floats, Floats]:
    """Give, for each moment, today's recipe over the one of the day, and the share of jobs using the line at all."""
    begins = sorted({version.valid_from for version in box.recipes.get(key.job, ())})
    found = np.array([_by_version(box, key, day, today) for day in (date.min, *begins)])
    version = np.searchsorted(np.array(begins, "datetime64[D]"), at, side="right")
    return found[version, 0], found[version, 1]


def _by_version(box: RecipeBox, key: LineKey, day: date, today: date) -> tuple[float, float]:
    then, now = box.recipe(key.job, day), box.recipe(key.job, today)
    if then is None or now is None:
        return 1.0, 1.0
    before, after = line_amount(then, key.line), line_amount(now, key.line)
    share = next((float(line.chance) for line in then.lines if line.name == key.line), 1.0)
    return after / before if before > 0 and after > 0 else 1.0, share if share > 0 else 1.0


def _explained(session: Session, found: usage.CountedBin) -> OtherMove:
    """Give a difference with a reason the owner named: it is no use by jobs, and its exact size is not known."""
    nano = ledger.counted_differences(session, found.material, found.site, found.counted)
    return OtherMove(at=found.counted, amount=nano / NANO, error=abs(nano) / NANO)


def posteriors(taught: Teaching) -> dict[str, ShelfPosterior]:
    """Say how sure the book can be of each shelf now."""
    by_material = taught.by_material
    return {
        code: _posterior(diary, by_material.get(code), taught.losses, taught.moment)
        for code, diary in taught.diaries.items()
    }


def _mark(session: Session, learnable: Sequence[Diary], moment: datetime, site: str | None) -> str:
    """Mark the state that lessons depend on: counts, what they correct, the lines drawn, the recipes in force."""
    bins = [(d.material.code, len(d.counts), d.counts[-1].at if d.counts else "", list(d.keys)) for d in learnable]
    cards = [(r.job, r.valid_from) for r in catalogue.read_recipes(session) if r.valid_from <= moment.date()]
    said = f"{METHOD}|{usage.counting_state(session)}|{site}|{bins}|{cards}"
    return sha256(said.encode()).hexdigest()


def _mean(amount: float, times: float) -> float:
    mean = amount / times if times > 0 else 0.0
    return mean if mean > 0 else 1.0


def _add_count(diary: Diary, found: usage.CountedBin) -> None:
    amount = found.nano / NANO
    error = found.error / NANO if found.error is not None else _usual_error(diary.material, amount)
    count = Counted(at=found.counted, amount=amount, error=error)
    if diary.counts and count.at - diary.counts[-1].at < ONE_OCCASION:
        diary.counts[-1] = count
    else:
        diary.counts.append(count)


def _usual_error(material: Material, amount: float) -> float:
    return 0.0 if material.dimension is Dimension.COUNT else UNSTATED_ERROR * amount


def _posterior(diary: Diary, lesson: MaterialLesson | None, losses: Losses, now: datetime) -> ShelfPosterior:
    last = diary.counts[-1] if diary.counts else None
    start = last.at if last else _first_day(diary, now)
    posterior = counted(last.amount, last.error, lesson) if last else ShelfPosterior(mean=0.0, variance=0.0)
    uses = diary.uses if last is None else diary.uses.since(last.at)
    received = sum(m.amount for m in diary.moves if last is None or m.at > last.at)
    weeks = max((now - start) / WEEK, 0.0)
    if lesson is None:
        return ShelfPosterior(mean=posterior.mean + received - float(uses.amount.sum()), variance=posterior.variance)
    expected, times = (np.maximum(each, 0.0) for each in uses.by_line(len(diary.keys)))
    open_ = max(float(uses.variance.sum()), 0.0)
    work = SinceCount(expected=expected, times=times, received=received, weeks=weeks, variance=open_, usual=diary.usual)
    return after_work(posterior, work, lesson, losses.sized(_weekly_use(diary, now)))


def _first_day(diary: Diary, now: datetime) -> datetime:
    used = [diary.uses.at.min().item()] if diary.uses.at.size else []
    return min([*used, *(move.at for move in diary.moves)], default=now)


def _weekly_use(diary: Diary, now: datetime) -> float:
    weeks = (now - _first_day(diary, now)) / WEEK
    return max(float(diary.uses.amount.sum()), 0.0) / weeks if weeks > 1 else 0.0


def line_amount(recipe: Recipe, name: str) -> float:
    """Give what a recipe's line of a name draws at the reference size, in base units; 0 if it has none."""
    nano = sum(line.amount.nano * times_for_pair(recipe, line) for line in recipe.lines if line.name == name)
    return float(nano) / NANO


def recall(session: Session, mark: str, *, site: str | None = None) -> Kept | None:
    """Give a site's lessons kept under a mark, if they are."""
    text = result_cache.recall(session, _name(site), mark)
    return None if text is None else read(text)


def remember(session: Session, mark: str, learnt: Kept, *, site: str | None = None) -> None:
    """Keep a site's lessons under a mark, in place of its last ones."""
    result_cache.remember(session, _name(site), mark, write(learnt))


def _name(site: str | None) -> str:
    return NAME if site is None else f"{NAME} at {site}"


def write(learnt: Kept) -> str:
    """Write lessons as JSON."""
    facts = {"lessons": asdict(learnt[0]), "losses": asdict(learnt[1])}
    return json.dumps(facts, default=_plain, separators=(",", ":"))


def read(text: str) -> Kept:
    """Read lessons from JSON."""
    facts = json.loads(text)
    lessons = facts["lessons"]
    materials = tuple(_material(each) for each in lessons["materials"])
    whole = lessons["whole_spreads"]
    learnt = Lessons(
        materials=materials,
        spreads=Spreads(**lessons["spreads"]),
        whole_spreads=Spreads(**whole) if whole else None,
    )
    return learnt, Losses(**facts["losses"])


def _plain(value: object) -> object:
    if isinstance(value, np.ndarray):
        return value.tolist()
    raise TypeError(f"{type(value)} has no place in a lesson")


def _material(facts: dict[str, Any]) -> MaterialLesson:
    return MaterialLesson(
        material=facts["material"],
        lines=tuple(_line(each) for each in facts["lines"]),
        waste=Span(**facts["waste"]),
        outliers=tuple(Outlier(**(each | {"kind": OutlierKind(each["kind"])})) for each in facts["outliers"]),
        job_spread=facts["job_spread"],
        ratio_mean=np.array(facts["ratio_mean"], dtype=np.float64),
        ratio_covariance=np.array(facts["ratio_covariance"], dtype=np.float64),
        reading=_reading(facts["reading"]),
    )


def _reading(facts: dict[str, Any] | None) -> Reading | None:
    if facts is None:
        return None
    return Reading(**(facts | {"with_ratios": np.array(facts["with_ratios"], dtype=np.float64)}))


def _line(facts: dict[str, Any]) -> LineLesson:
    read_as = {
        "use": Span(**facts["use"]),
        "verdict": LessonAdvice(facts["verdict"]),
        "blurred_with": tuple(facts["blurred_with"]),
    }
    return LineLesson(**(facts | read_as))


@dataclass(frozen=True, slots=True, kw_only=True)
class Learnt:
    """What counts teach of use: true use over recipe use by job and material, and waste on no ticket a week."""

    ratios: Mapping[tuple[str, str], float] = field(default_factory=dict)
    waste: Mapping[str, float] = field(default_factory=dict)  # base units, by material
    waste_doubt: Mapping[str, float] = field(default_factory=dict)  # relative variance of that rate
    doubt: Mapping[str, float] = field(default_factory=dict)  # relative variance of a material's use by its recipes

    def ratio(self, job: str, material: str) -> float:
        """Give true use over recipe use; wild counts can put the estimate below nothing, and use can't be."""
        return max(self.ratios.get((job, material), 1.0), 0.0)


NOTHING_LEARNT = Learnt()


def learnt_from(taught: Teaching) -> Learnt:
    """Take what the outlook needs from what counts say about actual usage."""
    lessons = taught.by_material
    doubt = {code: ratio_doubt(taught.diaries[code], lesson) for code, lesson in lessons.items()}
    unsure = {code: waste_doubt(lesson) for code, lesson in lessons.items() if lesson.waste.estimate > 0}
    return Learnt(ratios=taught.ratios(), waste=taught.waste(), waste_doubt=unsure, doubt=doubt)


def waste_doubt(lesson: MaterialLesson) -> float:
    """Relative variance of what leaves the shelf on no ticket; a rate that is all doubt is as good as exponential."""
    return min(float(lesson.ratio_covariance[-1, -1]) / lesson.waste.estimate**2, 1.0)


def ratio_doubt(diary: Diary, lesson: MaterialLesson) -> float:
    """Relative variance of true use over recipe use of a material, its lines weighed by their past use."""
    mean, variance = use_doubt(lesson, diary.usual)
    return variance / mean**2
