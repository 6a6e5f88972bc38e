"""Keep the book safe: backups that are checked, restoring, everything out as files, and moving to another database."""

import re
import shutil
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import IO

from stockroom.errors import BookError, RefusedError, StockroomError, UsageError
from stockroom.flows.book.check import check_session
from stockroom.flows.book.repeated import join_in
from stockroom.flows.book.upgrade import bring_up
from stockroom.phrases import phrase
from stockroom.store import book as books
from stockroom.store import catalogue, identity, ledger, list_changes, tables, transfer
from stockroom.store.book import Book, Session
from stockroom.store.book_files import in_use, put_in_place, remove, whole_or_not_there
from stockroom.store.integrity import Audit, audit
from stockroom.store.upgrading import refuse_unknown

_NAME = re.compile(r"book-([0-9a-f]{8})-(\d{4}-\d{2}-\d{2})T\d{6}\.sqlite")
DAYS, WEEKS, MONTHS = 7, 5, 12  # backups kept: one for each of so many days, weeks and months
DESCRIPTION = "columns.md"
_A_DAY = 24 * 60 * 60  # seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """A backup made and checked, and the older ones that were let go."""

    path: Path
    figure: str
    documents: int
    removed: tuple[Path, ...]


def back_up(book: Book, folder: Path, now: datetime) -> Backup:
    """Copy the book while it is in use, open and check the copy, and let old backups of this very book go.

    A backup carries its book's mark in its name and inside: backups of several books may share a folder.
    """
    folder.mkdir(parents=True, exist_ok=True)
    mark = identity.mark_of(book)[: identity.SHOWN]
    path = folder / f"book-{mark}-{now:%Y-%m-%dT%H%M%S}.sqlite"
    found = copy_book(book, str(path))
    removed = _too_many(sorted(folder.glob(f"book-{mark}-*.sqlite")), keep=path)
    for old in (*removed, *_left_behind(path, mark)):
        old.unlink()
    return Backup(path=path, figure=found.figure, documents=found.documents, removed=tuple(removed))


def copy_book(book: Book, place: str) -> Audit:
    """Copy a book to a new place, on whatever database, and check that the copy agrees with it.

    Raises
    ------
    RefusedError
        If something is there already.
    BookError
        If the copy does not agree; it is removed.
    """
    with _made_whole(place) as target, book.reading() as source, target.writing() as session:
        transfer.copy(source, session)
        return _checked(audit(session), audit(source))


@contextmanager
def _made_whole(place: str) -> Iterator[Book]:
    """Give an empty book to fill, which gets its name only once it is full: what is cut short never looks finished.

    On a server, what is filled in and checked in one transaction is there wholly or not at all.
    """
    if "://" in place:
        with closing(_empty_on_server(place)) as book:
            yield book
        return
    if Path(place).exists():
        raise RefusedError(
            phrase("%(place)s exists already.", place=place), fix="Name another place; nothing is ever written over."
        )
    unfinished = Path(f"{place}.part")
    with whole_or_not_there(Path(place), unfinished), closing(books.new_book(str(unfinished))) as book:
        yield book


def _empty_on_server(place: str) -> Book:
    """Start a book on a server; one that was started and never filled, as a move cut short leaves it, will do."""
    book, schema = books.open_any(place)
    if schema == tables.SCHEMA:
        with book.reading() as session:
            if transfer.is_empty(session):
                return book
    book.close()
    return books.new_book(place)


def restore(backup: Path, place: str, now: datetime, *, over: str = "") -> Path | None:
    """Put a checked backup in the book's place; what is there now is kept beside it, and its path given.

    Parameters
    ----------
    backup : Path
        The backup.
    place : str
        The book's place; where it is a link, what it leads to.
    now : datetime
        The moment, which names what is kept.
    over : str
        The name of the shop whose book is there: asked for where the backup is of another book.

    Raises
    ------
    RefusedError
        If the place is a server's, the book there is open elsewhere, or another one than the backup's.
    BookError
        If the backup is damaged, or anything in it does not agree.
    """
    if "://" in place:
        raise RefusedError(
            "A database server's book is not written over.",
            fix=phrase("Copy the backup to a new one: --book %(backup)s copy-book", backup=backup),
        )
    refuse_unknown(str(backup))
    there = Path(place).expanduser().resolve()  # a link goes on leading to the book
    if backup.resolve() == there:
        raise RefusedError("The backup is the book itself.", fix="Name the backup; nothing was changed.")
    fresh = beside_book(place)
    try:
        shutil.copyfile(
            backup, fresh
        )  # written in full before the book is touched, so that a full disk can't damage the book
        check_backup(fresh, backup)
        _refuse_another_book(fresh, there, over)
        return put_checked_in_place(place, now)
    finally:
        remove(fresh)


