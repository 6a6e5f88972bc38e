"""A chain on one book: what an outlook costs as sites are added, in turn and in worker processes.

Run: python -m tests.benchmarks.sites [sites ...]     (default 1 2 4; a chain of 50 takes long)
     python -m tests.benchmarks.sites --on-server [sites ...]     (on PostgreSQL, by the command, over a Dask cluster)

Each site has 300 materials, 60 jobs and three years of work, eight tickets a day, written straight into the tables.
"""

import argparse
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import datetime, timedelta
from importlib import import_module
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from stockroom.flows.bench.shelf import shelf_rows
from stockroom.flows.book.safekeeping import copy_book
from stockroom.flows.outlook.by_site import InTurn, SiteTask, Workers, look_ahead_everywhere, processes
from stockroom.stock.moves import SITE, Document, DocumentKind, Move, MoveKind
from stockroom.stock.recipes import Job
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store import catalogue, ledger, tickets
from stockroom.store.book import Book, new_book
from tests import build
from tests.postgres import Server

MATERIALS, JOBS, DAYS, A_DAY, EACH = 300, 60, 3 * 365, 8, 5
FIRST = datetime(2023, 1, 2, 9, 0)
NOW = FIRST + timedelta(days=DAYS)


def catalogue_into(book: Book) -> None:
    """Keep 300 materials and 60 jobs that use five of them each."""
    materials = [build.material(f"M{n:03}", usual_cost=100 + n) for n in range(MATERIALS)]
    jobs = [Job(code=f"J{n:02}", name=f"Job {n}", price=2000) for n in range(JOBS)]
    cards = [
        build.recipe(f"J{n:02}", *(build.line(f"part {k}", f"M{n * EACH + k:03}", "1 piece") for k in range(EACH)),
                     reference="", valid_from=FIRST.date())
        for n in range(JOBS)
    ]  # fmt: skip
    with book.writing() as session:
        catalogue.save_materials(session, materials)
        catalogue.save_jobs(session, jobs)
        catalogue.add_recipes(session, cards)


def work_of(site: str) -> Iterator[tuple[Ticket, Document]]:
    """Give three years of finished tickets: job n comes up more often than job n + 1, and each in its own weeks."""
    for n in range(DAYS * A_DAY):
        when = FIRST + timedelta(days=n // A_DAY, minutes=40 * (n % A_DAY))
        job = (n * n + n // 7) % JOBS * ((n * 31) % JOBS) // JOBS
        number = f"{site}-{n}"
        kept = Ticket(number=number, job=f"J{job:02}", taken_in=when, finished=when, state=TicketState.FINISHED,
                      site=site, finish_document=0)  # fmt: skip
        moves = tuple(
            Move(material=f"M{job * EACH + k:03}", nano=-(10**9), kind=MoveKind.JOB_USE, happened=when, site=site,
                 ticket=number, recipe_line=f"part {k}")
            for k in range(EACH)
        )  # fmt: skip
        yield kept, Document(kind=DocumentKind.FINISH, key=number, subject=number, happened=when, entered=when,
                             site=site, moves=moves)  # fmt: skip


def open_sites(book: Book, sites: list[str]) -> None:
    """Stock every site and let it work for three years."""
    for site in sites:
        made = list(work_of(site))
        stocked = [build.move(f"M{n:03}", "2000 piece", "2023-01-01", site=site) for n in range(MATERIALS)]
        opening = Document(kind=DocumentKind.OPENING, key=f"open {site}", happened=FIRST, entered=FIRST, site=site,
                           moves=tuple(stocked))  # fmt: skip
        with book.writing() as session:
            ledger.append(session, [opening, *(document for _, document in made)])
            tickets.save_tickets(session, [ticket for ticket, _ in made])


def _all(place: str, sites: list[str]) -> list[SiteTask]:
    return [SiteTask(place=place, site=site, moment=NOW) for site in sites]


def _timed(asked: list[SiteTask], workers: Workers) -> float:
    began = time.perf_counter()
    look_ahead_everywhere(asked, workers)
    return time.perf_counter() - began


def measure(counts: list[int]) -> None:
    """Print what each size costs."""
    print(f"{MATERIALS} materials, {JOBS} jobs, {DAYS * A_DAY:,} tickets and {DAYS * A_DAY * EACH:,} moves a site")
    with TemporaryDirectory() as folder:
        place = str(Path(folder) / "chain.sqlite")
        book = new_book(place)
        catalogue_into(book)
        there: list[str] = []
        for count in counts:
            fresh = [f"site {n:02}" for n in range(len(there), count)]
            began = time.perf_counter()
            open_sites(book, fresh)
            wrote, there = time.perf_counter() - began, there + fresh
            began = time.perf_counter()
            shelf_rows(book, site=there[-1])
            shelf = time.perf_counter() - began
            untouched = str(Path(folder) / "untouched.sqlite")  # a look keeps what it learnt: each way gets its own
            copy_book(book, untouched)
            turn = _timed(_all(place, there), InTurn())
            with processes(min(os.cpu_count() or 1, count)) as workers:
                side = _timed(_all(untouched, there), workers)
                again = _timed(_all(untouched, there), workers)
            Path(untouched).unlink()
            print(
                f"{count:>3} sites: written in {wrote:6.1f} s; shelf of one {shelf * 1000:5.0f} ms; outlook of all in "
                f"turn {turn:6.1f} s ({turn / count:5.1f} a site), in processes {side:6.1f} s ({side / count:5.1f}), "
                f"the same again {again:6.1f} s ({again / count:5.1f})",
                flush=True,
            )
        book.close()


def measure_on_server(counts: list[int], hands: int) -> None:
    """Print what one command over a cluster costs on a server, cold and again, at each size."""
    distributed: Any = import_module("distributed")  # an optional extra
    print(f"{MATERIALS} materials, {JOBS} jobs, {DAYS * A_DAY:,} tickets and {DAYS * A_DAY * EACH:,} moves a site")
    server = Server.start()
    try:
        with distributed.LocalCluster(n_workers=hands, threads_per_worker=1, dashboard_address=None) as cluster:
            for count in counts:
                place = server.create(f"chain_{count}")
                book = new_book(place)
                catalogue_into(book)
                began = time.perf_counter()
                open_sites(book, [SITE, *(f"site {n:02}" for n in range(1, count))])
                wrote = time.perf_counter() - began
                book.close()
                cold, again = (_commanded(place, cluster.scheduler_address, count) for _ in range(2))
                print(
                    f"{count:>3} sites: written in {wrote:6.1f} s; outlook of all by {hands} workers {cold:6.1f} s "
                    f"({cold / count:5.2f} a site), the same again {again:6.1f} s ({again / count:5.2f})",
                    flush=True,
                )
                server.drop(place)
    finally:
        server.stop()


def _commanded(place: str, cluster: str, sites: int) -> float:
    """Give the seconds of `run-outs-by-site`, as typed, held to as many answers as there are sites."""
    began = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "stockroom", "--book", place, "run-outs-by-site", "--as-of", f"{NOW:%Y-%m-%dT%H:%M}",
         "--cluster", cluster, "--json"],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    assert len(json.loads(done.stdout)) == sites
    return time.perf_counter() - began


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("sites", type=int, nargs="*", default=[1, 2, 4])
    asked.add_argument("--on-server", action="store_true")
    asked.add_argument("--hands", type=int, default=os.cpu_count() or 1)
    wanted = asked.parse_args()
    if wanted.on_server:
        measure_on_server(wanted.sites, wanted.hands)
    else:
        measure(wanted.sites)
