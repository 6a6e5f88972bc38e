"""Eight benches at once on one book, with overlapping materials and repeated keys: exact balances, nothing doubled."""

import os
import traceback
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from stockroom.flows.bench.counter import sell, write_off
from stockroom.flows.bench.tickets import Wanted, finish_at_once
from stockroom.flows.book.safekeeping import back_up
from stockroom.stock.moves import DocumentKind
from stockroom.stock.postings import Stamp
from stockroom.store import ledger
from stockroom.store.book import Book, open_book
from stockroom.store.integrity import audit
from tests import build
from tests.conftest import Maker

PROCESSES = 8
DOCUMENTS = int(os.environ.get("STOCKROOM_DOCUMENTS", "25"))  # each; the benchmark asks for 500
SHARED = 5  # every so many documents carry a key that all processes use


def _work(book: Book, bench: int) -> None:
    for n in range(DOCUMENTS):
        key = f"shared {n}" if n % SHARED == 0 else f"bench {bench} document {n}"
        _turns(book)[n % 3](build.stamp("2026-02-03 10:00", key, sure=True))


def _turns(book: Book) -> list[Callable[[Stamp], object]]:
    """Give what a process does in turn; a shared key means the same document from everyone."""
    return [
        lambda stamp: sell(book, "POLISH", build.amount("1 piece"), stamp),
        lambda stamp: write_off(book, "THREAD", build.amount("2 m"), stamp),
        lambda stamp: finish_at_once(book, Wanted(job="RESOLE", size=build.size("EU 42")), stamp),
    ]


@contextmanager
def _children(place: str, folder: Path, work: Callable[[Book, int], None]) -> Iterator[None]:
    """Let eight processes work on a book meanwhile; a fault in any of them is a fault here."""
    children = []
    for bench in range(PROCESSES):
        if (child := os.fork()) == 0:
            try:
                with closing(open_book(place)) as book:
                    work(book, bench)
            except BaseException:  # noqa: BLE001 -- whatever it is, the parent must hear of it
                (folder / f"fault-{bench}.txt").write_text(traceback.format_exc(), "utf-8")
            finally:
                os._exit(0)
        children.append(child)
    yield
    for child in children:
        os.waitpid(child, 0)
    assert [path.read_text("utf-8") for path in folder.glob("fault-*.txt")] == []


@pytest.mark.slow
def test_eight_processes_post_exactly_what_they_meant_to(books: Maker, tmp_path: Path) -> None:
    book = books(build.opened)
    place, before = book.place, _balances(book)
    book.close()
    with _children(place, tmp_path, _work):
        pass
    again = open_book(place)
    with again.reading() as session:
        assert audit(session).faults == ()
        documents = ledger.read_documents(session, with_moves=False)
    keys = [d.key for d in documents if d.kind is not DocumentKind.CHANGE]  # the lists' own
    shared = len(range(0, DOCUMENTS, SHARED))
    assert len(keys) == len(set(keys)) == 1 + shared + PROCESSES * (DOCUMENTS - shared)
    after = _balances(again)
    again.close()
    times = [sum(PROCESSES if n % SHARED else 1 for n in range(turn, DOCUMENTS, 3)) for turn in range(3)]
    once = _once_each(books)
    assert {code: before[code] - after[code] for code in before} == {
        code: sum(n * used.get(code, 0) for n, used in zip(times, once, strict=True)) for code in before
    }


def _once_each(books: Maker) -> list[dict[str, int]]:
    """Give what each turn takes off the shelf, done once and alone."""
    book = books(build.opened)
    found = []
    for n, turn in enumerate(_turns(book)):
        before = _balances(book)
        turn(build.stamp("2026-02-03 10:00", f"alone {n}"))
        after = _balances(book)
        found.append({code: before[code] - after[code] for code in before})
    return found


def _balances(book: Book) -> dict[str, int]:
    with book.reading() as session:
        return ledger.balances(session)


@pytest.mark.parametrize("keys", [1, 3])
def test_the_same_document_from_everyone_is_posted_once(books: Maker, tmp_path: Path, keys: int) -> None:
    book = books(build.opened)
    place, before = book.place, _balances(book)["POLISH"]
    book.close()

    def same(mine: Book, _bench: int) -> None:
        for n in range(keys):
            sell(mine, "POLISH", build.amount("1 piece"), build.stamp("2026-02-03", f"one of {n}"))

    with _children(place, tmp_path, same):
        pass
    again = open_book(place)
    assert before - _balances(again)["POLISH"] == keys * build.nano("1 piece")
    again.close()


@pytest.mark.slow
def test_a_backup_made_while_others_work_is_whole(books: Maker, tmp_path: Path) -> None:
    book = books(build.opened)
    place = book.place
    book.close()
    with _children(place, tmp_path, _work), closing(open_book(place)) as ours:
        made = [back_up(ours, tmp_path / f"backup {n}", build.at(f"2026-02-03 18:{n:02}")) for n in range(6)]
    final = _documents(place)
    for backup in made:
        kept = _documents(str(backup.path))
        assert len(kept) == backup.documents
        assert kept == final[: len(kept)], "the beginning of what came to be, every document whole"
    assert len({backup.documents for backup in made}) > 1, "some were made in the middle of the work"


def _documents(place: str) -> list[tuple[str, int]]:
    with closing(open_book(place)) as book, book.reading() as session:
        assert audit(session).faults == ()
        return [(d.key, len(d.moves)) for d in ledger.read_documents(session)]
