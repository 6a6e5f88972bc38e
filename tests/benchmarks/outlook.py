"""Run-outs and reorder list together, on an invented shop of 300 materials, 40 jobs and three years of tickets.

Run: python -m tests.benchmarks.outlook
"""

import csv
import random
from datetime import date, datetime, timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from tests.benchmarks.run import Figure, Ran, in_child

MATERIALS, JOBS, TICKETS, SUPPLIERS = 300, 40, 9_000, 5
FIRST, LAST = date(2023, 11, 21), date(2026, 11, 21)
WANTED = 3.0  # seconds
TIMES = 3
SPARE = 300  # millilitres left of each material at the end, by its recipes
FAMILIES = ("cement", "finish", "thread", "care", "fixings")
Rows = list[dict[str, object]]

ASKING = """
from datetime import datetime
import stockroom.flows.ordering.plan, stockroom.flows.outlook.run_outs, stockroom.show.tables.listing
{before}
from stockroom.flows.book.opening import open_book, settings
from stockroom.flows.outlook.run_outs import run_out_rows
from stockroom.flows.ordering.plan import plan_order
from stockroom.show.formats import formats_of
from stockroom.show.tables.listing import reorder_table, run_out_table
book = open_book({book!r})
moment = datetime(2026, 11, 21, 18, 30)
formats = formats_of(settings(book))
plan = plan_order(book, moment)
assert run_out_table(run_out_rows(plan.outlook), formats, as_of=moment.date())
assert reorder_table(plan.lists, formats, as_of=moment.date())
stop()
assert len(plan.outlook.futures.codes) == {materials}
"""


def measure(times: int = TIMES) -> list[Figure]:
    """Ask for both lists: the first time after a load, and again with what the counts taught kept in the book."""
    from stockroom.flows.book.opening import new_book
    from stockroom.flows.loading.load import load_files

    with TemporaryDirectory() as made:
        book = new_book(str(Path(made) / "book.sqlite"))
        load_files(book, [write_shop(Path(made) / "files")], datetime(2026, 11, 21, 18, 30))
        book.close()
        asking = {"book": book.place, "materials": MATERIALS}
        runs = [in_child(ASKING.format(before="start()", **asking)) for _ in range(times + 1)]
    what = f"run-outs and reorder, {MATERIALS} materials"
    return [_figure(f"{what}, libraries loaded", runs[1:]), _figure(f"{what}, first after a load", runs[:1])]


def _figure(name: str, runs: list[Ran]) -> Figure:
    cpu, wall, peak = (median(getattr(run, what) for run in runs) for what in ("cpu", "wall", "megabytes"))
    told = f"{cpu:.2f} s of processor time ({wall:.2f} s by the clock)"
    return Figure(name, told, f"<= {WANTED:g} s", cpu <= WANTED, peak)


def write_shop(folder: Path) -> Path:
    """Invent the files; the same every time."""
    dice = random.Random(5)
    folder.mkdir()
    recipes = _recipes(dice)
    tickets = _tickets(dice)
    used = _used(tickets, recipes)
    files = {**_catalogue(recipes, used), "past-jobs": tickets, "counts": _counts(dice, used)}
    for stem, rows in files.items():
        with (folder / f"{stem}.csv").open("w", encoding="utf-8", newline="") as opened:
            writer = csv.DictWriter(opened, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
    return folder


def _recipes(dice: random.Random) -> Rows:
    """Put every material on a recipe; the commonest are on several."""
    made: Rows = []
    for place in range(JOBS * 8):
        material = place if place < MATERIALS else dice.randrange(MATERIALS)
        facts = {"job": f"J{place // 8}", "valid from": "2023-01-01", "line": f"line {place % 8}"}
        made.append({**facts, "material": f"M{material}", "amount": dice.randint(1, 40) / 4, "unit": "ml"})
    return made


def _used(tickets: Rows, recipes: Rows) -> dict[str, list[tuple[str, float]]]:
    """Say what each material is used for, day by day, in order."""
    by_job: dict[object, Rows] = {}
    for line in recipes:
        by_job.setdefault(line["job"], []).append(line)
    used: dict[str, list[tuple[str, float]]] = {f"M{n}": [] for n in range(MATERIALS)}
    for ticket in tickets:
        for line in by_job[ticket["job"]]:
            used[str(line["material"])].append((str(ticket["finished"])[:10], float(str(line["amount"]))))
    return used


def _catalogue(recipes: Rows, used: dict[str, list[tuple[str, float]]]) -> dict[str, Rows]:
    suppliers = [f"S{n}" for n in range(SUPPLIERS)]
    return {
        "shop": [{"setting": "start", "value": FIRST.isoformat()}],
        "materials": [
            {"code": f"M{n}", "name": f"Material {n}", "family": FAMILIES[n % len(FAMILIES)], "unit": "ml", "purpose": "both", "sell price": 2, "usual cost": 0.5}
            for n in range(MATERIALS)
        ],
        "suppliers": [
            {"code": code, "name": f"Supplier {code}", "lead days": 3 + n, "carriage": 8, "carriage free over": 150}
            for n, code in enumerate(suppliers)
        ],
        "offers": [
            {"supplier": suppliers[(n + k) % SUPPLIERS], "material": f"M{n}", "supplier code": f"C{n}-{k}", "pack": 250,
             "unit": "ml", "price": 60 + 10 * k + n % 30, "valid from": "2023-01-01"}
            for n in range(MATERIALS) for k in range(1 + n % 2)
        ],
        "jobs": [{"code": f"J{n}", "name": f"Job {n}", "family": f"F{n % 6}", "price": 20} for n in range(JOBS)],
        "recipes": recipes,
        "opening": [{"material": f"M{n}", "amount": SPARE + sum(amount for _, amount in used[f"M{n}"]), "day": FIRST.isoformat()} for n in range(MATERIALS)],
    }  # fmt: skip


def _tickets(dice: random.Random) -> Rows:
    days = (LAST - FIRST).days
    made = []
    for n in range(TICKETS):
        day = FIRST + timedelta(days=1 + n * (days - 2) // TICKETS)
        job = int(JOBS * dice.random() ** 2)  # some jobs come far more often than others
        made.append({"ticket": n + 1, "taken in": f"{day} 10:00", "finished": f"{day} 17:00", "job": f"J{job}"})
    return made


def _counts(dice: random.Random, used: dict[str, list[tuple[str, float]]]) -> Rows:
    """Count twenty bins a week, and all of them on the last evening; jobs really use up to a fifth more."""
    evenings = [
        (FIRST + timedelta(weeks=week, days=4), sorted(dice.sample(range(MATERIALS), 20))) for week in range(150)
    ]
    thirst = [dice.uniform(1.0, 1.2) for _ in range(MATERIALS)]
    return [
        {
            "counted at": f"{day} 18:00",
            "material": f"M{n}",
            "amount": _left(used[f"M{n}"], str(day), thirst[n]),
            "sheet": str(day),
        }
        for day, bins in [*evenings, (LAST, list(range(MATERIALS)))]
        for n in bins
    ]


def _left(used: list[tuple[str, float]], day: str, thirst: float) -> float:
    total = sum(amount for _, amount in used)
    gone = sum(amount for when, amount in used if when <= day)
    return round(max(SPARE + total - gone * thirst, 0.0), 1)


if __name__ == "__main__":
    for figure in measure():
        print(figure)
