"""What the shelf allows is what can be finished: so many, and not one more."""

from datetime import datetime

import pytest

from stockroom.flows.bench import counter, tickets
from stockroom.flows.bench.jobs_possible import CanDo, can_do
from stockroom.flows.bench.tickets import Wanted
from stockroom.stock.quantities import NANO
from stockroom.store import ledger
from stockroom.store.book import Book
from tests import build

NOW = datetime(2026, 1, 6, 10)


def seen(book: Book, job: str, *, site: str | None = None) -> CanDo:
    return {each.job.code: each for each in can_do(book, NOW, site=site)}[job]


def on_hand(book: Book) -> dict[str, int]:
    with book.reading() as session:
        return ledger.balances(session)


@pytest.mark.parametrize("job", ["HEELS", "RESOLE", "LACES"])
def test_the_best_mix_can_be_finished_and_one_more_of_any_kind_can_not(open_shop: Book, job: str) -> None:
    found = seen(open_shop, job)
    for choice in found.choices:
        for way in choice.ways:
            wanted = Wanted(job=job, chosen=dict(choice.chosen), size=way.size)
            for _ in range(way.in_mix):
                tickets.finish_at_once(open_shop, wanted, build.stamp(NOW))
    assert found.most > 0
    assert min(on_hand(open_shop).values()) >= 0
    again = seen(open_shop, job)
    assert (again.most, {way.most for choice in again.choices for way in choice.ways}) == (0, {0})


@pytest.mark.parametrize("hold", ["glued", "sewn"])
def test_each_choice_can_be_finished_so_often_by_itself(open_shop: Book, hold: str) -> None:
    (choice,) = [each for each in seen(open_shop, "HEELS").choices if each.chosen == {"hold": hold}]
    for _ in range(choice.most):
        tickets.finish_at_once(open_shop, Wanted(job="HEELS", chosen=dict(choice.chosen)), build.stamp(NOW))
    assert min(on_hand(open_shop).values()) >= 0
    tickets.finish_at_once(open_shop, Wanted(job="HEELS", chosen=dict(choice.chosen)), build.stamp(NOW))
    assert on_hand(open_shop)[choice.ways[0].ended_by] < 0


def test_a_job_whose_usual_choice_is_gone_can_still_be_done_another_way(open_shop: Book) -> None:
    """It said 0 of a job that rubber soles, there by the dozen, could still be put on."""
    tickets.take_in(open_shop, Wanted(job="RESOLE", size=build.size("EU 42")), build.stamp("2026-01-05 10:00"))
    counter.write_off(open_shop, "BEND", build.amount("180 dm2"), build.stamp("2026-01-05 11:00"))
    found = seen(open_shop, "RESOLE")
    by_choice = {choice.chosen["sole"]: choice.most for choice in found.choices}
    assert by_choice["leather"] == 0
    assert by_choice["rubber"] == found.most == 9 + 14  # small and large soles, a pair each


def test_booked_tickets_keep_what_is_set_aside_for_them(open_shop: Book) -> None:
    before = seen(open_shop, "HEELS").most
    wanted = Wanted(job="HEELS", chosen={"hold": "glued"})
    for _ in range(4):
        tickets.take_in(open_shop, wanted, build.stamp("2026-01-06 09:00"))
    assert before == 60  # pairs of tips
    assert seen(open_shop, "HEELS").most == 56


def test_a_shelf_below_zero_allows_nothing(open_shop: Book) -> None:
    counter.write_off(open_shop, "TIP", build.amount("61 pair"), build.stamp("2026-01-05 10:00", sure=True))
    found = seen(open_shop, "HEELS")
    assert on_hand(open_shop)["TIP"] == -2 * NANO
    assert found.most == 0
    assert {way.ended_by for choice in found.choices for way in choice.ways} == {"TIP"}
