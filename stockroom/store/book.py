"""The schema's steps, run in the transaction of whoever asks: all of them are kept, or none."""

import os
import random
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from stockroom.errors import BookError, OlderBookError, RefusedError
from stockroom.store import tables
from stockroom.store.book_files import refuse_other_files, traces
from stockroom.store.writers_line import in_line

_HOME = Path(__file__).parent / "migrations"
STEPS = _HOME / "versions"
NEWEST = "head"


def run_steps(session: sa.Connection, *, steps: Path = STEPS, upto: str = NEWEST) -> None:
    """Run the steps a database lacks.

    Parameters
    ----------
    session : Connection
        A transaction under way.
    steps : Path
        The folder of steps.
    upto : str
        The schema to stop at.
    """
    from alembic import command  # noqa: PLC0415 -- slow import, needed once in a book's life
    from alembic.config import Config  # noqa: PLC0415 -- as above

    asked = Config()
    for name, value in (("script_location", _HOME), ("version_locations", steps), ("path_separator", "os")):
        asked.set_main_option(name, str(value).replace("%", "%%"))
    asked.attributes["connection"] = session
    command.upgrade(asked, upto)


Session = sa.Connection  # a transaction under way

PATIENCE = 30  # seconds a writer waits for the one before it
LEDGER, JOURNAL = 7_036_874, 7_036_875  # any two numbers: on a server, one writer at a time of each


@dataclass(slots=True, kw_only=True)
class Carried:
    """What a writer's transaction carries with it."""

    at: datetime | None = None  # when changes of lists are made; None: when the last document was entered
    who: str = ""
    gathered: Any = None  # by whoever gathers what is said at its end
    before_kept: list[Callable[[Session], None]] = field(default_factory=list)  # done last, before it is kept


_CARRIED = "stockroom carried"


