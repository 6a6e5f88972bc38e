"""Tools that wear as a machine runs, drawn down exactly, and services that fall due by its hours."""

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.errors import BadEntryError, UnknownError
from stockroom.flows.bench import machines
from stockroom.flows.bench import tickets as bench
from stockroom.flows.bench.shelf import shelf_rows
from stockroom.flows.bench.tickets import Wanted
from stockroom.flows.book.check import check
from stockroom.flows.loading import lists
from stockroom.flows.posting import undo
from stockroom.stock.machines import Service
from stockroom.stock.quantities import NANO
from stockroom.stock.recipes import Job, JobFacts, Per, Recipe, machine_minutes, needs, recipe_catalogue, times_for_pair
from stockroom.store import catalogue
from stockroom.store.book import Book
from tests import build

SHELF = recipe_catalogue([build.material("BAND", "piece"), build.material("OIL", "ml"), build.material("NEEDLE")])
RECIPE = Recipe(
    job="BUFF",
    valid_from=build.START,
    lines=(
        build.line("band", "BAND", "1 piece", machine="finisher", minutes=Fraction(4), life_hours=Fraction(20)),
        build.line("brush", "", "0 piece", machine="finisher", minutes=Fraction(7, 2)),
        build.line("oil", "OIL", "0.2 ml", per=Per.MINUTE, machine="finisher"),
        build.line("needle", "NEEDLE", "1 piece", machine="stitcher", minutes=Fraction(6), life_hours=Fraction(10),
                   choice="sewn", option="yes"),
        build.line("glue only", "", "0 piece", choice="sewn", option="no"),
    ),
)  # fmt: skip


def test_a_band_wears_by_its_minutes_and_oil_as_long_as_the_machine_runs() -> None:
    found = {need.line: need.nano for need in needs(RECIPE, JobFacts(shoes=2, chosen={}), SHELF)}
    # 4 minutes of 20 hours; 0.2 ml for each of 4 + 3.5 minutes; 6 minutes of 10 hours: by hand
    assert found == {"band": round(NANO / 300), "oil": 1_500_000_000, "needle": 10_000_000}


@given(
    shoes=st.integers(1, 40),
    coats=st.integers(1, 3),
    minutes=st.fractions(Fraction(1, 10), 90, max_denominator=20),
    life=st.fractions(Fraction(1, 2), 500, max_denominator=8),
    chance=st.sampled_from([Fraction(1), Fraction(1, 3), Fraction(1, 7)]),
)
def test_what_wears_is_the_share_of_its_life_that_the_machine_ran(
    shoes: int, coats: int, minutes: Fraction, life: Fraction, chance: Fraction
) -> None:
    """So a tool is used up exactly when its machine has run its life, however the hours are parted into jobs."""
    band = build.line(
        "band", "BAND", "1 piece", machine="m", minutes=minutes, life_hours=life, coats=coats, chance=chance
    )
    recipe, work = Recipe(job="J", valid_from=build.START, lines=(band,)), JobFacts(shoes=shoes, chosen={})
    ran = machine_minutes(recipe, work)["m"]
    assert ran == minutes * shoes / 2 * coats * chance
    exact = Fraction(NANO) * ran / (60 * life)
    assert abs(needs(recipe, work, SHELF)[0].nano - exact) <= Fraction(1, 2)
    assert times_for_pair(recipe, band) * shoes / 2 == ran / (60 * life)


def _listed(book: Book) -> None:
    with book.writing() as session:
        catalogue.save_materials(session, list(SHELF.materials.values()))
        catalogue.save_jobs(session, [Job(code="BUFF", name="Buffing", price=1000, bench_minutes=20)])
        catalogue.add_recipes(session, [RECIPE])
        catalogue.save_services(
            session,
            [
                Service(code="OILING", machine="finisher", name="Oil the bearings", every_hours=1),
                Service(code="BELT", machine="finisher", name="Check the belt", every_days=30),
            ],
        )


