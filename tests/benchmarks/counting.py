"""What counts teach, measured on invented shops whose truth is known.

Run: python -m tests.benchmarks.counting [seeds]
"""

import sys
import time
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stockroom.counting.learn import learn
from stockroom.counting.lessons import Intervals, LessonAdvice, Lessons
from tests.benchmarks import counting_rounds

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

WEEKS = 52
FULL_EVERY = 4  # a full count each month
BINS = 8  # and this many bins each week
HEAVY = 0.08  # of use: more goes on no ticket than in any world without steady losses
FIRST_SEED = 7000  # none of them was looked at while the learner was made


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """How an invented shop goes wrong; every figure is our own."""

    name: str
    materials: int = 60
    jobs: int = 25
    lines: tuple[int, int] = (1, 6)  # recipe lines a material, from and below
    wrong: float = 0.5  # share of lines with a wrong recipe
    wrong_spread: float = 0.25  # log spread of those; the rest keep to 3 %
    shared_spread: float = 0.06  # log spread of a bias common to a material's lines
    job_spread: float = 0.15  # one job about its mean
    waste: float = 0.06  # most a week, of recorded use; six materials in ten have any
    loss_share: float = 0.2  # materials that suffer one sudden loss of 3 to 8 weeks' use
    aid_errors: tuple[float, ...] = (0.005, 0.01, 0.03, 0.05)  # relative to what lies there
    pilfered: float = 0.0  # share of materials of which something goes every day, on no ticket
    pilfer: tuple[float, float] = (0.1, 0.5)  # from and to, of recorded use
    weeks: int = 52


