"""Kill -9 at random moments: work is wholly there or wholly not, and the same command can be run again."""

import os
import random
import shutil
import signal
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import count as numbers
from pathlib import Path

import pytest
import sqlalchemy as sa

from stockroom.errors import BookError, RefusedError
from stockroom.flows.bench.counter import sell
from stockroom.flows.bench.tickets import Wanted, finish_at_once
from stockroom.flows.book import put_back, safekeeping
from stockroom.flows.counts.settle import settle_count, take_count
from stockroom.flows.loading.load import load_files
from stockroom.flows.ordering.place import OrderedPacks, place_order, receive_order
from stockroom.stock.counts import Count, CountLine
from stockroom.store import ledger, tables
from stockroom.store.book import JOURNAL, LEDGER, STEPS, Book, new_book, open_any, open_book, schema_in
from stockroom.store.integrity import audit
from stockroom.store.upgrading import upgrade_book
from tests import build
from tests.postgres import Server
from tests.upgrade.freeze import HERE, pour, thaw

pytestmark = pytest.mark.kills

KILLS = 35  # of each kind of work: 420 and more in all
OLDEST = HERE / "schema-0001.sql.gz"
LONGEST = 0.24  # seconds until a start is killed, at the most
NOW = datetime(2026, 2, 10, 18, 0)

Work = Callable[[Book, int, Path], None]


def finish(book: Book, turn: int, _folder: Path) -> None:
    stamp = build.stamp("2026-02-03 10:00", f"finish {turn}")
    finish_at_once(book, Wanted(job="RESOLE", size=build.size("EU 42"), number=f"K{turn}"), stamp)


def trade(book: Book, turn: int, _folder: Path) -> None:
    sell(book, "POLISH", build.amount("1 piece"), build.stamp("2026-02-04", f"sale {turn}", sure=True))


def receive(book: Book, turn: int, _folder: Path) -> None:
    lines = [OrderedPacks(material="THREAD", packs=3), OrderedPacks(material="FILLER", packs=2)]
    order = place_order(book, "NORTH", lines, build.stamp("2026-02-02", f"order {turn}"))
    receive_order(book, order.number, [], build.stamp("2026-02-06", f"receipt {turn}"))


def count(book: Book, turn: int, _folder: Path) -> None:
    when = build.at(f"2026-02-07 {turn // 60:02d}:{turn % 60:02d}")
    line = CountLine(material="FILLER", amount=build.amount(f"{2000 - turn} g"), counted=when)
    take_count(book, Count(key=f"sheet {turn}", lines=(line,)), build.stamp(when, f"taken {turn}"))
    settle_count(book, f"sheet {turn}", build.stamp(when, f"settled {turn}"), confirmed=True)


def load(book: Book, turn: int, folder: Path) -> None:
    path = folder / "sales.csv"
    rows = [f"2026-02-05 {n // 60:02d}:{n % 60:02d},POLISH,1,piece,6.50,R{turn}-{n}" for n in range(60)]
    path.write_text("when,material,amount,unit,price,receipt\n" + "\n".join(rows), "utf-8")
    load_files(book, [path], NOW)