def test_a_service_is_due_by_hours_or_days_and_counts_anew_once_it_is_done(open_shop: Book) -> None:
    _listed(open_shop)
    for n in range(8):
        bench.finish_at_once(open_shop, Wanted(job="BUFF", number=f"B{n}"), build.stamp(f"2026-01-06 1{n}:00"))
    now = build.at("2026-01-07 09:00")
    first, second = machines.services(open_shop, now)
    assert (first.service.code, first.minutes, first.due) == ("OILING", Fraction(15, 2) * 8, True)
    assert (second.service.code, second.due) == ("BELT", False)
    assert [each.due for each in machines.services(open_shop, build.at("2026-01-06 12:30"))] == [False, False]
    done = machines.serviced(open_shop, "oil", build.stamp("2026-01-07 08:00", key="S"))
    assert not machines.serviced(open_shop, "oil", build.stamp("2026-01-07 08:00", key="S")).fresh
    state = {each.service.code: each for each in machines.services(open_shop, now)}["OILING"]
    assert (state.minutes, state.due, state.since) == (Fraction(0), False, build.at("2026-01-07 08:00"))
    undo.undo(open_shop, done.document, build.stamp("2026-01-07 08:30"))
    assert machines.services(open_shop, now)[0].due
    late = {each.service.code: each.due for each in machines.services(open_shop, build.at("2026-02-10"))}
    assert late == {"OILING": True, "BELT": True}
    with pytest.raises(UnknownError, match="No service fits"):
        machines.serviced(open_shop, "sharpen", build.stamp("2026-01-07 09:00"))
    assert not check(open_shop).faults


def test_the_shelf_comes_down_by_what_wore(open_shop: Book) -> None:
    _listed(open_shop)
    before = {row.material: row.on_hand for row in shelf_rows(open_shop)}
    for n in range(3):
        bench.finish_at_once(open_shop, Wanted(job="BUFF", number=f"C{n}"), build.stamp(f"2026-01-06 1{n}:00"))
    after = {row.material: row.on_hand for row in shelf_rows(open_shop)}
    assert before["BAND"] - after["BAND"] == 3 * round(NANO / 300)
    assert before["OIL"] - after["OIL"] == 4_500_000_000


@pytest.mark.parametrize(
    ("said", "fault"),
    [
        ({"life in hours": "20"}, "Which machine runs"),
        ({"machine": "finisher"}, "How long 'finisher' runs"),
        ({"machine": "finisher", "life in hours": "20"}, "no row says how many"),
        ({"machine": "finisher", "machine minutes": "4", "life in hours": "20", "per": "shoe"}, "for no pair"),
    ],
)
def test_a_row_that_leaves_the_machine_open_is_refused(open_shop: Book, said: dict[str, str], fault: str) -> None:
    _listed(open_shop)
    row = {"job": "BUFF", "valid from": "2026-02-01", "line": "band", "material": "BAND", "amount": "1"} | said
    with pytest.raises(BadEntryError) as refused:
        lists.save(open_shop, lists.LISTS["recipes"], [row], build.at("2026-01-08"))
    assert fault in str(refused.value.problems[0].what)


def test_a_service_says_how_often(open_shop: Book) -> None:
    row = {"code": "X", "machine": "finisher", "name": "Oil"}
    with pytest.raises(BadEntryError) as refused:
        lists.save(open_shop, lists.LISTS["services"], [row], build.at("2026-01-08"))
    assert "How often" in str(refused.value.problems[0].what)
    saved = lists.save(open_shop, lists.LISTS["services"], [row | {"every days": "9"}], build.at("2026-01-08"))
    found = lists.find(open_shop, lists.LISTS["services"], ["X"], date(2026, 1, 9))
    assert found.noun == Service(code="X", machine="finisher", name="Oil", every_days=9)
    undo.undo(open_shop, saved.document or 0, build.stamp("2026-01-08 13:00"))
    assert not machines.services(open_shop, build.at("2026-01-09"))
