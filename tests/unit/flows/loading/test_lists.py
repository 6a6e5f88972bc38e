"""Lists changed by forms and commands: by the rows of their files, each change a document that can be undone."""

from collections.abc import Mapping

import pytest

from stockroom.errors import BadEntryError, RefusedError, UnknownError, UsageError
from stockroom.flows.book.check import check
from stockroom.flows.loading import lists
from stockroom.flows.loading.lists import LISTS, list_kind
from stockroom.flows.posting.undo import newest, undo
from stockroom.stock.moves import DocumentKind
from stockroom.store.book import Book
from tests import build

NOW = build.at("2026-02-02 10:00")
DAY = NOW.date()
NEW: Mapping[str, dict[str, str]] = {
    "materials": {"code": "WAX", "name": "Black wax", "family": "finish", "unit": "g", "location": "B9"},
    "suppliers": {"code": "SOUTH", "name": "South Example", "lead days": "3"},
    "offers": {"supplier": "NORTH", "material": "TIP", "pack": "7", "price": "3.50", "valid from": "2026-02-02"},
    "jobs": {"code": "SHINE", "name": "Shine", "price": "9"},
    "closures": {"first": "2026-08-03", "last": "2026-08-15", "reason": "summer"},
    "events": {"name": "back to school", "day": "2026-08-31"},
}
OTHER = {
    "materials": {"name": "Brown wax"},
    "suppliers": {"carriage": "8.50"},
    "offers": {"price": "3.75"},
    "jobs": {"price": "9.50"},
    "closures": {"last": "2026-08-22"},
    "events": {"day": "2026-09-01"},
}


def _said(book: Book, stem: str) -> list[lists.Entry]:
    return lists.entries(book, LISTS[stem], DAY)


def _sound(book: Book) -> None:
    assert not check(book).faults


@pytest.mark.parametrize("stem", NEW)
def test_what_is_added_changed_and_taken_out_can_each_be_undone_and_done_again(stem: str, open_shop: Book) -> None:
    kind, states = LISTS[stem], [_said(open_shop, stem)]
    added = lists.save(open_shop, kind, [NEW[stem]], NOW, who="owner")
    states.append(_said(open_shop, stem))
    fresh = next(entry for entry in states[1] if entry not in states[0])
    changed = lists.save(open_shop, kind, [{**fresh.rows[0], **OTHER[stem]}], NOW, before=fresh)
    states.append(_said(open_shop, stem))
    assert len(states[2]) == len(states[1]) == len(states[0]) + 1
    assert {name for _, name, *_ in changed.changed} == OTHER[stem].keys()
    other = next(entry for entry in states[2] if entry not in states[1])
    gone = lists.remove(open_shop, kind, other, NOW)
    assert _said(open_shop, stem) == states[0]
    numbers = [added.document, changed.document, gone]
    for number, state in zip(reversed(numbers), reversed(states), strict=True):
        back = undo(open_shop, number or 0, build.stamp(NOW))
        assert _said(open_shop, stem) == state
        forth = undo(open_shop, back.number, build.stamp(NOW))  # and the undo is undone
        undo(open_shop, forth.number, build.stamp(NOW))
        assert _said(open_shop, stem) == state
        _sound(open_shop)


def test_the_document_says_who_when_and_what_was_said_before(open_shop: Book) -> None:
    entry = lists.find(open_shop, LISTS["materials"], ["tip"], DAY)
    lists.save(open_shop, LISTS["materials"], [{**entry.rows[0], "name": "Tip pieces"}], NOW, before=entry, who="Ada")
    document, _ = newest(open_shop, 1)[0]
    assert (document.kind, document.who, document.entered) == (DocumentKind.CHANGE, "Ada", NOW)
    said = document.content["lists"]
    assert said == {"material": {"changed": [[["TIP"], {"name": [entry.noun.name, "Tip pieces"]}]]}}


def test_a_recipe_changes_by_a_new_version_and_the_old_one_stands_until_its_day(open_shop: Book) -> None:
    kind = LISTS["recipes"]
    entry = lists.find(open_shop, kind, ["HEELS"], DAY)
    rows = [{**row, "valid from": "2026-03-01"} for row in entry.rows]
    rows[0]["amount"] = "2"
    saved = lists.save(open_shop, kind, rows, NOW, before=entry)
    assert ("amount", entry.rows[0]["amount"], "2") in [each[1:] for each in saved.changed]
    assert lists.find(open_shop, kind, ["HEELS"], DAY) == entry
    later = lists.find(open_shop, kind, ["HEELS"], build.at("2026-03-01").date())
    assert later.rows[0]["amount"] == "2"
    undo(open_shop, saved.document or 0, build.stamp(NOW))
    assert lists.find(open_shop, kind, ["HEELS"], build.at("2026-03-01").date()) == entry
    _sound(open_shop)


def test_a_new_price_leaves_the_old_one_for_the_days_before(open_shop: Book) -> None:
    kind = LISTS["offers"]
    entry = _said(open_shop, "offers")[0]
    lists.save(open_shop, kind, [{**entry.rows[0], "price": "99", "valid from": "2026-02-02"}], NOW, before=entry)
    assert entry in lists.entries(open_shop, kind, build.at("2026-02-01").date())
    assert "99.00" in [each.rows[0]["price"] for each in _said(open_shop, "offers")]


def test_the_same_again_says_nothing(open_shop: Book) -> None:
    entry = lists.find(open_shop, LISTS["jobs"], ["HEELS"], DAY)
    assert lists.save(open_shop, LISTS["jobs"], entry.rows, NOW, before=entry).document is None


