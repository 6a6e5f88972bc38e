"""The door of the public face: light until a frame is asked for, plain where it refuses, read only."""

import doctest
import subprocess
import sys
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import stockroom
from stockroom.errors import BookError, StockroomError, UsageError
from stockroom.flows.book.snapshot import book_snapshot
from stockroom.flows.ordering import place
from stockroom.flows.posting.undo import undo
from stockroom.frames import reader, reference
from stockroom.frames.reader import BookReader
from stockroom.frames.reference import SHAPES
from stockroom.store.book import Book
from tests import build
from tests.contract.test_architecture import HEAVY
from tests.unit.flows.january import january

EVENING = "2026-01-31T18:00:00"


@pytest.fixture
def opened(file_shop: Book, monkeypatch: pytest.MonkeyPatch) -> BookReader:
    """The tiny shop's book after its January, in a file, at the end of the month."""
    january(file_shop)
    file_shop.close()
    monkeypatch.setenv("STOCKROOM_NOW", EVENING)
    return stockroom.open(file_shop.place)


def loaded(code: str) -> set[str]:
    asked = f"import sys\n{code}\nprint(*sorted({{name.partition('.')[0] for name in sys.modules}}))"
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    return set(done.stdout.splitlines()[-1].split())


def test_opening_loads_nothing_heavy(file_book: Book) -> None:
    assert loaded("import stockroom") & set(HEAVY) == set()
    assert loaded(f"import stockroom\nwith stockroom.open({file_book.place!r}): pass") & set(HEAVY) == set()


def test_a_frame_loads_pandas_and_no_pictures_or_spreadsheets(file_book: Book) -> None:
    found = loaded(f"import stockroom\nstockroom.open({file_book.place!r}).shelf()")
    assert "pandas" in found
    assert found & {"openpyxl", "statsmodels", "sklearn", "alembic"} == set()


def test_every_frame_declared_has_its_method_and_every_method_its_frame() -> None:
    public = {name for name, each in vars(BookReader).items() if callable(each) and not name.startswith("_")}
    assert public == SHAPES.keys() | {"close", "sites"}


def test_the_reference_is_what_the_declarations_say() -> None:
    written = reference.PLACE.read_text(encoding="utf-8")
    assert written == reference.reference(), "python -m stockroom.frames.reference"


def test_the_examples_are_true(opened: BookReader, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "stockroom.sqlite").write_bytes(Path(opened.place).read_bytes())
    monkeypatch.chdir(tmp_path)
    said = doctest.testmod(reader, globs={"stockroom": stockroom}, optionflags=doctest.NORMALIZE_WHITESPACE)
    written = doctest.testfile(str(reference.PLACE), module_relative=False)
    assert said.failed == written.failed == 0
    assert said.attempted > 5
    assert written.attempted > 3


def test_no_book_at_all_is_said_at_once(tmp_path: Path) -> None:
    with pytest.raises(BookError, match="There is no book at"):
        stockroom.open(tmp_path / "none.sqlite")
    with pytest.raises(BookError, match="is a folder"):
        stockroom.open(tmp_path)


def test_a_file_that_is_no_book_is_refused_when_asked(tmp_path: Path) -> None:
    (tmp_path / "list.txt").write_text("two pairs of laces")
    with pytest.raises(BookError), stockroom.open(tmp_path / "list.txt") as book:
        book.shelf()


@pytest.mark.parametrize("as_of", ["yesterday", 20260105, "2026-02-30", None.__class__])
def test_a_day_that_is_none_is_refused(opened: BookReader, as_of: object) -> None:
    with pytest.raises(UsageError, match="is not a day or a moment"):
        opened.shelf(as_of=as_of)  # type: ignore[arg-type]


def test_other_wrong_questions_are_refused_in_plain_words(opened: BookReader) -> None:
    questions: list[Callable[[], object]] = [
        lambda: opened.margins("2026-13"),
        lambda: opened.margins(by="colour"),
        lambda: opened.margins(("2026-02-01", "2026-01-01")),
        lambda: opened.run_outs(weeks=0),
        lambda: opened.forecast(weeks=1000),
        lambda: opened.backtest(weeks=0),
        lambda: opened.moves(site="nowhere"),
        lambda: opened.moves(money="cents"),  # type: ignore[arg-type]
    ]
    for wrong in questions:
        with pytest.raises(StockroomError) as refused:
            wrong()
        assert refused.value.fix


def test_a_day_may_be_written_in_every_way(opened: BookReader) -> None:
    ways: list[str | date] = [
        "2026-01-12",
        "12.1.2026",
        date(2026, 1, 12),
        datetime(2026, 1, 12, 23, 59, 59),
        "2026-01-12T23:59:59",
    ]
    frames = [opened.moves(as_of=way) for way in ways]
    assert all(frame.equals(frames[0]) for frame in frames)
    assert 0 < len(frames[0]) < len(opened.moves())
    before = opened.moves(as_of="2026-01-12T11:59")
    assert len(frames[0]) - len(before) == 1, "the delivery at noon"


@given(at=st.datetimes(datetime(2026, 1, 4), datetime(2026, 1, 31)))
def test_the_moves_until_a_moment_add_up_to_the_shelf_of_then(opened: BookReader, at: datetime) -> None:
    """The ledger's own law, asked through the door: whatever the moment, to the last billionth."""
    moves, shelf = opened.moves(as_of=at, exact=True), opened.shelf(as_of=at, exact=True)
    summed = moves.groupby("material")["amount_nano"].sum().reindex(shelf.index, fill_value=0)
    assert summed.tolist() == shelf["on_hand_nano"].tolist()
    assert opened.documents(as_of=at)["moves"].sum() == len(moves)


def test_a_delivery_put_in_force_again_is_known_to_whoever_looks_back(open_shop: Book) -> None:
    order = place.place_order(
        open_shop, "NORTH", [place.OrderedPacks(material="TIP", packs=2)], build.stamp("2026-01-06")
    )
    came = place.receive_order(open_shop, order.number, [], build.stamp("2026-01-09")).document
    undone = undo(open_shop, came, build.stamp("2026-01-10")).number
    undo(open_shop, undone, build.stamp("2026-01-10"))
    with open_shop.reading() as session:
        then, now = (book_snapshot(session, build.at(day)) for day in ("2026-01-08", "2026-01-12"))
    assert [line.outstanding for each in then.orders for line in each.lines] == [build.nano("2 gross")]
    assert [line.outstanding for each in now.orders for line in each.lines] == [0]
    assert len(now.deliveries) == 1


def test_a_closed_reader_opens_again_when_asked(opened: BookReader) -> None:
    with opened as book:
        first = book.shelf()
    assert opened.shelf().equals(first)
    assert opened.currency == "EUR"
    assert opened.sites() == ["main"]
    opened.close()
