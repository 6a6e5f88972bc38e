"""Offcuts: what a recipe adds for cutting and the piece kept of it are the same leather."""

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.errors import DoubtError, RefusedError, UnknownError
from stockroom.flows.accounts.cutting import compare_cutting
from stockroom.flows.bench import offcuts, stages, tickets
from stockroom.flows.bench.stages import Used
from stockroom.flows.bench.tickets import Wanted
from stockroom.flows.counts import settle
from stockroom.flows.counts.offcuts import count_offcuts
from stockroom.flows.counts.sheets import make_sheet
from stockroom.flows.outlook.run_outs import look_ahead, run_out_rows
from stockroom.flows.posting import undo
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.layers import replay
from stockroom.stock.money import half_up
from stockroom.stock.moves import DocumentKind, MoveKind
from stockroom.stock.offcuts import OffcutWanted, piece_size
from stockroom.stock.postings import Actual
from stockroom.stock.recipes import OTHER, Extra
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book
from tests import build
from tests.conftest import Maker

RESOLED = Wanted(job="RESOLE", size=build.size("EU 42"), chosen={"sole": "leather"})  # 8 dm2 and a quarter: 10 dm2
WASTE = build.nano("2 dm2")


def shelf(book: Book) -> dict[str, int]:
    with book.reading() as session:
        return ledger.balances(session)


def keep(book: Book, text: str, key: str = "", *, from_sheet: bool = False) -> offcuts.Kept:
    area, stamp = build.amount(text), build.stamp("2026-01-08", key)
    return offcuts.keep_offcut(book, "BEND", "OFFCUT", (area, area), stamp, from_sheet=from_sheet)


def test_an_offcut_of_what_jobs_drew_as_waste_leaves_the_sheet_once(open_shop: Book) -> None:
    tickets.finish_at_once(open_shop, RESOLED, build.stamp("2026-01-06"))
    before = shelf(open_shop)
    done = keep(open_shop, "1.5 dm2", "o")
    assert (done.drawn, shelf(open_shop)["BEND"]) == (build.nano("1.5 dm2"), before["BEND"])
    assert done.moved.left == before["OFFCUT"] + build.nano("1.5 dm2")
    assert keep(open_shop, "1.5 dm2", "o").drawn == done.drawn, "said twice, it says the same"
    rest = keep(open_shop, "3 dm2")
    assert rest.drawn == build.nano("0.5 dm2"), "the waste is used up by the first"
    assert shelf(open_shop)["BEND"] == before["BEND"] - build.nano("2.5 dm2")


def test_a_piece_no_job_was_cut_from_leaves_the_sheet_whole(open_shop: Book) -> None:
    tickets.finish_at_once(open_shop, RESOLED, build.stamp("2026-01-06"))
    before = shelf(open_shop)["BEND"]
    assert keep(open_shop, "1.5 dm2", from_sheet=True).drawn == 0
    assert shelf(open_shop)["BEND"] == before - build.nano("1.5 dm2")


def test_a_count_of_the_sheet_ends_what_its_jobs_drew(open_shop: Book) -> None:
    tickets.finish_at_once(open_shop, RESOLED, build.stamp("2026-01-06"))
    counted = CountLine(material="BEND", amount=build.amount("169 dm2"), counted=build.at("2026-01-07"))
    settle.take_count(open_shop, Count(key="c", lines=(counted,)), build.stamp("2026-01-07"))
    settle.settle_count(open_shop, "c", build.stamp("2026-01-07"))
    assert keep(open_shop, "1 dm2").drawn == 0


def test_work_and_offcuts_taken_back_give_their_waste_back(open_shop: Book) -> None:
    done = tickets.finish_at_once(open_shop, RESOLED, build.stamp("2026-01-06"))
    first = keep(open_shop, "2 dm2")
    undo.undo(open_shop, first.moved.document, build.stamp("2026-01-08"))
    assert keep(open_shop, "2 dm2").drawn == WASTE
    undo.undo(open_shop, done.document, build.stamp("2026-01-08"))
    assert keep(open_shop, "1 dm2").drawn == 0


def test_leather_is_not_kept_among_what_is_no_leather_unasked(open_shop: Book) -> None:
    area = build.amount("1 dm2")
    rubber = build.material("MIR-OFF", "dm2", name="Micro rubber pieces", family="pieces")
    with open_shop.writing() as session:
        catalogue.save_materials(session, [rubber])
    with pytest.raises(DoubtError) as caught:
        offcuts.keep_offcut(open_shop, "BEND", "MIR-OFF", (area, area), build.stamp("2026-01-08"))
    assert caught.value.what == (
        "BEND (Sole leather bend) and MIR-OFF (Micro rubber pieces) don't look like one material."
    )
    assert "MIR-OFF" not in shelf(open_shop)
    sure = build.stamp("2026-01-08", sure=True)
    assert offcuts.keep_offcut(open_shop, "BEND", "MIR-OFF", (area, area), sure).moved.fresh
    offcuts.keep_offcut(open_shop, "BEND", "MIR-OFF", (area, area), build.stamp("2026-01-09"))  # known from then on
    with pytest.raises(RefusedError, match=r"^BEND is the sheet itself\.$"):
        offcuts.keep_offcut(open_shop, "BEND", "BEND", (area, area), build.stamp("2026-01-09"))


