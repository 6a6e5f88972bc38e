"""Slips of an evening: each is said before it stands, and nobody's work is taken back unasked."""

from pathlib import Path

import pytest

from tests.end_to_end.shop import Indoors, small_shop


@pytest.fixture
def shop(tmp_path: Path) -> Indoors:
    desk = Indoors(tmp_path / "book.sqlite")
    desk.says("new-book")
    desk.says("load", str(small_shop(tmp_path / "files", history=False)))
    return desk


def test_a_hundred_of_twelve_are_not_sold_unasked(shop: Indoors) -> None:
    before = shop.content()
    refused = shop("sell", "POLISH-BLK", "100")
    assert refused.code == 5
    assert refused.err == (
        "Error: 100 pieces of POLISH-BLK would leave, where the book has 8 pieces.\n"
        "  Fix: Check the amount. If it is right, say so: --anyway, or 'Enter it all the same' on a page.\n"
    )
    assert shop.content() == before
    assert "The book is below zero" in shop.says("sell", "POLISH-BLK", "100", "--anyway")


def test_undo_after_a_refused_entry_names_the_one_before_instead_of_taking_it(shop: Indoors) -> None:
    number = shop.facts("finish", "HEEL-L", "--with", "top=pin")["document"]
    assert shop("finish", "HEEL-L", "--with", "top=gold").code
    before = shop.content()
    refused = shop("undo")
    assert refused.code == 5
    assert f"Document {number} (finish 1001, " in refused.err
    assert refused.err.endswith(f"  Fix: To undo that: stockroom undo {number}\n")
    assert shop("undo").code == 5, "typing it again doesn't do it"
    assert shop.content() == before
    assert shop.facts("undo", str(number))["took_back"] == number


def test_undo_twice_does_not_silently_do_it_again(shop: Indoors) -> None:
    shop.facts("sell", "POLISH-BLK")
    back = shop.facts("undo")["document"]
    before = shop.content()
    refused = shop("undo")
    assert (refused.code, f"stockroom undo {back}" in refused.err) == (5, True)
    assert shop.content() == before
    assert shop.facts("undo", str(back))["new"]


@pytest.mark.parametrize(("answer", "taken"), [("y", True), ("n", False), ("", False)])
def test_at_a_terminal_undo_shows_what_it_means_and_asks(
    shop: Indoors, monkeypatch: pytest.MonkeyPatch, answer: str, taken: bool
) -> None:
    from stockroom.cli import shelf

    number = shop.facts("sell", "POLISH-BLK")["document"]
    monkeypatch.setattr(shelf, "at_a_terminal", lambda: True)
    texts: list[str] = []

    def asked(text: str, **_: object) -> bool:
        texts.append(text)
        return answer == "y"

    monkeypatch.setattr("click.confirm", asked)
    said = shop("undo")
    assert texts == [f"Undo document {number} (counter sale POLISH-BLK, 24 Nov 2026 10:00)?"]
    assert ("is undone by document" in said.out) is taken
    assert said.code == 0


TO_COME = {  # a file of each kind that says when something happened, with a row of tomorrow and one later today
    "sales": ("when,material,amount", "{},POLISH-BLK,1"),
    "waste": ("when,material,amount", "{},BEND,1"),
    "counts": ("counted at,material,amount", "{},BEND,1"),
    "deliveries": ("received,supplier,reference,material,amount,cost", "{},QUIL,N1,ZIP-25,5,21"),
    "past-jobs": ("taken in,ticket,job,choices", "{},77,HEEL-L,top=pin"),
}


@pytest.mark.parametrize("kind", TO_COME)
@pytest.mark.parametrize("when", ["2026-11-25", "2026-11-24 10:01", "2027-03-01 09:00"])
def test_a_file_can_not_sell_today_what_is_sold_next_march(shop: Indoors, tmp_path: Path, kind: str, when: str) -> None:
    header, row = TO_COME[kind]
    (tmp_path / f"{kind}.csv").write_text("\n".join([header, row.format("2026-11-24"), row.format(when)]) + "\n")
    before = shop.content()
    refused = shop("load", str(tmp_path / f"{kind}.csv"))
    assert refused.code
    assert f"{kind}.csv, row 3, column '{header.split(',')[0]}'" in refused.err
    assert "still to come" in refused.err
    assert shop.content() == before


def test_opening_stock_and_orders_of_tomorrow_are_refused(shop: Indoors, tmp_path: Path) -> None:
    (tmp_path / "opening.csv").write_text("material,amount,day\nBEND,1,2026-11-25\n")
    assert "row 2, column 'day'" in shop("load", str(tmp_path / "opening.csv")).err
    ordered = "supplier,order,ordered,expected,material,packs,amount,cost\nQUIL,O9,{},2026-12-01,ZIP-25,1,5,21\n"
    (tmp_path / "deliveries.csv").write_text(ordered.format("2026-11-25"))
    assert "row 2, column 'ordered'" in shop("load", str(tmp_path / "deliveries.csv")).err
    (tmp_path / "deliveries.csv").write_text(ordered.format("2026-11-24"))
    shop.says("load", str(tmp_path / "deliveries.csv"))  # expected later: that is no fault


def test_a_load_says_which_shelves_it_brought_below_zero(shop: Indoors, tmp_path: Path) -> None:
    (tmp_path / "sales.csv").write_text("when,material,amount\n2026-11-24,POLISH-BLK,100\n2026-11-24,ZIP-25,1\n")
    said = shop.says("load", str(tmp_path / "sales.csv"))
    assert "POLISH-BLK: the book is below zero after this load (-92 pieces)." in said
    assert "ZIP-25" not in said


def test_a_price_for_a_square_metre_taken_for_one_of_a_square_decimetre_is_said(shop: Indoors, tmp_path: Path) -> None:
    said = shop.says("receive", "--from", "HIDE", "BEND=110 dm2:9900")
    assert "BEND: €90.00 for 1 dm2, where it usually costs €0.90; is the unit right?" in said
    assert "usually" not in shop.says("receive", "--from", "HIDE", "BEND=110 dm2:120")
    row = "2026-11-24,HIDE,{},BEND,110,9900\n"
    path = tmp_path / "deliveries.csv"
    path.write_text("received,supplier,reference,material,amount,cost\n" + row.format("N1"))
    assert "BEND: €90.00 for 1 dm2" in shop.says("load", str(path))


def test_one_shoe_at_a_pairs_price_is_said(shop: Indoors) -> None:
    single = ("HEEL-L", "--with", "top=pin", "--single")
    assert "One shoe at the price of a pair, €11.50" in shop.says("take-in", *single)
    assert "One shoe at the price of a pair, €11.50" in shop.says("finish", *single)
    assert "One shoe" not in shop.says("finish", *single, "--price", "6")
    assert "One shoe" not in shop.says("finish", *single[:-1])


def test_a_finish_below_zero_stays_possible_and_is_said(shop: Indoors) -> None:
    said = shop.says("finish", "HEEL-L", "--with", "top=block", "--pairs", "9")
    assert "The book has less than nothing of TOP-BLOCK: count it, or enter what came." in said


def test_a_cash_limit_that_is_tighter_than_what_was_asked_is_said(shop: Indoors) -> None:
    shop.says("settings", "cash_limit=100")
    said = shop("reorder", "--cash", "600")
    assert said.err == (
        "The setting cash_limit allows 100, less than --cash 600. To change it: stockroom settings cash_limit=600\n"
    )
    assert shop("reorder", "--cash", "90").err == ""
