"""A key (`--once`) belongs to one command and one content: said twice it is entered once, otherwise it is refused."""

from pathlib import Path
from typing import Any

import click
import pytest

from stockroom.cli.main import COMMANDS, cli
from tests.end_to_end.shop import Indoors, small_shop

Words = tuple[str, ...]
BEFORE: tuple[Words, ...] = (  # what the commands below work on
    ("take-in", "FULL", "--size", "EU 42", "--with", "sole=bend", "--number", "T1"),
    ("take-in", "FULL", "--size", "EU 42", "--with", "sole=bend", "--number", "T2"),
    ("finish", "HEEL-L", "--with", "top=pin"),
    ("finish", "HEEL-L", "--with", "top=block"),
    ("order", "QUIL", "LACE-90-BLK=4"),
    ("order", "QUIL", "LACE-90-BLK=5"),
    ("order", "QUIL", "ZIP-25=6"),
    ("order", "QUIL", "ZIP-25=7"),
    ("receive", "--from", "QUIL", "LACE-90-BLK=12 pair:14.40"),
    ("count", "LACE-90-BLK=31 pair", "--sheet", "S1", "--at", "2026-11-24T09:00"),
    ("count", "ZIP-25=7", "--sheet", "S2", "--at", "2026-11-24T09:00"),
    ("count", "THREAD-BLK=90", "--sheet", "S3", "--at", "2026-11-24T09:00"),
    ("sites", "--add", "second"),
    ("take-in", "HEEL-L", "--with", "top=pin", "--number", "P1", "--by-post"),
    ("finish", "P1"),
    ("offcut", "BEND", "OFF-BEND", "30 x 20 cm", "--from-sheet"),
    ("offcut", "BEND", "OFF-BEND", "12 x 10 cm", "--from-sheet"),
    ("lend", "ZIP-25", "2 piece", "--days", "3"),
)
# Of each command that takes a key: an entry, and another that differs in its content.
ENTRIES: dict[str, tuple[Words, Words]] = {
    "take-in": (("HEEL-L", "--with", "top=pin"), ("HEEL-L", "--with", "top=block")),
    "change-ticket": (("T1", "--price", "1"), ("T1", "--price", "2")),
    "use": (("T1", "sole cement"), ("T1", "stitching")),
    "begin": (("T1",), ("T2",)),
    "pause": (("T1", "--minutes", "20"), ("T1", "--minutes", "25")),
    "finish": (("T1",), ("T2",)),
    "customer-return": (("POLISH-BLK", "1"), ("POLISH-BLK", "2")),
    "sent": (("P1",), ("P1", "--post-cost", "4")),
    "keep-part": (("TOP-PIN", "1"), ("TOP-PIN", "2")),
    "guarantee": (("{first}",), ("{second}",)),
    "cancel": (("T1",), ("T2",)),
    "sell": (("LACE-90-BLK", "2"), ("LACE-90-BLK", "3")),
    "write-off": (("THREAD-BLK", "2 m"), ("THREAD-BLK", "2 m", "--as", "own-use")),
    "offcut": (("BEND", "OFF-BEND", "2 dm2"), ("BEND", "OFF-BEND", "3 dm2")),
    "trim-offcut": (("1", "20 x 20 cm"), ("1", "20 x 10 cm")),
    "count-offcuts": (("OFF-BEND", "--missing", "2"), ("OFF-BEND", "--missing", "1")),
    "lend": (("ZIP-25", "1", "--days", "3"), ("ZIP-25", "1", "--days", "4")),
    "lent-back": (("{loan}",), ("{loan}", "1 piece")),
    "move": (("ZIP-25", "1", "second"), ("ZIP-25", "2", "second")),
    "send-back": (
        ("ZIP-25", "1", "--supplier", "QUIL", "--credit", "4"),
        ("ZIP-25", "1", "--supplier", "QUIL", "--credit", "5"),
    ),
    "order": (("QUIL", "POLISH-BLK=2"), ("QUIL", "POLISH-BLK=3")),
    "receive": (("{order}",), ("{order}", "LACE-90-BLK=1")),
    "close-order": (("{order}",), ("{another}",)),
    "count": (("POLISH-BLK=3",), ("POLISH-BLK=4",)),
    "post-count": (("S1", "--confirmed"), ("S2", "--confirmed")),
    "undo": (("{document}",), ("{later}",)),
    "correct-price": (("{delivery}", "LACE-90-BLK=15"), ("{delivery}", "LACE-90-BLK=16")),
    "serviced": (("OIL",), ("BELT",)),
    "close-period": (("2026-03",), ("2026-04",)),
}
MORE: dict[str, tuple[Words, Words]] = {  # other ways of the same commands
    "finish at once": (("finish", "HEEL-L", "--with", "top=pin"), ("finish", "HEEL-L", "--with", "top=block")),
    "finish with other amounts": (("finish", "T1"), ("finish", "T1", "--used", "sole cement=20 ml")),
    "another day": (("sell", "ZIP-25", "--at", "2026-11-20"), ("sell", "ZIP-25", "--at", "2026-11-19")),
    "another price": (("sell", "ZIP-25"), ("sell", "ZIP-25", "--price", "1")),
    "another note": (("sell", "ZIP-25", "--note", "red"), ("sell", "ZIP-25", "--note", "blue")),
    "goods without an order": (
        ("receive", "--from", "QUIL", "ZIP-25=5 piece:21"),
        ("receive", "--from", "QUIL", "ZIP-25=5 piece:22"),
    ),
    "a bin left out": (
        ("count", "--sheet", "S3", "--drop", "THREAD-BLK"),
        ("count", "--sheet", "S1", "--drop", "LACE"),
    ),
    "counted and settled": (("count", "POLISH-BLK=3", "--settle"), ("count", "POLISH-BLK=4", "--settle")),
    "the last one": (("undo",), ("undo", "1")),
}
PAIRS = {name: ((name, *one), (name, *other)) for name, (one, other) in ENTRIES.items()} | MORE