WORLDS = (
    World(name="half the recipes wrong"),
    World(name="all recipes wrong", wrong=1.0, wrong_spread=0.2),
    World(name="no losses, no waste", loss_share=0.0, waste=0.0),
    World(name="jobs differ widely", job_spread=0.35),
    World(name="many jobs a material", lines=(4, 10)),
    World(name="good scales", aid_errors=(0.002, 0.01)),
    World(name="steady losses, a year", pilfered=0.4),
    World(name="steady losses, three years", pilfered=0.4, weeks=156),
    World(name="steady losses, recipes right", pilfered=0.4, wrong=0.0, shared_spread=0.01),
    World(name="steady losses, half the shop, good scales", pilfered=0.5, aid_errors=(0.002, 0.01)),
    World(name="one in ten pilfered", pilfered=0.1),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What one material's counts hide."""

    ratio: Floats
    waste: float
    lost: int  # week of a sudden loss, -1 for none
    slip: float  # what the last count read too high


def shop(world: World, rng: np.random.Generator) -> tuple[list[Intervals], list[Truth]]:
    """A year of jobs and counts."""
    rate = rng.gamma(1.2, 2.5, world.jobs) + 0.2
    weeks = world.weeks
    season = 1 + 0.4 * np.sin(2 * np.pi * (np.arange(weeks)[:, None] / WEEKS + rng.random(world.jobs)))
    done = rng.poisson(rate * season)
    counted = np.zeros((weeks + 1, world.materials), bool)
    counted[::FULL_EVERY] = True
    for week in range(1, weeks + 1):
        counted[week, rng.choice(world.materials, min(BINS, world.materials), replace=False)] = True
    pairs = [
        _material(world, f"m{m}", (rate, done, np.flatnonzero(counted[:, m])), rng) for m in range(world.materials)
    ]
    return [each for each, _ in pairs], [each for _, each in pairs]


def _material(
    world: World, name: str, year: tuple[Floats, Whole, Whole], rng: np.random.Generator
) -> tuple[Intervals, Truth]:
    rate, done, at = year
    jobs: Whole = rng.choice(world.jobs, rng.integers(*world.lines), replace=False)
    recipe = np.exp(rng.normal(3, 0.8, jobs.size))
    off = np.where(rng.random(jobs.size) < world.wrong, world.wrong_spread, 0.03)
    ratio = np.exp(rng.normal(0, world.shared_spread) + rng.normal(0, off))
    weekly = float(recipe @ rate[jobs])
    waste = weekly * rng.uniform(0, world.waste) * (rng.random() < 0.6)
    lost = int(rng.integers(FULL_EVERY, world.weeks)) if rng.random() < world.loss_share else -1
    size = 0.15 / np.sqrt(np.maximum(done[:, jobs], 1))  # shoes differ in size, which the tickets know
    expected: Floats = recipe * done[:, jobs].astype(float) * np.exp(rng.normal(0, size))
    spread: Floats = world.job_spread * np.sqrt(expected * recipe)
    used: Floats = np.maximum(expected * ratio + ratio * spread * rng.normal(size=spread.shape), 0).sum(axis=1)
    if rng.random() < world.pilfered:
        waste = weekly * rng.uniform(*world.pilfer)
    used += waste * rng.gamma(4, 0.25, world.weeks)
    if lost >= 0:
        used[lost] += weekly * rng.uniform(3, 8)
    error = rng.choice(world.aid_errors) * weekly * rng.uniform(2, 10) * rng.uniform(0.3, 1, at.size)
    slip = rng.normal(0, error)
    return _intervals(name, (jobs, recipe, expected, done, used), at, slip, error), Truth(
        ratio=ratio, waste=waste, lost=lost, slip=float(slip[-1])
    )


def _intervals(
    name: str,
    year: tuple[Whole, Floats, Floats, Whole, Floats],
    at: Whole,
    slip: Floats,
    error: Floats,
) -> Intervals:
    jobs, recipe, expected, done, used = year
    sums = [np.add.reduceat(each, at[:-1]) for each in (expected, done[:, jobs].astype(float), used)]
    return Intervals(
        material=name,
        lines=tuple(f"job {j}" for j in jobs),
        recipe=recipe,
        expected=sums[0],
        times=sums[1],
        observed=sums[2] - np.diff(slip),
        weeks=np.diff(at).astype(float),
        count_variance=error**2,
    )


def rows(known: list[Intervals], truth: list[Truth], lessons: Lessons) -> Floats:
    """One row a line: truth, estimate, low, high, plain ratio, uses, verdict (1 propose, 2 keep)."""
    marks = {LessonAdvice.PROPOSE: 1.0, LessonAdvice.KEEP: 2.0, LessonAdvice.LATER: 0.0}
    return np.array(
        [
            (
                true.ratio[j], line.use.estimate / line.recipe, line.use.low / line.recipe, line.use.high / line.recipe,
                each.observed.sum() / each.expected.sum(), line.uses, marks[line.verdict],
            )
            for each, true, lesson in zip(known, truth, lessons.materials, strict=True)
            for j, line in enumerate(lesson.lines)
        ]
    )  # fmt: skip


def last_counts(known: list[Intervals], truth: list[Truth], lessons: Lessons) -> Floats:
    """One row a material, in standard errors of its last count: its own error, what is believed of it, how surely."""
    errors = [float(np.sqrt(each.count_variance[-1])) for each in known]
    return np.array(
        [
            (true.slip / error, lesson.reading.mean / error, np.sqrt(lesson.reading.variance) / error)
            for error, true, lesson in zip(errors, truth, lessons.materials, strict=True)
            if lesson.reading
        ]
    )


PENALTIES = np.logspace(-3, 2, 16)


def ridge(known: Intervals, *, free: bool = False) -> Floats:
    """Ratios of one material by plain ridge regression on jobs and weeks, its penalty by leave-one-out.

    Hoerl and Kennard (1970), Technometrics 12; leave-one-out by the hat matrix, Allen (1974), Technometrics 16; both
    from memory. `free` leaves what goes by the week unpenalised.
    """
    usual = known.expected.sum(axis=1)
    scale = max(float(usual.mean()), 1e-9)
    design = np.column_stack([known.expected / scale, known.weeks / known.weeks.mean()])
    departure = (known.observed - usual) / scale
    held = np.eye(design.shape[1])
    held[-1, -1] = 1e-6 if free else 1.0
    fits = [_ridge(design, departure, each * held) for each in PENALTIES]
    best: Floats = min(fits, key=lambda fit: fit[0])[1]
    return 1 + best[:-1]


def _ridge(design: Floats, departure: Floats, penalty: Floats) -> tuple[float, Floats]:
    turned = np.linalg.solve(design.T @ design + penalty, design.T)
    found: Floats = turned @ departure
    alone = (departure - design @ found) / (1 - (design * turned.T).sum(axis=1))
    return float((alone**2).mean()), found


def report(world: World, seeds: int) -> None:
    found, read, ridges, freed, lost = [], [], [], [], []
    for seed in range(FIRST_SEED, FIRST_SEED + seeds):
        known, truth = shop(world, np.random.default_rng(seed))
        lessons = learn(known)
        found.append(rows(known, truth, lessons))
        read.append(last_counts(known, truth, lessons))
        ridges += [ridge(each) for each in known]
        freed += [ridge(each, free=True) for each in known]
        share = [t.waste * each.weeks.sum() / each.expected.sum() for each, t in zip(known, truth, strict=True)]
        lost += [np.full(t.ratio.size, each) for each, t in zip(share, truth, strict=True)]
    true, made, low, high, plain, uses, verdict = np.vstack(found).T
    inside, steady = (low <= true) & (true <= high), np.concatenate(lost) > HEAVY
    mine, theirs, none = abs(made - true), abs(plain - true), abs(1 - true)
    often, propose = uses >= 30, verdict == 1
    near = mine / true <= 0.10
    print(f"\n{world.name}: {true.size} lines in {seeds} shops")
    heavy = f"; where more than {HEAVY:.0%} goes by the day {inside[steady].mean():.3f}" if steady.any() else ""
    print(f"  90 % intervals cover {inside.mean():.3f}{heavy}")
    print(
        f"  mean error in use per job, lines alike: learnt {mine.mean():.3f}, plain ratio {theirs.mean():.3f}, recipe "
        f"{none.mean():.3f}: learnt / plain {mine.mean() / theirs.mean():.2f}"
    )
    rivals = [abs(np.concatenate(each) - true).mean() for each in (ridges, freed)]
    print(
        f"  ridge regression {rivals[0]:.3f}, with the weeks unpenalised {rivals[1]:.3f}: learnt beats the better by "
        f"{1 - mine.mean() / min(rivals):.0%}"
    )
    print(
        f"  the same, jobs alike (lines weighed by uses): {np.average(mine, weights=uses):.3f} against "
        f"{np.average(theirs, weights=uses):.3f}: {np.average(mine, weights=uses) / np.average(theirs, weights=uses):.2f}"
    )
    slip, believed, spread = np.vstack(read).T
    print(
        f"  last counts, in their own errors: out by {np.sqrt((slip**2).mean()):.2f}, once the counts before are heard by "
        f"{np.sqrt(((slip - believed) ** 2).mean()):.2f}; 90 % ranges cover {(abs(slip - believed) < 1.645 * spread).mean():.3f}"
    )
    both = propose & often
    print(
        f"  proposed {both.sum()} of {often.sum()} lines used 30+ times, {near[both].mean():.3f} of them within 10 % of the "
        f"truth (typical miss {np.median((mine / true)[both]):.3f}); all lines used 30+: {near[often].mean():.3f}"
    )


SIZES = (2.0, 4.0, 8.0)


def losses(seeds: int) -> None:
    """The same shop with and without one sudden loss, pair by pair."""
    world = replace(WORLDS[0], loss_share=0.0)
    table = np.vstack([_hit(shop(world, np.random.default_rng(seed))[0], seed * 7 % 60) for seed in range(3 * seeds)])
    pinned, plain, *changes = table.T
    print(f"\na sudden loss in one material of each of {3 * seeds} shops: change of its recipe estimates")
    for size, change in zip(SIZES, changes, strict=True):
        still = abs(change)
        sure = still[pinned == 1]
        print(
            f"  {size:g} weeks' use: mean {change.mean():+.4f}, typical {np.median(still):.4f}, over 3 % in {(still > 0.03).mean():.3f} "
            f"of lines; lines with a verdict: {(sure > 0.03).sum()} of {sure.size} over 3 %, largest {sure.max():.3f}; "
            f"plain ratio {(size / SIZES[0] * plain).mean():+.3f}"
        )
    again = abs(changes[2] - changes[1])
    print(
        f"  a loss twice as large moves them no further than {again.max():.4f} (typical {np.median(again):.5f}): what moves is "
        "what that interval would have taught"
    )


def _hit(known: list[Intervals], m: int) -> Floats:
    """One row a line of material m: had a verdict, the plain ratio's change, then ours for each size of loss."""
    each, middle, calm = known[m], known[m].observed.size // 2, learn(known).materials[m].lines
    week = each.expected.sum() / each.weeks.sum()
    columns = []
    for size in SIZES:
        observed = each.observed.copy()
        observed[middle] += size * week
        hit = learn([*known[:m], replace(each, observed=observed), *known[m + 1 :]]).materials[m].lines
        columns.append([now.use.estimate / was.use.estimate - 1 for now, was in zip(hit, calm, strict=True)])
    verdicts = [float(was.verdict is not LessonAdvice.LATER) for was in calm]
    plain = np.full(len(calm), SIZES[0] * week / each.observed.sum())
    return np.column_stack([verdicts, plain, *columns])


def speed() -> None:
    rng = np.random.default_rng(1)
    n, p = 60, 25
    known = []
    for m in range(60):
        times = rng.poisson(3.0, (n, p)).astype(float)
        recipe = np.exp(rng.normal(3, 0.8, p))
        expected = times * recipe
        observed = expected @ np.exp(rng.normal(0, 0.2, p)) * np.exp(rng.normal(0, 0.02, n))
        known.append(
            Intervals(
                material=str(m), lines=tuple(map(str, range(p))), recipe=recipe, expected=expected, times=times,
                observed=observed, weeks=np.ones(n), count_variance=np.full(n + 1, expected.mean() ** 2),
            )
        )  # fmt: skip
    clock, cpu = time.perf_counter(), time.process_time()
    learn(known)
    print(
        f"\n60 materials x 25 jobs x 60 counts: {time.perf_counter() - clock:.2f} s by the clock, "
        f"{time.process_time() - cpu:.2f} s of the processor (at most 2 s wished)"
    )


def main() -> None:
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    for world in WORLDS:
        report(world, seeds)
    losses(seeds)
    speed()
    counting_rounds.report(seeds)


if __name__ == "__main__":
    main()