@given(jobs=st.integers(0, 3), areas=st.lists(st.integers(1, 40), max_size=4))
def test_sheet_and_offcuts_together_lose_what_soles_measure_and_the_waste_not_kept(
    jobs: int, areas: list[int], books: Maker
) -> None:
    """Whatever is kept: net soles + waste still lost + offcuts = what is gone from the sheet, and no cost is lost."""
    book = books(build.opened)
    before = shelf(book)
    for _ in range(jobs):
        tickets.finish_at_once(book, RESOLED, build.stamp("2026-01-06"))
    for tenths in areas:
        keep(book, f"{tenths / 10} dm2")
    after, kept = shelf(book), sum(areas) * build.nano("0.1 dm2")
    gone = before["BEND"] - after["BEND"]
    assert after["OFFCUT"] - before["OFFCUT"] == kept
    assert gone == jobs * build.nano("8 dm2") + max(jobs * WASTE, kept)
    with book.reading() as session:
        documents = ledger.read_documents(session)
    book.close()
    made = {document.id for document in documents if document.kind is DocumentKind.OFFCUT}
    entries = replay(documents, {m.code: m for m in build.materials()}).entries
    assert sum(entry.value for entry in entries if entry.document in made) == 0, "what leaves the sheet is handed on"


# -- pieces with a number ----------------------------------------------------------------------------------------------


def kept_piece(book: Book, size: str, *, day: str = "2026-01-08", from_sheet: bool = True) -> int:
    area = piece_size(size).area
    stamp = build.stamp(day)
    done = offcuts.keep_offcut(
        book, "BEND", "OFFCUT", (area, area), stamp, from_sheet=from_sheet, piece=piece_size(size)
    )
    assert done.piece is not None
    return done.piece


def pieces(book: Book) -> dict[int, tuple[str, int]]:
    return {each.number: (str(each.size or "odd"), each.nano) for each in offcuts.offcuts(book)}


def cut(number: int, left: str = "") -> Actual:
    return Actual(offcuts={"": OffcutWanted(number=number, left=left)})


def value_of(book: Book) -> dict[str, int]:
    """Give what lies in sheet and offcuts and what went from them, by kind, in thousandths of the minor unit."""
    with book.reading() as session:
        documents = ledger.read_documents(session)
    found: dict[str, int] = {}
    for entry in replay(documents, {m.code: m for m in build.materials()}).entries:
        if entry.move.material in ("BEND", "OFFCUT"):
            kind = "came" if entry.kind in (MoveKind.OPENING, MoveKind.DELIVERY) else str(entry.kind)
            for name in (kind, "all"):
                found[name] = found.get(name, 0) + entry.value
    return found


def test_a_piece_is_kept_with_its_size_and_number(open_shop: Book) -> None:
    assert (kept_piece(open_shop, "60 x 40 cm"), kept_piece(open_shop, "200 x 300 mm")) == (1, 2)
    assert pieces(open_shop) == {1: ("60 × 40 cm", build.nano("24 dm2")), 2: ("30 × 20 cm", build.nano("6 dm2"))}
    area = build.amount("3 dm2")
    odd = offcuts.keep_offcut(open_shop, "BEND", "OFFCUT", (area, area), build.stamp("2026-01-08"), piece="odd")
    keep(open_shop, "2 dm2")
    assert odd.piece == 3
    assert pieces(open_shop)[3] == ("odd", build.nano("3 dm2"))
    assert len(pieces(open_shop)) == 3, "an area without a number is no piece"
    undo.undo(open_shop, odd.moved.document, build.stamp("2026-01-08"))
    assert kept_piece(open_shop, "30 x 20 cm") == 4, "numbers are written on pieces and never used again"