def beside_book(place: str) -> Path:
    """Name the file beside a book in which a backup is made ready to take its place."""
    there = Path(place).expanduser().resolve()
    return there.with_name(f"{there.name}.restoring")


def add_part(place: str, at: str, content: bytes) -> int:
    """Add a part to a backup that is sent piece by piece, to lie beside the book; gives how long it is now.

    Raises
    ------
    UsageError
        If it does not follow what was sent before.
    """
    path = beside_book(place)
    if at == "0":
        remove(path)
    size = path.stat().st_size if path.exists() else 0
    if at != str(size):
        raise UsageError("A part of the file is missing.", fix="Choose the file again.")
    with path.open("ab") as file:
        file.write(content)
    return size + len(content)


def take_whole(place: str, file: IO[bytes]) -> None:
    """Let a backup that is sent at once lie beside the book."""
    path = beside_book(place)
    remove(path)
    with path.open("wb") as kept:
        shutil.copyfileobj(file, kept)


def sent_backup(place: str) -> Path:
    """Give the backup that was sent beside a book.

    Raises
    ------
    UsageError
        If none was sent.
    """
    sent = beside_book(place)
    if not sent.exists():
        raise UsageError("No backup was chosen.", fix="Choose the file of one.")
    return sent


def restore_sent(place: str, now: datetime) -> None:
    """Begin a book with the backup that was sent, once it is checked whole; what is not true is not kept.

    Raises
    ------
    UsageError
        If none was sent.
    """
    sent = sent_backup(place)
    try:
        refuse_unknown(str(sent))
        check_backup(sent, Path("backup.sqlite"))
        put_checked_in_place(place, now)
    finally:
        remove(sent)


def put_checked_in_place(place: str, now: datetime) -> Path | None:
    """Put the backup that was made ready beside a book in its place; gives where the one that was there is kept.

    Raises
    ------
    RefusedError
        If the book is open elsewhere.
    """
    there = Path(place).expanduser().resolve()
    if in_use(str(there)):  # whoever has it open would go on writing into the file set aside
        raise RefusedError(
            phrase("The book %(place)s is open elsewhere.", place=place),
            fix="Close the pages and other programs first.",
        )
    return put_in_place(beside_book(place), there, f"{there.name}.before-restore-{now:%Y-%m-%dT%H%M%S}")


def check_backup(copy: Path, backup: Path) -> None:
    """Refuse a backup in which anything is not true; one that an older version made is brought up to this one's.

    Raises
    ------
    BookError
        If it is damaged, no book, or anything in it does not agree.
    """
    with closing(bring_up(str(copy))) as book, book.reading() as session:
        faults = check_session(session).faults
    if faults:
        wrong = phrase("The backup %(backup)s does not check clean: %(fault)s", backup=backup, fault=faults[0])
        raise BookError(wrong, fix="Use another backup.")


def _refuse_another_book(fresh: Path, there: Path, over: str) -> None:
    """Refuse to put one book in another's place, unless that one's name is typed; what can't be read has none."""
    if not there.exists():
        return
    with closing(books.open_book(str(fresh))) as book, book.reading() as session:
        ours, our_name = identity_of(session), catalogue.read_shop(session).name
    try:
        with closing(books.open_any(str(there))[0]) as book, book.reading() as session:
            theirs, name = identity_of(session), catalogue.read_shop(session).name
    except StockroomError:
        return
    if theirs[1] and not same_book(ours, theirs) and over.strip() != name:
        raise RefusedError(
            phrase(
                "The backup is of another book ('%(ours)s') than the one at %(there)s ('%(name)s').",
                ours=our_name,
                there=there,
                name=name,
            ),
            fix=phrase("To put it there all the same, name the one that goes: --over '%(name)s'", name=name),
        )