def carried_by(session: Session) -> Carried:
    """Give what a transaction under way carries with it."""
    found: Carried = session.info.setdefault(_CARRIED, Carried())
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """An open book."""

    engine: sa.Engine
    place: str
    read_only: bool = False

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Read one unchanging state of the book."""
        with plainly(self.place), self._connect("REPEATABLE READ") as session:
            yield session

    @contextmanager
    def writing(self, *turns: int, at: datetime | None = None, who: str = "") -> Iterator[Session]:
        """Write as the only writer (on a server: of the ledger, unless told); kept whole at the end, or not at all.

        Parameters
        ----------
        turns : int
            Whose only writer to be on a server.
        at : datetime, optional
            When changes of lists and settings are made: otherwise when the last document was entered.
        who : str
            Who makes them.

        Raises
        ------
        BookError
            If the book is open to be read only.
        """
        if self.read_only:
            raise BookError("This book is open to be read only; nothing was changed.", fix="Enter it with a command.")
        # READ COMMITTED on a server: each statement sees what earlier writers left, once the lock is ours.
        line = nullcontext() if self.on_server else in_line(self.place, PATIENCE)
        with line, plainly(self.place), self._connect("READ COMMITTED", writing=True) as session, session.begin():
            if session.dialect.name == "postgresql":
                session.execute(sa.text(f"SET LOCAL lock_timeout = '{PATIENCE}s'"))
                for turn in turns or (LEDGER,):
                    session.execute(sa.select(sa.func.pg_advisory_xact_lock(turn)))
            session.info[_CARRIED] = mine = Carried(at=at, who=who)  # a connection's, which others had before
            yield session
            for last in mine.before_kept:
                last(session)

    def _connect(self, isolation: str, *, writing: bool = False) -> Session:
        session = self.engine.connect().execution_options(stockroom_writing=writing)
        if not self.on_server:
            return session
        return session.execution_options(isolation_level=isolation, postgresql_readonly=self.read_only)

    @property
    def on_server(self) -> bool:
        """Whether the book is kept by a database server."""
        return self.engine.dialect.name == "postgresql"

    def close(self) -> None:
        """Let go of the file or server."""
        self.engine.dispose()


def book_url(place: str) -> str:
    """Carried a file path into a database address; addresses stay as they are."""
    if "://" in place:
        return place.replace("postgresql://", "postgresql+psycopg://", 1)
    return sa.URL.create("sqlite", database=str(Path(place).expanduser())).render_as_string(hide_password=False)


def open_book(place: str, *, read_only: bool = False) -> Book:
    """Open an existing book; says plainly when there is none, or it belongs to another version.

    Of a book open to be read only, the database itself refuses every change.
    """
    book, found = open_any(place, read_only=read_only)
    if found == tables.SCHEMA:
        return book
    book.close()
    if not found:
        raise BookError(f"{shown(place)} is not a stockroom book.", fix="Check the path given with --book.")
    if found > tables.SCHEMA:
        raise BookError(
            f"The book at {shown(place)} was written by a newer stockroom "
            f"(schema {found}; this one knows {tables.SCHEMA}).",
            fix="Install the newer stockroom; nothing was changed.",
        )
    raise OlderBookError(f"The book at {shown(place)} has the older schema {found}.", fix="Run: stockroom upgrade-book")


def open_any(place: str, *, read_only: bool = False) -> tuple[Book, str]:
    """Open what is there, whatever its schema; gives that too, empty for what is no book."""
    refuse_other_files(place)
    book = _connect(place, read_only=read_only)
    return book, _schema_of(book)


def begun(place: str) -> bool:
    """Say whether there is a book, or something else that must not be begun over, at a place.

    Raises
    ------
    BookError
        If something of a lost book lies beside, or the server doesn't answer.
    """
    if "://" in place:
        book = _connect(place)
        try:
            return bool(_schema_of(book))
        finally:
            book.close()
    path = Path(place).expanduser()
    if path.exists():
        return path.is_dir() or not _never_begun(place)
    if traces(path):
        refuse_other_files(place)  # says what lies there
    return False


def new_book(
    place: str, *, schema: str = NEWEST, at: datetime | None = None, fill: Callable[[Session], None] | None = None
) -> Book:
    """Create a book; refuses to touch one that is there.

    What `fill` writes is there with the book's tables, or nothing is: a start cut short leaves no book.
    """
    if "://" not in place:
        if Path(place).expanduser().exists() and not _never_begun(place):
            raise RefusedError(f"{place} exists already.", fix="Choose another name, or open it as it is.")
        _folder_of(place)
        _refuse_anothers_log(Path(place).expanduser())
    book = _connect(place)
    try:
        _refuse_begun(place, begun=bool(_schema_of(book)))
        with plainly(place):
            if not book.on_server:
                _log_ahead(book)
            with book.writing(at=at) as session:
                _refuse_begun(place, begun=sa.inspect(session).has_table("alembic_version"))  # by somebody meanwhile
                run_steps(session, upto=schema)
                if fill is not None:
                    fill(session)
    except BaseException:
        book.close()
        raise
    return book


def _refuse_begun(place: str, *, begun: bool) -> None:
    if begun:
        raise RefusedError(f"{shown(place)} holds a book already.", fix="Open it as it is.")


def _refuse_anothers_log(path: Path) -> None:
    """Refuse to begin a book where the log of a lost one waits: it would be taken into the new one."""
    if not path.exists() and _waiting_log(path):
        raise BookError(
            f"What was entered last into a book that is gone from {path} still lies beside it ({path.name}-wal).",
            fix="Find that book's file and put it back, or choose another name.",
        )


def _never_begun(place: str) -> bool:
    """Say whether a file is a database without a single table: what a start cut short leaves behind."""
    raw = sqlite3.connect(Path(place).expanduser())
    try:
        found: int = raw.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    except sqlite3.DatabaseError:
        return False
    finally:
        raw.close()
    return found == 0


def _refuse_half_a_page(book: Book, session: Session) -> None:
    """Refuse a file that ends within a page: it was cut, though what is left may seem to work."""
    path = Path(book.place).expanduser()
    if not book.on_server and not _waiting_log(path):
        page = session.exec_driver_sql("PRAGMA page_size").scalar_one()
        if path.stat().st_size % page:
            raise BookError(f"The book's file is damaged: its end is missing. ({book.place})", fix=_NO_PAGES)


def _waiting_log(path: Path) -> bool:
    """Say whether pages wait beside the file to be taken into it."""
    log = path.with_name(f"{path.name}-wal")
    return log.exists() and log.stat().st_size > 0


def _log_ahead(book: Book) -> None:
    """Let readers read while one writes; the file remembers it, so that opening one never changes a file."""
    raw = book.engine.raw_connection()
    try:
        raw.cursor().execute("PRAGMA journal_mode=WAL")
    finally:
        raw.close()


def _folder_of(place: str) -> None:
    folder = Path(place).expanduser().parent
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as wrong:
        raise BookError(f"The folder {folder} can't be made: {wrong.strerror}.", fix="Choose another place.") from wrong


def _connect(place: str, *, read_only: bool = False) -> Book:
    url = _only_to_look_at(place) or book_url(place)
    try:
        in_file = url.startswith("sqlite")
        # A server may have been started anew since its connections were made: each is tried before it is used.
        engine = sa.create_engine(url, connect_args={"timeout": PATIENCE} if in_file else {}, pool_pre_ping=not in_file)
    except (sa.exc.ArgumentError, ImportError) as wrong:
        raise BookError(f"'{shown(place)}' can't be opened: {wrong}.", fix="Give a file, or postgresql://…") from wrong
    if engine.dialect.name == "sqlite":
        sa.event.listen(engine, "connect", _prepare_sqlite)
        sa.event.listen(engine, "begin", _begin_sqlite)
        if read_only:
            sa.event.listen(engine, "connect", lambda raw, _record: raw.execute("PRAGMA query_only=ON"))
    return Book(engine=engine, place=place, read_only=read_only)


def _only_to_look_at(place: str) -> str:
    """Give the address of a book in a folder that can't be written: without it, it could not even be read."""
    path = Path(place).expanduser()
    if "://" in place or os.access(path.parent, os.W_OK) or not path.exists() or _waiting_log(path):
        return ""
    return f"sqlite:///{path.resolve().as_uri()}?mode=ro&immutable=1&uri=true"


