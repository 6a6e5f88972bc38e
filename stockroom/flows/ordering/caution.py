"""How cautious the shop orders: what more or less of it costs over a year, in words an owner can answer."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from stockroom.buying.caution import CautionPoint, frontier
from stockroom.errors import UsageError
from stockroom.flows.ordering.plan import at_next_order_day
from stockroom.flows.outlook.run_outs import ORDER_WEEKS, outlook, read_for_outlook
from stockroom.phrases import joined, phrase
from stockroom.show.charts.facts import CautionPicture
from stockroom.show.formats import Formats, formats_of
from stockroom.stock.shop import Shop
from stockroom.store.book import Book

OF_TEN = 10  # customers asked about
FEWER = 0.05  # jobs a year: less is no difference


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A year at several degrees of caution, the shop's own among them."""

    shop: Shop
    points: tuple[CautionPoint, ...]

    @property
    def own(self) -> CautionPoint:
        """Where the shop stands."""
        return next(each for each in self.points if each.times == 1.0)


def caution(book: Book, moment: datetime, *, site: str | None = None) -> Caution:
    """Work out what a year comes to at several degrees of caution."""
    read = read_for_outlook(book, moment, site=site)
    seen = outlook(read, weeks=max(ORDER_WEEKS, read.known.shop.outlook_weeks))
    return Caution(shop=read.known.shop, points=frontier(at_next_order_day(seen.question.problem)))


def caution_words(found: Caution) -> str:
    """Say where the shop stands, and ask what would move it."""
    return joined([stands_words(found), *(joined([asked, way]) for _, asked, way in caution_steps(found))])


def stands_words(found: Caution) -> str:
    """Say where the shop stands."""
    formats, place = formats_of(found.shop), found.points.index(found.own)
    facts = {
        "job": _money(formats, float(found.shop.held_up_job_cost)),
        "day": _money(formats, float(found.shop.held_up_day_cost)),
        "paid": formats.round_money(found.own.paid),
        "jobs": formats.number(found.own.held_up, 1),
    }
    said: list[str] = [
        phrase(
            "In an even year, at your figures (%(job)s for a delayed job and %(day)s a day), you pay about %(paid)s "
            "for stock and carriage, and about %(jobs)s jobs are delayed for want of material.",
            **facts,
        )
        if found.own.held_up >= FEWER
        else phrase(
            "In an even year, at your figures (%(job)s for a delayed job and %(day)s a day), you pay about %(paid)s "
            "for stock and carriage, and hardly a job is delayed for want of material.",
            **facts,
        )
    ]
    more = next((each for each in found.points[place + 1 :] if _fewer(found.own, each) > FEWER), None)
    if more is None:
        said.append(phrase("More stock would spare next to none: there is nothing to gain by it."))
    return joined(said)


def caution_steps(found: Caution) -> list[tuple[CautionPoint, str, str]]:
    """Ask whether a step to more or to less caution is worth its price: where to, the question, and how to take it."""
    place = found.points.index(found.own)
    more = next((each for each in found.points[place + 1 :] if _fewer(found.own, each) > FEWER), None)
    less = next((each for each in found.points[:place][::-1] if _fewer(each, found.own) > 1.0), None)
    steps = ((other, _step(found.own, other, formats_of(found.shop))) for other in (more, less) if other)
    return [(other, asked, _way(found.shop, other.times)) for other, asked in steps if asked]


def counted_at(shop: Shop, times: float) -> dict[str, str]:
    """Give the settings that count a delayed job at so many times what it is counted at now."""
    return {
        "cost_of_delayed_job": f"{float(shop.held_up_job_cost) * times:.4g}",
        "cost_of_delayed_day": f"{float(shop.held_up_day_cost) * times:.4g}",
    }


def _way(shop: Shop, times: float) -> str:
    said = " ".join(f"{name}={value}" for name, value in counted_at(shop, times).items())
    return phrase("Then: stockroom settings %(settings)s", settings=said)


def _fewer(own: CautionPoint, other: CautionPoint) -> float:
    """Say how many fewer jobs a year are delayed at another degree of caution."""
    return own.held_up - other.held_up