def identity_of(session: Session) -> tuple[str, str]:
    """Give a book's mark and the check figure of its first document; each may be missing."""
    return identity.read_mark(session), ledger.first_figure(session)


def same_book(one: tuple[str, str], other: tuple[str, str]) -> bool:
    """Say whether two books are one: by their marks, and where one has none yet, by how they begin."""
    return one[0] == other[0] if one[0] and other[0] else one[1] == other[1]


def export_book(book: Book, folder: Path) -> Audit:
    """Write the whole book as plain CSV files with a description of every column.

    Raises
    ------
    RefusedError
        If the folder is not empty.
    """
    if folder.exists() and any(folder.iterdir()):
        raise RefusedError(
            phrase("%(folder)s is not empty.", folder=folder), fix="Name a new folder; nothing is ever written over."
        )
    folder.mkdir(parents=True, exist_ok=True)
    with book.reading() as session:
        transfer.write_out(session, folder)
        found = audit(session)
    (folder / DESCRIPTION).write_text(_description(found), "utf-8")
    return found


def import_book(folder: Path, place: str) -> Audit:
    """Make a new book from an exported one, and check that it agrees."""
    with _made_whole(place) as book, book.writing() as session:
        transfer.read_in(session, folder)
        if not list_changes.said_any(session):  # an export of an older version
            join_in(session)
            list_changes.say_now(session)
        return _true(check_session(session))


def _true(found: Audit) -> Audit:
    if found.faults:
        wrong = phrase("The files do not make a true book: %(fault)s", fault=found.faults[0])
        raise BookError(wrong, fix="Export the book again.")
    return found


def _checked(found: Audit, before: Audit) -> Audit:
    if found.faults or (found.figure, found.moves) != (before.figure, before.moves):
        raise BookError("The copy does not agree with the book; it was not kept.", fix="Run: stockroom check")
    return found


def _left_behind(made: Path, mark: str) -> list[Path]:
    """Name what backups that were cut short left in the folder; one of today may still be under way."""
    yesterday = made.stat().st_mtime - _A_DAY
    return [part for part in made.parent.glob(f"book-{mark}-*.sqlite.part*") if part.stat().st_mtime < yesterday]


def _too_many(found: Sequence[Path], *, keep: Path) -> list[Path]:
    """Name the backups that no rule keeps: the newest of each of the last days, weeks and months stays."""
    dated = [(date.fromisoformat(name[2]), path) for path in found if (name := _NAME.fullmatch(path.name))]
    kept = {keep}
    for period, most in ((_day, DAYS), (_week, WEEKS), (_month, MONTHS)):
        newest = {period(day): path for day, path in dated}
        kept |= {newest[each] for each in sorted(newest)[-most:]}
    return [path for _, path in dated if path not in kept]


def _day(day: date) -> tuple[int, ...]:
    return (day.toordinal(),)


def _week(day: date) -> tuple[int, ...]:
    return day.isocalendar()[:2]


def _month(day: date) -> tuple[int, ...]:
    return (day.year, day.month)


def _description(found: Audit) -> str:
    head = (
        "# The book as plain files\n\n"
        "Amounts (`nano`, `pack`, `received`) are billionths of a dm2, m, ml, g or piece; money is whole minor units,\n"
        "`value` thousandths of them; moments and days are ISO 8601.\n\n"
        "Left out are the pages' passcodes and the key that signs their sessions: set passcodes anew after importing.\n"
        "To move a book with them, copy it: stockroom copy-book.\n\n"
        f"{found.documents} documents, {found.moves} moves, check figure {found.figure}.\n"
    )
    parts = [
        f"\n## {name}.csv\n\n" + "".join(f"- `{column}`: {holds}\n" for column, holds in rows)
        for name, rows in transfer.columns().items()
    ]
    return head + "".join(parts)
