"""Time at the bench: begin and pause work, what jobs take, the load of the coming days."""

from typing import Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.demand.bench_queue import DayLoad
from stockroom.demand.bench_time import JobMinutes
from stockroom.flows.bench import work_time as flows
from stockroom.flows.bench.work_time import BenchState, Timed


@click.command()
@click.argument("ticket")
@desk.entry
def begin(counter: Counter, entry: TypedEntry, *, ticket: str) -> None:
    """Begin work on a ticket: its minutes are measured until it is paused or finished.

    Such as: stockroom begin 1042. Several may run at once; where they are more than heads at the bench, they share
    the minutes.
    """
    done = flows.begin(counter.book, ticket, entry.stamp)
    said = f"Work on ticket {ticket} is begun (document {done.document})."
    _tell(entry, done, said if done.fresh else _again(done), counter)


@click.command()
@click.argument("ticket", default="")
@click.option("--minutes", type=click.IntRange(1, 24 * 60), help="How many were worked, instead of by the clock.")
@desk.entry
def pause(counter: Counter, entry: TypedEntry, *, ticket: str, minutes: int | None) -> None:
    """Pause work on a ticket; finishing it ends it as well.

    TICKET may be left out where only one is worked on. Without the clock: stockroom pause 1042 --minutes 25
    """
    done = flows.pause(counter.book, ticket, entry.stamp, minutes=minutes)
    said = f"Work on ticket {done.ticket.number} rests (document {done.document})."
    _tell(entry, done, said if done.fresh else _again(done), counter)


def _again(done: Timed) -> str:
    return f"That was entered already (document {done.document}); nothing changed."


def _tell(entry: TypedEntry, done: Timed, said: str, counter: Counter) -> None:
    lines = [said, f"Worked on it so far: {counter.formats.hours(done.minutes)}."]
    lines += [
        f"On {counter.formats.weekday(each.began.date())} nobody paused it: counted until {each.ended:%H:%M}, and "
        f"left out of what jobs take. To say the minutes: stockroom pause {done.ticket.number} "
        f"--at {each.ended:%Y-%m-%dT%H:%M} --minutes 25"
        for each in done.forgotten
    ]
    lines += [f"Also running: {', '.join(done.others)}."] if done.others else []
    facts = {
        "ticket": done.ticket.number, "document": done.document, "new": done.fresh, "minutes": done.minutes,
        "also_running": list(done.others), "forgotten": len(done.forgotten),
    }  # fmt: skip
    entry.tell(facts, "\n".join(lines))


@click.command()
@desk.view
def job_minutes(counter: Counter, *, as_json: bool) -> None:
    """Show how long jobs take at the bench: as stated, as measured, and what is reckoned with.

    Minutes are for a pair. They are measured between begin and pause, or finish.
    """
    from stockroom.show.layout import Head, TableLine
    from stockroom.show.tables.listing import table

    state = flows.bench_state(counter.book, desk.now())
    jobs = sorted(state.jobs.values(), key=lambda each: (-each.tickets, each.job))
    lines = [TableLine(cells=_job_cells(each, state, counter)) for each in jobs]
    heads = [Head(text="Job", flexible=True), *(Head(text=text, right=True) for text in _JOB_HEADS)]
    words = table("Minutes at the bench for a pair", heads, lines, empty="No job is listed.", width=desk.width())
    desk.tell([job_facts(each, state) for each in jobs], words.rstrip(), as_json=as_json)


_JOB_HEADS = ("Stated", "Tickets measured", "Mean", "Nine in ten", "Reckoned with")


def _job_cells(each: JobMinutes, state: BenchState, counter: Counter) -> tuple[str, ...]:
    write = counter.formats
    span = "" if each.least is None or each.most is None else f"{write.hours(each.least)} to {write.hours(each.most)}"
    return (
        state.names.get(each.job, each.job),
        "" if each.stated is None else write.hours(each.stated),
        str(each.tickets or ""),
        "" if each.mean is None else write.hours(each.mean),
        span,
        "not known" if each.believed is None else write.hours(each.believed),
    )


def job_facts(each: JobMinutes, state: BenchState) -> dict[str, Any]:
    """Give what a job takes to a program."""
    figures = {"mean": each.mean, "least": each.least, "most": each.most, "reckoned_with": each.believed}
    return {
        "job": each.job,
        "name": state.names.get(each.job, each.job),
        "stated": each.stated,
        "tickets": each.tickets,
        **{name: None if value is None else round(value, 2) for name, value in figures.items()},
    }


@click.command()
@click.option("--days", type=click.IntRange(1, 90), default=14, show_default=True, help="How far to look ahead.")
@desk.view
def bench_load(counter: Counter, *, days: int, as_json: bool) -> None:
    """Set the work promised against the hours open, day by day.

    When the bench works is the setting open_hours, such as Tue-Fri 9:00-18:00, Sat 9:00-13:00; how many work at it is
    bench_heads.
    """
    found = flows.bench_load(counter.book, desk.now(), days=days)
    write = counter.formats
    lines = [_load_line(each, counter) for each in found.days]
    if found.state.hours is None:
        lines.append(NO_HOURS)
    elif not lines:
        lines.append("The bench isn't open on any of these days, and nothing is promised for them.")
    lines += [f"Running: {t.number} since {write.moment(since)}" for t, since in found.running]
    if found.state.unknown:
        lines.append(f"Not reckoned with, as nobody knows how long they take: {', '.join(found.state.unknown)}.")
    facts = {
        "hours_known": found.state.hours is not None,
        "days": [load_facts(each) for each in found.days],
        "running": {t.number: since.isoformat() for t, since in found.running},
        "not_reckoned_with": list(found.state.unknown),
    }
    desk.tell(facts, "\n".join(lines), as_json=as_json)


NO_HOURS = (
    'When the bench works is not known: stockroom settings open_hours="Tue-Fri 9:00-18:00, Sat 9:00-13:00", and '
    "bench_heads=2 where two work at it."
)


def load_facts(each: DayLoad) -> dict[str, Any]:
    """Give a day's load to a program."""
    return {
        "day": each.day.isoformat(),
        "open_minutes": each.open,
        "promised_minutes": round(each.due, 1),
        "tickets": list(each.tickets),
        "free_minutes": round(each.free, 1),
        "chance": round(each.chance, 3),
    }


def _load_line(each: DayLoad, counter: Counter) -> str:
    write = counter.formats
    many = f"{len(each.tickets)} ticket{'' if len(each.tickets) == 1 else 's'}"
    what = f", promised {write.hours(each.due)} ({many})" if each.tickets else ""
    rest = f"{write.hours(each.free)} free until then" if each.free >= 0 else f"{write.hours(-each.free)} too much"
    sure = f", kept in {write.percent(each.chance)}" if each.tickets else ""
    return f"{write.weekday(each.day)}: open {write.hours(each.open)}{what}; {rest}{sure}"
