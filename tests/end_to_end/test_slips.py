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
    assert refused.err.endswith(f"  Fix: To take that back: stockroom undo {number}\n")
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
    monkeypatch.setattr("click.confirm", lambda text, **_: texts.append(text) or answer == "y")
    texts: list[str] = []
    said = shop("undo")
    assert texts == [f"Take back document {number} (counter sale POLISH-BLK, 24 Nov 2026 10:00)?"]
    assert ("is taken back by document" in said.out) is taken
    assert said.code == 0
