"""The frames of what is worked out from the book, each declared once: made, checked and described of it."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from operator import itemgetter
from typing import Any

from stockroom.counting.lessons import LessonAdvice
from stockroom.demand.accuracy import LEVELS, MONTHS_BACK
from stockroom.flows.outlook.came_true import SPAN, LookedBack
from stockroom.flows.outlook.run_outs import QUANTILES, WeekAhead
from stockroom.frames.shape import UNIT_MEANING, FrameColumn, Holds, Shape, field
from stockroom.margins.income import Group
from stockroom.show.tables.columns import REORDER, RUN_OUTS, SHELF, ListColumn
from stockroom.show.tables.schema import schema_of
from stockroom.stock.quantities import NANO

MAYBE = {"days_left", "better_price_from"}  # numbers of the lists that may be missing
PAID, REDONE = "paid", "guarantee"
SUGGESTED, CHANGED = "suggested", "changed"


def _listed(name: str, columns: tuple[ListColumn[Any], ...]) -> tuple[FrameColumn, ...]:
    """Take a list's columns as they are shown and described for programs."""
    described = _described(schema_of(name))
    return tuple(
        field(
            column.key,
            Holds.MAYBE_NUMBER if column.key in MAYBE else Holds[column.kind.name],
            described[column.key].replace(", in the unit named by `unit`", "").replace(", or null", ""),
            column.read,
        )
        for column in columns
    )


def _described(schema: Mapping[str, Any]) -> dict[str, str]:
    properties = schema["properties"]
    rows = properties.get("rows") or properties["suppliers"]["items"]["properties"]["lines"]
    return {name: told["description"] for name, told in rows["items"]["properties"].items()}


def _quantile(place: int) -> FrameColumn:
    share = QUANTILES[place]
    return field(
        f"q{round(share * 100):02d}",
        Holds.MEASURE,
        f"Use that {round(share * 100)} in 100 of the week's futures stay under.",
        lambda ahead: _in_unit(ahead, ahead.quantiles[place]),
    )


def _in_unit(ahead: WeekAhead, amount: float) -> float:
    return amount * NANO / ahead.material.unit.nano


def _said_quantile(place: int) -> FrameColumn:
    level = float(LEVELS[place])
    return field(
        f"q{round(level * 100):02d}",
        Holds.MEASURE,
        f"Use said not to be passed {level:.0%} of the time.",
        lambda row: _past(row, row.quantiles[place]),
    )


def _past(row: LookedBack, amount: float) -> float:
    return amount * NANO / row.material.unit.nano


def _line(read: Callable[[Any], object]) -> Callable[[tuple[object, object]], object]:
    """Read a suggested line that stands beside its supplier's list."""
    return lambda pair: read(pair[1])


def _of(name: str) -> Callable[[tuple[str, Group]], object]:
    """Read a figure of a group that stands beside the work it is of."""
    return lambda pair: getattr(pair[1], name)


STOCK = Shape(
    name="shelf", row="A material in use, in order of place and code.", index=("material",),
    fields=_listed("shelf", SHELF),
)  # fmt: skip

RUN_OUT = Shape(
    name="run_outs", row="A material in use, the soonest to run out first.", index=("material",),
    fields=_listed("run-outs", RUN_OUTS),
)  # fmt: skip

FORECAST = Shape(
    name="forecast",
    row="A week's use of a material, booked tickets, counter sales and waste included.",
    index=("material", "week"),
    fields=(
        field("material", Holds.TEXT, "The material's code.", "material.code"),
        field("week", Holds.DAY, "The week's first day; weeks are counted from the day that is looked ahead from."),
        field("mean", Holds.MEASURE, "Mean use.", lambda ahead: _in_unit(ahead, ahead.mean)),
        *(_quantile(place) for place in range(len(QUANTILES))),
        field("unit", Holds.UNIT, UNIT_MEANING, "material.unit"),
    ),
)

