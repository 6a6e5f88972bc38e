from dataclasses import replace
from datetime import date, datetime

import pytest

from stockroom.errors import AmbiguousError, RefusedError, UnitsError, UsageError
from stockroom.stock import postings
from stockroom.stock.moves import DocumentKind, MoveKind
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.stock.postings import Actual, Fixed
from stockroom.stock.recipes import Need
from stockroom.stock.tickets import Ticket
from tests import build

MATERIALS = {m.code: m for m in build.materials()}
TICKET = Ticket(number="1001", job="HEELS", taken_in=build.at("2026-01-06"), price=1200)
USED = [
    Need(line="tips", material="TIP", nano=build.nano("1 pair")),
    Need(line="glue", material="CEMENT", nano=build.nano("4 ml")),
]
STAMP = build.stamp("2026-01-07", "k", entered="2026-01-08")


def test_finishing_draws_each_line_and_names_it() -> None:
    document = postings.finish(TICKET, USED, STAMP)
    assert (document.kind, document.subject, document.content) == (
        DocumentKind.FINISH,
        "1001",
        {
            "job": "HEELS",
            "price": 1200,
            "shoes": 2,
            "taken_in": "2026-01-06T12:00:00",
            "by_post": False,
            "at_site": "main",
        },
    )
    assert [(m.material, m.nano, m.kind, m.recipe_line, m.ticket) for m in document.moves] == [
        ("TIP", -build.nano("1 pair"), MoveKind.JOB_USE, "tips", "1001"),
        ("CEMENT", -build.nano("4 ml"), MoveKind.JOB_USE, "glue", "1001"),
    ]


def test_a_line_that_used_nothing_moves_nothing() -> None:
    assert len(postings.finish(TICKET, [USED[0], replace(USED[1], nano=0)], STAMP).moves) == 1


def test_work_done_again_brings_no_income() -> None:
    document = postings.finish(replace(TICKET, redo_of="1000"), USED, STAMP)
    assert (document.kind, document.content["price"]) == (DocumentKind.REDO, 0)
    assert {m.kind for m in document.moves} == {MoveKind.REDO_USE}


def test_an_actual_amount_takes_the_recipes_place_and_is_said() -> None:
    done, said = postings.replaced(USED, Actual(amounts={"glue": build.amount("8.6 g")}), MATERIALS)
    assert done == [USED[0], replace(USED[1], nano=build.nano("10 ml"))]
    assert said == ["glue: 10 ml CEMENT instead of 4 ml CEMENT"]


def test_a_substitute_takes_the_amount_over() -> None:
    done, said = postings.replaced(USED, Actual(instead={"TIP": "SOLE-S"}), MATERIALS)
    assert done[0] == Need(line="tips", material="SOLE-S", nano=build.nano("1 pair"))
    assert said == ["tips: 1 pair SOLE-S instead of 1 pair TIP"]


def test_a_substitute_of_another_kind_needs_an_amount() -> None:
    with pytest.raises(UnitsError, match="BEND is kept in dm2"):
        postings.replaced(USED, Actual(instead={"tips": "BEND"}), MATERIALS)
    both = Actual(amounts={"tips": build.amount("0.4 dm2")}, instead={"tips": "BEND"})
    assert postings.replaced(USED, both, MATERIALS)[0][0].nano == build.nano("0.4 dm2")


def test_a_line_the_job_lacks_is_refused_with_those_it_has() -> None:
    with pytest.raises(RefusedError) as caught:
        postings.replaced(USED, Actual(amounts={"filler": build.amount("4 g")}), MATERIALS)
    assert caught.value.what == "The job does not use 'filler'."
    assert caught.value.fix == "It uses: CEMENT, TIP, glue, tips."


def test_an_amount_for_a_material_on_two_lines_is_not_taken_twice() -> None:
    twice = [*USED, Need(line="edge glue", material="CEMENT", nano=build.nano("2 ml"))]
    with pytest.raises(AmbiguousError) as caught:
        postings.replaced(twice, Actual(amounts={"CEMENT": build.amount("9 ml")}), MATERIALS)
    assert caught.value.what == "Several lines of the job use 'CEMENT'."
    assert caught.value.fix == "Say which: glue, edge glue."


def test_an_amount_below_zero_is_refused_and_none_is_allowed() -> None:
    with pytest.raises(RefusedError, match=r"^-1 ml of glue is below zero\.$"):
        postings.replaced(USED, Actual(amounts={"glue": build.amount("-1 ml")}), MATERIALS)
    assert postings.replaced(USED, Actual(amounts={"glue": build.amount("0 ml")}), MATERIALS)[0][1].nano == 0


@pytest.mark.parametrize(
    ("text", "fix"),
    [("0 pair", "Give the amount that left the shelf."), ("-2 pair", "Give the amount without a sign.")],
)
def test_what_leaves_is_above_zero(text: str, fix: str) -> None:
    with pytest.raises(RefusedError) as caught:
        postings.sold(MATERIALS["LACE-BLACK"], build.amount(text), STAMP)
    assert caught.value.fix == fix


