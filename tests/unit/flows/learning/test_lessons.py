"""Diaries are read by columns; here each line drawn is worked out by itself, slowly, to the same figures."""

from collections.abc import Iterator
from datetime import date, timedelta

import pytest

from stockroom.flows.learning import proposals
from stockroom.flows.learning.lessons import line_amount, read_diaries
from stockroom.flows.posting.undo import undo
from stockroom.stock.quantities import NANO
from stockroom.stock.recipes import Recipe, in_force
from stockroom.stock.tickets import by_job
from stockroom.store import catalogue, ledger, tickets, usage
from stockroom.store.book import Book, Session
from tests import build
from tests.conftest import Maker
from tests.unit.flows.learning.test_proposals import NOW, _fill, work

Row = tuple[str, object, str, float, float, float]
LATER = NOW + timedelta(days=9)


@pytest.fixture
def changed(books: Maker) -> Book:
    """Work by two versions of a recipe, and a job taken back."""

    def fill(book: Book) -> None:
        _fill(book)
        proposals.accept(book, "RESOLE", "filler", NOW)
        work(book, "RESOLE", NOW + timedelta(days=3), size="EU 42", chosen={"sole": "rubber"})
        undo(book, build.last(book), build.stamp(NOW + timedelta(days=4)))
        work(book, "RESOLE", NOW + timedelta(days=5), size="EU 40", chosen={"sole": "rubber"})

    return books(fill)


def one_by_one(session: Session) -> Iterator[Row]:
    versions = by_job(catalogue.read_recipes(session))
    jobs = {ticket.number: ticket.job for ticket in tickets.read_tickets(session)}
    moves = [
        move for document in ledger.read_documents(session) for move in document.moves if move.kind in usage.BY_JOBS
    ]
    for move in sorted(moves, key=lambda move: move.happened):
        job = jobs[move.ticket]
        then, now = (_card(versions[job], day) for day in (move.happened.date(), LATER.date()))
        before, after = line_amount(then, move.recipe_line), line_amount(now, move.recipe_line)
        [share] = {float(line.chance) for line in then.lines if line.name == move.recipe_line}
        amount, sign = -move.nano / NANO * (after / before), 1 if move.nano < 0 else -1
        variance = sign * amount**2 * (1 - share) / share
        yield move.material, move.happened, f"{job}: {move.recipe_line}", amount, sign, variance


def _card(versions: tuple[Recipe, ...], day: date) -> Recipe:
    found = in_force(versions, day)
    assert found is not None
    return found


def test_diaries_hold_what_each_line_drawn_comes_to(changed: Book) -> None:
    with changed.reading() as session:
        diaries, rows = read_diaries(session, LATER), list(one_by_one(session))
    assert {sign for *_, sign, _ in rows} == {1, -1}
    fillers = {round(amount, 6) for _, _, line, amount, sign, _ in rows if (line, sign) == ("RESOLE: filler", 1)}
    assert min(fillers) > 30, "jobs done by the older card count by the newer one"
    for code, diary in diaries.items():
        mine = [row for row in rows if row[0] == code]
        names, uses = list(diary.keys), diary.uses
        assert names == list(dict.fromkeys(row[2] for row in mine))
        assert uses.at.tolist() == [row[1] for row in mine]
        assert [names[n] for n in uses.line.tolist()] == [row[2] for row in mine]
        for column, place in ((uses.amount, 3), (uses.times, 4), (uses.variance, 5)):
            assert column.tolist() == pytest.approx([row[place] for row in mine], rel=1e-14)
