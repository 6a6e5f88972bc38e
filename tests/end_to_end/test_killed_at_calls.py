"""Kill -9 at each call by which a book's files get their names and reach the disk: no moment is left to luck.

The calls are cut short by the kernel's own tracing (`strace -e inject`): the n-th one never happens, and neither does
anything after it. Whatever n is, there is a whole book afterwards, and the same work can be done again.
"""

import os
import shutil
import signal
import subprocess
from collections.abc import Callable
from contextlib import closing, suppress
from datetime import datetime, timedelta
from itertools import count as numbers
from pathlib import Path

import pytest

from stockroom.errors import RefusedError
from stockroom.flows.bench.counter import sell
from stockroom.flows.book import safekeeping
from stockroom.flows.book.check import check
from stockroom.flows.book.opening import new_book
from stockroom.flows.book.upgrade import upgrade_book
from stockroom.store.book import Book, open_book
from stockroom.store.integrity import audit
from tests import build
from tests.upgrade.freeze import HERE, thaw

pytestmark = pytest.mark.kills

NOW = datetime(2026, 2, 10, 18, 0)
OLDEST = HERE / "schema-0001.sql.gz"
CALLS = "fsync,fdatasync,rename,renameat,renameat2,link,linkat,unlink,unlinkat,ftruncate"
WRITES = "pwrite64,write,copy_file_range,sendfile"
SOME = 50  # of the calls that write, evenly spread over the work

Work = Callable[[], object]


def _traced(work: Work, *how: str) -> int:
    """Do the work in a child whose calls are traced; gives how it ended, as a process does."""
    waits, go = os.pipe()
    if (child := os.fork()) == 0:
        try:
            os.close(go)
            os.read(waits, 1)
            work()
        except BaseException:  # noqa: BLE001 -- the parent is told
            os._exit(1)
        os._exit(0)
    os.close(waits)
    tracer = subprocess.Popen(["strace", "-f", "-p", str(child), *how], stderr=subprocess.PIPE)
    assert tracer.stderr is not None
    tracer.stderr.readline()  # it says that it is attached
    os.write(go, b".")
    os.close(go)
    _, left = os.waitpid(child, 0)
    tracer.wait()
    tracer.stderr.close()
    assert os.WIFSIGNALED(left) or os.WEXITSTATUS(left) == 0, "it failed by itself"
    return left


def _number(work: Work, calls: str, log: Path) -> int:
    """Count the calls of some kinds that the work makes."""
    assert _traced(work, "-e", f"trace={calls}", "-e", "signal=none", "-o", str(log)) == 0
    return sum("(" in line for line in log.read_text("utf-8").splitlines())


