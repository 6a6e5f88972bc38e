"""The guided start: jobs a week, prices, the first count as opening stock, passcodes; nothing half-saved."""

import re
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from stockroom.flows.bench.shelf import shelf_rows
from stockroom.flows.book.check import check
from stockroom.flows.loading import first_steps, lists
from stockroom.flows.loading.lists import LISTS
from stockroom.flows.loading.starter import enter_starter
from stockroom.stock.money import MILLI
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book
from stockroom.web import access
from stockroom.web.site import Site
from tests.conftest import Maker
from tests.unit.web.conftest import NOON, Visitor


def _begun(book: Book) -> None:
    with book.writing(at=NOON) as session:
        shop = catalogue.read_shop(session)
        catalogue.save_shop(session, replace(shop, start=NOON.date()))
        enter_starter(session, NOON)


@pytest.fixture
def open_shop(sqlite_books: Maker) -> Book:
    """A book that holds the starter shop and nothing else."""
    return sqlite_books(_begun)


def _row(site: Site, stem: str, *key: str) -> dict[str, str]:
    return dict(lists.find(site.book, LISTS[stem], key, NOON.date()).rows[0])


def test_the_steps_say_how_far_each_has_come(owner: Visitor) -> None:
    page = owner.reads("/start")
    assert "36 materials" in page
    assert "12 jobs" in page
    assert "Still missing" not in page, "the starter shop lacks nothing"
    assert "0 of 36 counted." in page
    assert "Guided start" in owner.reads("/")


def test_jobs_get_their_numbers_and_what_is_not_done_leaves_with_its_materials(owner: Visitor, site: Site) -> None:
    page = owner.does("/lists/jobs/table", **{"week:HALF": "2.5", "price:HALF": "40", "week:ELASTIC": "0", "price:ELASTIC": "39.00"})  # fmt: skip
    assert "No longer in use, as no job takes them: Gusset elastic, 75 mm." in page
    assert (_row(site, "jobs", "HALF")["usual a week"], _row(site, "jobs", "HALF")["price"]) == ("2.5", "40.00")
    assert _row(site, "jobs", "ELASTIC")["active"] == "no"
    assert _row(site, "materials", "ELASTIC")["active"] == "no"
    assert _row(site, "materials", "THREAD")["active"] == "yes", "other jobs take it"
    number = re.findall(r'name="document" value="(\d+)"', page)[-1]
    owner.does("/documents/undo", document=number, then="/start")
    assert _row(site, "jobs", "ELASTIC")["active"] == _row(site, "materials", "ELASTIC")["active"] == "yes"


def test_what_is_wrong_is_said_of_its_job_and_nothing_is_saved(owner: Visitor, site: Site) -> None:
    answer = owner.post(
        "/lists/jobs/table", **{"week:HALF": "many", "price:HALF": "40", "week:GLUE": "9", "price:GLUE": "1"}
    )
    assert answer.status_code == 400
    assert re.search(r'data-fault="week:HALF"[^>]*>[^<]*number', answer.text)
    assert not re.search(r'data-fault="week:GLUE"[^>]*>[^<]+<', answer.text)
    assert 'value="many"' in answer.text
    assert _row(site, "jobs", "GLUE")["usual a week"] == "4"


def test_the_script_is_told_what_is_wrong_so_far_and_nothing_is_saved(owner: Visitor, site: Site) -> None:
    said = owner.post("/lists/jobs/table/check", **{"week:HALF": "9", "price:HALF": "dear"}).get_json()
    assert list(said["faults"]) == ["price:HALF"]
    assert owner.post("/lists/jobs/table/check", **{"week:HALF": "9", "price:HALF": "9"}).get_json()["faults"] == {}
    said = owner.post("/lists/materials/table/check", **{"sell:SPRAY": "x", "price:TACK": "y"}).get_json()
    assert {"sell:SPRAY", "price:TACK"} == set(said["faults"])
    said = owner.post("/lists/suppliers/table/check", **{"days:SOLES": "soon"}).get_json()
    assert list(said["faults"]) == ["days:SOLES"]
    assert _row(site, "jobs", "HALF")["usual a week"] == "4"
    assert _row(site, "offers", "TACK")["price"] == "11.00"


def test_a_packs_price_is_the_new_offer_and_the_usual_cost(owner: Visitor, site: Site) -> None:
    owner.does("/lists/suppliers/table", **{"name:SOLES": "Northgate Example", "days:SOLES": "9"})
    owner.does("/lists/materials/table", **{"price:TACK": "12", "price:EDGE": "7.50", "price:HALF-M": "17",
                                            "sell:SPRAY": "12.90", "week:SPRAY": "1.5"})  # fmt: skip
    assert _row(site, "offers", "EDGE")["price"] == "7.50"
    assert _row(site, "materials", "TACK")["usual cost"] == "12.00"
    assert _row(site, "materials", "EDGE")["usual cost"] == "30.00", "a quarter of a litre at 7.50"
    half = _row(site, "materials", "HALF-M")
    assert (half["usual cost"], half["usual cost for"]) == ("17.00", "5"), "exactly, for the pack's five pairs"
    assert _row(site, "materials", "SPRAY")["usual a week"] == "1.5"
    assert (_row(site, "suppliers", "SOLES")["name"], _row(site, "suppliers", "SOLES")["lead days"]) == ("Northgate Example", "9")  # fmt: skip
    assert owner.post("/lists/materials/table", **{"price:TACK": "dear", "sell:SPRAY": "13"}).status_code == 400
    assert _row(site, "materials", "SPRAY")["sell price"] == "12.90"


