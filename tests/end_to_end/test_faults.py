"""What goes wrong around a book: full disk, no permission, a lock, a damaged file, a server that stops.

Each is said plainly, and leaves the book as it was.
"""

import json
import os
import random
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import psycopg
import pytest

from stockroom.flows.bench.counter import sell
from stockroom.flows.bench.tickets import Wanted, finish_at_once
from stockroom.flows.book.check import check
from stockroom.store import book as books
from tests import build
from tests.conftest import Maker
from tests.end_to_end.shop import Indoors, Ran, in_file
from tests.postgres import Server

ROOT = os.geteuid() == 0
NOBODY = 65534
SALE = ("sell", "polish", "1 piece")


def elsewhere(desk: Indoors, *words: str, before: Callable[[], object] = lambda: None) -> Ran:
    """Type a command in a process of its own, as another account or under another limit."""
    reading, writing = os.pipe()
    if (child := os.fork()) == 0:
        try:
            before()
            done = desk(*words)
            said = [done.code, done.out, done.err]
        except BaseException as wrong:  # noqa: BLE001 -- a traceback is what must not happen: the parent is told
            said = [99, "", f"traceback: {wrong!r}"]
        os.write(writing, json.dumps(said).encode())
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading) as told:
        code, out, err = json.load(told)
    os.waitpid(child, 0)
    return Ran(code, out, err)


@pytest.fixture
def open_folder(desk: Indoors) -> Iterator[Indoors]:
    """A copy of the small book where any account may reach it."""
    with tempfile.TemporaryDirectory(prefix="stockroom-faults-", dir="/tmp") as folder:
        Path(folder).chmod(0o755)
        yield Indoors(Path(shutil.copy(desk.book, Path(folder) / "book.sqlite")))


def as_nobody() -> None:
    if ROOT:
        os.setgroups([])
        os.setgid(NOBODY)
        os.setuid(NOBODY)


def _no_power(desk: Indoors) -> None:
    for path in (*desk.book.parent.iterdir(), desk.book.parent):
        path.chmod(0o555 if path.is_dir() else 0o444)


@in_file
def test_a_read_only_folder_is_named_and_the_book_can_still_be_looked_at(open_folder: Indoors) -> None:
    before = open_folder.book.read_bytes()
    _no_power(open_folder)
    sold = elsewhere(open_folder, *SALE, before=as_nobody)
    assert sold.code == 6, sold.err
    assert "is read-only" in sold.err
    assert "Fix: Check the folder's permissions." in sold.err
    looked = elsewhere(open_folder, "shelf", before=as_nobody)
    assert (looked.code, "Sole bend" in looked.out) == (0, True), looked.err
    open_folder.book.parent.chmod(0o755)
    assert open_folder.book.read_bytes() == before


@in_file
def test_a_backup_folder_that_can_not_be_written_is_named(open_folder: Indoors) -> None:
    open_folder.book.chmod(0o666)
    open_folder.book.parent.chmod(0o777)
    shut = open_folder.book.parent / "shut"
    shut.mkdir(mode=0o555)
    made = elsewhere(open_folder, "backup", str(shut / "backups"), before=as_nobody)
    assert made.code == 6, made.err
    assert "can't be used: Permission denied" in made.err


@pytest.fixture
def small_disk(desk: Indoors) -> Iterator[Indoors]:
    """A copy of the small book on a disk that is nearly full."""
    with mounted(desk.book.stat().st_size // 1024 + 500) as folder:
        yield Indoors(Path(shutil.copy(desk.book, folder / "book.sqlite")))


@contextmanager
def mounted(kilobytes: int) -> Iterator[Path]:
    """Give a disk of a size; only where one can be mounted."""
    folder = Path(tempfile.mkdtemp(prefix="stockroom-disk-", dir="/tmp"))
    mount = ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(folder)]
    if not ROOT or subprocess.run(mount, check=False, capture_output=True).returncode:
        folder.rmdir()
        pytest.skip("a small disk can't be mounted here")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)
    folder.rmdir()


def _fill(folder: Path) -> None:
    with (folder / "ballast").open("wb", buffering=0) as ballast:
        try:
            while ballast.write(bytes(4096)):
                pass
        except OSError:
            pass


@in_file
def test_a_full_disk_is_said_and_changes_nothing(small_disk: Indoors) -> None:
    figure = small_disk.figure()
    _fill(small_disk.book.parent)
    sold = [small_disk(*SALE) for _ in range(3)]
    assert {one.code for one in sold} == {6}, sold
    assert all("full" in one.err for one in sold), sold
    made = small_disk("backup", str(small_disk.book.parent / "backups"))
    assert made.code == 6, made.err
    (small_disk.book.parent / "ballast").unlink()
    assert small_disk.figure() == figure
    assert small_disk(*SALE).code == 0
    left = [path.name for path in (small_disk.book.parent / "backups").glob("*")]
    assert left == [], "what was not finished is not left behind"


@in_file
def test_a_file_that_may_not_grow_is_said_and_changes_nothing(desk: Indoors) -> None:
    figure, limit = desk.figure(), desk.book.stat().st_size // 8

    def small_files() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

    made = elsewhere(desk, "backup", str(desk.book.parent / "backups"), before=small_files)
    assert made.code == 6, made.err
    assert "The disk" in made.err or "File too large" in made.err
    assert desk.figure() == figure
    assert not list((desk.book.parent / "backups").glob("*.sqlite"))


