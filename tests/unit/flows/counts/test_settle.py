import pytest

from stockroom.errors import RefusedError, StockroomError, UnitsError, UnknownError, UsageError
from stockroom.flows.counts import review, settle
from stockroom.flows.posting import undo
from stockroom.stock.counts import Count, CountLine
from stockroom.store import ledger
from stockroom.store.book import Book
from tests import build


def line(code: str, found: str, when: str = "2026-01-10") -> CountLine:
    return CountLine(material=code, amount=build.amount(found), counted=build.at(when))


def sheet(*lines: CountLine, key: str = "sheet") -> Count:
    return Count(key=key, lines=lines)


def test_each_bin_is_compared_with_the_book_at_its_own_moment(open_shop: Book) -> None:
    settle.take_count(
        open_shop, sheet(line("CEMENT", "3 l"), line("TIP", "61 pair", "2026-01-04")), build.stamp("2026-01-10")
    )
    found = review.review(open_shop, "sheet", build.at("2026-01-10"))
    assert {d.bin.material.code: (d.bin.found, d.bin.booked) for d in found} == {
        "CEMENT": (build.nano("3 l"), build.nano("3.5 l")),
        "TIP": (build.nano("61 pair"), 0),  # counted before the book was opened
    }


def test_a_bin_counted_by_weight_is_kept_in_its_own_dimension(open_shop: Book) -> None:
    settle.take_count(open_shop, sheet(line("CEMENT", "2150 g")), build.stamp("2026-01-10"))
    [difference] = review.review(open_shop, "sheet", build.at("2026-01-10"))
    assert difference.bin.found == build.nano("2.5 l")


def test_settling_brings_the_book_to_the_count_once(open_shop: Book) -> None:
    settle.take_count(open_shop, sheet(line("CEMENT", "3 l")), build.stamp("2026-01-10"))
    stamp = build.stamp("2026-01-11", "settle")
    first = settle.settle_count(open_shop, "sheet", stamp, reasons={"CEMENT": "spoilt"}, confirmed=True)
    again = settle.settle_count(open_shop, "sheet", stamp, reasons={"CEMENT": "spoilt"}, confirmed=True)
    assert (first.fresh, again.fresh, again.document) == (True, False, first.document)
    with open_shop.reading() as session:
        assert ledger.balances(session)["CEMENT"] == build.nano("3 l")
        content = ledger.read_documents(session, numbers=[first.document])[0].content
    said = {"material": "CEMENT", "at_site": "main", "nano": build.nano("3 l"), "reason": "spoilt"}
    counted = build.at("2026-01-10").isoformat()
    assert content == {"reasons": {"CEMENT": "spoilt"}, "lines": [said | {"counted": counted}]}
    with pytest.raises(RefusedError, match=r"^Nothing on count sheet sheet is waiting to be posted\.$"):
        settle.settle_count(open_shop, "sheet", build.stamp("2026-01-12"))


def test_a_count_taken_back_can_be_settled_anew_but_not_both(open_shop: Book) -> None:
    settle.take_count(open_shop, sheet(line("CEMENT", "3 l")), build.stamp("2026-01-10"))
    first = settle.settle_count(open_shop, "sheet", build.stamp("2026-01-11"), confirmed=True)
    back = undo.undo(open_shop, first.document, build.stamp("2026-01-12"))
    settle.settle_count(open_shop, "sheet", build.stamp("2026-01-13"), confirmed=True)
    with pytest.raises(RefusedError) as caught:
        undo.undo(open_shop, back.number, build.stamp("2026-01-14"))
    assert caught.value.what == "Count sheet sheet was posted again by another document."


@pytest.mark.parametrize(
    ("lines", "error", "what"),
    [
        ([line("CEMENT", "-1 l")], UsageError, "CEMENT: -1000 ml can't be on a shelf."),
        ([line("FELT", "1 piece")], UnknownError, "No material has the code 'FELT'."),
        ([line("TIP", "3 m")], UnitsError, "TIP is kept in pair (count), not in length: 3 m."),
        (
            [line("TIP", "3 pair"), line("TIP", "4 pair")],
            UsageError,
            "TIP is on the sheet twice, with different results.",
        ),
    ],
)
def test_what_can_not_have_been_counted_is_refused(
    open_shop: Book, lines: list[CountLine], error: type[StockroomError], what: str
) -> None:
    good = line("CEMENT", "1 l", "2026-01-09")
    with pytest.raises(error) as caught:
        settle.take_count(open_shop, sheet(good, *lines), build.stamp("2026-01-10"))
    assert caught.value.what == what
    with pytest.raises(UnknownError, match="Nothing was counted on sheet"):
        settle.settle_count(open_shop, "sheet", build.stamp("2026-01-12"))
