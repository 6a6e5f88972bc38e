"""What the owner says is usual in a week is a forecast until the book has seen half a year itself."""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.flows.outlook.futures import futures
from stockroom.flows.outlook.said_weeks import WEEKS, with_said_weeks
from stockroom.stock.quantities import NANO
from stockroom.stock.shop import Shop
from stockroom.stock.tickets import RecipeBox, Ticket, TicketState
from stockroom.store.book import Book

MOMENT = datetime(2026, 10, 6, 12)


@pytest.fixture
def new(file_shop: Book) -> BookSnapshot:
    """A shop that begins today: five heels a week, two laces and, over the counter, three polishes."""
    with file_shop.reading() as session:
        read = book_snapshot(session, MOMENT)
    weekly = {"HEELS": "5", "LACES": "2"}
    jobs = tuple(replace(job, weekly=weekly.get(job.code, "")) for job in read.jobs)
    materials = tuple(replace(m, weekly="3" if m.code == "POLISH" else "") for m in read.materials)
    return replace(read, jobs=jobs, materials=materials, tickets=(), sales=[], shop=Shop(start=MOMENT.date()))


def _said(known: BookSnapshot) -> BookSnapshot:
    return with_said_weeks(known, RecipeBox(known.recipes, known.shelf))


def test_as_many_come_as_were_said_and_always_the_same(new: BookSnapshot) -> None:
    said = _said(new)
    count = {job: sum(t.job == job for t in said.tickets) for job in ("HEELS", "LACES", "RESOLE")}
    assert count == {"HEELS": 5 * WEEKS, "LACES": 2 * WEEKS, "RESOLE": 0}
    assert sum(-nano for code, _, nano in said.sales if code == "POLISH") == 3 * WEEKS * NANO
    days = [t.taken_in.date() for t in said.tickets]
    assert min(days) == MOMENT.date() - timedelta(weeks=WEEKS)
    assert max(days) < MOMENT.date()
    assert [t.taken_in for t in _said(new).tickets] == [t.taken_in for t in said.tickets]


def test_the_forecast_is_what_was_said(new: BookSnapshot) -> None:
    """Ten weeks of five heels each, the weeks as the shop works them: within a tenth."""
    ahead = futures(new, np.random.default_rng(3), weeks=10, n_paths=400)
    heels = [n for n, job in enumerate(ahead.streams.jobs) if job == "HEELS"]
    assert ahead.jobs.counts[:, heels].sum(axis=1).mean() == pytest.approx(5.0, rel=0.1)
    polish = ahead.codes.index("POLISH")
    assert ahead.sales[:, polish].mean() == pytest.approx(3.0, rel=0.12)


def test_the_shops_own_weeks_take_over(new: BookSnapshot) -> None:
    for weeks, left in ((0, WEEKS), (10, WEEKS - 10), (WEEKS, 0), (80, 0)):
        begun = replace(new, shop=Shop(start=MOMENT.date() - timedelta(weeks=weeks)))
        tickets = _said(begun).tickets
        assert len(tickets) == 7 * left
        assert all(t.taken_in.date() < MOMENT.date() - timedelta(weeks=weeks) for t in tickets)


def test_older_work_from_files_counts_as_seen(new: BookSnapshot) -> None:
    at = datetime(2026, 1, 6, 12)
    old = Ticket(number="1", job="HEELS", taken_in=at, finished=at, state=TicketState.FINISHED)
    assert _said(replace(new, tickets=(old,))).tickets == (old,)


def test_what_nobody_said_changes_nothing(new: BookSnapshot) -> None:
    silent = replace(new, jobs=tuple(replace(j, weekly="") for j in new.jobs), materials=tuple(replace(m, weekly="") for m in new.materials))  # fmt: skip
    assert _said(silent) is silent
    off = replace(new, jobs=tuple(replace(j, active=False) for j in new.jobs))
    assert _said(off).tickets == ()


def test_a_slip_of_the_pen_does_not_fill_the_memory(new: BookSnapshot) -> None:
    wild = replace(new, jobs=tuple(replace(j, weekly="1" + "0" * 17) for j in new.jobs if j.code == "HEELS"))
    assert len(_said(wild).tickets) == 1000 * WEEKS
