"""Today: what needs a hand."""

from flask import Blueprint, render_template

from stockroom.flows.bench.cards import job_cards
from stockroom.flows.bench.machines import services
from stockroom.flows.bench.shelf import expiring
from stockroom.flows.bench.shelf import today as gather
from stockroom.flows.bench.work_time import bench_load, running_now
from stockroom.flows.loading.first_steps import never_moved
from stockroom.flows.ordering.order_forms import supplier_names
from stockroom.web import access
from stockroom.web.access import may
from stockroom.web.drawing import days_ahead
from stockroom.web.pages.run_outs import LIKELY
from stockroom.web.site import look_ahead, role, shop, site

pages = Blueprint("today", __name__)
_TILES = 6


@pages.get("/")
@may(access.ANYONE)
def today() -> str:
    """Show what needs a hand, and the jobs done most."""
    now = site().now()
    jobs = job_cards(site().book, now)
    seen = look_ahead()
    rows = seen.result.rows if seen.result else ()
    at_bench = role() in access.BENCH
    load = bench_load(site().book, now, days=1) if at_bench and shop().open_hours else None
    return render_template(
        "today.html",
        found=gather(site().book, now),
        jobs=jobs[:_TILES] if at_bench else [],
        names={card.job.code: card.job.name for card in jobs},
        suppliers=supplier_names(site().book),
        seen=seen,
        waiting=list(dict.fromkeys(number for row in rows for number in row.tickets_at_risk)),
        ahead=days_ahead([row for row in rows if row.chance >= LIKELY], now.date()),
        expiring=expiring(seen.result.plan.outlook.known, now.date()) if seen.result else [],
        today=now.date(),
        at=now,
        services=[each for each in services(site().book, now) if each.due] if at_bench else [],
        load=load.days if load else (),
        running=load.running if load else running_now(site().book, now) if at_bench else (),
        new=role() == "owner" and never_moved(site().book),
    )


@pages.get("/more")
@may(access.ANYONE)
def more() -> str:
    """List every room, for screens too small for all of them in the menu."""
    return render_template("more.html")