def back_up(book: Book, turn: int, folder: Path) -> None:
    when = NOW.replace(minute=turn % 60, second=turn // 60)
    safekeeping.back_up(book, folder / "backups", when)


def _documents(book: Book) -> dict[str, int]:
    with book.reading() as session:
        return {d.key: len(d.moves) for d in ledger.read_documents(session)}


@pytest.mark.parametrize("work", [finish, trade, receive, count, load, back_up])
def test_a_killed_program_leaves_every_document_whole_and_can_be_run_again(
    work: Work, file_shop: Book, tmp_path: Path
) -> None:
    place = file_shop.place
    whole, takes = _undisturbed(file_shop, work, tmp_path)
    chance, inside = random.Random(work.__name__), 0
    for turn in range(KILLS):
        inside += _fell_inside(lambda n=turn: _open_and(work, place, n, tmp_path), chance.uniform(0, takes))  # type: ignore[misc]
        book = open_book(place)
        with book.reading() as session:
            assert audit(session).faults == ()
        for key, moves in _documents(book).items():
            assert moves == whole.get(key.rstrip("0123456789"), moves), f"{key} is not whole"
        work(book, turn, tmp_path / "again")
        again = _documents(book)
        work(book, turn, tmp_path / "once more")
        assert _documents(book) == again, "done once, however often it is run"
        book.close()
    assert inside > KILLS // 4, "the kills fall into the work"
    for backup in (tmp_path / "backups").glob("book-*.sqlite"):
        with closing(open_book(str(backup))) as kept, kept.reading() as session:
            assert audit(session).faults == (), "none is half a copy"


def _open_and(work: Work, place: str, turn: int, folder: Path) -> None:
    with closing(open_book(place)) as book:
        work(book, turn, folder)


def _undisturbed(book: Book, work: Work, folder: Path) -> tuple[dict[str, int], float]:
    """Do the work undisturbed, in a copy: how many moves each of its documents has, and how long it takes at its quickest."""
    place = folder / "undisturbed.sqlite"
    safekeeping.copy_book(book, str(place))
    copy = open_book(str(place))
    before = _documents(copy)
    for name in ("again", "once more", "backups"):
        (folder / name).mkdir()
    work(copy, 999, folder)
    after = _documents(copy)
    copy.close()
    took = min(_lasts(lambda n=turn: _open_and(work, str(place), n, folder)) for turn in (996, 997, 998))  # type: ignore[misc]
    shutil.rmtree(folder / "backups", ignore_errors=True)
    return {key.rstrip("0123456789"): moves for key, moves in after.items() if key not in before}, took


def _lasts(done: Callable[[], None]) -> float:
    begun = time.monotonic()
    done()
    return time.monotonic() - begun


Move = Callable[[str], object]  # to a place


def _imported(book: Book, folder: Path) -> Move:
    safekeeping.export_book(book, folder / "out")
    return lambda place: safekeeping.import_book(folder / "out", place)


def _copied(book: Book, _folder: Path) -> Move:
    return lambda place: safekeeping.copy_book(book, place)


def _restored(book: Book, folder: Path) -> Move:
    backup = safekeeping.back_up(book, folder / "backups", NOW).path
    moments = (NOW.replace(microsecond=0) + timedelta(seconds=n) for n in numbers())
    return lambda place: safekeeping.restore(backup, place, next(moments))


@pytest.mark.parametrize("way", [_imported, _copied, _restored])
def test_a_killed_move_leaves_no_half_book_and_can_be_run_again(
    way: Callable[[Book, Path], Move], file_shop: Book, tmp_path: Path
) -> None:
    def make(turn: int) -> str:
        return str(tmp_path / f"moved-{turn}.sqlite")

    kills, inside = KILLS, _moved_and_killed(way(file_shop, tmp_path), _figure(file_shop.place), make, KILLS)
    assert inside > kills // 4, "the kills fall into the work"
    assert not [path for path in tmp_path.iterdir() if path.suffix in (".part", ".restoring")]


@pytest.mark.parametrize("way", [_imported, _copied])
def test_a_killed_move_to_a_server_can_be_run_again(
    way: Callable[[Book, Path], Move], file_shop: Book, tmp_path: Path, server: Server
) -> None:
    made: list[str] = []

    def make(turn: int) -> str:
        made.append(server.create(f"moved_{way.__name__}_{turn + 2}"))
        return made[-1]

    assert _moved_and_killed(way(file_shop, tmp_path), _figure(file_shop.place), make, 6) > 0
    for place in made:
        server.drop(place)


def _moved_and_killed(move: Move, figure: str, make: Callable[[int], str], kills: int) -> int:
    """Kill it as often as that, look at what is there, and run it again; says how many fell into the work."""
    took = []
    for turn in (-2, -1):
        begun, place = time.monotonic(), make(turn)
        move(place)
        took.append(time.monotonic() - begun)
    chance, inside = random.Random(kills), 0
    for turn in range(kills):
        place = make(turn)
        fell = _fell_inside(lambda place=place: move(place), chance.uniform(0, min(took)))  # type: ignore[misc]
        if "://" not in place and Path(place).exists():
            assert _figure(place) == figure, "what bears the book's name is the whole book"
        elif fell:
            with suppress(RefusedError):  # on a server: killed once all was there
                move(place)
        assert _figure(place) == figure
        inside += fell
    return inside


def _figure(place: str) -> str:
    with closing(open_book(place)) as book, book.reading() as session:
        found = audit(session)
    assert found.faults == ()
    return found.figure


def test_a_start_that_was_killed_can_be_run_again(tmp_path: Path) -> None:
    chance = random.Random("migrate")
    for turn in range(KILLS):
        place = str(tmp_path / f"new-{turn}.sqlite")
        child = os.fork()
        if child == 0:
            try:
                new_book(place)
            finally:
                os._exit(0)
        time.sleep(chance.uniform(0, LONGEST))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        book = _begun(place)
        with book.reading() as session:
            assert audit(session).faults == ()
        build.opened(book)
        book.close()


def _begun(place: str) -> Book:
    """Open the book if it was wholly made, or make it: nothing in between may be left."""
    try:
        return open_book(place)
    except BookError:
        return new_book(place)


def test_a_file_that_is_something_else_is_never_taken_for_a_start(tmp_path: Path) -> None:
    letter = tmp_path / "letter.sqlite"
    letter.write_text("Dear customer, your boots are ready. " * 40, "utf-8")
    with pytest.raises(RefusedError, match="exists already"):
        new_book(str(letter))
    assert letter.read_text("utf-8").startswith("Dear customer")


# A step that takes its time, as one may that rewrites a table: every row gets a column and another name.
HEAVY = """
import sqlalchemy as sa
from alembic import op

revision, down_revision = "9000", "{after}"

def upgrade():
    with op.batch_alter_table("event", recreate="always") as event:
        event.add_column(sa.Column("town", sa.Text(), server_default="", nullable=False))
    op.execute("UPDATE event SET name = upper(name)")
"""
FILLED = (
    "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n LIMIT 10000) "
    "INSERT INTO event SELECT 'fair ' || i, '2026-05-01' FROM n"
)


@dataclass(frozen=True)
class Older:
    """A book of the first schema that is brought up again and again."""

    file: Path
    documents: int
    figure: str
    kept: Path  # where copies of it go; without such a folder none are made
    steps: Path = STEPS
    newest: str = tables.SCHEMA

    def upgrade(self, place: str) -> None:
        copies = (self.kept / f"book.before-upgrade.{n}" for n in numbers())
        keep = next(path for path in copies if not path.exists()) if self.kept.exists() else None
        upgrade_book(place, keep, steps=self.steps).close()

    def schema(self, place: str) -> str:
        """Give the schema that a book is wholly at; it must agree with itself and be what it was."""
        book, _ = open_any(place)
        with book.writing(LEDGER, JOURNAL) as session:  # a server may first have to end what its dead client began
            found, look, schema = audit(session), sa.inspect(session), schema_in(session)
            assert look.has_table("deed") is (schema != "0001")
            assert ("town" in {column["name"] for column in look.get_columns("event")}) is (schema == "9000")
            names = session.execute(sa.text("SELECT DISTINCT substr(name, 1, 4) FROM event")).scalars().all()
            assert names == (["FAIR"] if schema == "9000" else ["fair"])
        book.close()
        assert (found.faults, found.documents, found.figure) == ((), self.documents, self.figure)
        return schema

    def killed(self, make: Callable[[int], str], kills: int) -> int:
        """Kill it as often as that, look at what is there, and run it again; says how many left it as it was."""
        longest, chance, inside = self._takes(make), random.Random(kills), 0
        for turn in range(kills):
            place = make(turn)
            fell = _fell_inside(lambda place=place: self.upgrade(place), chance.uniform(0, longest))  # type: ignore[misc]
            left = self.schema(place)
            assert left in ({"0001", self.newest} if fell else {self.newest})
            inside += left == "0001"
            if self.newest == tables.SCHEMA or turn % 5 == 0:
                self.upgrade(place)
                assert self.schema(place) == self.newest
        return inside

    def _takes(self, make: Callable[[int], str]) -> float:
        """Bring it up undisturbed, which also loads in this process all that a child then has at hand."""
        took = []
        for turn in (-2, -1):
            place, begun = make(turn), time.monotonic()
            self.upgrade(place)
            took.append(time.monotonic() - begun)
        return min(took)


@pytest.fixture(params=["with its copy", "steps only", "a heavy step"])
def older(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Older:
    """A book of the first schema: brought up as ever; without the copy, so that kills fall on the steps; fuller."""
    file, steps, kept = tmp_path / "older.sqlite", tmp_path / "steps", tmp_path / "kept"
    older = Older(file, *thaw(OLDEST, file), kept)
    if request.param == "with its copy":
        kept.mkdir()
    if request.param != "a heavy step":
        return older
    shutil.copytree(STEPS, steps, ignore=shutil.ignore_patterns("__pycache__"))
    (steps / "9000_heavy.py").write_text(HEAVY.format(after=tables.SCHEMA), "utf-8")
    monkeypatch.setattr(tables, "SCHEMA", "9000")
    with closing(sqlite3.connect(file)) as raw, raw:
        raw.execute(FILLED)
    return replace(older, steps=steps, newest="9000")


def _fell_inside(work: Callable[[], object], after: float) -> bool:
    """Kill a child some time after it began; says whether it was still at it."""
    reading, writing = os.pipe()
    if (child := os.fork()) == 0:
        try:
            os.write(writing, b".")
            work()
        except BaseException:  # noqa: BLE001 -- the parent is told
            os._exit(1)
        os._exit(0)
    os.read(reading, 1)
    time.sleep(after)
    os.kill(child, signal.SIGKILL)
    _, left = os.waitpid(child, 0)
    os.close(reading)
    os.close(writing)
    assert os.WIFSIGNALED(left) or os.WEXITSTATUS(left) == 0, "it failed by itself"
    return os.WIFSIGNALED(left)


def test_a_killed_upgrade_leaves_one_schema_or_the_other_and_can_be_run_again(older: Older, tmp_path: Path) -> None:
    def make(turn: int) -> str:
        return str(shutil.copy(older.file, tmp_path / f"book{turn}.sqlite"))

    # Measured on two busy cores: 28 to 30 of 35 with the copy, 35 of the steps only, 33 to 35 of the heavy step.
    assert older.killed(make, KILLS) > KILLS // 3
    if older.kept.exists():
        assert {older.schema(str(path)) for path in older.kept.iterdir()} == {"0001"}, "none is half a copy"


def test_a_killed_upgrade_of_a_servers_book_is_rolled_back(older: Older, server: Server) -> None:
    made = [server.create(f"older_{older.kept.exists()}_{older.newest}")]
    pour(older.file, made[0])

    def make(_turn: int) -> str:
        made.append(server.copy(made[0]))
        return made[-1]

    assert older.killed(make, 6) > 0  # measured: 5 or 6
    for place in made:
        server.drop(place)


def test_a_killed_swap_at_the_pages_leaves_the_old_book_or_the_new_one(file_shop: Book, tmp_path: Path) -> None:
    backup = safekeeping.back_up(file_shop, tmp_path / "backups", NOW).path
    old, new = tmp_path / "old.sqlite", _figure(str(backup))
    sell(file_shop, "LACE-BLACK", build.amount("1 pair"), build.stamp("2026-01-06 11:00"))
    safekeeping.copy_book(file_shop, str(old))
    chance, seen = random.Random("swap"), set[str]()

    def swap(place: str) -> None:
        with closing(open_book(place)) as book:
            put_back.look_into(book)
            put_back.put_back(book, NOW)

    took = 0.0
    for turn in range(KILLS // 3):
        place = tmp_path / f"swapped-{turn}.sqlite"
        shutil.copyfile(old, place)
        shutil.copyfile(backup, safekeeping.beside_book(str(place)))
        if turn:
            _fell_inside(lambda place=place: swap(str(place)), chance.uniform(0, took))  # type: ignore[misc]
        else:
            took = _lasts(lambda place=place: swap(str(place)))  # type: ignore[misc]
        seen.add(_figure(str(place)))
    assert seen <= {_figure(str(old)), new}
    assert new in seen
