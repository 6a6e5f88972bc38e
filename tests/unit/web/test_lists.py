"""The lists' pages: made of the declared columns, refused beside the field, each change undone at a touch."""

import re

import pytest
from flask import Flask

from stockroom.flows.loading import lists
from stockroom.flows.loading.lists import LISTS
from stockroom.web.site import Site
from tests.unit.web.conftest import NOON, Visitor, visitor

WAX = {"0:code": "WAX", "0:name": "Black wax", "0:family": "finish", "0:unit": "g", "0:place": "B9"}


def _fields(page: str) -> dict[str, str]:
    """Read an entry's form as a browser would send it."""
    form = page[page.index("data-check") : page.index("<datalist") if "<datalist" in page else page.index("</form>")]
    found = {
        n: v for n, v in re.findall(r'<input [^>]*name="([0-9]+:[^"]+)"[^>]*? value="([^"]*)"', form) if "gone" not in n
    }
    for name, inner in re.findall(r'<select [^>]*name="([0-9]+:[^"]+)".*?>(.*?)</select>', form):
        chosen = re.search(r'value="([^"]*)" selected', inner)
        found[name] = chosen[1] if chosen else ""
    return found


@pytest.mark.parametrize("stem", LISTS)
@pytest.mark.parametrize("tongue", ["en", "de"])
def test_every_list_and_each_of_its_forms_opens_and_saves_unchanged(
    stem: str, tongue: str, owner: Visitor, site: Site
) -> None:
    """In the marks of a German reader, too, though the shop is Irish."""
    owner.does("/language", language=tongue, then="/")
    owner.reads(f"/lists/{stem}")
    blank = owner.reads(f"/lists/{stem}/entry")
    for column in LISTS[stem].kind.columns:
        assert f'name="0:{column.name}"' in blank
    said = {"en": "is said so already", "de": "Nichts wurde geändert"}[tongue]
    for entry in lists.entries(site.book, LISTS[stem], NOON.date())[:4]:
        query = "&".join(f"key={part.replace(' ', '+')}" for part in entry.key)
        fields = _fields(owner.reads(f"/lists/{stem}/entry?{query}"))
        was = {"was": list(entry.key)}
        page = owner.does(
            f"/lists/{stem}/entry", **{**fields, **was, "0:valid from": entry.rows[0].get("valid from", "")}
        )
        assert said in page, (entry.key, page[:3000])


def test_a_list_says_what_it_holds_in_words(owner: Visitor) -> None:
    owner.does("/lists/events/entry", **{"0:name": "fair", "0:day": "2026-06-20", "0:usual": "130", "0:jobs": ""})
    owner.does("/lists/closures/entry", **{"0:first": "2026-08-03", "0:last": "2026-08-15", "0:yearly": "yes"})
    assert "day: 20 Jun 2026 · % of usual: 130" in owner.reads("/lists/events")
    assert "<b>3 Aug 2026 – 15 Aug 2026</b>" in owner.reads("/lists/closures")
    assert "every year" in owner.reads("/lists/closures")
    fields = _fields(owner.reads("/lists/suppliers/entry?key=NORTH"))
    owner.does("/lists/suppliers/entry", **{**fields, "was": ["NORTH"], "0:order weekdays": "Tue Fri"})
    owner.does("/language", language="de", then="/")
    assert "Tag: 20.06.2026 · % des Üblichen: 130" in owner.reads("/lists/events")
    assert "<b>03.08.2026 – 15.08.2026</b>" in owner.reads("/lists/closures")
    assert 'value="Di Fr"' in owner.reads("/lists/suppliers/entry?key=NORTH")
    assert not re.search(r"\b20\d\d-\d\d-\d\d\b", re.sub(r"<[^>]*>", "", owner.reads("/lists/offers")))


