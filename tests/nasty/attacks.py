"""Bad inputs by the thousand, through commands, files and pages: counted by what became of them.

`python -m tests.nasty.attacks [file|server] [commands] [pages] [files]` prints the table; a small share of it is a
test. Each input is drawn from a seed. A refusal in plain words is right, and so is an entry that the book can hold;
wrong is whatever ends in a traceback, and whatever leaves a book that does not check clean or can't be copied.
"""

import random
import re
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory

import sqlalchemy as sa
from click.testing import CliRunner

from stockroom.cli.main import cli
from stockroom.errors import StockroomError
from stockroom.flows.book.check import check
from stockroom.flows.book.opening import new_book
from stockroom.flows.book.safekeeping import copy_book
from stockroom.flows.loading.load import load_files
from stockroom.store import tables
from stockroom.store.book import Book, open_book
from stockroom.web.app import make_app
from stockroom.web.background import Beside
from stockroom.web.server import LOOPBACK, make_site
from tests import build
from tests.nasty import fuzz, small_shop
from tests.postgres import Server

VALUES = (
    "", " ", "0", "-1", "-0", "1e3", "NaN", "inf", "9" * 5000, "9" * 20, "2147483648", "9223372036854775808", "3000000000",
    "10000000000000000", "½", "１２", "٣", "1,000", "1.234", "0.0000000000001", "\0", "a\0b", "\ud800", "'; DROP TABLE move;--",
    "../../etc/passwd", "<script>alert(1)</script>", "{{7*7}}", "%s%n%(x)s", "0001-01-01", "9999-12-31", "1969-12-31",
    "2026-02-30", "2026-02-03T10:00+02:00", "2026-02-03T10:00Z", "2026-13-01", "24.12.0001", "1 piece", "1e999 piece", "-5 dm2",
    "999999999999 piece", "9000000 piece", "1/0", "EU 42", "EU 99999", "Mondo -1", "x" * 3_000, "\n\n", "=1+1", "🥾" * 50, "\u202egnos",
    "POLISH", "TIP", "NORTH", "HEELS", "RESOLE", "1", "2", "12", "yes", "None", "[]", "{}", '{"a":' * 3, "\\N", "-" * 40, "--help",
)  # fmt: skip
_NOW = "2026-02-10T10:00:00"

# Words of a command, one of which is replaced.
COMMANDS: tuple[tuple[str, ...], ...] = (
    ("take-in", "HEELS", "--pairs", "?"), ("take-in", "HEELS", "--price", "?"), ("take-in", "HEELS", "--promised", "?"),
    ("take-in", "HEELS", "--number", "?"), ("take-in", "HEELS", "--at", "?"), ("take-in", "HEELS", "--once", "?"),
    ("take-in", "HEELS", "--customer", "?"), ("take-in", "RESOLE", "--size", "?"), ("take-in", "?"), ("take-in", "HEELS", "--with", "hold=?"),
    ("take-in", "HEELS", "--note", "?"), ("take-in", "HEELS", "--site", "?"), ("take-in", "HEELS", "--who", "?"),
    ("finish", "?"), ("finish", "HEELS", "--price", "?"), ("finish", "HEELS", "--pairs", "?"), ("cancel", "?"), ("guarantee", "?"),
    ("sell", "POLISH", "?", "--anyway"), ("sell", "?", "1"), ("sell", "POLISH", "1", "--price", "?", "--anyway"),
    ("sell", "POLISH", "1", "--at", "?", "--anyway"), ("write-off", "CEMENT", "?", "--anyway"), ("write-off", "CEMENT", "5 ml", "--reason", "?"),
    ("transfer", "TIP", "?", "--to", "kiosk", "--anyway"), ("transfer", "TIP", "1 pair", "--to", "?"), ("offcut", "BEND", "?", "OFFCUT", "1 dm2"),
    ("send-back", "TIP", "?", "--supplier", "NORTH", "--credit", "1"), ("send-back", "TIP", "1 pair", "--supplier", "NORTH", "--credit", "?"),
    ("send-back", "TIP", "1 pair", "--supplier", "?", "--credit", "1"), ("send-back", "TIP", "1 pair", "--supplier", "NORTH", "--credit", "1", "--delivery", "?"),
    ("order", "NORTH", "THREAD=?"), ("order", "?", "THREAD=1"), ("order", "NORTH", "?=1"), ("receive", "?"), ("receive", "O-0001", "THREAD=?"),
    ("receive", "--from", "NORTH", "TIP=?:21.00"), ("receive", "--from", "NORTH", "TIP=5 pairs:?"), ("receive", "--from", "NORTH", "THREAD=? g:2"),
    ("receive", "--from", "NORTH", "TIP=5 pairs:20", "--reference", "?"), ("receive", "--from", "NORTH", "TIP=5 pairs:20", "--carriage", "?"),
    ("receive", "--from", "NORTH", "TIP=5 pairs:20", "--duties", "?"), ("receive", "--from", "NORTH", "TIP=5 pairs:20", "--tax", "?"),
    ("correct-price", "?", "TIP=1"), ("correct-price", "2", "TIP=?"), ("close-order", "?"), ("undo", "?"), ("documents", "--count", "?"),
    ("count", "TIP=?", "--yes"), ("count", "TIP=3 pairs", "--sheet", "?", "--yes"), ("count", "TIP=3 pairs", "--at", "?", "--yes"), ("post-count", "?"),
    ("settings", "name=?"), ("settings", "tax_rate=?"), ("settings", "start=?"), ("settings", "cash_limit=?"), ("settings", "currency=?"),
    ("settings", "locale=?"), ("settings", "order_every_days=?"), ("settings", "?=1"), ("sites", "--add", "?"), ("tax-rates", "?", "20"),
    ("tax-rates", "2027-01-01", "?"), ("tax-rates", "2027-01-01", "20", "--item", "?"), ("account-numbers", "waste and expiry=?"),
    ("close-period", "?"), ("shelf", "--on", "?"), ("shelf", "?"), ("log", "--newest", "?"), ("check", "--figure", "?"), ("forget", "?"),
    ("margins", "?"), ("tickets", "?"), ("usage", "--accept", "?"),
)  # fmt: skip


