"""What jobs earn: margins, what moved them, prices that fell behind, cut or buy."""

from datetime import timedelta
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter
from stockroom.errors import UsageError
from stockroom.margins.income import BY, Group
from stockroom.margins.period import Period, before, from_to, period_named

if TYPE_CHECKING:
    from stockroom.flows.accounts.cutting import CuttingWish
    from stockroom.flows.accounts.margins import Earned
    from stockroom.show.formats import Formats

_PICTURES = (".png", ".svg")
period_options = (
    click.argument("period", required=False),
    click.option("--from", "first", help="First day, instead of PERIOD."),
    click.option("--to", "last", help="Last day, with --from."),
)


def asked_period(period: str | None, first: str | None, last: str | None) -> Period:
    """Read a named period, or one from day to day; without either, the twelve months up to today.

    Raises
    ------
    UsageError
        If a name and days are both given, or the first day is after the last.
    """
    if period and (first or last):
        raise UsageError("PERIOD and --from or --to say the same thing twice.", fix="Give one of them.")
    if period:
        return period_named(period)
    return from_to(desk.day(first) if first else None, desk.day(last) if last else desk.now().date())


@click.command()
@desk.opted(*period_options)
@click.option("--by", type=click.Choice(list(BY)), default="job", show_default=True, help="How to group.")
@desk.view
def margins(
    counter: Counter, *, period: str | None, first: str | None, last: str | None, by: str, as_json: bool
) -> None:
    """Show what jobs earn, dearest materials first.

    PERIOD is a month, a quarter or a year: 2026-10, 2026-Q4, 2026. Without one: the last twelve months.
    """
    from stockroom.flows.accounts.margins import margins_of

    found = margins_of(counter.book, asked_period(period, first, last), by)
    desk.tell(_facts(found, counter.shop.currency_digits), _words(found, counter), as_json=as_json)


@click.command()
@desk.opted(*period_options)
@desk.renamed("--compare-with", "against", was="--against", metavar="PERIOD",
              help="The other period [the one of the same length before].")  # fmt: skip
