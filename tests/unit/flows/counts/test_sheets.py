from collections.abc import Sequence

import pytest

from stockroom.errors import RefusedError, UnknownError
from stockroom.flows.counts.sheets import aid_for, hint, issued, make_sheet, measurable
from stockroom.stock.materials import Material
from stockroom.store.book import Book
from tests import build

NOW = build.at("2026-01-10 18:00")
KNOWN = {m.code: m for m in build.materials()}


def codes(book: Book, places: Sequence[str]) -> set[str]:
    return {line.material for line in make_sheet(book, NOW, places=places).lines}


def test_a_sheet_is_blind_unless_asked_for_and_remembered_by_its_key(open_shop: Book) -> None:
    sheet = make_sheet(open_shop, NOW, places=["B1"])
    again = make_sheet(open_shop, NOW, with_book=True)
    assert (sheet.key, again.key) == ("C-2026-01-10-1", "C-2026-01-10-2")
    assert sheet.blind
    assert {line.material: line.book for line in again.lines}["TIP"] == build.nano("60 pair")
    with open_shop.reading() as session:
        kept = issued(session, sheet.key)
        assert issued(session, "C-2026-01-10-3") is None
    assert kept is not None
    assert (kept.made, kept.site, kept.materials) == (NOW, "main", ("FILLER",))


def test_places_are_named_whole_or_by_their_beginning(open_shop: Book) -> None:
    assert codes(open_shop, ["A"]) == {"SOLE-S", "SOLE-L", "TIP"}
    assert codes(open_shop, ["a1", "rack"]) == {"SOLE-S", "BEND"}
    assert codes(open_shop, ["steel"]) == {"CEMENT"}
    with pytest.raises(UnknownError, match=r"^Nothing is kept at 'steelc'\.$"):
        codes(open_shop, ["steelc"])
    with pytest.raises(RefusedError, match="nothing to count"):
        make_sheet(open_shop, NOW, only=[])


@pytest.mark.parametrize(
    ("material", "aid"),
    [
        (KNOWN["TIP"], "pairs"),
        (KNOWN["CEMENT"], "tin-weight"),  # its tare and its weight a litre are known
        (KNOWN["FILLER"], "plain"),
        (KNOWN["THREAD"], "plain"),  # no tare stated
        (build.material("REEL", "m", bridge="1 g = 2.5 m", extra={"tare": "40 g"}), "thread-weight"),
        (build.material("BEND-2", "dm2", bridge="1 piece = 110 dm2"), "sheet-fraction"),
        (build.material("DYE", "l", extra={"container": "1 l"}), "tin-tenths"),
        (build.material("NAIL", extra={"sample_pieces": "50", "sample_weight": "16 g"}), "sample-weight"),
        (build.material("BAND", "m", extra={"core": "60 mm", "wound_thickness": "2 mm"}), "roll"),
        (build.material("HIDE", "dm2", extra={"aid": "rectangles"}), "rectangles"),
    ],
)
def test_the_aid_is_the_materials_own_or_what_its_facts_answer(material: Material, aid: str) -> None:
    assert aid_for(material).name == aid


def test_an_aid_that_does_not_exist_is_named(open_shop: Book) -> None:
    with pytest.raises(UnknownError, match="No counting method is called 'scales'"):
        aid_for(build.material("HIDE", "dm2", extra={"aid": "scales"}))


def test_the_hint_says_what_to_measure_and_what_is_known() -> None:
    reel = build.material("REEL", "m", bridge="1 g = 2.5 m", extra={"tare": "40 g"})
    assert hint(aid_for(reel), reel) == (
        "gross: the weight of the cone with its thread (g). Known: the weight of the empty cone: 40 g; "
        "metres per gram (1000 / tex): 2.5"
    )


def test_bridges_answer_for_sheets_and_reels_and_no_word_of_the_owners_is_overruled() -> None:
    bend = build.material("BEND-2", "sq ft", bridge="1 piece = 20 sq ft")
    assert measurable(bend).extra == {"sheet": "185.80608 dm2"}  # 20 x 9.290304
    stated = build.material("BEND-2", "dm2", bridge="1 piece = 110 dm2", extra={"sheet": "100 dm2"})
    assert measurable(stated).extra == {"sheet": "100 dm2"}
    found = aid_for(bend).measure({"whole": "2", "left": "50"}, measurable(bend))
    assert found.amount == build.amount("50 sq ft")


def test_what_a_line_leaves_open_is_asked_for_and_the_obvious_is_not_said(open_shop: Book) -> None:
    bend = build.material("BEND-2", "dm2", bridge="1 piece = 110 dm2")
    assert hint(aid_for(bend), bend) == (
        "whole: how many whole sheets; left: how many per cent are left of the open one. "
        "Known: the size of a full sheet: 110 dm2"
    )
    tips = next(line for line in make_sheet(open_shop, NOW).lines if line.material == "TIP")
    assert (tips.aid, tips.hint) == ("", "")
