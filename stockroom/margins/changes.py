"""What moved the margin from one period to another, in parts that add up exactly."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from stockroom.margins.income import JobLine, PeriodWork
from stockroom.phrases import phrase
from stockroom.stock.money import MILLI, half_up, milli_to_minor

STEPS = (
    "number of jobs", "mix of jobs", "choices", "prices charged", "amount used", "price paid for materials",
    "guarantee work", "card fees and post", "cost corrections of earlier jobs",
)  # fmt: skip

CONVENTION = phrase(
    "One thing changes at a time, in this order, and keeps its new value: what two things did together falls to the "
    "later one. So the number of jobs is valued at the old prices and costs, a price at the new number and mix, the "
    "amount used at the old price of materials, and that price at the new amounts. Another order would share joint "
    "effects out otherwise; the sum would be the same."
)
_Cell = tuple[str, str]  # job and choices


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangePart:
    """One reason and what it did to the margin, in all and by job (thousandths of the minor unit)."""

    name: str
    effect: int
    by_job: Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginChange:
    """The way from one period's margin to another's: before + all parts = after, exactly."""

    before: int
    after: int
    parts: tuple[ChangePart, ...]

    @property
    def printed(self) -> tuple[int, list[int], int]:
        """Before, each part and after in whole minor units, as they are printed: they add up.

        Before and after are rounded to the nearest; the parts share out what lies between, largest remainders first.
        """
        before, after = milli_to_minor(self.before), milli_to_minor(self.after)
        floors = [part.effect // MILLI for part in self.parts]
        order = sorted(range(len(floors)), key=lambda n: (-(self.parts[n].effect % MILLI), n))
        left = after - before - sum(floors)  # the ends are rounded too: it may be one more, or one less, than remain
        for step in range(abs(left)):
            floors[order[step % len(order)] if left > 0 else order[-1]] += 1 if left > 0 else -1
        return before, floors, after


@dataclass(frozen=True, slots=True)
class _CellFacts:
    """Means of one job and choice in one period."""

    count: int
    net: Fraction  # income a ticket
    used: Mapping[str, Fraction]  # amount of each material a ticket
    paid: Mapping[str, Fraction]  # cost of a billionth of its base unit


@dataclass(frozen=True, slots=True)
class _Settings:
    """Which period each factor is taken from, as the walk goes on."""

    counts: Mapping[_Cell, Fraction]
    net: Mapping[_Cell, _CellFacts]
    used: Mapping[_Cell, _CellFacts]
    paid: Mapping[_Cell, _CellFacts]


def moved(before: PeriodWork, after: PeriodWork) -> MarginChange:
    """Explain the change of margin between two periods.

    Parameters
    ----------
    before, after : Work
        The two periods' jobs.

    Returns
    -------
    Moved
        Its parts, in the order of `STEPS`, sum exactly to after less before.

    Notes
    -----
    One factor at a time goes from its first value to its second, in the order of `STEPS` (a chain of variances as in
    standard costing: volume, mix, price, usage, rate). Another order would share the joint effects out otherwise;
    the sum would be the same. Every job's figure is rounded to a thousandth of the minor unit at each station of the
    walk, and the effects are differences between stations: hence no residue. Where a job or choice was done in only
    one of the periods, that period's means stand for both, so its whole effect falls under mix or choices.
    """
    first, second = _facts(_paid(before)), _facts(_paid(after))
    a, b = _filled(first, second), _filled(second, first)
    stations = [_at(settings) for settings in _walk(a, b)]
    parts = [_part(name, x, y) for name, x, y in zip(STEPS, stations, stations[1:], strict=False)]
    for name, cost in ((STEPS[6], _redone), (STEPS[7], _fees)):
        parts.append(_part(name, cost(before.lines), cost(after.lines)))
    parts.append(ChangePart(name=STEPS[8], effect=before.earlier - after.earlier, by_job={}))
    return MarginChange(before=margin_of(before), after=margin_of(after), parts=tuple(parts))


def margin_of(work: PeriodWork) -> int:
    """Add up a period's margin, guarantee work and cost corrections of earlier jobs included."""
    return sum(line.margin for line in work.lines) - work.earlier


def _paid(work: PeriodWork) -> list[JobLine]:
    return [line for line in work.lines if not line.redo]


def _facts(lines: Iterable[JobLine]) -> dict[_Cell, _CellFacts]:
    parts: dict[_Cell, list[JobLine]] = {}
    for line in lines:
        parts.setdefault((line.job, line.chosen), []).append(line)
    return {cell: _means(part) for cell, part in parts.items()}


