"""The bench: work begun and paused, the load of the coming days, what jobs take, and what machines need."""

from flask import Blueprint, render_template, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.flows.bench import machines, work_time
from stockroom.flows.bench.work_time import Timed
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.site import formats, say, site, stamp
from stockroom.web.words import words

pages = Blueprint("bench", __name__)


@pages.get("/bench")
@may(access.BENCH)
def bench() -> str:
    """Show what runs, what is promised against the hours open, what jobs take, and services of machines."""
    book, now = site().book, site().now()
    found = work_time.bench_load(book, now)
    jobs = sorted(found.state.jobs.values(), key=lambda each: (-each.tickets, found.state.names[each.job]))
    return render_template("bench.html", load=found, jobs=jobs, services=machines.services(book, now), at=now)


@pages.post("/tickets/begin")
@may(access.BENCH)
def begin() -> Response:
    """Begin work on a ticket."""
    number = typed.field("number")
    done = work_time.begin(site().book, number, stamp())
    if done.fresh:
        say(words("Work on ticket %(number)s is begun.", number=number), undo=done.document)
    _mind(done)
    return go(url_for("tickets.card", number=number), 303)


@pages.post("/tickets/pause")
@may(access.BENCH)
def pause() -> Response:
    """Pause work on a ticket."""
    minutes = typed.field("minutes")
    stated = typed.whole(minutes, words("minutes")) if minutes else None
    done = work_time.pause(site().book, typed.field("number"), stamp(), minutes=stated)
    if done.fresh:
        so_far = formats().hours(done.minutes)
        said = words("Work on ticket %(number)s rests: %(time)s so far.", number=done.ticket.number, time=so_far)
        say(said, undo=done.document)
    _mind(done)
    return go(url_for("tickets.card", number=done.ticket.number), 303)


@pages.post("/bench/serviced")
@may(access.BENCH)
def serviced() -> Response:
    """Enter that a service of a machine was done."""
    done = machines.serviced(site().book, typed.field("service"), stamp())
    if done.fresh:
        say(words("%(name)s (%(machine)s): done.", name=done.service.name, machine=done.service.machine),
            undo=done.document)  # fmt: skip
    return go(url_for("bench.bench"), 303)


def _mind(done: Timed) -> None:
    for each in done.forgotten:
        day, until = formats().weekday(each.began.date()), f"{each.ended:%H:%M}"
        said = words("On %(day)s nobody paused it: counted until %(time)s, and left out of what jobs take.",
                     day=day, time=until)  # fmt: skip
        say(said, bad=True)