def _prepare_sqlite(raw: sqlite3.Connection, _record: object) -> None:
    raw.isolation_level = None  # transactions begin where we say, not where the driver guesses
    for pragma in ("foreign_keys=ON", "synchronous=FULL", "recursive_triggers=ON"):
        raw.execute(f"PRAGMA {pragma}")


def _begin_sqlite(session: Session) -> None:
    if session.get_execution_options().get("stockroom_writing", False):
        _wait_fairly(session)
    else:
        session.exec_driver_sql("BEGIN")


def _wait_fairly(session: Session) -> None:
    """Wait to be the writer. The database waits longer the longer one has waited: among many, one may starve."""
    raw = session.connection.driver_connection
    assert isinstance(raw, sqlite3.Connection)  # noqa: S101 -- says to the type checker what the driver gives
    until = time.monotonic() + PATIENCE
    raw.execute("PRAGMA busy_timeout=0")
    try:
        while time.monotonic() < until:
            try:
                raw.execute("BEGIN IMMEDIATE")
            except sqlite3.OperationalError as wrong:
                if "locked" not in str(wrong):
                    break
                time.sleep(random.uniform(0.0005, 0.008))  # noqa: S311 -- only so that two don't keep step
            else:
                return
        session.exec_driver_sql("BEGIN IMMEDIATE")  # fails with the words a person is given
    finally:
        raw.execute(f"PRAGMA busy_timeout={int(PATIENCE * 1000)}")


def _schema_of(book: Book) -> str:
    with plainly(book.place), book.engine.connect() as session:
        if not sa.inspect(session).has_table("alembic_version"):
            return ""
        _refuse_half_a_page(book, session)
        return schema_in(session)


def schema_in(session: Session) -> str:
    """Give the schema of the book that a transaction is in."""
    return session.execute(sa.text("SELECT version_num FROM alembic_version")).scalar() or ""


_NO_PAGES = "Restore the newest backup; keep the damaged file aside."
_PLAIN = (
    ("database is locked", "The book is busy: another program holds it.", "Close the other program, or try again."),
    ("lock timeout", "The book is busy: another program holds it.", "Close the other program, or try again."),
    ("readonly", "The book can't be written: the file or its folder is read-only.", "Check the folder's permissions."),
    ("read-only", "The book can't be written: the server takes no changes.", "Ask whoever runs the server."),
    ("disk is full", "The disk is full; nothing was changed.", "Make room and run the command again."),
    ("no space left", "The server's disk is full; nothing was changed.", "Make room and run the command again."),
    ("disk i/o error", "The disk does not read or write as it should; nothing was changed.",
     "See whether it is full or failing, then: stockroom check"),
    ("malformed", "The book's file is damaged.", _NO_PAGES),
    ("could not decode", "The book's file is damaged.", _NO_PAGES),
    ("no such table", "The book's file is damaged, or not a book.", _NO_PAGES),
    ("no such column", "The book's file is damaged, or not a book.", _NO_PAGES),
    ("not a database", "This file is not a book, or it is damaged.", "Check the path, or restore the newest backup."),
    ("unable to open", "The book can't be opened.", "Check that the folder exists and may be written."),
    ("password authentication", "The database server refuses the name or the password.", "Check the address."),
)  # fmt: skip


@contextmanager
def plainly(place: str) -> Iterator[None]:
    """Say database faults a person can act on in plain words; leave our own mistakes as they are.

    Raises
    ------
    BookError
        In place of the database's own error.
    """
    try:
        yield
    except (sa.exc.DatabaseError, sqlite3.DatabaseError) as wrong:
        said = str(getattr(wrong, "orig", wrong)).casefold()
        for mark, what, fix in _PLAIN:
            if mark in said:
                raise BookError(f"{what} ({shown(place)})", fix=fix) from wrong
        if isinstance(wrong, sa.exc.OperationalError) and "://" in place:
            raise _server_gone(place, said) from wrong
        raise


def _server_gone(place: str, said: str) -> BookError:
    where = shown(place)
    if 'database "' in said and "does not exist" in said:
        return BookError(f"The server has no such database: {where}.", fix="Check the address, or create it there.")
    return BookError(
        f"The database server does not answer: {where}.",
        fix="Start it. If something was being entered, look first whether it is there: stockroom documents",
    )


def shown(place: str) -> str:
    """Name a book without the name and password of its server's account."""
    return place.rsplit("@", maxsplit=1)[-1].partition("?")[0] if "://" in place else place


def default_place() -> str:
    """Give the book named in the environment, or the one in the current folder."""
    return os.environ.get("STOCKROOM_BOOK", "stockroom.sqlite")