def test_a_delivery_carries_its_freight_to_the_last_thousandth() -> None:
    goods = Delivery(
        reference="DN 7", supplier="NORTH", received=build.at("2026-01-09"), carriage=1000, duties=1,
        lines=(
            DeliveryLine(material="CEMENT", amount=build.amount("5 l"), cost=4300, supplier_code="N-CEMENT", packs=1),
            DeliveryLine(material="TIP", amount=build.amount("2 gross"), cost=10800, lot="L1"),
            DeliveryLine(material="FILLER", amount=build.amount("1 kg"), cost=1150),
        ),
    )  # fmt: skip
    document = postings.delivered(goods, MATERIALS, STAMP)
    assert sum(m.value or 0 for m in document.moves) == (4300 + 10800 + 1150 + 1001) * 1000
    assert [m.expiry for m in document.moves] == [date(2027, 1, 9), None, None]
    assert document.content["lines"] == [
        {"material": "CEMENT", "nano": build.nano("5 l"), "cost": 4300, "code": "N-CEMENT", "packs": 1},
        {"material": "TIP", "nano": build.nano("2 gross"), "cost": 10800},
        {"material": "FILLER", "nano": build.nano("1 kg"), "cost": 1150},
    ]


def test_freight_may_go_by_weight() -> None:
    lines = tuple(DeliveryLine(material=code, amount=build.amount("1 kg"), cost=100) for code in ("FILLER", "CEMENT"))
    goods = Delivery(reference="", supplier="NORTH", received=build.at("2026-01-09"), carriage=300, lines=lines)
    document = postings.delivered(goods, MATERIALS, STAMP, weights=[1, 2])
    assert [m.value for m in document.moves] == [200_000, 300_000]


def test_a_transfer_leaves_one_site_for_the_other() -> None:
    document = postings.transferred(MATERIALS["TIP"], build.amount("3 pair"), STAMP, to_site="second")
    assert [(m.site, m.nano) for m in document.moves] == [("main", -6 * 10**9), ("second", 6 * 10**9)]


def test_an_offcut_leaves_the_sheet_and_joins_at_its_stated_area() -> None:
    document = postings.offcut(
        MATERIALS["BEND"], MATERIALS["OFFCUT"], (build.amount("6 dm2"), build.amount("5 dm2")), STAMP
    )
    assert [(m.material, m.nano) for m in document.moves] == [("BEND", -6 * 10**9), ("OFFCUT", 5 * 10**9)]


def test_a_reversal_answers_each_move_when_it_happened() -> None:
    first = replace(postings.finish(TICKET, USED, STAMP), id=7, moves=(build.move("TIP", "4 piece", value=900),))
    back = postings.reversed_(first, build.stamp("2026-02-01", "undo"))
    assert (back.reverses, back.happened, back.entered) == (7, first.happened, build.at("2026-02-01"))
    assert [(m.nano, m.value, m.happened) for m in back.moves] == [(-4 * 10**9, -900, build.at("2026-01-05"))]


def test_only_what_is_in_the_book_can_be_taken_back() -> None:
    with pytest.raises(ValueError, match="only a document in the book"):
        postings.reversed_(postings.finish(TICKET, USED, STAMP), STAMP)


# -- corrections: what keeps the book at what was counted ----------------------------------------------------------


def fixed(day: int, nano: int, material: str = "TIP") -> Fixed:
    return Fixed(material=material, site="main", counted=build.at(f"2026-01-{day:02d}"), nano=nano)


def empty(_material: str, _site: str, _at: datetime) -> int:
    return 0


def test_a_count_that_agrees_corrects_nothing() -> None:
    assert postings.corrections([], [fixed(10, 50)], lambda *_: 50) == []


def test_a_count_brings_the_book_to_what_was_found() -> None:
    made = postings.corrections([], [fixed(10, 50)], lambda *_: 57)
    assert [(m.nano, m.kind, m.happened) for m in made] == [(-7, MoveKind.COUNT, build.at("2026-01-10"))]


def test_what_happened_before_a_count_but_is_entered_later_leaves_it_true() -> None:
    late = build.move("TIP", "-4 piece", "2026-01-08")
    made = postings.corrections([late], [fixed(10, 0)], empty)
    assert [(m.nano, m.happened) for m in made] == [(4 * 10**9, build.at("2026-01-10"))]


def test_a_later_count_is_not_corrected_twice() -> None:
    late = build.move("TIP", "-4 piece", "2026-01-08")
    made = postings.corrections([late], [fixed(20, 0), fixed(10, 0)], empty)
    assert [(m.nano, m.happened) for m in made] == [(4 * 10**9, build.at("2026-01-10"))]


def test_what_happened_after_a_count_or_elsewhere_does_not_touch_it() -> None:
    moves = [
        build.move("TIP", "-4 piece", "2026-01-11"),
        build.move("TIP", "-4 piece", "2026-01-08", site="second"),
        build.move("CEMENT", "-4 ml", "2026-01-08"),
    ]
    assert postings.corrections(moves, [fixed(10, 0)], empty) == []


@pytest.mark.parametrize("text", ["nul \x00", "half \ud800"])
def test_a_text_no_database_keeps_is_refused(text: str) -> None:
    with pytest.raises(UsageError) as caught:
        build.stamp("2026-02-03", note=text)
    assert caught.value.what == "A text holds a character that can't be saved."