@dataclass
class Tally:
    """What became of the attempts of a class."""

    name: str
    attempts: int = 0
    accepted: int = 0
    refused: int = 0
    tracebacks: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)  # what the book says after all of them

    def __str__(self) -> str:
        """Give the row of the table, and each kind of traceback."""
        row = (
            f"{self.name:<20} {self.attempts:>7,} attempts: {self.refused:>7,} refused, {self.accepted:>6,} accepted, "
            f"{sum(self.tracebacks.values())} tracebacks, {len(self.wrong)} wrongly accepted"
        )
        return "\n".join([row, *(f"    {n} x {what}" for what, n in self.tracebacks.items()), *map(str, self.wrong)])


def by_commands(place: str, attempts: int, seed: int = 0) -> Tally:
    """Type commands with one word that is bad."""
    tally, chance = Tally("commands"), random.Random(seed)
    env = {"STOCKROOM_BOOK": place, "STOCKROOM_NOW": _NOW}
    for _ in range(attempts):
        words, value = chance.choice(COMMANDS), chance.choice(VALUES)
        done = CliRunner().invoke(cli, [word.replace("?", value) for word in words], env=env)
        fault = done.exception if done.exception and not isinstance(done.exception, SystemExit) else None
        if fault is None and (done.exit_code == 1 or "Traceback" in done.output):
            fault = RuntimeError(done.output.splitlines()[-1] if done.output else "exit code 1")
        _count(tally, fault, refused=done.exit_code != 0, about=f"{' '.join(words)} {value[:30]!r}")
    return _looked_at(tally, place)


def by_pages(place: str, attempts: int, seed: int = 0) -> Tally:
    """Send forms, and ask for pages, with one field that is bad."""
    tally, chance = Tally("pages"), random.Random(seed)
    with closing(open_book(place)) as book:
        app = make_app(make_site(book, LOOPBACK, Beside(threaded=False)))
        app.config["PROPAGATE_EXCEPTIONS"] = False
        client = app.test_client()
        fields, sends = _fields(app.root_path), [*_addresses(app, "POST")]
        asks = [address for address in _addresses(app, "GET") if "/rehearsal" not in address]
        token = re.search(r'name="csrf" value="([^"]+)"', client.get("/").text)
        assert token is not None
        for n in range(attempts):
            bad = {chance.choice(fields): chance.choice(VALUES)}
            if chance.random() < 0.75:
                address = chance.choice(sends)
                sent = HONEST | bad | {"csrf": token[1], "key": f"{seed} {n}"}
                answer = client.post(address, data={k: v.encode("utf-8", "surrogatepass") for k, v in sent.items()})
            else:
                address = chance.choice(asks)
                answer = client.get(
                    address, query_string={k: v.encode("utf-8", "surrogatepass") for k, v in bad.items()}
                )
            answer.close()
            fault = RuntimeError(f"{answer.status_code}") if answer.status_code >= 500 else None
            _count(tally, fault, refused=answer.status_code >= 400, about=f"{address} {str(bad)[:60]}")
    return _looked_at(tally, place)


