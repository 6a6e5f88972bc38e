"""A list as a table: many rows at once, all or none; what was left as it stands changes nothing; names do for codes."""

import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stockroom.flows.loading import first_steps, list_tables, lists
from stockroom.flows.loading.list_tables import TABLES
from stockroom.flows.loading.lists import LISTS
from stockroom.stock.typed import proposed_code
from stockroom.web.site import Site
from tests.unit.web.conftest import NOON, Visitor

SUPPLIER = {"name:*0": "Larkfield Example", "days:*0": "4", "carriage:*0": "8.50", "order:*0": "Mon Thu"}
MATERIALS = {
    "name:*0": "Heel tops, gents", "family:*0": "top pieces", "unit:*0": "pair", "supplier:*0": "NORTH", "pack:*0": "20",
    "price:*0": "22.00",
    "name:*3": "Waterproof spray", "family:*3": "care", "unit:*3": "piece", "sell:*3": "11.00", "week:*3": "1.5",
}  # fmt: skip


def _row(site: Site, stem: str, *key: str) -> dict[str, str]:
    return dict(lists.find(site.book, LISTS[stem], key, NOON.date()).rows[0])


def _fields(page: str) -> dict[str, str]:
    """Read a table as a browser would send it."""
    form = page[page.index("data-table") : page.index("<datalist")]
    found = dict(re.findall(r'<input [^>]*name="([^":]+:[^"]+)"[^>]*? value="([^"]*)"', form))
    for name, inner in re.findall(r'<select [^>]*name="([^"]+:[^"]+)".*?>(.*?)</select>', form):
        chosen = re.search(r'value="([^"]*)" selected', inner)
        found[name] = chosen[1] if chosen else ""
    return found


@pytest.mark.parametrize("stem", TABLES)
def test_a_table_that_is_left_as_it_stands_changes_nothing(stem: str, owner: Visitor, site: Site) -> None:
    fields = _fields(owner.reads(f"/lists/{stem}/table"))
    assert any(name.partition(":")[2].find("*") >= 0 for name in fields), "rows for what is new"
    before = lists.entries(site.book, LISTS[stem], NOON.date())
    assert list_tables.save_table(site.book, stem, fields, NOON) == (None, ())
    assert lists.entries(site.book, LISTS[stem], NOON.date()) == before


def test_several_are_entered_at_once_with_what_they_cost_and_codes_of_their_names(owner: Visitor, site: Site) -> None:
    owner.does("/lists/suppliers/table", **SUPPLIER)
    assert _row(site, "suppliers", "LARKFIEL-EXAMPLE")["order weekdays"] == "Mon Thu"
    page = owner.does("/lists/materials/table", **MATERIALS)
    tops = _row(site, "materials", "HEEL-TOPS-GENTS")
    assert (tops["usual cost"], tops["usual cost for"]) == ("22.00", "20")
    assert _row(site, "offers", "HEEL-TOPS-GENTS")["supplier"] == "NORTH"
    assert _row(site, "materials", "WATERPRO-SPRAY")["purpose"] == "counter", "what has a shelf price is sold"
    number = re.findall(r'name="document" value="(\d+)"', page)[-1]
    owner.does("/documents/undo", document=number, then="/lists/materials")
    codes = {e.key[0] for e in lists.entries(site.book, LISTS["materials"], NOON.date())}
    assert not codes & {"HEEL-TOPS-GENTS", "WATERPRO-SPRAY"}


def test_one_wrong_row_keeps_all_of_them_out_and_stays_as_typed(owner: Visitor, site: Site) -> None:
    before = lists.entries(site.book, LISTS["materials"], NOON.date())
    answer = owner.post("/lists/materials/table", **MATERIALS, **{"name:*7": "No family", "unit:*7": "pair"})
    assert answer.status_code == 400
    assert re.search(r'data-fault="family:\*7"[^>]*>[^<]+<', answer.text)
    assert not re.search(r'data-fault="name:\*0"[^>]*>[^<]+<', answer.text)
    assert 'value="Waterproof spray"' in answer.text
    assert lists.entries(site.book, LISTS["materials"], NOON.date()) == before


def test_a_recipe_takes_materials_by_their_names_and_is_costed_meanwhile(owner: Visitor, site: Site) -> None:
    owner.does("/lists/jobs/table", **{"name:*0": "Sole stuck back", "price:*0": "9", "week:*0": "5"})
    code = "SOLE-STUCK-BACK"
    lines = {f"material:{code}*0": "solvent CEMENT", f"amount:{code}*0": "6", f"unit:{code}*0": "ml"}
    name = _row(site, "materials", "CEMENT")["name"]
    lines[f"material:{code}*0"] = name.upper()
    said = owner.post("/lists/recipes/table/check", about=f"amount:{code}*0", **lines).get_json()
    assert said["faults"] == {}
    assert said["told"][code].startswith("Materials of the usual pair: €")
    owner.does("/lists/recipes/table", **lines)
    assert _row(site, "recipes", code)["material"] == "CEMENT"
    owner.post("/lists/recipes/table", **{f"material:{code}*0": "", f"amount:{code}*0": "", f"unit:{code}*0": ""})
    assert _row(site, "recipes", code)["material"] == "CEMENT", "a recipe needs a line"