@pytest.fixture
def desk(tmp_path: Path, stocked: tuple[bytes, dict[str, str]]) -> tuple[Indoors, dict[str, str]]:
    content, names = stocked
    (tmp_path / "book.sqlite").write_bytes(content)
    return Indoors(tmp_path / "book.sqlite"), names


@pytest.fixture(scope="module")
def stocked(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, dict[str, str]]:
    """The small shop with its history and some work under way, and the numbers its entries were given."""
    place = tmp_path_factory.mktemp("marks")
    files = small_shop(place / "files")
    with (files / "materials.csv").open("a") as more:
        more.write("OFF-BEND,Bend offcuts,soling sheet,dm2,bench,,,,Bin,0.40\n")
    (files / "services.csv").write_text(
        "code,machine,what is done,every hours\nOIL,finisher,Oil it,20\nBELT,finisher,New belt,200\n", "utf-8"
    )
    desk = Indoors(place / "book.sqlite")
    desk.says("new-book")
    desk.says("load", str(files))
    answers: list[Any] = [desk.facts(*words) for words in BEFORE]
    names = {
        "first": answers[2]["ticket"],
        "second": answers[3]["ticket"],
        "order": answers[4]["order"],
        "another": answers[6]["order"],
        "document": str(answers[2]["document"]),
        "later": str(answers[3]["document"]),
        "delivery": str(answers[8]["document"]),
        "loan": str(answers[-1]["document"]),
    }
    return desk.book.read_bytes(), names


def said(words: Words, names: dict[str, str]) -> Words:
    return tuple(word.format(**names) for word in words)


def test_every_command_that_takes_a_key_is_tried() -> None:
    takes = set()
    for name in COMMANDS:
        command = cli.get_command(click.Context(cli), name)
        assert command is not None
        takes |= {name} if any("--once" in each.opts for each in command.params) else set()
    assert set(ENTRIES) == takes


@pytest.mark.parametrize("name", PAIRS)
def test_the_same_mark_enters_once_and_is_refused_to_another_entry(
    desk: tuple[Indoors, dict[str, str]], name: str
) -> None:
    shop, names = desk
    one, other = (said(words, names) for words in PAIRS[name])
    shop.facts(*one, "--once", "K")
    after = shop.content()
    shop.facts(*one, "--once", "K", now="2026-11-24T10:07:00")
    assert shop.content() == after, "the same said twice is entered once"
    refused = shop(*other, "--once", "K")
    assert refused.code == 5
    assert refused.err.startswith("Error: The same key was used for another entry: ")
    assert shop.content() == after


@pytest.mark.parametrize("name", sorted(set(PAIRS) - {"sell", "another price"}))
def test_a_mark_of_a_sale_is_no_answer_to_another_command(desk: tuple[Indoors, dict[str, str]], name: str) -> None:
    shop, names = desk
    shop.facts("sell", "ZIP-25", "--once", "K")
    after = shop.content()
    refused = shop(*said(PAIRS[name][0], names), "--once", "K")
    assert refused.code == 5
    assert "The same key was used for another entry: document" in refused.err
    assert "counter sale ZIP-25, 2026-11-24 10:00." in refused.err
    assert shop.content() == after


@pytest.mark.parametrize("name", ["count", "sell"])
def test_a_mark_of_a_count_is_no_answer_to_a_sale(desk: tuple[Indoors, dict[str, str]], name: str) -> None:
    shop, names = desk
    shop.facts("count", "POLISH-BLK=3", "--once", "K")
    after = shop.content()
    refused = shop(*said(PAIRS[name][1], names), "--once", "K")
    assert "used for another entry: count count 2026-11-24 10:00, 2026-11-24 10:00." in refused.err
    assert shop.content() == after
