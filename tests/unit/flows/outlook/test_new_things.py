"""New jobs and materials borrow from what is like them; one that stands in for another has that one's past."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import pytest

from stockroom.demand.history import History
from stockroom.demand.likeness import Traits, borrowing, likeness
from stockroom.demand.paths import sample_paths
from stockroom.errors import UnitsError, UsageError
from stockroom.flows.book.check import check_session
from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.flows.learning.lessons import Learnt
from stockroom.flows.loading.lists import LISTS, save
from stockroom.flows.loading.replacing import Replacement, replace_material
from stockroom.flows.outlook.futures import DemandFutures, futures, unsold, untried_jobs
from stockroom.flows.outlook.replaced import replacements
from stockroom.flows.posting.undo import undo
from stockroom.stock.quantities import NANO, exchange
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store import catalogue
from stockroom.store.book import Book
from tests import build

MOMENT = datetime(2026, 10, 4, 9)
WEEKS = np.datetime64("2024-10-07") + np.timedelta64(7, "D") * np.arange(104)


def _facts(book: Book) -> BookSnapshot:
    with book.reading() as session:
        read = book_snapshot(session, MOMENT)
    days = [MOMENT.date() - timedelta(days=n) for n in range(1, 700)]
    tickets = tuple(
        Ticket(
            number=str(n), job="HEELS", taken_in=datetime(day.year, day.month, day.day, 10), chosen={"hold": "glued"},
            state=TicketState.FINISHED, finished=datetime(day.year, day.month, day.day, 12),
        )
        for n, day in enumerate(days) if day.weekday() in (1, 4)
    )  # fmt: skip
    sales = [("POLISH", day.isoformat(), -NANO) for day in days if day.weekday() in (1, 2, 3, 4, 5)]
    return replace(read, tickets=tickets, sales=sales)


def _see(facts: BookSnapshot, learnt: Learnt | None = None) -> DemandFutures:
    return futures(facts, np.random.default_rng(5), weeks=6, n_paths=300, learnt=learnt or Learnt())


def _weekly(seen: DemandFutures, code: str) -> float:
    return float(seen.use[:, seen.codes.index(code)].mean())


def test_what_is_of_one_family_name_price_and_make_is_more_alike() -> None:
    new = Traits(code="N", name="Half soles, rubber", family="soling", price=40.0, parts=frozenset({"RUB"}))
    near = replace(new, code="A", name="Half sole, leather")
    dear, far = replace(near, price=90.0), Traits(code="B", name="Zip", family="bags", price=40.0)
    assert likeness(new, near) > likeness(new, dear) > likeness(new, far) > 0


def test_the_young_borrow_from_the_grown_and_nobody_else() -> None:
    traits = [Traits(code=code, name=code) for code in ("A", "A", "B", "N")]
    found = borrowing(traits, [104, 104, 104, 3])
    assert found is not None
    np.testing.assert_array_equal(found.rows, [3])
    np.testing.assert_allclose(found.weights, [[0.5, 0.5, 0.5, 0.0]])  # as many as a job has, all its parts together
    assert borrowing(traits, [104] * 4) is None
    assert borrowing(traits, [3] * 4) is None
    told = [*traits[:3], replace(traits[3], like="B")]
    np.testing.assert_allclose(borrowing(told, [104, 104, 104, 3]).weights, [[0, 0, 1.0, 0]])  # type: ignore[union-attr]


@pytest.mark.parametrize("seen", [0, 2])
def test_a_new_series_is_expected_like_what_it_is_like_with_a_wide_range(seen: int) -> None:
    rng = np.random.default_rng(1)
    use = rng.poisson([[6.0], [6.0], [0.3], [0.3], [6.0]], (5, 104)).astype(float)
    use[-1, : 104 - seen] = np.nan
    names = ["Soles A", "Soles B", "Zip A", "Zip B", "Soles N"]
    traits = [Traits(code=name, name=name, family=name[:4]) for name in names]
    history = History(use=use, weeks=WEEKS, groups=tuple(names), borrowing=borrowing(traits, [104] * 4 + [seen]))
    paths = sample_paths(history, 8, np.random.default_rng(2), 2000)
    bare = sample_paths(replace(history, borrowing=None), 8, np.random.default_rng(2), 2000)
    mean, usual = paths.mean[-1].mean(), bare.mean[-1].mean()
    assert seen or abs(mean - 6) < abs(usual - 6)
    assert 3.5 < mean < 8
    spread = paths.counts[:, [0, -1]].sum(axis=2).std(axis=0) / paths.counts[:, [0, -1]].sum(axis=2).mean(axis=0)
    assert spread[1] > 2 * spread[0]


def test_a_job_added_lately_is_expected_before_its_first_ticket(file_shop: Book) -> None:
    jobs, recipes = LISTS["jobs"], LISTS["recipes"]
    save(file_shop, jobs, [{"code": "TIPS", "name": "Heels, small", "price": "9.00"}], build.at("2026-10-01"))
    card = {"job": "TIPS", "valid from": "2026-10-01", "line": "tip", "material": "TIP", "amount": "1"}
    card |= {"unit": "pair", "reference size": "EU 42"}
    save(file_shop, recipes, [card], build.at("2026-10-01"))
    facts = _facts(file_shop)
    assert untried_jobs(facts) == {"TIPS": date(2026, 10, 1)}
    new, old = _see(facts), _see(replace(facts, added={}))
    assert _weekly(new, "TIP") > 1.5 * _weekly(old, "TIP")


def test_a_material_never_sold_is_expected_like_the_one_it_is_said_to_be_like(file_shop: Book) -> None:
    facts = _facts(file_shop)
    polish = facts.shelf.materials["POLISH"]
    balm = replace(polish, code="BALM", name="Balm", alike="POLISH")
    known = replace(facts, materials=(*facts.materials, balm))
    assert unsold(known) == {"BALM"}
    assert _weekly(_see(known), "BALM") == pytest.approx(_weekly(_see(known), "POLISH"), rel=0.35)
    assert not unsold(replace(facts, materials=(*facts.materials, replace(balm, alike=""))))


def test_what_stands_in_for_another_is_expected_to_sell_as_that_one_did(file_shop: Book) -> None:
    facts = _facts(file_shop)
    polish = facts.shelf.materials["POLISH"]
    balm = replace(polish, code="BALM", name="Balm", replaces="POLISH", replaces_at=exchange("1 piece = 2 piece"))
    seen = _see(replace(facts, materials=(*facts.materials, balm)))
    before = _see(facts)
    at, was = seen.codes.index("BALM"), before.codes.index("POLISH")
    assert seen.use[:, at].mean() == pytest.approx(before.use[:, was].mean() / 2, rel=0.05)
    assert not seen.use[:, seen.codes.index("POLISH")].any()


def test_a_chain_ends_at_its_last_and_a_ring_stands_in_for_nobody_twice(file_shop: Book) -> None:
    polish = _facts(file_shop).shelf.materials["POLISH"]
    balm = replace(polish, code="BALM", replaces="POLISH", replaces_at=exchange("1 piece = 2 piece"))
    wax = replace(polish, code="WAX", replaces="BALM")
    assert {old: (new, float(rate)) for old, (new, rate) in replacements([polish, balm, wax]).items()} == {
        "POLISH": ("WAX", 0.5),
        "BALM": ("WAX", 1.0),
    }
    assert replacements([replace(polish, replaces="WAX"), balm, wax])  # comes to an end


def test_recipes_take_the_new_one_and_what_counts_taught_goes_on(file_shop: Book) -> None:
    with file_shop.writing(at=build.at("2026-10-01")) as session:
        cement = next(m for m in catalogue.read_materials(session) if m.code == "CEMENT")
        catalogue.save_materials(session, [replace(cement, code="WATER", name="Water cement", alike="")])
    learnt = Learnt(ratios={("HEELS", "CEMENT"): 1.5}, waste={"CEMENT": 3.0})
    before = _weekly(_see(_facts(file_shop), learnt), "CEMENT")
    done = replace_material(
        file_shop, Replacement(old="CEMENT", new="WATER", rate=exchange("1 ml = 2 ml")), build.at("2026-10-02")
    )
    assert "HEELS" in done.jobs
    seen = _see(_facts(file_shop), learnt)
    assert _weekly(seen, "WATER") == pytest.approx(before / 2, rel=0.05)
    assert _weekly(seen, "CEMENT") == 0
    with file_shop.reading() as session:
        assert not check_session(session).faults
    undo(file_shop, done.document or 0, build.stamp("2026-10-03"))
    assert _weekly(_see(_facts(file_shop), learnt), "CEMENT") == pytest.approx(before, rel=0.01)


def test_nothing_stands_in_for_itself_or_without_a_rate_between_kinds_of_unit(file_shop: Book) -> None:
    with pytest.raises(UsageError, match="stand in for itself"):
        replace_material(file_shop, Replacement(old="POLISH", new="POLISH"), build.at("2026-10-02"))
    with pytest.raises(UnitsError):
        replace_material(file_shop, Replacement(old="CEMENT", new="POLISH"), build.at("2026-10-02"))
    asked = Replacement(old="CEMENT", new="POLISH", rate=exchange("1 piece = 40 ml"))
    tried = replace_material(file_shop, asked, build.at("2026-10-02"), dry_run=True)
    assert tried.jobs
    with file_shop.reading() as session:
        assert not any(m.replaces for m in catalogue.read_materials(session))