def test_a_name_that_two_have_is_no_code(owner: Visitor, site: Site) -> None:
    for code in ("ONE", "TWO"):
        owner.does("/lists/materials/entry", **{"0:code": code, "0:name": "Twin", "0:family": "care", "0:unit": "g"})
    answer = owner.post("/lists/recipes/table", **{"material:HEELS*9": "Twin", "amount:HEELS*9": "1"})
    assert answer.status_code == 400
    assert "&#39;Twin&#39;" in answer.text


def test_what_is_missing_is_said_with_the_names(owner: Visitor, site: Site) -> None:
    owner.does("/lists/materials/table", **{"name:*0": "Odd welt", "family:*0": "other", "unit:*0": "m"})
    page = owner.reads("/start")
    assert "material has no supplier." in page or "materials have no supplier." in page
    assert "Odd welt" in page
    gaps = [gap.table for gap in first_steps.standing(site.book, NOON.date()).gaps]
    assert gaps == sorted(gaps, key=list(TABLES).index), "in the order of the steps"


def test_a_job_is_copied_with_its_recipe_and_a_form_stays_open_for_one_more(owner: Visitor, site: Site) -> None:
    page = owner.reads("/lists/jobs/entry?like=HEELS")
    assert 'name="like" value="HEELS"' in page
    page = owner.does("/lists/jobs/entry", like="HEELS", **{"0:name": "Ladies heels, express", "0:price": "15"})
    assert 'value="LADIES-HEELS-EXPRESS"' in page
    assert 'value="TIP"' in page, "the lines of the other's recipe"
    page = owner.does("/lists/materials/entry", again="yes", **{"0:name": "Clear wax", "0:family": "care", "0:unit": "g", "0:place": "B9"})  # fmt: skip
    assert re.search(r'name="0:place"[^>]*value="B9"', page)
    assert not re.search(r'name="0:name"[^>]*value="[^"]', page)


def test_names_do_wherever_another_entry_is_meant(owner: Visitor, site: Site) -> None:
    name = _row(site, "jobs", "HEELS")["name"]
    owner.does("/lists/events/entry", **{"0:name": "fair", "0:day": "2026-03-05", "0:job": name.upper(), "0:jobs": "9"})
    assert _row(site, "events", "fair")["job"] == "HEELS"
    owner.does("/lists/jobs/entry", **{"0:name": "Express heels", "0:price": "20", "0:like": name})
    assert _row(site, "jobs", "EXPRESS-HEELS")["like"] == "HEELS"
    answer = owner.post("/lists/recipes/table", **{"material:HEELS*9": "solv", "amount:HEELS*9": "1"})
    assert "Did you mean" in answer.text


def test_an_option_that_uses_nothing_is_no_material_that_was_replaced(owner: Visitor, site: Site) -> None:
    fields = {"material:HEELS*8": "", "choice:HEELS*8": "tops", "option:HEELS*8": "own", "material:HEELS*9": "TIP", "amount:HEELS*9": "1", "choice:HEELS*9": "tops", "option:HEELS*9": "ours"}  # fmt: skip
    owner.does("/lists/recipes/table", **fields)
    page = owner.does("/lists/materials/entry", **{"0:name": "Clear wax", "0:family": "care", "0:unit": "g"})
    assert "Recipes still name" not in page


def test_of_a_long_list_the_table_holds_what_is_new(owner: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stockroom.web.pages.lists._MOST_SHOWN", 2)
    page = owner.reads("/lists/materials/table")
    assert "This list is long" in page
    assert 'name="price:CEMENT"' not in page
    assert 'name="name:*4"' in page


def test_codes_of_names_alike_are_told_apart_by_the_words_that_differ() -> None:
    taken: set[str] = set()
    for name, code in (
        ("Rubber half soles, small", "RUBBER-HALF-SOLES"),
        ("Rubber half soles, large", "RUBBER-HALF-SOLES-LARGE"),
        ("Rubber half soles, LARGE", "RUBBER-HALF-SOLES-2"),
        ("Rivets, 13 mm", "RIVETS-13"),
        ("Für Öl", "FUER-OEL"),
        ("№ 5", "MATERIAL-5"),
    ):
        taken.add(proposed_code(name, taken, "material"))
        assert code in taken


@given(name=st.text(max_size=40), taken=st.sets(st.text(alphabet="ABC-2", max_size=6), max_size=8))
@settings(suppress_health_check=[HealthCheck.too_slow])
def test_a_proposed_code_is_one_that_files_take_and_nothing_has(name: str, taken: set[str]) -> None:
    code = proposed_code(name, taken, "material")
    assert re.fullmatch(r"[A-Z][A-Z0-9-]*", code)
    assert code.casefold() not in {each.casefold() for each in taken}
    assert len(code) <= 50
