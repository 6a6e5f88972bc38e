"""The year ahead: what is expected to be ordered, and the money it takes, month by month and supplier by supplier."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from stockroom.buying.basket import basket
from stockroom.buying.year_ahead import OrderFuture, by_month, year_of_orders
from stockroom.flows.ordering.plan import TIME_LIMIT, at_next_order_day
from stockroom.flows.outlook.delivery_days import MIDDLE, ordered_on
from stockroom.flows.outlook.run_outs import Outlook, outlook, read_for_outlook
from stockroom.phrases import joined, phrase
from stockroom.show.charts.facts import YearPicture
from stockroom.show.formats import Formats, formats_of
from stockroom.stock.calendar import OpenDays
from stockroom.stock.orders import Order
from stockroom.stock.shop import Shop
from stockroom.stock.suppliers import Offer
from stockroom.store.book import Book
from stockroom.store.orders import OPEN

MONTHS = 12  # whole ones, after the rest of this
WEEKS = 70  # looked ahead: the year, the rest of a month, and what the last orders must last for
LOW, HIGH = 0.1, 0.9  # eight in ten futures lie between
CLOSED_AT_MOST = 60  # days in a row
DEAREST = 2  # months named
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthAhead:
    """What comes of a supplier in a month, or of all (no code), in major money, with carriage and tax that is borne."""

    month: date  # its first day
    supplier: str
    name: str
    orders: float  # that come, on average
    goods: float
    carriage: float
    low: float  # of goods and carriage: one future in ten has less
    high: float  # and one in ten more

    @property
    def spend(self) -> float:
        """Goods and carriage."""
        return self.goods + self.carriage


@dataclass(frozen=True, slots=True, kw_only=True)
class YearAhead:
    """The year ahead by month, and by supplier over the whole of it; the first month is what is left of this one."""

    shop: Shop
    since: date
    until: date  # the last day counted
    months: tuple[MonthAhead, ...]  # of all suppliers together
    suppliers: tuple[MonthAhead, ...]  # each over the whole time, the dearest first
    each: tuple[MonthAhead, ...]  # by month and supplier
    whole: MonthAhead


def year_ahead(book: Book, moment: datetime, *, site: str | None = None) -> YearAhead:
    """Work out what the orders of a year are expected to come to, by the futures that orders are chosen by."""
    seen = outlook(read_for_outlook(book, moment, site=site), weeks=WEEKS)
    return year_from(seen)


def year_from(seen: Outlook) -> YearAhead:
    """Work it out of an outlook that reaches far enough."""
    day, (starts, total) = seen.known.day, months_of_orders(seen)
    names = [(each.code, each.name) for each in seen.known.suppliers]
    by_supplier = [_figures(total[:, n].sum(axis=1), starts[0], name) for n, name in enumerate(names)]
    return YearAhead(
        shop=seen.known.shop,
        since=day,
        until=starts[-1] - timedelta(days=1),
        months=tuple(_figures(total[:, :, m].sum(axis=1), each) for m, each in enumerate(starts[:-1])),
        suppliers=tuple(sorted((each for each in by_supplier if each.high > 0), key=lambda each: -each.spend)),
        each=tuple(
            _figures(total[:, n, m], each, name)
            for m, each in enumerate(starts[:-1])
            for n, name in enumerate(names)
            if total[:, n].any()
        ),
        whole=_figures(total.sum(axis=(1, 2)), starts[0]),
    )


def months_of_orders(seen: Outlook) -> tuple[list[date], Floats]:
    """Give what comes in each month and future: goods, carriage and orders, (3, n_suppliers, n_months, n_paths).

    With it the first days of the months, and of the one that is left out.
    """
    day, problem = seen.known.day, at_next_order_day(seen.question.problem)
    starts = _starts(day)
    ends = np.array([float((taken_in(seen.known.open_days, each) - day).days) for each in starts[1:]])
    planned = year_of_orders(problem, basket(problem, time_limit=TIME_LIMIT), float((starts[-1] - day).days))
    orders = [*planned, *_on_the_way(seen), *_standing(seen, starts[-1])]
    return starts, by_month(orders, ends, len(problem.suppliers), problem.n_paths)


def taken_in(open_days: OpenDays, start: date) -> date:
    """Give the day from which goods count for a month: what reaches a closed door is taken in when it next opens."""
    closed = (start - timedelta(days=n) for n in range(1, CLOSED_AT_MOST))
    return next((day + timedelta(days=1) for day in closed if open_days.is_open(day)), start)


def _starts(day: date) -> list[date]:
    """Give the first days of this month, of the whole months after it, and of the one that is left out."""
    every = [day.year * 12 + day.month - 1 + n for n in range(MONTHS + 2)]
    return [date(each // 12, each % 12 + 1, 1) for each in every]


def _figures(total: Floats, month: date, name: tuple[str, str] = ("", "")) -> MonthAhead:
    """Sum up goods, carriage and number, shape (3, n_paths)."""
    goods, carriage, orders = total.mean(axis=1).tolist()
    low, high = np.quantile(total[0] + total[1], (LOW, HIGH)).tolist()
    return MonthAhead(
        month=month, supplier=name[0], name=name[1], orders=orders, goods=goods, carriage=carriage, low=low, high=high
    )


def _on_the_way(seen: Outlook) -> list[OrderFuture]:
    """Give what is ordered already: it is to be paid when it comes."""
    known, place = seen.known, {each.code: n for n, each in enumerate(seen.known.suppliers)}
    found = []
    for order in known.orders:
        if order.state not in OPEN or order.supplier not in place:
            continue
        number = place[order.supplier]
        left = sum(line.cost * line.outstanding / line.expected for line in order.lines)
        fresh = not any(line.received for line in order.lines)
        start = ordered_on(known.suppliers[number], order.placed)
        comes = float(seen.question.leads[order.supplier].arrivals(start, known.day, MIDDLE)[0])
        found.append(_sure(seen, number, left, order.carriage if fresh else 0, comes, _borne(seen, order)))
    return found


def _borne(seen: Outlook, order: Order) -> float:
    """Say what of an open order's sums is to be paid for good: with the tax on it where that can't be taken back."""
    terms = seen.known.terms
    return float(terms.borne_on_carriage(order.supplier, seen.known.day)) if terms else 1.0


def _standing(seen: Outlook, until: date) -> list[OrderFuture]:
    """Give what comes by standing orders, at the price of its day."""
    known, place = seen.known, {each.code: n for n, each in enumerate(seen.known.suppliers)}
    found = []
    for order in known.standing:
        mine = [o for o in known.offers if (o.supplier, o.material) == (order.supplier, order.material)]
        fitting = [o for o in mine if order.supplier_code in ("", o.supplier_code)]
        for day in order.days(known.day + timedelta(days=1), until - timedelta(days=1)) if fitting else ():
            offer = _priced(seen, fitting[0], day)
            goods = offer.cost(order.packs)
            borne = float(known.terms.borne(offer, known.day)) if known.terms else 1.0
            number = place[order.supplier]
            carriage = known.suppliers[number].carriage_of(goods)
            found.append(_sure(seen, number, goods, carriage, float((day - known.day).days), borne))
    return found


def _priced(seen: Outlook, offer: Offer, day: date) -> Offer:
    later = (each for each in seen.known.announced if each.same == offer.same and each.valid_from <= day)
    return next(later, offer)


def _sure(seen: Outlook, number: int, goods: float, carriage: float, comes: float, borne: float) -> OrderFuture:
    n_paths, scale = seen.question.problem.n_paths, borne / 10.0**seen.known.shop.currency_digits
    return OrderFuture(
        supplier=number,
        day=0.0,
        goods=np.full(n_paths, goods * scale),
        carriage=np.full(n_paths, carriage * scale),
        comes=np.full(n_paths, comes),
    )


def year_words(found: YearAhead) -> str:
    """Say what the year comes to, and when it takes most."""
    formats = formats_of(found.shop)
    whole = [each for each in found.months[1:] if each.high > 0]
    if not whole:
        return phrase("Nothing is expected to be ordered.")
    said: list[str] = [
        phrase(
            "From %(since)s to %(until)s goods and carriage are expected to come to about %(money)s: in eight futures "
            "of ten between %(low)s and %(high)s.",
            since=formats.day(found.since),
            until=formats.day(found.until),
            money=formats.round_money(found.whole.spend),
            low=formats.round_money(found.whole.low),
            high=formats.round_money(found.whole.high),
        ),
        phrase(
            "The dearest months: %(months)s.",
            months=joined([_dear(each, formats) for each in _dearest(whole)], ", "),
        ),
        _tax(found.shop),
        phrase("Sums count when goods come, as their invoices do; what is paid later is needed later."),
        phrase(
            "In which month an order comes, and from which of several suppliers, is less sure than what the year takes."
        ),
    ]
    return joined(said)


def _dearest(months: Sequence[MonthAhead]) -> list[MonthAhead]:
    return sorted(months, key=lambda each: -each.spend)[:DEAREST]


def _dear(each: MonthAhead, formats: Formats) -> str:
    return phrase(
        "%(month)s (%(money)s, perhaps %(high)s)",
        month=formats.month(each.month),
        money=formats.round_money(each.spend),
        high=formats.round_money(each.high),
    )


def _tax(shop: Shop) -> str:
    if shop.tax_registered:
        return phrase("All before tax: what is paid to suppliers on top is set against the tax the shop owes.")
    return phrase("With the tax that the shop bears.")


def year_picture(found: YearAhead) -> YearPicture:
    """Give what its chart shows."""
    months = found.months
    return YearPicture(
        months=tuple(each.month for each in months),
        spend=tuple(each.spend for each in months),
        low=tuple(each.low for each in months),
        high=tuple(each.high for each in months),
    )


def picture_words(found: YearAhead) -> str:
    """Say in a sentence what its chart shows."""
    formats = formats_of(found.shop)
    return phrase(
        "Goods and carriage by month, %(money)s in all; the line on each column is where eight futures in ten lie.",
        money=formats.round_money(found.whole.spend),
    )


def year_spreadsheet(found: YearAhead) -> bytes:
    """Give it as a spreadsheet, for the owner and the bank."""
    from stockroom.show.tables.year import YearLine, year_xlsx  # noqa: PLC0415 -- spreadsheets are slow to import

    def line(of: MonthAhead) -> YearLine:
        same = ("month", "name", "orders", "goods", "carriage", "low", "high")
        return YearLine(**{name: getattr(of, name) for name in same})

    months, suppliers, each = ([line(of) for of in some] for some in (found.months, found.suppliers, found.each))
    formats = formats_of(found.shop)
    return year_xlsx(months, suppliers, each, formats.say(year_words(found)), formats)


def year_facts(found: YearAhead) -> dict[str, object]:
    """Give it to a program: money as exact decimals in major units."""
    digits = formats_of(found.shop).digits

    def told(each: MonthAhead) -> dict[str, object]:
        money = {name: f"{getattr(each, name):.{digits}f}" for name in ("goods", "carriage", "spend", "low", "high")}
        named = {"supplier": each.supplier, "name": each.name} if each.supplier else {}
        return {"month": f"{each.month:%Y-%m}", **named, "orders": round(each.orders, 2), **money}

    def untimed(each: MonthAhead) -> dict[str, object]:
        return {name: value for name, value in told(each).items() if name != "month"}

    return {
        "since": found.since.isoformat(),
        "until": found.until.isoformat(),
        "months": [told(each) for each in found.months],
        "suppliers": [untimed(each) for each in found.suppliers],
        "months_and_suppliers": [told(each) for each in found.each],
        "whole": untimed(found.whole),
        "words": year_words(found),
    }