def _means(lines: Sequence[JobLine]) -> _CellFacts:
    """Take means so that count x mean is the exact total; a cell that nets to no job keeps its totals as one."""
    amounts: dict[str, int] = {}
    costs: dict[str, int] = {}
    for line in lines:
        for material, (nano, value) in line.uses.items():
            amounts[material] = amounts.get(material, 0) + nano
            costs[material] = costs.get(material, 0) + value
    count = sum(line.count for line in lines) or 1
    used = {m: Fraction(nano or 1, count) for m, nano in amounts.items()}  # cost without amount: as one billionth
    return _CellFacts(
        count=count,
        net=Fraction(sum(line.net for line in lines) * MILLI, count),
        used=used,
        paid={m: Fraction(costs[m], amounts[m] or 1) for m in amounts},
    )


def _filled(own: Mapping[_Cell, _CellFacts], other: Mapping[_Cell, _CellFacts]) -> dict[_Cell, _CellFacts]:
    """Complete a period's means from the other's: a cell not done, a material not used (amount nothing)."""
    made = {}
    for cell in own.keys() | other.keys():
        mine, theirs = own.get(cell), other.get(cell)
        if mine is None or theirs is None:
            known = mine or theirs
            made[cell] = _CellFacts(mine.count if mine else 0, known.net, known.used, known.paid) if known else None
        else:
            made[cell] = _CellFacts(
                mine.count,
                mine.net,
                {m: mine.used.get(m, Fraction(0)) for m in mine.used.keys() | theirs.used.keys()},
                {**theirs.paid, **mine.paid},
            )
    return {cell: facts for cell, facts in made.items() if facts is not None}


def _walk(a: Mapping[_Cell, _CellFacts], b: Mapping[_Cell, _CellFacts]) -> list[_Settings]:
    cells = sorted(a)
    start = {cell: Fraction(a[cell].count) for cell in cells}
    end = {cell: Fraction(b[cell].count) for cell in cells}
    total_a, total_b = sum(start.values()), sum(end.values())
    jobs_a, jobs_b = _by_job(start), _by_job(end)
    volume = {cell: n * total_b / total_a for cell, n in start.items()} if total_a else start
    mix = {cell: _shared(cell, start, jobs_a, jobs_b, end) for cell in cells}
    return [
        _Settings(start, a, a, a), _Settings(volume, a, a, a), _Settings(mix, a, a, a), _Settings(end, a, a, a),
        _Settings(end, b, a, a), _Settings(end, b, b, a), _Settings(end, b, b, b),
    ]  # fmt: skip


def _shared(
    cell: _Cell,
    start: Mapping[_Cell, Fraction],
    jobs_a: Mapping[str, Fraction],
    jobs_b: Mapping[str, Fraction],
    end: Mapping[_Cell, Fraction],
) -> Fraction:
    """Count a cell with the second period's jobs and the first one's choices; a new job brings its own choices."""
    job = cell[0]
    return start[cell] * jobs_b[job] / jobs_a[job] if jobs_a[job] else end[cell]


def _by_job(counts: Mapping[_Cell, Fraction]) -> dict[str, Fraction]:
    sums: dict[str, Fraction] = {}
    for (job, _), count in counts.items():
        sums[job] = sums.get(job, Fraction(0)) + count
    return sums


def _at(settings: _Settings) -> dict[str, int]:
    """Work out the margin of each job at a station of the walk."""
    sums: dict[str, int] = {}
    for cell, count in settings.counts.items():
        used, paid = settings.used[cell].used, settings.paid[cell].paid
        income = half_up(count * settings.net[cell].net)
        costs = sum(half_up(count * amount * paid[material]) for material, amount in used.items())
        sums[cell[0]] = sums.get(cell[0], 0) + income - costs
    return sums


def _part(name: str, before: Mapping[str, int], after: Mapping[str, int]) -> ChangePart:
    by_job = {job: after.get(job, 0) - before.get(job, 0) for job in sorted(before.keys() | after.keys())}
    return ChangePart(name=name, effect=sum(by_job.values()), by_job={job: n for job, n in by_job.items() if n})


def _summed(lines: Iterable[JobLine], figure: Callable[[JobLine], int]) -> dict[str, int]:
    sums: dict[str, int] = {}
    for line in lines:
        sums[line.job] = sums.get(line.job, 0) + figure(line)
    return sums


def _redone(lines: Iterable[JobLine]) -> dict[str, int]:
    """Re-done work's part of the margin: its materials and post, as a minus."""
    return _summed((line for line in lines if line.redo), lambda line: line.margin)


def _fees(lines: Iterable[JobLine]) -> dict[str, int]:
    return _summed((line for line in lines if not line.redo), lambda line: -line.fee - line.post)