EVENTS_AHEAD = Shape(
    name="events_ahead",
    row="An event ahead, and what it is expected to bring.",
    index=("name", "day"),
    fields=(
        field("name", Holds.TEXT, "Its name.", "event.name"),
        field("day", Holds.DAY, "Its day, or the first of several.", "event.day"),
        field("last", Holds.DAY, "Its last day.", "event.end"),
        field("job", Holds.TEXT, "The job or family of jobs it concerns; empty: all.", "event.job"),
        field("material", Holds.TEXT, "What is sold because of it, where that is not a job.", "event.material"),
        field("pieces", Holds.VALUE, "Pieces sold beside the usual sales; missing where it brings jobs."),
        field("more", Holds.VALUE, "Jobs expected beside those that come without it."),
        field("alike", Holds.NUMBER, "Past ones of its name it is learnt from."),
        field("known", Holds.FLAG, "Whether anything is known of what it brings."),
        field("words", Holds.TEXT, "In words.", lambda row: str(row.words)),
    ),
)

SUGGESTIONS = Shape(
    name="order_suggestions",
    row="Packs of a material worth ordering now.",
    index=("supplier", "supplier_code", "material"),
    fields=(
        *(replace(each, read=_line(each.read)) for each in _listed("reorder", REORDER)),
        field("order_by", Holds.DAY, "Day to place the supplier's order.", lambda pair: pair[0].order_by),
        field("expected", Holds.DAY, "Day the goods are expected.", lambda pair: pair[0].expected),
    ),
)

PRICED = Shape(
    name="priced_orders",
    row="The orders as they were suggested, and as they were changed.",
    index=("orders",),
    fields=(
        field("orders", Holds.CHOICE, "Which of the two.", lambda row: row[0], (SUGGESTED, CHANGED)),
        *(
            field(name, Holds.VALUE, meaning, itemgetter(place))
            for place, (name, meaning) in enumerate(
                (
                    ("goods", "Goods before tax."),
                    ("carriage", "Carriage before tax."),
                    ("risk", "Expected of delayed work and lost sales, until the orders after these come."),
                    ("dearer", "What it is expected to cost beyond the suggested orders, all in all."),
                ),
                1,
            )
        ),
    ),
)

YEAR = Shape(
    name="year_ahead",
    row="What comes of a supplier in a month, or of all of them in it (no supplier).",
    index=("month", "supplier"),
    fields=(
        field("month", Holds.DAY, "First day of the month; of the first one, what is left of it."),
        field("supplier", Holds.TEXT, "The supplier's code; empty for all together."),
        field("orders", Holds.MEASURE, "Orders that come, on average."),
        field("goods", Holds.VALUE, "Goods, on average; with tax where the shop bears it."),
        field("carriage", Holds.VALUE, "Carriage, on average."),
        field("spend", Holds.VALUE, "Goods and carriage."),
        field("low", Holds.VALUE, "One future in ten has less goods and carriage than this."),
        field("high", Holds.VALUE, "One future in ten has more."),
    ),
)

CAUTION = Shape(
    name="stock_or_delays",
    row="A year at one degree of caution: a delayed job counted at so many times what it is counted at now.",
    index=("times",),
    fields=(
        field("times", Holds.MEASURE, "How many times as dear; 1 is where the shop stands."),
        field("today", Holds.VALUE, "Goods of the orders that would be suggested now."),
        field("stock", Holds.VALUE, "Mean value of the stock."),
        field("held_up", Holds.MEASURE, "Jobs delayed a year."),
        field("keeping", Holds.VALUE, "What keeping the stock costs a year."),
        field("carriage", Holds.VALUE, "Carriage a year."),
        field("delays", Holds.VALUE, "What delayed work and lost sales cost a year, at the shop's own figures."),
        field("cost", Holds.VALUE, "All of it."),
    ),
)

MARGINS = Shape(
    name="margins",
    row="A group of a period's jobs, dearest materials first, then what was done again under guarantee by job.",
    index=("work", "name"),
    fields=(
        field("work", Holds.CHOICE, "Paid work, or work under guarantee.", lambda pair: pair[0], (PAID, REDONE)),
        field("name", Holds.TEXT, "The ticket, job, size, choice or month.", _of("name")),
        field("count", Holds.NUMBER, "How many jobs.", _of("count")),
        *(
            field(name, Holds.COST, meaning, _of(name))
            for name, meaning in (
                ("income", "Income before tax."),
                ("materials", "What the materials cost."),
                ("fee", "Card fees."),
                ("post", "Post."),
                ("bench", "Bench time at the shop's rate."),
                ("margin", "Income less materials, card fees and post."),
                ("after_bench", "Margin less bench time."),
                ("lost", "What materials cost beyond what leaves the owner's floor."),
                ("least", "A job's mean margin is at least this, nine times in ten with `most`; missing for one job."),
                ("most", "A job's mean margin is at most this."),
                ("per_hour", "Margin for an hour at the bench; missing where no time is known."),
                ("hour_least", "Margin an hour is at least this, nine times in ten with `hour_most`; missing for one."),
                ("hour_most", "Margin an hour is at most this."),
            )
        ),
        field("materials_share", Holds.SHARE, "Materials as a part of income.",
              lambda pair: None if pair[1].materials_share is None else float(pair[1].materials_share)),
        field("minutes", Holds.NUMBER, "Bench time in minutes: as measured, else as stated.", _of("minutes")),
        field("measured", Holds.NUMBER, "How many jobs' minutes were measured.", _of("measured")),
    ),
)  # fmt: skip