@contextmanager
def _held(desk: Indoors) -> Iterator[None]:
    """Hold the book as another program that is writing does."""
    if desk.on_server:
        with psycopg.connect(str(desk.place)) as there:
            there.execute("SELECT pg_advisory_xact_lock(%s)", [books.LEDGER])
            yield
    else:
        with closing(sqlite3.connect(desk.book, isolation_level=None)) as here:
            here.execute("BEGIN IMMEDIATE")
            yield


def test_a_lock_held_by_another_program_is_said_after_a_while(desk: Indoors, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(books, "PATIENCE", 0.2)
    with _held(desk):
        sold = desk(*SALE)
        assert (sold.code, "The book is busy: another program holds it." in sold.err) == (6, True)
        assert desk("shelf").code == 0, "looking goes on"
    assert desk(*SALE).code == 0


@pytest.mark.parametrize("share", [0.0, 0.0001, 0.3, 0.9, 0.999])
@in_file
def test_a_truncated_book_is_told_and_left_as_it_is(desk: Indoors, share: float) -> None:
    whole = desk.book.read_bytes()
    cut = whole[: int(len(whole) * share)]
    desk.book.write_bytes(cut)
    for words in (("check",), ("shelf",), SALE, ("backup", str(desk.book.parent / "b")), ("upgrade-book",)):
        done = desk(*words)
        assert done.code in {6, 8}, (words, done)
        assert "damaged" in done.out + done.err or "is not a stockroom book" in done.err, done
    assert desk.book.read_bytes() == cut
    assert not list(desk.book.parent.glob("b/*.sqlite"))


FLIPS = 30


@pytest.mark.slow
@in_file
def test_a_flipped_bit_is_found_or_harmless_never_a_traceback(desk: Indoors) -> None:
    figure, shelf = desk.figure(), desk.says("shelf", "--json")
    whole = desk.book.read_bytes()
    chance = random.Random(7)
    told = 0
    for _ in range(FLIPS):
        damaged = bytearray(whole)
        place = chance.randrange(len(whole))
        damaged[place] ^= 1 << chance.randrange(8)
        desk.book.write_bytes(damaged)
        done = desk("check")
        assert done.code in {0, 6, 8}, done
        if done.code == 0:
            assert figure[:16] in done.out, place
        else:
            told += 1
            for words in (SALE, ("shelf",), ("backup", str(desk.book.parent / "b"))):
                assert desk(*words).code in {0, 1, 2, 3, 4, 5, 6}, (place, words)
        for tail in ("-wal", "-shm"):
            desk.book.with_name(desk.book.name + tail).unlink(missing_ok=True)
    assert told > FLIPS // 3
    desk.book.write_bytes(whole)
    assert desk.says("shelf", "--json") == shelf


def test_a_clock_set_back_is_said_when_something_is_entered(desk: Indoors) -> None:
    sold = desk(*SALE, now="2026-03-01T09:00:00")
    assert sold.code == 0
    assert sold.err.startswith("Is the clock right? It reads 1 Mar 2026 09:00, but a document was entered on")
    assert "The clock was set back" in desk("check").out


@pytest.mark.on_server
def test_a_server_that_stops_is_said_and_loses_nothing(tmp_path: Path) -> None:
    try:
        server = Server.start()
    except Exception as missing:  # noqa: BLE001 -- no server programs here
        pytest.skip(str(missing))
    place = server.create("shop")
    desk = Indoors(Path("unused"))
    env = {"STOCKROOM_BOOK": place, "STOCKROOM_NOW": desk.now}
    code = (
        "import sys; from stockroom.store import book\n"
        "from stockroom.flows.book.opening import new_book, open_book\n"
        "new_book(sys.argv[1]).close(); b = open_book(sys.argv[1])\n"
        "with b.writing() as s:\n"
        "    s.exec_driver_sql(\"INSERT INTO event VALUES ('fair', '2026-05-01')\")\n"
        "    print('half way', flush=True); sys.stdin.readline()\n"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", code, place], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env=os.environ | env, text=True,
    )  # fmt: skip
    assert child.stdout is not None
    assert child.stdout.readline() == "half way\n"
    server._run("pg_ctl", "stop", "-m", "immediate", "-s", "-D", server._cluster)
    _, err = child.communicate("go on\n")
    assert "BookError: The database server does not answer" in err
    with pytest.raises(Exception, match="The database server does not answer"):
        books.open_book(place)
    server._run("pg_ctl", "start", "-w", "-s", "-D", server._cluster, "-l", str(server.folder / "log"),
                "-o", f"-c listen_addresses='' -k {server.folder}")  # fmt: skip
    again = books.open_book(place)
    with again.reading() as session:
        assert session.exec_driver_sql("SELECT count(*) FROM event").scalar() == 0
    again.close()
    server.stop()


KILLS = 12


def _enter_until_killed(place: str, turn: int) -> None:
    book = books.open_book(place)
    for n in range(10_000):
        stamp = build.stamp("2026-02-03 10:00", f"{turn} {n}")
        finish_at_once(book, Wanted(job="RESOLE", size=build.size("EU 42"), number=f"K{turn}-{n}"), stamp)


@pytest.mark.kills
def test_a_program_killed_as_it_enters_leaves_nothing_half_done_on_a_server(server_books: Maker) -> None:
    book = server_books(build.opened)
    chance, before = random.Random(11), check(book).documents
    for turn in range(KILLS):
        if (child := os.fork()) == 0:
            try:
                _enter_until_killed(book.place, turn)
            finally:
                os._exit(0)
        time.sleep(chance.uniform(0.1, 0.3))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        sell(book, "POLISH", build.amount("1 piece"), build.stamp("2026-02-04", f"at once after {turn}", sure=True))
        found = check(book)
        assert found.faults == ()
    assert found.documents > before + KILLS, "some were killed at work"