@click.option("--picture", type=click.Path(dir_okay=False, path_type=Path), help="Draw it into a PNG or SVG file.")
@desk.view
def margin_changes(
    counter: Counter,
    *,
    period: str | None,
    first: str | None,
    last: str | None,
    against: str | None,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Explain what changed the margin from one period to another.

    PERIOD is a month, a quarter or a year: 2026-10, 2026-Q4, 2026. The parts add up exactly.
    """
    from stockroom.flows.accounts import margins as flows
    from stockroom.show.tables.money import moved_table

    now = asked_period(period, first, last)
    then = period_named(against) if against else before(now)
    kind = _kind(picture)
    found = flows.what_moved(counter.book, now, then)
    if picture is not None:
        from stockroom.show.charts.margins import waterfall_chart

        picture.write_bytes(waterfall_chart(found, counter.formats, "svg" if kind == ".svg" else "png"))
    digits = counter.shop.currency_digits
    facts = {
        "from": str(then),
        "to": str(now),
        "before": _major(found.before, digits),
        "parts": [
            {
                "what": part.name,
                "effect": _major(part.effect, digits),
                "by_job": {job: _major(effect, digits) for job, effect in part.by_job.items()},
            }
            for part in found.parts
        ],
        "after": _major(found.after, digits),
        "picture": str(picture) if picture else None,
    }
    day = counter.formats.day
    title = f"Margin of {day(now.first)} to {day(now.last)} against {day(then.first)} to {day(then.last)}"
    words = moved_table(title, found, flows.job_names(counter.book), counter.formats, width=desk.width())
    desk.tell(facts, words, as_json=as_json)


@click.command()
@desk.renamed("--as-of", "on", was="--on", metavar="DAY", help="As of a day [today].")
@click.option("--since", help="Compare with the offers of this day [ninety days before].")
@desk.view
def margin_alerts(counter: Counter, *, on: str | None, since: str | None, as_json: bool) -> None:
    """Show jobs that a supplier's rise brought below the minimum margin, and the price that restores it."""
    from stockroom.flows.accounts.margins import price_alerts
    from stockroom.show.tables.money import alert_table

    day = desk.day(on) if on else desk.now().date()
    then = desk.day(since) if since else day - timedelta(days=90)
    found = price_alerts(counter.book, day, then)
    digits = counter.shop.currency_digits
    facts = [
        {
            "job": alert.job,
            "price": desk.price(alert.price, counter.shop),
            "left_before": round(float(alert.share_before), 4),
            "left_now": round(float(alert.share_after), 4),
            "restoring_price": desk.price(alert.restoring, counter.shop),
            "rises": {code: _major(rise, digits) for code, rise in alert.rises},
        }
        for alert in found.alerts
    ]
    title = f"Jobs below the minimum margin of {_floor(counter)} since {counter.formats.day(then)}"
    words = alert_table(title, found.alerts, (found.jobs, found.names), counter.formats, width=desk.width())
    desk.tell(facts, words, as_json=as_json)


@click.command()
@click.argument("material")
@desk.renamed("--as-of", "on", was="--on", metavar="DAY", help="As of a day [today].")
@click.option("--sheet", help="Width and length of the sheet in mm, such as 600x1000 [twice as long as wide].")
@click.option("--yield", "share", type=click.FloatRange(1, 100), help="Yield in per cent [what layout and counts say].")
@click.option("--minutes", type=click.IntRange(0, 240), default=0, help="Bench minutes to cut a pair.")
@click.option("--gap", type=click.FloatRange(0, 50), default=3.0, show_default=True, help="Gap between pieces in mm.")
@click.option("--picture", type=click.Path(dir_okay=False, path_type=Path), help="Draw the layout into a PNG or SVG.")
@desk.view
def cut_or_buy(
    counter: Counter, *, material: str, on: str | None, picture: Path | None, as_json: bool, **typed: Any
) -> None:
    """Compare cutting soles from a sheet with buying them cut.

    MATERIAL is the sheet: a bend, a hide, sheet rubber. Prices are the suppliers' of the day, without carriage. The
    yield starts from the layout of your sole's outline (stockroom outline) and follows what counts of the sheet find.
    """
    from stockroom.flows.accounts.cutting import compare_cutting
    from stockroom.show.tables.money import cut_facts, cut_words

    kind = _kind(picture)
    found = compare_cutting(counter.book, material, desk.day(on) if on else desk.now().date(), _wish(**typed))
    if picture is not None:
        from stockroom.show.charts.margins import layout_chart

        layouts = [job.layout for job in found.jobs if job.layout and job.layout.pairs]
        drawn = min(layouts, key=lambda layout: layout.pairs, default=None)  # the largest soles
        if drawn is None:
            raise UsageError("Not even one pair fits the sheet.", fix="Give its size, such as --sheet 600x1000.")
        picture.write_bytes(layout_chart(drawn, counter.formats, "svg" if kind == ".svg" else "png"))
    words = cut_words(found, counter.formats, width=desk.width())
    desk.tell(cut_facts(found, counter.shop), words, as_json=as_json)


def _wish(*, sheet: str | None, share: float | None, minutes: int, gap: float) -> "CuttingWish":
    from stockroom.flows.accounts.cutting import CuttingWish

    plate = None
    if sheet:
        parts = sheet.lower().replace("mm", "").split("x")
        if len(parts) != 2:  # noqa: PLR2004 -- width and length
            raise UsageError(f"'{sheet}' is not a sheet's size.", fix="Write it like 600x1000, in mm.")
        width, length = (float(desk.number(part)) for part in parts)
        if min(width, length) <= 0:
            raise UsageError(f"'{sheet}' is not a sheet's size.", fix="Both must be above zero.")
        plate = (width, length)
    part = Fraction(str(share)) / 100 if share else None
    return CuttingWish(plate=plate, share=part, minutes=minutes, gap=gap)


def _kind(picture: Path | None) -> str:
    if picture is not None and picture.suffix.lower() not in _PICTURES:
        raise UsageError(f"'{picture}' is no picture.", fix="Name it ….png or ….svg.")
    return picture.suffix.lower() if picture else ""


def _facts(found: "Earned", digits: int) -> dict[str, Any]:
    return {
        "from": found.period.first,
        "to": found.period.last,
        "by": found.by,
        "groups": [_group_facts(group, digits) for group in found.groups],
        "redone": [_group_facts(group, digits) for group in found.redone],
        "apart": {name: _major(value, digits) for name, value in found.apart},
        "unpriced": found.unpriced,
        "provisional": _major(found.provisional, digits),
        "earlier_jobs": _major(found.earlier, digits),
    }


def _words(found: "Earned", counter: Counter) -> str:
    from stockroom.show.layout import wrap
    from stockroom.show.tables.money import margin_table

    formats = counter.formats
    title = f"What jobs earned by {found.by}, {formats.day(found.period.first)} to {formats.day(found.period.last)}"
    return "\n\n".join(
        [
            margin_table(title, found.groups, found.names, formats, whole=found.whole, width=desk.width()).rstrip("\n"),
            *([wrap(_legend(found, counter), desk.width())] if found.groups else []),
            *(wrap(words, desk.width()) for words in _apart(found, formats)),
        ]
    )


def _legend(found: "Earned", counter: Counter) -> str:
    """Explain the columns that are there."""
    lost = f" 'Lost': what materials cost beyond what leaves the minimum margin of {_floor(counter)}."
    mean = " 'Mean margin': where a job's mean lies, nine times in ten."
    hour, clocked = "", sum(group.measured for group in found.groups)
    if any(group.per_hour is not None for group in found.groups):
        by = f"minutes measured on {clocked} ticket{'' if clocked == 1 else 's'}, else" if clocked else "the minutes"
        hour = f" 'Margin an hour': by {by} stated on the price list; ± nine times in ten."
    return f"Before tax.{lost if any(group.lost for group in found.groups) else ''}{mean}{hour}"


def _apart(found: "Earned", formats: "Formats") -> list[str]:
    """Say what is not in the figures of paid work, where there is any."""
    redone = ", ".join(f"{found.names.get(g.name, g.name)} {formats.milli(g.materials)}" for g in found.redone)
    others = ", ".join(f"{name} {formats.milli(value)}" for name, value in found.apart)
    said = (
        (found.unpriced, f"Jobs of which no price is known, counted as no income: {found.unpriced}."),
        (redone, f"Guarantee work, at the cost of its materials: {redone}."),
        (others, f"Neither paid nor guarantee work: {others}."),
        (found.provisional, f"Waiting for a delivery to be entered: {formats.milli(found.provisional)} of materials."),
        (found.earlier, f"Earlier periods' jobs cost {formats.milli(found.earlier)} more by what came in since."),
    )
    return [words for there, words in said if there]


def _floor(counter: Counter) -> str:
    return counter.formats.percent(counter.shop.margin_floor / 100)


def _group_facts(group: Group, digits: int) -> dict[str, Any]:
    share = group.materials_share
    money = ("income", "materials", "fee", "post", "bench", "margin", "after_bench", "lost")
    sums = {name: _major(getattr(group, name), digits) for name in money}
    maybe = {name: getattr(group, name) for name in ("least", "most", "per_hour", "hour_least", "hour_most")}
    return {
        "name": group.name,
        "count": group.count,
        **sums,
        **{name: None if value is None else _major(value, digits) for name, value in maybe.items()},
        "materials_share": None if share is None else round(float(share), 4),
        "minutes": group.minutes,
        "measured": group.measured,
    }


def _major(milli: int, digits: int) -> str:
    from stockroom.stock.money import MILLI, major

    return f"{major(milli, digits) / MILLI:f}"