def test_a_check_alone_saves_nothing(open_shop: Book) -> None:
    before = newest(open_shop, 1)
    assert lists.save(open_shop, LISTS["events"], [NEW["events"]], NOW, dry_run=True).changed
    assert (newest(open_shop, 1), _said(open_shop, "events")) == (before, [])


@pytest.mark.parametrize(
    ("stem", "row", "column"),
    [
        ("materials", {**NEW["materials"], "unit": "quark"}, "unit"),
        ("materials", {**NEW["materials"], "code": "TIP"}, "code"),
        ("materials", {"code": "X", "name": "", "family": "finish", "unit": "g"}, "name"),
        ("offers", {**NEW["offers"], "supplier": "NOBODY"}, "supplier"),
        ("closures", {"first": "2026-08-15", "last": "2026-08-03"}, "last"),
    ],
)
def test_what_a_file_is_refused_for_is_refused_here_and_names_the_column(
    stem: str, row: dict[str, str], column: str, open_shop: Book
) -> None:
    before = newest(open_shop, 1)
    with pytest.raises(BadEntryError) as refused:
        lists.save(open_shop, LISTS[stem], [row], NOW)
    assert [problem.column for problem in refused.value.problems] == [column]
    assert newest(open_shop, 1) == before


@pytest.mark.parametrize("stem", LISTS)
def test_an_entry_of_which_nothing_is_said_is_refused_by_what_it_needs(stem: str, open_shop: Book) -> None:
    before = newest(open_shop, 1)
    with pytest.raises(BadEntryError) as refused:
        lists.save(open_shop, LISTS[stem], [{}], NOW)
    needed = {column.title for column in LISTS[stem].kind.columns if column.required}
    assert {problem.column for problem in refused.value.problems} >= needed - {"code"}
    assert newest(open_shop, 1) == before


def test_what_something_names_is_not_taken_out(open_shop: Book) -> None:
    for stem, code in (("materials", "TIP"), ("suppliers", "NORTH"), ("jobs", "HEELS")):
        entry = lists.find(open_shop, LISTS[stem], [code], DAY)
        with pytest.raises(RefusedError, match=r"can't go|would be gone"):
            lists.remove(open_shop, LISTS[stem], entry, NOW)
    _sound(open_shop)


def test_a_code_stays(open_shop: Book) -> None:
    entry = lists.find(open_shop, LISTS["jobs"], ["HEELS"], DAY)
    with pytest.raises(BadEntryError, match="nothing was saved"):
        lists.save(open_shop, LISTS["jobs"], [{**entry.rows[0], "code": "OTHER"}], NOW, before=entry)


def test_an_undo_of_what_was_changed_again_is_refused(open_shop: Book) -> None:
    kind, numbers = LISTS["jobs"], []
    for price in ("9", "10"):
        entry = lists.find(open_shop, kind, ["HEELS"], DAY)
        numbers.append(lists.save(open_shop, kind, [{**entry.rows[0], "price": price}], NOW, before=entry).document)
    with pytest.raises(RefusedError, match="changed again later: job HEELS"):
        undo(open_shop, numbers[0] or 0, build.stamp(NOW))
    _sound(open_shop)


def test_a_group_that_a_recipe_names_keeps_a_member(open_shop: Book) -> None:
    group = next(m.group for m in build.materials() if m.group)
    members = [e for e in _said(open_shop, "materials") if e.noun.group == group]
    named = [e for e in _said(open_shop, "recipes") if any(row["material"] == group for row in e.rows)]
    assert members
    assert named
    kind = LISTS["materials"]
    for entry in members[:-1]:
        lists.save(open_shop, kind, [{**entry.rows[0], "group": ""}], NOW, before=entry)
    with pytest.raises(RefusedError, match="would be gone"):
        lists.save(open_shop, kind, [{**members[-1].rows[0], "group": ""}], NOW, before=members[-1])


def test_lists_and_entries_are_found_by_what_people_type(open_shop: Book) -> None:
    assert list_kind("Supplier") is list_kind("suppliers") is LISTS["suppliers"]
    assert list_kind("standing-order") is list_kind("standing order") is list_kind("standing-orders")
    with pytest.raises(UnknownError, match="no list 'matrial'"):
        list_kind("matrial")
    with pytest.raises(UnknownError, match="No entry of jobs"):
        lists.find(open_shop, LISTS["jobs"], ["HEELZ"], DAY)
    several = [e for e in _said(open_shop, "offers") if e.key[0] == "NORTH"]
    if len(several) > 1:
        with pytest.raises(UsageError, match="Several entries"):
            lists.find(open_shop, LISTS["offers"], ["NORTH"], DAY)


def test_an_offer_with_a_price_to_come_is_found_by_the_day_it_is_changed_for(open_shop: Book) -> None:
    kind = LISTS["offers"]
    lists.save(open_shop, kind, [NEW["offers"]], NOW)
    (now,) = (e for e in lists.entries(open_shop, kind, DAY) if e.rows[0]["pack"] == "7")
    lists.save(open_shop, kind, [{**now.rows[0], "price": "3.90", "valid from": "2026-03-02"}], NOW, before=now)
    key = ["NORTH", "TIP", "7"]
    assert lists.find(open_shop, kind, key, DAY).rows[0]["price"] == "3.50"
    assert lists.find(open_shop, kind, key, build.at("2026-03-05").date()).rows[0]["price"] == "3.90"
    assert lists.find(open_shop, kind, [*key, "2026-03-02"], DAY).rows[0]["price"] == "3.90"
