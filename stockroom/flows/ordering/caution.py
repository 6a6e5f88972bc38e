"""How cautious the shop orders: what more or less of it costs over a year, in words an owner can answer."""

from dataclasses import dataclass
from datetime import datetime

from stockroom.buying.caution import CautionPoint, frontier
from stockroom.flows.ordering.plan import at_next_order_day
from stockroom.flows.outlook.run_outs import ORDER_WEEKS, outlook, read_for_outlook
from stockroom.phrases import joined, phrase
from stockroom.show.formats import Formats, formats_of
from stockroom.stock.shop import Shop
from stockroom.store.book import Book

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
    formats, place = formats_of(found.shop), found.points.index(found.own)
    said: list[str] = [
        phrase(
            "In an even year, at your figures (%(job)s for a delayed job and %(day)s a day), you pay about %(paid)s "
            "for stock and carriage, and about %(jobs)s jobs are delayed for want of material.",
            job=_money(formats, float(found.shop.held_up_job_cost)),
            day=_money(formats, float(found.shop.held_up_day_cost)),
            paid=formats.round_money(found.own.paid),
            jobs=formats.number(found.own.held_up, 1),
        )
    ]
    more = next((each for each in found.points[place + 1 :] if _fewer(found.own, each) > FEWER), None)
    less = next((each for each in found.points[:place][::-1] if _fewer(each, found.own) > 1.0), None)
    if more is None:
        said.append(phrase("More stock would spare next to none: there is nothing to gain by it."))
    for other in (more, less):
        said += _step(found.own, other, formats, found.shop) if other else []
    return joined(said)


def _fewer(own: CautionPoint, other: CautionPoint) -> float:
    """Say how many fewer jobs a year are delayed at another degree of caution."""
    return own.held_up - other.held_up


def _step(own: CautionPoint, other: CautionPoint, formats: Formats, shop: Shop) -> list[str]:
    """Ask whether a step to more or less caution is worth its price."""
    jobs, paid = own.held_up - other.held_up, other.paid - own.paid
    if jobs * paid <= 0:
        return []
    facts = {
        "jobs": formats.number(abs(jobs), 1),
        "money": formats.round_money(abs(paid)),
        "each": _money(formats, paid / jobs),
        "setting": f"stockroom settings cost_of_delayed_job={float(shop.held_up_job_cost) * other.times:g} "
        f"cost_of_delayed_day={float(shop.held_up_day_cost) * other.times:g}",
    }
    if other.times > own.times:
        return [
            phrase(
                "Would you pay %(money)s more a year to spare %(jobs)s more customers the wait, %(each)s for each? "
                "Then: %(setting)s",
                **facts,
            )
        ]
    return [
        phrase(
            "Would you rather keep %(money)s a year and let %(jobs)s more customers wait, %(each)s saved for each? "
            "Then: %(setting)s",
            **facts,
        )
    ]


def _money(formats: Formats, value: float) -> str:
    return formats.money(round(value * 10**formats.digits))


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
