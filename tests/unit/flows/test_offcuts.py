"""Offcuts: what a recipe adds for cutting and the piece kept of it are the same leather."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.errors import DoubtError, RefusedError
from stockroom.flows import counting, offcuts
from stockroom.flows.bench import tickets
from stockroom.flows.bench.tickets import Wanted
from stockroom.flows.posting import undo
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.layers import replay
from stockroom.stock.moves import DocumentKind
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book
from tests import build
from tests.conftest import Maker

RESOLED = Wanted(job="RESOLE", size=build.size("EU 42"), chosen={"sole": "leather"})  # 8 dm2 and a quarter: 10 dm2
WASTE = build.nano("2 dm2")


def shelf(book: Book) -> dict[str, int]:
    with book.reading() as session:
        return ledger.balances(session)


def keep(book: Book, text: str, key: str = "", **more: bool) -> offcuts.Kept:
    area, sure = build.amount(text), more.pop("sure", False)
    return offcuts.keep_offcut(book, "BEND", "OFFCUT", (area, area), build.stamp("2026-01-08", key, sure=sure), **more)


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
    counting.take_count(open_shop, Count(key="c", lines=(counted,)), build.stamp("2026-01-07"))
    counting.settle_count(open_shop, "c", build.stamp("2026-01-07"))
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