def test_what_could_be_thousands_is_asked_for_again(owner: Visitor, site: Site) -> None:
    """A point is the decimal mark here and thousands there: it is never taken for the other."""
    for tongue, text in (("en", "1.500"), ("en", "1,500"), ("de", "1.500"), ("de", "1,500")):
        owner.does("/language", language=tongue, then="/")
        answer = owner.post("/lists/materials/entry", **{**WAX, "0:sell price": text})
        assert answer.status_code == 400
        assert f'value="{text}"' in answer.text
        assert re.search(r'data-fault="0:sell price"[^>]*>[^<]*1500', answer.text)
    owner.does("/lists/materials/entry", **{**WAX, "0:sell price": "6,50"})
    assert lists.find(site.book, LISTS["materials"], ["WAX"], NOON.date()).rows[0]["sell price"] == "6.50"


def test_a_material_is_added_changed_and_undone(owner: Visitor, site: Site) -> None:
    page = owner.does("/lists/materials/entry", **WAX)
    assert "Black wax" in page
    page = owner.does("/lists/materials/entry", was="WAX", **{**WAX, "0:sell price": "6.50"})
    assert "Saved: sell price" in page
    number = re.findall(r'name="document" value="(\d+)"', page)[-1]
    owner.does("/documents/undo", document=number, then="/lists/materials")
    assert lists.find(site.book, LISTS["materials"], ["WAX"], NOON.date()).rows[0]["sell price"] == ""
    owner.does("/lists/materials/remove", was="WAX")
    assert "Black wax" not in [e.name for e in lists.entries(site.book, LISTS["materials"], NOON.date())]


def test_what_is_wrong_stands_beside_its_field_and_what_was_typed_stays(owner: Visitor) -> None:
    answer = owner.post("/lists/materials/entry", **{**WAX, "0:name": "", "0:sell price": "dear"})
    assert answer.status_code == 400
    assert 'value="dear"' in answer.text
    for column in ("name", "sell price"):
        said = re.search(rf'data-fault="0:{column}"[^>]*>([^<]+)<', answer.text)
        assert said, column
    assert not re.search(r'data-fault="0:code"[^>]*>[^<]+<', answer.text)


def test_the_script_is_told_what_is_wrong_so_far_and_nothing_is_saved(owner: Visitor, site: Site) -> None:
    before = lists.entries(site.book, LISTS["materials"], NOON.date())
    said = owner.post("/lists/materials/check", **{**WAX, "0:unit": ""}).get_json()
    assert list(said["faults"]) == ["0:unit"]
    assert owner.post("/lists/materials/check", **WAX).get_json() == {"faults": {}, "said": ""}
    assert lists.entries(site.book, LISTS["materials"], NOON.date()) == before


def test_a_recipe_is_costed_while_it_is_typed(owner: Visitor) -> None:
    """A pair of tips at 1.00 a pair and 4 ml of cement at 9.00 a litre: 1.036, rounded."""
    fields = _fields(owner.reads("/lists/recipes/entry?key=HEELS"))
    said = owner.post("/lists/recipes/check", was="HEELS", **fields).get_json()
    assert said["faults"] == {}
    assert said["said"].startswith("Materials of the usual pair: €")
    doubled = owner.post("/lists/recipes/check", was="HEELS", **{**fields, "0:amount": "2"}).get_json()
    assert doubled["said"] != said["said"]


def test_a_line_of_a_recipe_is_added_and_left_out(owner: Visitor, site: Site) -> None:
    fields = _fields(owner.reads("/lists/recipes/entry?key=LACES"))
    more = {"1:line": "bag", "1:material": "TIP", "1:amount": "1", "1:unit": "pair"}
    owner.does("/lists/recipes/entry", was="LACES", **{**fields, **more})
    rows = lists.find(site.book, LISTS["recipes"], ["LACES"], NOON.date()).rows
    assert [row["line"] for row in rows] == ["laces", "bag"]
    fields = _fields(owner.reads("/lists/recipes/entry?key=LACES"))
    owner.does("/lists/recipes/entry", was="LACES", **{**fields, "1:gone": "1"})
    rows = lists.find(site.book, LISTS["recipes"], ["LACES"], NOON.date()).rows
    assert [row["line"] for row in rows] == ["laces"]


def test_lists_are_the_owners(guarded: Flask) -> None:
    bench = visitor(guarded, "bench")
    assert bench.get("/lists").status_code == 403
    assert bench.post("/lists/materials/entry", **WAX).status_code == 403
