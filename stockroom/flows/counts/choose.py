"""What to count now: where being wrong costs most, from beliefs about the shelf and what the shop can lose."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import inf, sqrt

from stockroom.counting.next_count import Candidate, CountChoice, choose, why
from stockroom.counting.shelf_posterior import ShelfPosterior
from stockroom.flows.counts.review import Measures, measures
from stockroom.flows.counts.sheets import aid_for
from stockroom.flows.learning.lessons import UNSTATED_ERROR, WEEK, Diary, Teaching, keep, posteriors, teaching
from stockroom.phrases import joined, phrase
from stockroom.show.formats import Formats, formats_of
from stockroom.stock.materials import Material
from stockroom.stock.moves import MoveKind
from stockroom.stock.quantities import NANO, Dimension
from stockroom.stock.shop import Shop
from stockroom.stock.suppliers import current
from stockroom.store import catalogue, counts, ledger
from stockroom.store.book import Book, Session

LOOK_BACK = 26  # weeks of use looked at
USUAL_LEAD = 7  # days, where nobody offers a material
YEAR = 365
USED = (MoveKind.JOB_USE, MoveKind.REDO_USE, MoveKind.SALE)
HALF_A_PIECE = 0.5  # no count is more exact than this
# Minutes to count a full bin, by aid; common practice, no source.
MINUTES = {"plain": 2.0, "pairs": 2.0, "tin-tenths": 1.0, "tin-weight": 1.5, "thread-weight": 1.5, "roll": 2.0,
           "sheet-fraction": 2.0, "sealed-open": 1.5, "sample-weight": 2.0, "rectangles": 6.0}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """A bin to count now, and why."""

    material: Material
    minutes: float
    saves: float  # minor units of money, expected
    corrects: float  # minor units of money by which it is expected to put the book right
    overdue: bool
    nearly_empty: bool
    last_counted: datetime | None
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Facts:
    """What candidates are made from."""

    shop: Shop
    by: Measures
    weekly: Mapping[str, tuple[float, float]]  # mean and standard deviation of a week's use, base units
    leads: Mapping[str, int]  # days
    most: Mapping[str, int]  # most ever found, nano
    used_by_job: Mapping[str, float]  # base units one job takes, on average
    booked: Mapping[str, int]  # nano

    def below(self, code: str) -> bool:
        """Say whether the book, whatever is believed of the shelf, stands below zero."""
        return self.booked.get(code, 0) < 0


def next_bins(
    book: Book, moment: datetime, *, minutes: float | None = None, bins: int | None = None, site: str | None = None
) -> list[Chosen]:
    """Choose the bins to count within a number of minutes, or of bins.

    Parameters
    ----------
    book : Book
        The book.
    moment : datetime
        Now.
    minutes : float, optional
        Time there is.
    bins : int, optional
        Most bins to count.
    site : str, optional
        One site only.
    """
    with book.reading() as session:
        taught = teaching(session, moment, site=site)
        facts = _facts(session, taught, moment)
        last = counts.last_counted(session, at=moment, site=site)
    if taught.mark:
        keep(book, taught)
    picked = _picked(_candidates(taught, facts, last), facts, inf if minutes is None else minutes, bins)
    return [_chosen(choice, facts, last) for choice in picked]


def _picked(made: Sequence[Candidate], facts: _Facts, minutes: float, bins: int | None) -> tuple[CountChoice, ...]:
    """Choose bins that the book has below zero first: there something is surely missing from it."""
    below = [each for each in made if facts.below(each.material)]
    rest = [each for each in made if not facts.below(each.material)]
    first = choose(below, minutes=minutes, bins=bins, rules=facts.by.rules)
    left = minutes - sum(choice.minutes for choice in first)
    more = None if bins is None else bins - len(first)
    return first + choose(rest, minutes=left, bins=more, rules=facts.by.rules)


def _facts(session: Session, taught: Teaching, moment: datetime) -> _Facts:
    by = measures(session, moment)
    return _Facts(
        shop=catalogue.read_shop(session),
        by=by,
        weekly=_weekly(session, moment, taught.site),
        leads=_leads(session, by, moment),
        most=counts.most_found(session, site=taught.site),
        used_by_job={code: _a_job(diary) for code, diary in taught.diaries.items()},
        booked=ledger.balances(session, at=moment, site=taught.site),
    )


def _weekly(session: Session, moment: datetime, site: str | None) -> dict[str, tuple[float, float]]:
    """Give mean and spread of a week's use over the last half year."""
    first = (moment - timedelta(weeks=LOOK_BACK)).date()
    sums: dict[str, list[float]] = {}
    for code, day, nano in ledger.daily_sums(session, USED, site=site):
        if first.isoformat() < day <= moment.date().isoformat():
            week = (datetime.fromisoformat(day).date() - first).days // 7
            sums.setdefault(code, [0.0] * LOOK_BACK)[min(week, LOOK_BACK - 1)] -= nano / NANO
    return {code: _mean_and_spread(weeks) for code, weeks in sums.items()}


