"""How the cost of outlook and basket grows with the shop: from 1,250 materials and 125 jobs to four times as many.

Run: python -m tests.benchmarks.outlook_growth

The shop is invented in memory, three years of tickets of it, so that only the reckoning is measured. Reading a book
of that size and learning from its counts is measured by `outlook` on books of the usual size.
"""

from math import log
from typing import TYPE_CHECKING, Any

from tests.benchmarks.run import Figure, in_child

if TYPE_CHECKING:
    from datetime import datetime

    from stockroom.flows.learning.lessons import Diary
    from stockroom.flows.outlook.run_outs import OutlookFacts

SMALL, LARGE = 1_250, 5_000  # materials; a tenth as many jobs
SECONDS, MEGABYTES, POWER = 60.0, 1536.0, 1.1

REPLAYED = """
from tests.benchmarks.outlook_growth import invented
from stockroom.flows.outlook.run_outs import outlook, run_out_rows
from stockroom.flows.ordering.plan import plan_from
read = invented({materials})
import stockroom.buying.basket, scipy.optimize, scipy.stats
start()
seen = outlook(read)
rows = run_out_rows(seen)
plan = plan_from(seen)
stop()
assert len(rows) == {materials}
assert plan.lists
"""


def measure() -> list[Figure]:
    """Measure both sizes."""
    small, large = (in_child(REPLAYED.format(materials=each)) for each in (SMALL, LARGE))
    power = log(large.cpu / small.cpu) / log(LARGE / SMALL)
    what = f"outlook and basket, {LARGE:,} materials, {LARGE // 10} jobs"
    fits = large.cpu <= SECONDS and large.megabytes <= MEGABYTES
    told = f"{large.cpu:.1f} s of processor time ({large.wall:.1f} s by the clock)"
    grows = f"n^{power:.2f} ({small.cpu:.1f} s at {SMALL:,})"
    return [
        Figure(what, told, f"<= {SECONDS:g} s", fits, large.megabytes),
        Figure("the same, growth with the shop", grows, f"<= n^{POWER:g}", power <= POWER, small.megabytes),
    ]


def invented(materials: int) -> "OutlookFacts":
    """Invent what would be read of a shop's book: three years of tickets, ten parts to a job."""
    from datetime import date, datetime, timedelta
    from random import Random

    from stockroom.counting.lessons import Lessons, Spreads
    from stockroom.counting.shelf_posterior import Losses
    from stockroom.flows.book.snapshot import BookSnapshot
    from stockroom.flows.learning.lessons import Diary, Teaching
    from stockroom.flows.outlook.run_outs import OutlookFacts
    from stockroom.stock.materials import Material
    from stockroom.stock.quantities import NANO, quantity, unit
    from stockroom.stock.recipes import Job, Recipe, RecipeLine, recipe_catalogue
    from stockroom.stock.shop import Shop
    from stockroom.stock.suppliers import Offer, Supplier
    from stockroom.stock.tickets import Ticket, TicketState

    dice, jobs, moment = Random(5), materials // 10, datetime(2026, 11, 21, 18, 30)
    first = date(2023, 11, 21)
    goods = tuple(
        Material(code=f"M{n}", name=f"Material {n}", family=f"F{n % 9}", unit=unit("ml"), usual_cost=5)
        for n in range(materials)
    )
    recipes, used = {}, [0.0] * materials
    tickets = []
    for number in range(225 * jobs):
        at = datetime.combine(first, moment.time()) + timedelta(days=1090 * number / (225 * jobs))
        done: dict[str, Any] = {"state": TicketState.FINISHED, "finished": at}
        tickets.append(Ticket(number=str(number), job=f"J{int(jobs * dice.random() ** 1.5)}", taken_in=at, **done))
    for job in range(jobs):
        parts = [job * 10 + k for k in range(10)]
        lines = tuple(
            RecipeLine(name=f"line {k}", material=f"M{k}", amount=quantity(f"{dice.randint(1, 40)} ml")) for k in parts
        )
        recipes[f"J{job}"] = (Recipe(job=f"J{job}", valid_from=date(2023, 1, 1), lines=lines, reference=()),)
    for ticket in tickets[-75 * jobs :]:
        for line in recipes[ticket.job][0].lines:
            used[int(line.material[1:])] += line.amount.nano / NANO / 52
    on_hand = {f"M{n}": round(dice.uniform(0.0, 12.0) * max(used[n], 1.0)) * NANO for n in range(materials)}
    suppliers = tuple(
        Supplier(code=f"S{n}", name=f"Supplier {n}", lead_days=3 + n, carriage=800, carriage_free_over=15000)
        for n in range(6)
    )
    offers = tuple(
        Offer(
            supplier=f"S{(n + k) % 6}",
            material=f"M{n}",
            supplier_code=f"C{n}-{k}",
            pack=quantity("250 ml"),
            price=900 + 40 * k + n % 70,
            valid_from=date(2023, 1, 1),
        )
        for n in range(materials)
        for k in range(1 + n % 2)
    )
    facts = BookSnapshot(
        moment=moment, shop=Shop(), materials=goods, shelf=recipe_catalogue(goods), suppliers=suppliers, offers=offers,
        jobs=tuple(Job(code=f"J{n}", name=f"Job {n}", family=f"F{n % 8}", price=2000) for n in range(jobs)),
        recipes=recipes, closures=(), events=(), tickets=tuple(tickets), orders=(), deliveries=(), on_hand=on_hand,
        last_counted={}, sales=[], waste=[],
    )  # fmt: skip
    taught = Teaching(
        moment=moment, diaries={m.code: _counted(Diary(material=m), moment, on_hand[m.code] / NANO) for m in goods},
        lessons=Lessons(materials=(), spreads=Spreads()), losses=Losses(),
    )  # fmt: skip
    return OutlookFacts(known=facts, taught=taught, dry={})


def _counted(diary: "Diary", moment: "datetime", amount: float) -> "Diary":
    from stockroom.counting.observations import Counted

    diary.counts.append(Counted(at=moment, amount=amount, error=0.03 * amount))
    return diary


if __name__ == "__main__":
    for figure in measure():
        print(figure)