def _step(own: CautionPoint, other: CautionPoint, formats: Formats) -> str:
    """Ask whether a step to more or less caution is worth its price."""
    jobs, paid = own.held_up - other.held_up, other.paid - own.paid
    if jobs * paid <= 0:
        return ""
    facts = {
        "jobs": formats.number(abs(jobs), 1),
        "money": formats.round_money(abs(paid)),
        "each": _money(formats, paid / jobs),
    }
    if other.times > own.times:
        return phrase(
            "Would you pay %(money)s more a year to spare %(jobs)s more customers the wait, %(each)s for each?", **facts
        )
    return phrase(
        "Would you rather keep %(money)s a year and let %(jobs)s more customers wait, %(each)s saved for each?", **facts
    )


def _money(formats: Formats, value: float) -> str:
    return formats.money(round(value * 10**formats.digits))


def caution_picture(found: Caution) -> CautionPicture:
    """Give what its chart shows."""
    return CautionPicture(
        paid=tuple(each.paid for each in found.points),
        delayed=tuple(each.held_up for each in found.points),
        own=found.points.index(found.own),
    )


def picture_words(found: Caution) -> str:
    """Say in a sentence what its chart shows."""
    formats = formats_of(found.shop)
    paid = formats.round_money(found.own.paid)
    if found.own.held_up < FEWER:
        return phrase(
            "The more is paid for stock and carriage, the fewer jobs are delayed; you pay about %(paid)s a year, and "
            "hardly a job is delayed.",
            paid=paid,
        )
    return phrase(
        "The more is paid for stock and carriage, the fewer jobs are delayed; you pay about %(paid)s a year, and about "
        "%(jobs)s jobs are delayed.",
        paid=paid,
        jobs=formats.number(found.own.held_up, 1),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """What an owner knows of customers who must wait because a part is missing."""

    leave: Decimal  # of ten, so many don't come back
    worth: Decimal  # what a customer leaves the shop in a year, major money
    kept: Decimal = Decimal(0)  # what is let off, given or spent on calling, for each of them

    def __post_init__(self) -> None:
        if not 0 <= self.leave <= OF_TEN:
            raise UsageError(
                "Of ten customers, 0 to 10 can leave.", fix="Give a number from 0 to 10; 0.5 is one in 20."
            )
        if self.worth < 0 or self.kept < 0:
            raise UsageError("What a customer is worth can't be below zero.", fix="Give 0 or more.")

    @property
    def cost(self) -> Decimal:
        """What a delayed job costs then."""
        return (self.leave / OF_TEN * self.worth + self.kept).quantize(Decimal("0.01"))


def wait_words(wait: Wait, shop: Shop) -> str:
    """Say what a delayed job costs by what the owner knows, and how to have it counted so."""
    if wait.cost == shop.held_up_job_cost:
        return phrase(
            "If %(leave)s of ten customers who must wait don't come back, each worth %(worth)s a year, a delayed job "
            "costs you about %(cost)s: it is counted so already.",
            leave=wait.leave.normalize(),
            worth=_money(formats_of(shop), float(wait.worth)),
            cost=_money(formats_of(shop), float(wait.cost)),
        )
    return phrase(
        "If %(leave)s of ten customers who must wait don't come back, each worth %(worth)s a year, a delayed job costs "
        "you about %(cost)s; it is counted at %(now)s now. To count it so: stockroom settings "
        "cost_of_delayed_job=%(figure)s",
        leave=wait.leave.normalize(),
        worth=_money(formats_of(shop), float(wait.worth)),
        cost=_money(formats_of(shop), float(wait.cost)),
        now=_money(formats_of(shop), float(shop.held_up_job_cost)),
        figure=f"{wait.cost:f}",
    )


def caution_facts(found: Caution) -> dict[str, object]:
    """Give it to a program: money as exact decimals in major units."""
    digits = formats_of(found.shop).digits
    names = ("today", "stock", "keeping", "carriage", "delays", "cost")
    return {
        "points": [
            {
                "times": each.times,
                "delayed_jobs": round(each.held_up, 3),
                **{name: f"{getattr(each, name):.{digits}f}" for name in names},
            }
            for each in found.points
        ],
        "words": caution_words(found),
    }