def _mean_and_spread(weeks: Sequence[float]) -> tuple[float, float]:
    mean = sum(weeks) / len(weeks)
    return max(mean, 0.0), sqrt(sum((each - mean) ** 2 for each in weeks) / (len(weeks) - 1))


def _leads(session: Session, by: Measures, moment: datetime) -> dict[str, int]:
    """Give the shortest stated lead time of each material's offers in force, in days."""
    days = {s.code: s.lead_days for s in catalogue.read_suppliers(session)}
    offers = catalogue.read_offers(session, {code: m.dimension for code, m in by.materials.items()})
    found: dict[str, int] = {}
    for offer in current(offers, moment.date()):
        lead = days.get(offer.supplier, USUAL_LEAD)
        found[offer.material] = min(lead, found.get(offer.material, lead))
    return found


def _a_job(diary: Diary) -> float:
    times = float(diary.uses.times.sum())
    return float(diary.uses.amount.sum()) / times if times > 0 else 0.0


def _candidates(taught: Teaching, facts: _Facts, last: Mapping[str, datetime]) -> list[Candidate]:
    return [
        _candidate(taught.diaries[code], posterior, facts, _weeks_since(last.get(code), taught.moment))
        for code, posterior in posteriors(taught).items()
        if taught.diaries[code].material.active and _is_there(code, taught.site, facts, last)
    ]


def _is_there(code: str, site: str | None, facts: _Facts, last: Mapping[str, datetime]) -> bool:
    """Say whether a site has a bin of a material at all."""
    return site is None or bool(facts.booked.get(code)) or code in last


def _weeks_since(last: datetime | None, moment: datetime) -> float:
    return inf if last is None else max((moment - last) / WEEK, 0.0)


def _candidate(diary: Diary, posterior: ShelfPosterior, facts: _Facts, weeks_since: float) -> Candidate:
    material = diary.material
    code = material.code
    mean, spread = facts.weekly.get(code, (0.0, 0.0))
    days = facts.leads.get(code, USUAL_LEAD) + facts.shop.review_days
    weeks = days / 7
    most = facts.most.get(code, 0) / NANO
    cost = float(facts.by.costs[code])
    return Candidate(
        material=code,
        mean=posterior.mean,
        spread=posterior.spread,
        booked=facts.booked.get(code, 0) / NANO,
        aid_error=_aid_error(diary, posterior.mean),
        weeks_since=weeks_since,
        full=max(most, posterior.mean, 1e-9),
        cover=mean * weeks,
        cover_spread=spread * sqrt(weeks),
        weekly=mean,
        short_cost=_short_cost(material, facts, cost),
        over_cost=cost * float(facts.shop.holding_rate) / 100 * days / YEAR,
        cost=cost,
        full_minutes=MINUTES.get(aid_for(material).name, 3.0),
        grade=facts.by.grade(code),
    )


def _aid_error(diary: Diary, mean: float) -> float:
    """Give what a count would leave open: as the last one did, in proportion to what lies there."""
    if diary.counts and diary.counts[-1].amount > 0:
        return diary.counts[-1].error / diary.counts[-1].amount * max(mean, 0.0)
    return 0.0 if diary.material.dimension is Dimension.COUNT else UNSTATED_ERROR * max(mean, 0.0)


def _short_cost(material: Material, facts: _Facts, cost: float) -> float:
    """Money lost for a base unit missing: a job held up for as much as one takes, or the margin of a sale."""
    scale = 10.0**facts.shop.currency_digits
    per_job = facts.used_by_job.get(material.code, 0.0)
    held_up = float(facts.shop.held_up_job_cost) * scale / per_job if per_job > 0 else 0.0
    price = (material.sell_price or 0) * NANO / material.unit.nano
    return max(held_up, price - cost, 0.0)


def _chosen(choice: CountChoice, facts: _Facts, last: Mapping[str, datetime]) -> Chosen:
    code = choice.candidate.material
    return Chosen(
        material=facts.by.materials[code],
        minutes=choice.minutes,
        saves=choice.saves,
        corrects=choice.corrects,
        overdue=choice.overdue,
        nearly_empty=choice.nearly_empty,
        last_counted=last.get(code),
        words=_words(choice, facts, formats_of(facts.shop)),
    )


def _words(choice: CountChoice, facts: _Facts, formats: Formats) -> str:
    of, by = choice.candidate, facts.by
    trifle = by.materials[of.material].dimension is Dimension.COUNT and of.spread < HALF_A_PIECE
    below = phrase("The book is below zero: something is missing from it.") if facts.below(of.material) else ""
    reason = why(
        replace(choice, candidate=replace(of, spread=0.0)) if trifle else choice,
        amount=lambda code, amount: formats.told(round(amount * NANO), by.materials[code].unit),
        money=lambda minor: formats.money(round(minor)),
    )
    return joined((below, reason))