def _count(owner: Visitor, code: str, place: str, **answers: str) -> None:
    fields = {"material": code, "aid": "", "sheet": f"2026-01-06 {place}", "place": place}
    owner.does("/count/bin", **fields, **{f"answer:{name}": text for name, text in answers.items()})


def test_what_is_counted_is_the_opening_stock_and_no_gain(owner: Visitor, site: Site) -> None:
    _count(owner, "HALF-M", "Drawer 1", pairs="7")
    _count(owner, "BAG", "Shelf 2", amount="0")
    _count(owner, "CEMENT", "Fire cabinet", sealed="2", tenths="5")
    assert "1 of 4 counted" in owner.reads("/start/count")
    page = owner.does("/start/opening", key="the first")
    assert "3 materials are entered as opening stock." in page
    owner.does("/start/opening", key="the first")
    on_hand = {row.material: row.on_hand for row in shelf_rows(site.book)}
    assert (on_hand["HALF-M"], on_hand["CEMENT"], on_hand["BAG"]) == (14 * 10**9, 2500 * 10**9, 0)
    with site.book.reading() as session:
        kinds = [d.kind.value for d in ledger.read_documents(session) if d.moves]
        counted = catalogue.read_materials(session)
    assert kinds == ["opening"], "a shelf that is found is no difference"
    assert len(counted) == 36
    assert check(site.book).faults == ()
    assert "Nothing was counted that is not in the book already." in owner.post("/start/opening").text
    owner.does(
        "/count/bin", material="CEMENT", aid="", sheet="2026-01-06 again", place="Fire cabinet",
        **{"answer:sealed": "2", "answer:tenths": "5"},
    )  # fmt: skip
    before = first_steps.standing(site.book, NOON.date()).counted
    assert before == 3, "counted again is counted once"
    _count(owner, "HALF-S", "Drawer 1", pairs="3")
    assert first_steps.standing(site.book, NOON.date()).counted == 4
    assert "1 material is entered" in owner.does("/start/opening")
    assert check(site.book).faults == ()


def test_what_lies_there_is_worth_what_an_offer_asks_where_no_usual_cost_is_said(owner: Visitor, site: Site) -> None:
    """Ten for 20.00: three are worth 6.00."""
    owner.does("/lists/materials/entry", **{"0:code": "ODD", "0:name": "Odd", "0:family": "other", "0:unit": "piece", "0:place": "B9"})  # fmt: skip
    owner.does("/lists/offers/entry", **{"0:supplier": "SOLES", "0:material": "ODD", "0:pack": "10", "0:price": "20", "0:valid from": "2026-01-01"})  # fmt: skip
    _count(owner, "ODD", "B9", amount="3")
    owner.does("/start/opening")
    with site.book.reading() as session:
        moves = [move for d in ledger.read_documents(session) for move in d.moves if move.material == "ODD"]
    assert [move.value for move in moves if move.nano] == [600 * MILLI]


def test_the_opening_stock_is_undone_whole(owner: Visitor, site: Site) -> None:
    _count(owner, "HALF-M", "Drawer 1", pairs="7")
    page = owner.does("/start/opening")
    owner.does("/documents/undo", document=re.findall(r'name="document" value="(\d+)"', page)[-1], then="/start")
    assert check(site.book).faults == ()


def test_what_moved_before_it_was_entered_is_left_to_an_ordinary_count(owner: Visitor, site: Site) -> None:
    _count(owner, "SPRAY", "Counter", amount="5")
    _count(owner, "HALF-M", "Drawer 1", pairs="7")
    owner.does("/counter/sell", material="SPRAY", amount="1", sure="1")
    page = owner.does("/start/opening")
    assert "1 material is entered as opening stock." in page
    assert "to be posted as a count: 2026-01-06 Counter" in page
    assert check(site.book).faults == ()


def test_passcodes_are_the_owners_first(owner: Visitor, site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(access, "_METHOD", "pbkdf2:sha256:1")
    assert owner.post("/start/passcodes", **{"passcode:bench": "at the bench"}).status_code == 400
    assert not site.passcodes.wanted
    owner.does("/start/passcodes", **{"passcode:owner": "owner of it", "passcode:bench": "at the bench"})
    assert set(site.passcodes.read()) == {"owner", "bench"}


def test_a_shortcut_is_put_on_this_machine_only(
    owner: Visitor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    assert owner.post("/start/shortcut").status_code == 400
    (tmp_path / "Desktop").mkdir()
    far = owner.client.post("/start/shortcut", data={"csrf": owner.token}, environ_base={"REMOTE_ADDR": "192.0.2.7"})
    assert "own machine only" in far.text
    assert list((tmp_path / "Desktop").iterdir()) == []
    assert "stockroom.desktop" in owner.does("/start/shortcut") or not sys.platform.startswith("linux")


def test_more_a_week_than_any_bench_does_is_refused(owner: Visitor, site: Site) -> None:
    answer = owner.post("/lists/jobs/table", **{"week:HALF": "1001", "price:HALF": "40"})
    assert answer.status_code == 400
    assert "1001 a week is more than any bench does" in answer.text
    owner.does("/lists/jobs/table", **{"week:HALF": "0.0", "price:HALF": "40"})
    assert _row(site, "jobs", "HALF")["active"] == "no"