def at_every_call(make: Callable[[int], str], work: Callable[[str], object], look: Callable[[str], None]) -> int:
    """Kill the work at each call that names or flushes, and at some that write; each time what is left is looked at."""
    if shutil.which("strace") is None:
        pytest.fail("strace is missing") if os.environ.get("CI") else pytest.skip("strace is missing")
    work(make(0))  # loads in this process all that a child then has at hand
    kills, turns = 0, numbers(1)
    for calls in (CALLS, WRITES):
        place = make(next(turns))
        every = _number(lambda place=place: work(place), calls, Path(f"{place}.calls"))  # type: ignore[misc]
        for call in range(1, every + 1, 1 if calls is CALLS else max(every // SOME, 1)):
            place = make(next(turns))
            left = _traced(
                lambda place=place: work(place),  # type: ignore[misc]
                *("-e", f"trace={calls}", "-o", "/dev/null", "-e", f"inject={calls}:signal=KILL:when={call}"),
            )
            kills += os.WIFSIGNALED(left) and os.WTERMSIG(left) == signal.SIGKILL
            look(place)
    return kills


def _figure(place: str) -> str:
    with closing(open_book(place)) as book:
        found = check(book)
    assert found.faults == ()
    return found.figure


def _copy_of(book: Book, folder: Path) -> Callable[[int], str]:
    """Give copies of a book to work on."""

    def make(turn: int) -> str:
        return str(shutil.copyfile(book.place, folder / f"book-{turn}.sqlite"))

    return make


def test_a_restore_killed_at_any_call_leaves_one_book_or_the_other(file_shop: Book, tmp_path: Path) -> None:
    backup = safekeeping.back_up(file_shop, tmp_path / "backups", NOW)
    sell(file_shop, "POLISH", build.amount("1 piece"), build.stamp("2026-02-03"))
    file_shop.close()
    newer = _figure(file_shop.place)

    def look(place: str) -> None:
        assert _figure(place) in (backup.figure, newer), "at its place, at every moment"
        kept = [path for path in tmp_path.glob(f"{Path(place).name}.before-restore-*") if path.suffix != ".part"]
        assert all(_figure(str(path)) in (backup.figure, newer) for path in kept)
        safekeeping.restore(backup.path, place, NOW + timedelta(hours=1))
        assert _figure(place) == backup.figure
        assert not list(tmp_path.glob(f"{Path(place).name}.restoring*"))

    calls = at_every_call(
        _copy_of(file_shop, tmp_path), lambda place: safekeeping.restore(backup.path, place, NOW), look
    )
    assert calls > 4, "file and folder, on disk and named"


def test_a_backup_killed_at_any_call_is_whole_or_not_there(file_shop: Book, tmp_path: Path) -> None:
    figure = _figure(file_shop.place)
    for back in range(9, 1, -1):  # rotation has something to let go
        safekeeping.back_up(file_shop, tmp_path / "0", NOW - timedelta(days=back))

    def make(turn: int) -> str:
        return str(shutil.copytree(tmp_path / "0", tmp_path / "kept" / str(turn)))

    def look(folder: str) -> None:
        for path in Path(folder).glob("book-*.sqlite"):
            assert _figure(str(path)) == figure
        assert len(list(Path(folder).glob("book-*.sqlite"))) >= safekeeping.DAYS

    def work(folder: str) -> None:
        with closing(open_book(file_shop.place)) as book:
            safekeeping.back_up(book, Path(folder), NOW)

    file_shop.close()
    assert at_every_call(make, work, look) > 10


def test_an_import_killed_at_any_call_leaves_no_half_book(file_shop: Book, tmp_path: Path) -> None:
    figure = safekeeping.export_book(file_shop, tmp_path / "out").figure

    def look(place: str) -> None:
        if not Path(place).exists():
            safekeeping.import_book(tmp_path / "out", place)
        assert _figure(place) == figure

    calls = at_every_call(
        lambda turn: str(tmp_path / f"in-{turn}.sqlite"),
        lambda place: safekeeping.import_book(tmp_path / "out", place),
        look,
    )
    assert calls > 10


def test_an_upgrade_killed_at_any_call_leaves_the_older_book_or_the_newer(tmp_path: Path) -> None:
    file = tmp_path / "older.sqlite"
    thaw(OLDEST, file)

    def look(place: str) -> None:
        upgrade_book(place, NOW)
        with closing(open_book(place)) as book, book.reading() as session:
            assert audit(session).faults == ()

    calls = at_every_call(
        lambda turn: str(shutil.copyfile(file, tmp_path / f"older-{turn}.sqlite")),
        lambda place: upgrade_book(place, NOW),
        look,
    )
    assert calls > 10


def test_a_start_killed_at_any_call_can_be_made_again(tmp_path: Path) -> None:
    def look(place: str) -> None:
        with suppress(RefusedError):  # it was wholly there
            new_book(place).close()
        assert _figure(place)

    calls = at_every_call(
        lambda turn: str(tmp_path / f"new-{turn}.sqlite"), lambda place: new_book(place).close(), look
    )
    assert calls > 4


def test_a_sale_killed_at_any_call_is_there_once_however_often_it_is_made(file_shop: Book, tmp_path: Path) -> None:
    file_shop.close()

    def work(place: str) -> None:
        with closing(open_book(place)) as book:
            sell(book, "POLISH", build.amount("1 piece"), build.stamp("2026-02-03", "one sale"))

    def look(place: str) -> None:
        work(place)
        with closing(open_book(place)) as book:
            assert check(book).documents == 3, "the opening, its lists, and one sale"

    assert at_every_call(_copy_of(file_shop, tmp_path), work, look) > 0