def _whole(read: Callable[[Any], float | None]) -> Callable[[Any], object]:
    """Give minutes as whole ones, or nothing."""

    def minutes(row: Any) -> object:  # noqa: ANN401 -- a job's minutes, or a day's load
        found = read(row)
        return None if found is None else round(found)

    return minutes


JOB_MINUTES = Shape(
    name="job_minutes", row="A job, those measured most often first.", index=("job",),
    fields=(
        field("job", Holds.TEXT, "The job."),
        field("stated", Holds.MAYBE_NUMBER, "Minutes for a pair on the price list."),
        field("tickets", Holds.NUMBER, "Tickets measured."),
        field("mean", Holds.MAYBE_NUMBER, "Their mean for a pair, far ones pulled in.", _whole(lambda j: j.mean)),
        field("least", Holds.MAYBE_NUMBER, "The mean is at least this, nine times in ten.", _whole(lambda j: j.least)),
        field("most", Holds.MAYBE_NUMBER, "The mean is at most this.", _whole(lambda j: j.most)),
        field("reckoned_with", Holds.MAYBE_NUMBER, "Minutes that promises reckon with.", _whole(lambda j: j.believed)),
    ),
)  # fmt: skip

BENCH_LOAD = Shape(
    name="bench_load", row="A day ahead on which the bench works, or for which work is promised.", index=("day",),
    fields=(
        field("day", Holds.DAY, "The day."),
        field("open_minutes", Holds.NUMBER, "Minutes open, of all who work at the bench.", lambda day: day.open),
        field("promised_minutes", Holds.NUMBER, "Promised for it; on the first day also what is late or for no day.",
              _whole(lambda day: day.due)),
        field("tickets", Holds.TEXTS, "The tickets."),
        field("free_minutes", Holds.NUMBER, "Left until then once all due until then is done; below zero: too much.",
              _whole(lambda day: day.free)),
        field("chance", Holds.SHARE, "Chance of having done all of it by the end of the day."),
    ),
)  # fmt: skip

SERVICES = Shape(
    name="services", row="What is to be done to a machine, what is due first.", index=("service",),
    fields=(
        field("service", Holds.TEXT, "Its code.", lambda state: state.service.code),
        field("machine", Holds.TEXT, "The machine.", lambda state: state.service.machine),
        field("what", Holds.TEXT, "What is done.", lambda state: state.service.name),
        field("since", Holds.MOMENT, "When it was done last, or counted from."),
        field("done_before", Holds.FLAG, "Whether it was ever entered as done."),
        field("minutes", Holds.NUMBER, "Minutes the machine ran since.", _whole(lambda state: float(state.minutes))),
        field("days", Holds.NUMBER, "Days since."),
        field("every_hours", Holds.MAYBE_NUMBER, "Due every so many hours that it ran.",
              lambda state: state.service.every_hours),
        field("every_days", Holds.MAYBE_NUMBER, "Due every so many days.", lambda state: state.service.every_days),
        field("due", Holds.FLAG, "Whether it is due."),
    ),
)  # fmt: skip

ACCURACY = Shape(
    name="record_accuracy",
    row="A counting day, or a month where there were many.",
    index=("period",),
    fields=(
        field("period", Holds.TEXT, "The day or month."),
        field("first", Holds.DAY, "First day of counting in it."),
        field("last", Holds.DAY, "Last day of counting in it."),
        field("bins", Holds.NUMBER, "Bins counted."),
        field("right", Holds.NUMBER, "Bins the book was right about, or near enough."),
        field("share", Holds.SHARE, "Bins that were right as a part of all.", lambda row: row.right / row.bins),
        field("net", Holds.MONEY, "Value of the differences, less set against more."),
        field("gross", Holds.MONEY, "Value of the differences, less and more added up."),
    ),
)

