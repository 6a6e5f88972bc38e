"""What a back-test says, for people, programs and pictures."""

import json
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from stockroom.flows.backtest.run import Backtest, PolicyResult
from stockroom.phrases import joined, phrase
from stockroom.show.charts.facts import BacktestPicture, PolicyYear
from stockroom.show.formats import Formats

REAL = phrase("As it happened")
_RULES = {  # within a sentence
    "A fortnight's cover": phrase("a fortnight's cover"),
    "Order-up-to rule": phrase("order-up-to rule"),
}
SAME = 0.02  # costs closer than this are called the same


@dataclass(frozen=True, slots=True, kw_only=True)
class WayWeek:
    """A past week under one way of ordering; money in major units."""

    way: str
    week: date  # its last day
    held_up: int
    stock_value: float
    annual_cost: float | None = None  # over all the weeks; None for what really happened
    ours: bool = False


def verdict(played: Backtest, formats: Formats) -> str:
    """Say in plain words how stockroom's orders would have done, and whether the plain rules did worse."""
    own, others = played.own, [way for way in played.ways if not way.ours]
    best = min(others, key=lambda way: way.outcome.annual_cost)
    return joined([
        phrase("%(weeks)s weeks back-tested, ordering with only what was known then.", weeks=len(played.weeks)),
        *(way_words(way, formats) for way in played.ways),
        _compared(own, best, formats),
        real_words(played, formats),
    ])  # fmt: skip


def way_words(way: PolicyResult, formats: Formats) -> str:
    """Say what one way of ordering would have come to."""
    o = way.outcome
    return phrase(
        "%(way)s: %(held_up)s of %(jobs)s jobs delayed, %(stock)s of stock on average, %(carriage)s carriage on "
        "%(orders)s orders; at the shop's own figures %(cost)s a year.",
        way=way.name,
        held_up=o.held_up,
        jobs=o.tickets,
        stock=formats.round_money(o.stock_value),
        carriage=formats.round_money(o.carriage),
        orders=o.orders,
        cost=formats.round_money(o.annual_cost),
    )


def real_words(played: Backtest, formats: Formats) -> str:
    """Say what really happened, as far as the book knows."""
    real = played.real
    return phrase(
        "As it happened: %(late)s tickets finished after their promised day, for whatever reason, %(stock)s of stock "
        "on average, %(carriage)s carriage on %(deliveries)s deliveries.",
        late=sum(real.late),
        stock=formats.round_money(real.mean_value),
        carriage=formats.round_money(real.carriage),
        deliveries=real.deliveries,
    )


def _compared(own: PolicyResult, best: PolicyResult, formats: Formats) -> str:
    ours, theirs = own.outcome.annual_cost, best.outcome.annual_cost
    rule = _RULES.get(best.name, best.name)
    if abs(ours - theirs) <= SAME * max(ours, theirs):
        return phrase("On these weeks %(rule)s would have cost about as much as stockroom's orders.", rule=rule)
    money = formats.round_money(abs(ours - theirs))
    if ours < theirs:
        return phrase(
            "Stockroom's orders would have cost %(money)s a year less than the better plain rule (%(rule)s).",
            money=money,
            rule=rule,
        )
    return phrase(
        "Stockroom's orders would have cost %(money)s a year more than the better plain rule (%(rule)s).",
        money=money,
        rule=rule,
    )


def backtest_facts(played: Backtest, formats: Formats) -> dict[str, object]:
    """Give a back-test to a program: money as exact decimals in major units, figures by week beside the totals."""
    return {
        "weeks": [day.isoformat() for day in played.weeks],
        "ways": [_way_facts(way, formats.digits) for way in played.ways],
        "real": {
            "late_tickets": sum(played.real.late),
            "late_by_week": list(played.real.late),
            "stock_value": f"{played.real.mean_value:.{formats.digits}f}",
            "carriage": f"{played.real.carriage:.{formats.digits}f}",
            "deliveries": played.real.deliveries,
        },
        "verdict": verdict(played, formats),
    }


def _way_facts(way: PolicyResult, digits: int) -> dict[str, object]:
    o = way.outcome
    money = {
        "annual_cost": o.annual_cost,
        "stock_value": o.stock_value,
        "carriage": o.carriage,
        "expired": o.expired,
        "lost_margin": o.lost_margin,
        "held_up_cost": o.held_cost,
    }
    return {
        "name": way.name,
        "ours": way.ours,
        "tickets": o.tickets,
        "held_up": o.held_up,
        "held_up_days": round(o.held_days),
        "orders": o.orders,
        **{name: f"{value:.{digits}f}" for name, value in money.items()},
        "held_up_by_week": list(way.held_up),
        "stock_value_by_week": [f"{value:.{digits}f}" for value in way.stock_value],
    }


def backtest_picture(played: Backtest) -> BacktestPicture:
    """Give what the chart is drawn from; beside the replays the tickets that were really late."""
    replayed = [
        PolicyYear(name=way.name, stock_value=way.stock_value, held_up=way.held_up, ours=way.ours)
        for way in played.ways
    ]
    real = PolicyYear(name=REAL, stock_value=played.real.stock_value, held_up=played.real.late)
    return BacktestPicture(weeks=played.weeks, policies=(*replayed, real))


def weekly_rows(played: Backtest) -> list[WayWeek]:
    """Give each way's weeks one by one, and last what really happened."""
    replayed = [
        WayWeek(
            way=way.name, ours=way.ours, week=week, held_up=jobs, stock_value=value, annual_cost=way.outcome.annual_cost
        )
        for way in played.ways
        for week, jobs, value in zip(played.weeks, way.held_up, way.stock_value, strict=True)
    ]
    real = zip(played.weeks, played.real.late, played.real.stock_value, strict=True)
    return replayed + [WayWeek(way=REAL, week=week, held_up=late, stock_value=value) for week, late, value in real]


def write_backtest(played: Backtest, folder: Path, formats: Formats) -> list[Path]:
    """Write `back-test.png` and `back-test.json`; gives the files written."""
    from stockroom.show.charts.past import backtest_chart  # noqa: PLC0415 -- charts are slow to import

    folder.mkdir(parents=True, exist_ok=True)
    chart, figures = folder / "back-test.png", folder / "back-test.json"
    chart.write_bytes(backtest_chart(backtest_picture(played), formats))
    said = json.dumps(backtest_facts(played, formats), ensure_ascii=False, indent=2)
    figures.write_text(said + "\n", encoding="utf-8")
    return [chart, figures]