HONEST = {
    "material": "TIP", "amount": "1 pair", "job": "HEELS", "number": "1001", "supplier": "NORTH", "packs": "2", "code": "N-TIP", "cost": "5",
    "document": "1", "sheet": "W1", "sure": "1", "line": "tips", "weeks": "4", "period": "2026-01",
}  # fmt: skip


def _fields(root: str) -> list[str]:
    """Give the names of all fields of all forms."""
    texts = (path.read_text("utf-8") for path in Path(root, "templates").glob("*.html"))
    found = {name for text in texts for name in re.findall(r'name="([a-z_:]+)"', text)}
    return sorted(found | HONEST.keys() | {"happened", "note", "skip", "q", "days", "place", "to", "then", "as"})


def _addresses(app: object, method: str) -> Iterator[str]:
    rules = app.url_map.iter_rules()  # type: ignore[attr-defined]
    shut = {"/sign-in", "/sign-out", "/settings/passcode", "/start/passcodes", "/start/shortcut"}
    yield from sorted(r.rule for r in rules if method in r.methods and "<" not in r.rule and r.rule not in shut)


def by_files(place: str, attempts: int, seed: int = 0) -> Tally:
    """Load files spoilt by chance."""
    tally, chance = Tally("files"), random.Random(seed)
    honest = fuzz.honest()
    with TemporaryDirectory() as folder, closing(open_book(place)) as book:
        load_files(book, [small_shop.write(Path(folder) / "lists", small_shop.FILES)], build.at("2026-02-10"))
        for n in range(attempts):
            stem = chance.choice(sorted(honest))
            path = Path(folder) / f"{stem}.csv"
            path.write_bytes(fuzz.spoilt_text(honest[stem], chance))
            fault: Exception | None = None
            refused = False
            try:
                load_files(book, [path], build.at("2026-02-10"))
            except StockroomError:
                refused = True
            except Exception as wrong:  # noqa: BLE001 -- whatever it is, it is counted
                fault = wrong
            _count(tally, fault, refused=refused, about=f"{stem} {n}")
            path.unlink()
    return _looked_at(tally, place)


def _count(tally: Tally, fault: BaseException | None, *, refused: bool, about: str) -> None:
    tally.attempts += 1
    if fault is not None:
        tally.tracebacks[
            f"{type(fault).__name__}: {str(fault).splitlines()[0][:150] if str(fault) else ''} ({about})"
        ] += 1
    elif refused:
        tally.refused += 1
    else:
        tally.accepted += 1


def _looked_at(tally: Tally, place: str) -> Tally:
    """Look at what was accepted: the book checks clean, and another database can hold every row of it."""
    with closing(open_book(place)) as book, TemporaryDirectory() as folder:
        tally.wrong += check(book).faults
        tally.wrong += _nul(book)
        try:
            copy_book(book, str(Path(folder) / "copy.sqlite"))
        except Exception as wrong:  # noqa: BLE001 -- whatever it is, it is counted
            tally.wrong.append(f"can't be copied: {wrong}")
    return tally


def _nul(book: Book) -> Iterator[str]:
    with book.reading() as session:
        for table in tables.metadata.sorted_tables:
            for row in session.execute(sa.select(table)):
                if any(isinstance(value, str) and "\0" in value for value in row):
                    yield f"{table.name} holds a NUL"


Way = Callable[[str, int, int], Tally]
WAYS: dict[str, Way] = {"commands": by_commands, "pages": by_pages, "files": by_files}


def begun(place: str, way: Way) -> str:
    """Begin a book, and put the tiny shop into it where its own files don't follow; gives its place."""
    with closing(new_book(place)) as book:
        if way is not by_files:
            build.opened(book)
    return place


def main(where: str, *counts: str) -> None:
    """Print the table."""
    for way, attempts in zip(WAYS.values(), map(int, counts), strict=True):
        if where == "server":
            server = Server.start()
            try:
                place = begun(server.create("attacked"), way)
                print(f"server {way(place, attempts, 1)}", flush=True)
            finally:
                server.stop()
        else:
            with TemporaryDirectory() as folder:
                place = begun(str(Path(folder) / "book.sqlite"), way)
                print(f"file {way(place, attempts, 1)}", flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