FORECAST_ACCURACY = Shape(
    name="forecast_accuracy",
    row="What was said of a material on a past day, with only what was known then, and what came in the weeks after.",
    index=("day", "material"),
    fields=(
        field("day", Holds.DAY, "The past day.", "on"),
        field("material", Holds.TEXT, "The material's code.", "material.code"),
        field("family", Holds.TEXT, "Its family.", "material.family"),
        field("said", Holds.MEASURE, f"Mean use said of the {SPAN} weeks ahead.", lambda row: _past(row, row.mean)),
        *(_said_quantile(place) for place in range(len(LEVELS))),
        field("average", Holds.MEASURE, "What a year's plain average would have said.",
              lambda row: _past(row, row.average[0])),
        field("moving_average", Holds.MEASURE, f"What the average of {MONTHS_BACK} weeks would have said.",
              lambda row: _past(row, row.moving[0])),
        field("came", Holds.MEASURE, "What was used.", lambda row: _past(row, row.came)),
        field("unit", Holds.UNIT, UNIT_MEANING, "material.unit"),
        field("runs_out", Holds.DAY, "Day it was said to run out.", "said.runs_out"),
        field("earliest", Holds.DAY, "Early case.", "said.earliest"),
        field("latest", Holds.DAY, "Late case.", "said.latest"),
        field("ran_out", Holds.DAY, "Day it ran out, had nothing more been ordered; missing where it did not.",
              "ran_out"),
    ),
)  # fmt: skip

LESSONS = Shape(
    name="lessons",
    row="What counts say of a recipe line, what is worth most first.",
    index=("job", "line"),
    fields=(
        field("job", Holds.TEXT, "The job's code.", "key.job"),
        field("line", Holds.TEXT, "The line of its recipe.", "key.line"),
        field("materials", Holds.TEXTS, "The materials it draws, the one used most first."),
        field("recipe", Holds.MEASURE, "What the recipe says a job uses.", "proposal.recipe"),
        field("estimate", Holds.MEASURE, "What the counts say.", "proposal.use.estimate"),
        field("low", Holds.MEASURE, "It is hardly less than this.", "proposal.use.low"),
        field("high", Holds.MEASURE, "It is hardly more than this.", "proposal.use.high"),
        field("unit", Holds.UNIT, "The base unit of the line's amounts."),
        field("uses", Holds.NUMBER, "Uses seen between counts.", "proposal.uses"),
        field("counts", Holds.NUMBER, "Counts so far."),
        field("verdict", Holds.CHOICE, "Whether to change the recipe, to wait, or to leave it.", "proposal.verdict",
              choices=LessonAdvice),
        field("extra_per_job", Holds.WORTH, "What a job costs more than its recipe says.", "proposal.extra"),
        field("extra_a_year", Holds.WORTH, "What that comes to in a year.", "yearly"),
        field("answer", Holds.TEXT, "The owner's answer, while it stands."),
        field("words", Holds.TEXT, "All of it in a sentence."),
    ),
)  # fmt: skip

BACKTEST = Shape(
    name="backtest",
    row="A past week under one way of ordering; with the last way, as it happened.",
    index=("way", "week"),
    fields=(
        field("way", Holds.TEXT, "The way of ordering."),
        field("week", Holds.DAY, "The week's last day."),
        field("ours", Holds.FLAG, "Whether these are stockroom's own orders."),
        field("held_up", Holds.NUMBER, "Jobs held up; as it happened: tickets finished after their promised day."),
        field("stock_value", Holds.VALUE, "Mean value of the stock."),
        field("annual_cost", Holds.VALUE, "What the way costs a year at the shop's own figures, over all the weeks; "
              "missing for what happened."),
    ),
)  # fmt: skip

ANSWERS = (
    STOCK,
    RUN_OUT,
    FORECAST,
    EVENTS_AHEAD,
    SUGGESTIONS,
    PRICED,
    YEAR,
    CAUTION,
    MARGINS,
    JOB_MINUTES,
    BENCH_LOAD,
    SERVICES,
    ACCURACY,
    FORECAST_ACCURACY,
    LESSONS,
    BACKTEST,
)