def test_what_fits_is_offered_with_what_each_way_costs(open_shop: Book) -> None:
    """The piece of 24 dm2 left the sheet at 55 a dm2 (opening), 13.20; the pair leaves 60 cm less its length of it."""
    number = kept_piece(open_shop, "60 x 40 cm")
    kept_piece(open_shop, "20 x 10 cm")
    ticket = tickets.take_in(open_shop, RESOLED, build.stamp("2026-01-09"))
    (choice,) = tickets.could_be_cut_from(open_shop, ticket.number, build.stamp("2026-01-09"))
    assert [offer.piece.number for offer in choice.offers] == [number], "the small one does not hold a pair"
    (offer,) = choice.offers
    assert offer.left is not None
    assert str(offer.left) == "60 × 15.1 cm"
    sheet = value_of(open_shop)
    gone = build.nano("24 dm2") - offer.left.area.nano
    whole = sum(e for name, e in sheet.items() if name == "offcut return")
    assert whole == 0, "what left the sheet lies in the piece"
    done = tickets.finish_ticket(open_shop, ticket.number, build.stamp("2026-01-09"), cut(number))
    after = value_of(open_shop)
    assert after.get("job use", 0) + after.get("waste", 0) == -offer.cost, "said and drawn to the thousandth"
    assert pieces(open_shop)[number] == (str(offer.left), offer.left.area.nano)
    assert sum(need.nano for need in done.used if need.material == "OFFCUT") == min(gone, build.nano("10 dm2"))
    assert not any(need.material == "BEND" for need in done.used)
    assert choice.bought == 660_000
    start = compare_cutting(open_shop, "bend", date(2026, 1, 9))
    assert choice.from_sheet == half_up(Fraction(8 * 10_660_000, 190) / start.share)
    undo.undo(open_shop, done.document, build.stamp("2026-01-09"))
    assert pieces(open_shop)[number] == ("60 × 40 cm", build.nano("24 dm2"))


def test_what_is_left_is_measured_or_nothing(open_shop: Book) -> None:
    one, two, three = (kept_piece(open_shop, "60 x 40 cm") for _ in range(3))
    tickets.finish_at_once(open_shop, RESOLED, build.stamp("2026-01-09"), cut(one, "35 x 20 cm"))
    assert pieces(open_shop)[one] == ("35 × 20 cm", build.nano("7 dm2"))
    tickets.finish_at_once(open_shop, RESOLED, build.stamp("2026-01-09"), cut(two, "none"))
    assert two not in pieces(open_shop)
    tickets.finish_at_once(open_shop, RESOLED, build.stamp("2026-01-09"), cut(three, "4 dm2"))
    assert pieces(open_shop)[three] == ("odd", build.nano("4 dm2"))
    for wrong in ("60 x 50 cm", "24 dm2", "-1 dm2"):
        with pytest.raises(RefusedError):
            tickets.finish_at_once(open_shop, RESOLED, build.stamp("2026-01-09"), cut(three, wrong))
    with pytest.raises(UnknownError, match=r"^There is no offcut 2\.$"):
        tickets.finish_at_once(open_shop, RESOLED, build.stamp("2026-01-09"), cut(two))


def test_a_piece_smaller_than_its_material_keeps_is_waste(open_shop: Book) -> None:
    number = kept_piece(open_shop, "46 x 33 cm")
    tickets.finish_at_once(open_shop, RESOLED, build.stamp("2026-01-09"), cut(number))
    assert number in pieces(open_shop)
    with open_shop.writing() as session:
        bend = next(m for m in catalogue.read_materials(session) if m.code == "BEND")
        catalogue.save_materials(session, [replace(bend, least_offcut="40 x 15 cm")])
    other = kept_piece(open_shop, "46 x 33 cm")
    tickets.finish_at_once(open_shop, RESOLED, build.stamp("2026-01-09"), cut(other))
    assert other not in pieces(open_shop)


def test_what_does_not_fit_or_is_another_sheets_is_refused_whole(open_shop: Book) -> None:
    narrow = kept_piece(open_shop, "95 x 9 cm")
    with pytest.raises(RefusedError, match="doesn't fit offcut 1"):
        tickets.finish_at_once(open_shop, RESOLED, build.stamp("2026-01-09"), cut(narrow))
    sure = build.stamp("2026-01-09", sure=True)
    assert tickets.finish_at_once(open_shop, RESOLED, sure, cut(narrow, "none")).fresh
    with pytest.raises(RefusedError, match="Which line is cut"):
        tickets.finish_at_once(open_shop, Wanted(job="HEELS"), build.stamp("2026-01-09"), cut(narrow))
    with pytest.raises(UnknownError):
        tickets.finish_at_once(open_shop, RESOLED, build.stamp("2026-01-07"), cut(kept_piece(open_shop, "60 x 40 cm")))


def test_sizes_in_either_system_are_cut_alike(open_shop: Book) -> None:
    """The recipe says EU 42 = UK 8: both find the piece, a half size is a barleycorn's half longer."""
    kept_piece(open_shop, "60 x 40 cm")
    lefts = []
    for size in ("EU 42", "UK 8", "UK 8.5", "UK 12"):
        wanted = replace(RESOLED, size=build.size(size))
        (choice,) = tickets.could_be_cut_from(open_shop, wanted, build.stamp("2026-01-09"))
        assert choice.offers[0].left is not None
        lefts.append(choice.offers[0].left.area.nano)
    assert lefts[0] == lefts[1] > lefts[2] > lefts[3]


