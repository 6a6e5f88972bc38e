"""What a person gets wrong at the keyboard: each is refused in plain words, with its exit code, and changes nothing."""

from pathlib import Path

import pytest

from stockroom.flows.book import opening
from tests.end_to_end.shop import Indoors

SIZE = ("--size", "EU 42")
DAY = "Write 2026-03-31 or 2026-03-31T14:30, or the day as your country writes it: 31/03/2026, 31.3.2026."

# Words typed, exit code, what is said. A word too much or too little is the parser's to refuse, in its own words.
MISTAKES: dict[str, tuple[tuple[str, ...], int, str, str]] = {
    "mistyped command": (("finsh",), 2, "There is no command 'finsh'.", "Did you mean 'finish'?"),
    "no such job": (
        ("take-in", "polishing"), 3, "No job fits 'polishing'.", "There is: FULL, HEEL-L, OTHER.",
    ),
    "two materials fit": (
        ("sell", "black", "1"), 4, "'black' fits more than one material.",
        "Say which: LACE-90-BLK (Black laces 90 cm); POLISH-BLK (Black polish); THREAD-BLK (Black thread).",
    ),
    "no size": (("take-in", "full"), 2, "Full soles needs the shoe size.", "Add it, such as --size 'EU 42'."),
    "size without system": (
        ("take-in", "full", "--size", "42"), 2, "'42' is not a shoe size.",
        "Name the system too: 'EU 42', 'UK 8.5', 'US M 9', 'US W 7' or 'Mondo 265'.",
    ),
    "size in a system the recipe does not state": (
        ("take-in", "full", "--size", "UK 8"), 2, "Size UK 8 can't be compared with the recipe's reference size (EU 42).",
        "State the reference size in UK too, as your own shop reads it, such as 'EU 42 = UK 8'.",
    ),
    "no such option": (
        ("take-in", "full", *SIZE, "--with", "sole=cork"), 2, "'cork' is not an option for sole in FULL.",
        "Options: bend, rubber.",
    ),
    "no such choice": (
        ("take-in", "full", *SIZE, "--with", "heel=block"), 2, "FULL has no choice 'heel'.", "Its choices: sole: bend, rubber.",
    ),
    "promised before it is taken in": (
        ("take-in", "heel", "--promised", "2026-11-23"), 2, "2026-11-23 is before the day the ticket is taken in.",
        "Check the day it is promised for.",
    ),
    "a day the other way round": (
        ("take-in", "heel", "--promised", "12/24/2026"), 2, "'12/24/2026' is not a day or a moment.", DAY,
    ),
    "a price below zero": (
        ("take-in", "heel", "--price", "-5"), 2, "A price can't be below zero.", "Leave it out for the price list's, or give 0.",
    ),
    "a ticket number in use": (
        ("take-in", "heel", "--number", "2001"), 5, "There is a ticket 2001 already.", "Leave the number out, or give another.",
    ),
    "no such ticket": (("finish", "77"), 3, "There is no ticket 77.", "See the open tickets: stockroom tickets"),
    "finished already": (
        ("finish", "2001"), 5, "Ticket 2001 is finished already.", "Undo that first if it is a mistake.",
    ),
    "what a ticket says already": (
        ("finish", "2001", *SIZE), 5, "Ticket 2001 is finished already.", "Undo that first if it is a mistake.",
    ),
    "grams of a thing kept by volume": (
        ("finish", "heel", "--used", "heel cement=3 g"), 2, "CEMENT is kept in ml (volume), not in mass: 3 g.",
        "Give the amount as volume, or state a conversion such as '1 ml = … g' on the material.",
    ),
    "a line the job does not have": (
        ("finish", "heel", "--used", "glue=3 ml"), 5, "The job does not use 'glue'.",
        "It uses: CEMENT, TOP-PIN, heel cement, pin top.",
    ),
    "an amount without unit": (
        ("finish", "heel", "--used", "heel cement=3"), 2, "'3' is not an amount with a unit.", "Write it like '2.5 dm2' or '1 pair'.",
    ),
    "no such substitute": (
        ("finish", "heel", "--instead", "pin top=TOP-PAN"), 3, "No material fits 'TOP-PAN'.", "Did you mean 'TOP-PIN'?",
    ),
    "tomorrow": (
        ("finish", "heel", "--at", "2026-11-25"), 2, "2026-11-25 is still to come.", "Give the day it happened, today at the latest.",
    ),
    "before any recipe": (
        ("finish", "heel", "--at", "2025-01-01"), 3, "HEEL-L has no recipe valid on 2025-01-01.",
        "Load one that is valid from then or earlier.",
    ),
    "redo of work not done": (("guarantee", "77"), 3, "There is no ticket 77.", "See the open tickets: stockroom tickets"),
    "cancel of finished work": (
        ("cancel", "2001"), 5, "Ticket 2001 is finished already.", "Only an open ticket can be cancelled.",
    ),
    "perhaps thousands": (
        ("sell", "POLISH-BLK", "1", "--price", "1,000"), 2, "'1,000' could be 1000 or 1 and a fraction.", "Write 1000, or 1.0000.",
    ),
    "no number": (
        ("sell", "POLISH-BLK", "1", "--price", "ten"), 2, "'ten' is not a number.", "Write it like 12.5 (no thousands marks).",
    ),
    "no amount": (
        ("sell", "POLISH-BLK", "some"), 2, "'some' is not an amount with a unit.", "Write it like '2.5 dm2' or '1 pair'.",
    ),
    "no such unit": (("sell", "POLISH-BLK", "2 kgs"), 2, "No unit is called 'kgs'.", "Did you mean 'kg'?"),
    "selling what is for the bench": (
        ("sell", "BEND", "2"), 5, "BEND is for the bench, not for sale.", "Mark it for 'counter' or 'both' in the materials.",
    ),
    "back to nobody": (
        ("send-back", "ZIP-25", "1", "--supplier", "nobody", "--credit", "4"), 3, "No supplier fits 'nobody'.", "There is: HIDE, QUIL.",
    ),
    "moved nowhere": (("move", "ZIP-25", "1", "main"), 5, "Both sites are 'main'.", "Name the site the stock goes to."),
    "order line without packs": (
        ("order", "quil", "ZIP-25=0"), 2, "'ZIP-25=0' is not an order line.", "Write it like LACE-90=2 (two packs).",
    ),
    "not the supplier's": (
        ("order", "quil", "BEND=1"), 3, "Quillon Trimmings (invented) does not offer BEND.",
        "It offers: LACE-90-BLK, POLISH-BLK, THREAD-BLK, ZIP-25.",
    ),
    "under the supplier's minimum": (
        ("order", "quil", "THREAD-BLK=1"), 5,
        "Quillon Trimmings (invented) takes no order under €20.00; this one comes to €15.00.",
        "Add packs, or wait for the next order.",
    ),
    "no such order": (
        ("receive", "O-0099"), 3, "There is no order O-0099.",
        "See what is on order: stockroom orders. Goods no order asked for: stockroom receive --from SUPPLIER",
    ),
    "which order": (
        ("receive",), 2, "Which order arrived?", "Give its number, or --from SUPPLIER for goods without one.",
    ),
    "counted below zero": (("count", "ZIP-25=-3"), 2, "ZIP-25: a count can't be below zero.", "Count again."),
    "nothing to settle": (
        ("post-count", "W99"), 3, "Nothing was counted on sheet 'W99'.", "Sheets not posted yet: none.",
    ),
    "no such document": (("undo", "9999"), 3, "There is no document 9999.", "See the last ones: stockroom documents"),
    "no such setting": (("settings", "taxrate=9"), 3, "No setting is called 'taxrate'.", "Did you mean 'tax_rate'?"),
    "no such locale": (
        ("settings", "locale=qq_QQ"), 2, "'qq_QQ' is not a known locale.", "Use one such as en_IE, de_DE or fr_FR.",
    ),
    "no such currency": (("settings", "currency=ZZZ"), 2, "'ZZZ' is not a currency.", "Use its three letters, such as EUR."),
    "no outlook": (("settings", "outlook_weeks=0"), 2, "0 can't be outlook weeks.", "It must be from 1 to 104."),
    "no such day": (
        ("shelf", "--as-of", "2026-13-01"), 2, "'2026-13-01' is not a day or a moment.", DAY,
    ),
    "less than no cash": (
        ("reorder", "--cash", "-5"), 2, "Cash can't be below zero.", "Give what may be spent, such as --cash 300.",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", MISTAKES)
def test_a_mistake_is_refused_in_plain_words_and_changes_nothing(desk: Indoors, case: str) -> None:
    words, code, what, fix = MISTAKES[case]
    before = desk.content()
    ran = desk(*words)
    assert (ran.code, ran.err) == (code, f"Error: {what}\n  Fix: {fix}\n")
    assert ran.out == ""
    assert desk.content() == before


def test_a_book_is_not_begun_over_another(desk: Indoors) -> None:
    before = desk.content()
    ran = desk("new-book")
    here = f"{desk.place} exists already.\n  Fix: Choose another name, or open it as it is."
    there = f"{opening.shown(str(desk.place))} holds a book already.\n  Fix: Open it as it is."
    assert (ran.code, ran.err) == (5, f"Error: {there if desk.on_server else here}\n")
    assert desk.content() == before


@pytest.mark.parametrize("words", [("shelf",), ("finish", "heel"), ("load", "nothing.csv"), ("check",)])
def test_a_missing_book_is_said_plainly(tmp_path: Path, words: tuple[str, ...]) -> None:
    desk = Indoors(tmp_path / "none.sqlite")
    ran = desk(*words)
    said = f"Error: There is no book at {desk.book}.\n  Fix: Start one with: stockroom new-book\n"
    assert (ran.code, ran.err) == (6, said)
    assert not desk.book.exists()


def test_a_file_that_is_no_book_is_left_alone(tmp_path: Path) -> None:
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear customer, your boots are ready.")
    ran = Indoors(letter)("shelf")
    assert ran.code == 6
    assert "is not a book" in ran.err
    assert letter.read_text() == "Dear customer, your boots are ready."


def test_a_bad_setting_leaves_no_book_behind(tmp_path: Path) -> None:
    desk = Indoors(tmp_path / "new.sqlite")
    assert desk("new-book", "--set", "nme=x").code == 3
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("words", [("reports", "letter/reports"), ("templates", "letter/files")])
def test_a_folder_that_cannot_be_made_is_said_plainly(
    desk: Indoors, words: tuple[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("letter").write_text("not a folder")
    ran = desk(*words)
    assert (ran.code, ran.err) == (
        6,
        f"Error: {words[1]} can't be used: Not a directory.\n  Fix: Choose another place.\n",
    )


def test_today_may_be_named_before_noon(desk: Indoors) -> None:
    assert desk.facts("sell", "ZIP-25", "1", "--at", "2026-11-24", now="2026-11-24T09:00:00")["new"] is True
    assert desk.facts("documents", "--count", "1")[0]["happened"] == "2026-11-24T09:00:00"


def test_a_ticket_whose_number_is_not_all_digits_can_be_finished(desk: Indoors) -> None:
    desk.says("take-in", "heel", "--number", "A-17")
    assert desk.says("finish", "A-17").startswith("Ticket A-17 finished: HEEL-L (document 413).\n")


def test_a_dearer_delivery_is_told_in_money(desk: Indoors) -> None:
    desk.says("order", "hide", "TOP-PIN=2")
    said = desk.says("receive", "O-0001", "TOP-PIN=2:39.50")
    came, price, carriage = said.splitlines()[1:]
    assert came == "  40 pairs TOP-PIN for €39.50, €48.50 with all costs, before tax"
    assert price == "TOP-PIN: charged €39.50, ordered at €36.00"
    assert carriage.startswith("Carriage of €9.00 is entered as agreed on the order. If the invoice differs: ")


def test_an_order_that_has_come_already_says_how_more_is_received(desk: Indoors) -> None:
    desk.says("order", "hide", "TOP-PIN=2")
    desk.says("receive", "O-0001")
    again = desk("receive", "O-0001")
    assert again.code == 5
    assert "Order O-0001 is closed." in again.err
    assert "If more came: stockroom receive --from HIDE" in again.err


def test_an_order_line_without_the_suppliers_code_has_no_empty_brackets(desk: Indoors) -> None:
    desk.says("add", "material", "code=WAX", "name=Black wax", "family=finish", "unit=g")
    desk.says("add", "offer", "supplier=HIDE", "material=WAX", "pack=100", "price=30", "valid from=2026-01-01")
    assert "  1 x WAX €30.00" in desk.says("order", "hide", "WAX=1").splitlines()


def test_what_goods_cost_on_the_shelf_says_whether_tax_is_in_it(desk: Indoors) -> None:
    desk.says("settings", "tax_registered=no")
    desk.says("order", "hide", "TOP-PIN=2")
    assert desk.says("receive", "O-0001").splitlines()[1].endswith(" with carriage and tax")


def test_an_amount_used_that_is_written_like_a_sale_is_told_where_it_goes(desk: Indoors) -> None:
    desk.says("take-in", "heel", "--number", "77")
    refused = desk("use", "77", "TOP-PIN=1 pair")
    assert refused.code == 2
    assert "Another amount than the recipe's: --used 'TOP-PIN=1 pair'." in refused.err


def test_an_options_older_name_is_not_offered_for_a_mistyped_one(desk: Indoors) -> None:
    refused = desk("undo", "--yes")  # near '--key', which older scripts use
    assert refused.code == 2
    assert "No such option '--yes'" in refused.err
    assert "--key" not in refused.err
    assert "'--note'" in desk("undo", "--nots").err