def test_one_shoe_takes_half_and_a_stage_may_be_cut_from_a_piece(open_shop: Book) -> None:
    number = kept_piece(open_shop, "44 x 15 cm")
    assert tickets.could_be_cut_from(open_shop, RESOLED, build.stamp("2026-01-09")) == []
    single = replace(RESOLED, shoes=1)
    assert tickets.could_be_cut_from(open_shop, single, build.stamp("2026-01-09"))
    ticket = tickets.take_in(open_shop, single, build.stamp("2026-01-09"))
    so_far = Used(actual=Actual(offcuts={"leather sole": OffcutWanted(number=number, left="none")}))
    stages.use_so_far(open_shop, ticket.number, so_far, build.stamp("2026-01-09"))
    assert pieces(open_shop) == {}
    done = tickets.finish_ticket(open_shop, ticket.number, build.stamp("2026-01-10"))
    assert not {"BEND", "OFFCUT"} & {need.material for need in done.used}


def test_work_given_up_lays_what_goes_back_to_its_piece(open_shop: Book) -> None:
    """10 dm2 of the 24 were drawn, the rest was kept as 14 dm2: back comes what was drawn, in an odd shape."""
    number = kept_piece(open_shop, "60 x 40 cm")
    for back, left in ((["all"], "24 dm2"), ([], "14 dm2")):
        ticket = tickets.take_in(open_shop, RESOLED, build.stamp("2026-01-09"))
        so_far = Used(actual=Actual(offcuts={"leather sole": OffcutWanted(number=number, left="14 dm2")}))
        stages.use_so_far(open_shop, ticket.number, so_far, build.stamp("2026-01-09"))
        before = value_of(open_shop)
        tickets.cancel_ticket(open_shop, ticket.number, build.stamp("2026-01-10"), back=back, wasted=not back)
        assert pieces(open_shop)[number] == ("odd", build.nano(left))
        assert value_of(open_shop)["all"] - before["all"] == (build.nano("10 dm2") * 55_000 // 10**9 if back else 0)


def test_a_piece_trimmed_or_not_found_is_waste_and_can_be_undone(open_shop: Book) -> None:
    one, two, three = (kept_piece(open_shop, "60 x 40 cm") for _ in range(3))
    hints = {line.material: line.hint for line in make_sheet(open_shop, build.at("2026-01-09")).lines}
    assert "count-offcuts" in hints["OFFCUT"]
    assert "count-offcuts" not in hints["BEND"]
    trimmed = offcuts.trim_offcut(open_shop, one, "30 x 40 cm", build.stamp("2026-01-09", "t"), reason="a hole")
    assert offcuts.trim_offcut(
        open_shop, one, "30 x 40 cm", build.stamp("2026-01-09", "t"), reason="a hole"
    ) == replace(trimmed, fresh=False)
    ticked = count_offcuts(open_shop, "OFFCUT", [one, three], build.stamp("2026-01-10", "c"))
    assert [piece.number for piece in ticked.missing] == [two]
    assert not count_offcuts(open_shop, "OFFCUT", [one, three], build.stamp("2026-01-10", "c")).fresh
    assert sorted(pieces(open_shop)) == [one, three]
    assert shelf(open_shop)["OFFCUT"] >= build.nano("36 dm2")
    assert ticked.lost is not None
    undo.undo(open_shop, trimmed.document, build.stamp("2026-01-11"))
    assert pieces(open_shop)[one] == ("60 × 40 cm", build.nano("24 dm2"))
    with pytest.raises(RefusedError, match=r"^There is no offcut 2\.$"):
        count_offcuts(open_shop, "OFFCUT", [two], build.stamp("2026-01-12"))


def test_offcuts_that_stand_in_for_their_sheet_do_not_run_out(open_shop: Book) -> None:
    """What was cut from an offcut is no wish for offcuts: nobody sells them, and without one the sheet is cut."""
    drawn = [("BEND", "10 dm2"), ("OFFCUT", "5 dm2")]
    tickets.finish_at_once(
        open_shop,
        Wanted(job=OTHER.code, add=tuple(Extra(material=code, amount=build.amount(much)) for code, much in drawn)),
        build.stamp("2026-01-06", note="a strap"),
    )
    seen = look_ahead(open_shop, build.at("2026-01-20"), n_paths=20)
    listed = {row.material for row in run_out_rows(seen)}
    assert seen.futures.use[:, seen.futures.codes.index("OFFCUT")].any()
    assert ("OFFCUT" in listed, "BEND" in listed) == (False, True)
