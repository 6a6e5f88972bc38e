"""Two shops driven through the real command line: the invented one of the demo, and a small one with round figures.

A `Bench` types a command in a process of its own; an `Indoors` types it in this process, which is quicker and
enough where only words and exit codes matter.
"""

import csv
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import psycopg
import pytest
from click.testing import CliRunner
from psycopg import sql

from stockroom.cli.main import cli

DATA = Path(__file__).parents[2] / "data"
EVENING = "2026-11-21T18:30:00"  # when both shops' documents end: a Saturday
MORNING = "2026-11-24T10:00:00"  # the next day they open
WEEKS = 40  # of history in the small shop
FIRST = date(2026, 2, 17)  # its first day: a Tuesday

Rows = list[dict[str, str]]
in_file = pytest.mark.parametrize("kind", ["sqlite"])  # for what is about a book's file, not about any book


@dataclass(frozen=True)
class Ran:
    """What a command did."""

    code: int
    out: str
    err: str

    @property
    def facts(self) -> Any:
        """Its JSON."""
        return json.loads(self.out)


@dataclass(frozen=True)
class Desk:
    """A book, and a clock that stands still."""

    place: Path | str  # a file, or a database's address
    now: str = MORNING

    def __call__(self, *words: str, now: str = "") -> Ran:
        """Type a command."""
        raise NotImplementedError

    @property
    def on_server(self) -> bool:
        """Whether the book is kept by a database server."""
        return "://" in str(self.place)

    @property
    def book(self) -> Path:
        """The book's file, where it is in one."""
        assert not self.on_server
        return Path(self.place)

    def facts(self, *words: str, now: str = "") -> Any:
        """Type a command that must work, and read its JSON."""
        ran = self(*words, "--json", now=now)
        assert ran.code == 0, ran.err
        return ran.facts

    def says(self, *words: str, now: str = "") -> str:
        """Type a command that must work, and read its words."""
        ran = self(*words, now=now)
        assert ran.code == 0, ran.err
        return ran.out

    def shelf(self, code: str, now: str = "") -> dict[str, Any]:
        """Read one material's row of the shelf."""
        found: dict[str, Any] = next(row for row in self.facts("shelf", now=now)["rows"] if row["material"] == code)
        return found

    def figure(self) -> str:
        """Read the check figure of the whole book, which must agree with itself."""
        found = self.facts("check")
        assert found["faults"] == []
        return str(found["figure"])

    def content(self) -> object:
        """Read all that is in the book, to see that nothing changed; what a server's book says of refusals aside."""
        return rows(str(self.place)) if self.on_server else self.book.read_bytes()

    def surroundings(self, now: str) -> dict[str, str]:
        """Give the variables a command reads."""
        return {"STOCKROOM_BOOK": str(self.place), "STOCKROOM_NOW": now or self.now, "COLUMNS": "100"}


@dataclass(frozen=True)
class Bench(Desk):
    """Each command in a process of its own, warnings being errors."""

    def __call__(self, *words: str, now: str = "") -> Ran:
        """Type a command."""
        return typed(*words, env=self.surroundings(now))


@dataclass(frozen=True)
class Indoors(Desk):
    """Each command in this process."""

    def __call__(self, *words: str, now: str = "") -> Ran:
        """Type a command."""
        done = CliRunner().invoke(cli, list(words), env=self.surroundings(now))
        if done.exception is not None and not isinstance(done.exception, SystemExit):
            raise done.exception
        return Ran(done.exit_code, done.stdout, done.stderr)


def typed(*words: str, env: dict[str, str] | None = None, folder: Path | None = None) -> Ran:
    """Type a command in a process of its own."""
    command = [sys.executable, "-W", "error", "-m", "stockroom", *words]
    around = {name: value for name, value in os.environ.items() if not name.startswith("STOCKROOM_")} | (env or {})
    done = subprocess.run(command, capture_output=True, text=True, env=around, cwd=folder, timeout=180, check=False)
    return Ran(done.returncode, done.stdout, done.stderr)


def rows(place: str) -> dict[str, list[str]]:
    """Read every row of a database but its journal's, by table."""
    with psycopg.connect(place) as session:
        tables = session.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public' AND tablename <> 'deed'")
        each = {name: sql.SQL("SELECT * FROM {}").format(sql.Identifier(name)) for (name,) in tables.fetchall()}
        return {name: sorted(map(str, session.execute(asked))) for name, asked in each.items()}


def small_shop(folder: Path, *, history: bool = True) -> Path:
    """Write the small shop's files: a full sole and a heel, their materials, and forty even weeks of work.

    Each open day one pair of full soles (EU 42, from the bend) and one pair of heels (on a pin) are finished.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for stem, rows in (_catalogue() | (_past() if history else {})).items():
        _write(folder / f"{stem}.csv", rows)
    return folder


def days() -> list[date]:
    """Give the small shop's working days: Tuesday to Saturday."""
    every = (FIRST + timedelta(days=n) for n in range(WEEKS * 7))
    return [day for day in every if day.weekday() in range(1, 6)]


def _catalogue() -> dict[str, Rows]:
    settings = {"name": "The small shop", "currency": "EUR", "locale": "en_IE", "start": FIRST.isoformat()}
    return {
        "shop": [{"setting": name, "value": value} for name, value in settings.items()],
        "materials": _rows(
            "code,name,family,unit,purpose,sell price,flammable,hazards,place,usual cost",
            "BEND,Sole bend,soling sheet,dm2,bench,,,,Rack,0.90",
            "SOLE-RUB,Rubber long soles,pre-cut soles,pair,bench,,,,A1,6.50",
            "THREAD-BLK,Black thread,thread,m,bench,,,,A2,0.05",
            "CEMENT,Contact cement,cement,ml,bench,,yes,H225,B1,0.02",
            "TOP-BLOCK,Block top pieces,top pieces,pair,bench,,,,A3,1.10",
            "TOP-PIN,Pin top pieces,top pieces,pair,bench,,,,A3,0.90",
            "ZIP-25,Boot zip 25 cm,fixings,piece,both,9.00,,,A4,4.10",
            "POLISH-BLK,Black polish,care,piece,counter,7.50,,,Till,3.00",
            "LACE-90-BLK,Black laces 90 cm,laces,pair,both,4.50,,,Till,1.20",
        ),
        "suppliers": _rows(
            "code,name,lead days,carriage,carriage free over,minimum order,order weekdays,cut-off",
            "QUIL,Quillon Trimmings (invented),3,6.50,150.00,20.00,Mon Tue Wed Thu Fri,15:00",
            "HIDE,Hide and Heel (invented),7,9.00,,0,,",
        ),
        "offers": _rows(
            "supplier,material,supplier code,pack,unit,pack name,price,minimum packs,valid from",
            "QUIL,THREAD-BLK,Q-TB,300,m,spool,15.00,1,2026-01-01",
            "QUIL,ZIP-25,Q-Z25,5,piece,bag,21.00,1,2026-01-01",
            "QUIL,LACE-90-BLK,Q-L90,12,pair,bundle,14.40,1,2026-01-01",
            "QUIL,POLISH-BLK,Q-PB,6,piece,carton,18.00,1,2026-01-01",
            "HIDE,BEND,H-B,110,dm2,bend,99.00,1,2026-01-01",
            "HIDE,CEMENT,H-C,1000,ml,tin,19.00,1,2026-01-01",
            "HIDE,TOP-PIN,H-TP,20,pair,bag,18.00,1,2026-01-01",
            "HIDE,TOP-BLOCK,H-TB,10,pair,bag,11.00,1,2026-01-01",
            "HIDE,SOLE-RUB,H-SR,10,pair,box,65.00,1,2026-01-01",
        ),
        "jobs": _rows(
            "code,name,family,price,bench minutes,sized",
            "FULL,Full soles,soles,85.00,55,yes",
            "HEEL-L,Ladies heel tops,heels,11.50,8,",
        ),
        "recipes": _rows(
            "job,valid from,reference size,line,choice,option,material,amount,unit,per,sizing,waste %,coats",
            "FULL,2026-01-01,EU 42,bend sole,sole,bend,BEND,5.4,dm2,pair,area,25,",
            "FULL,2026-01-01,EU 42,rubber sole,sole,rubber,SOLE-RUB,1,pair,pair,fixed,,",
            "FULL,2026-01-01,EU 42,stitching,,,THREAD-BLK,4.2,m,pair,length,,",
            "FULL,2026-01-01,EU 42,sole cement,,,CEMENT,9,ml,pair,fixed,,2",
            "HEEL-L,2026-01-01,,pin top,top,pin,TOP-PIN,1,pair,pair,fixed,,",
            "HEEL-L,2026-01-01,,block top,top,block,TOP-BLOCK,1,pair,pair,fixed,,",
            "HEEL-L,2026-01-01,,heel cement,,,CEMENT,2.5,ml,pair,fixed,,",
        ),
        "opening": [{"material": code, "amount": amount, "day": FIRST.isoformat()} for code, amount in OPENING.items()],
    }


# Forty weeks of five days use 200 x 6.75 dm2 of bend, 200 x 4.2 m of thread, 200 x 20.5 ml of cement, 200 pins.
OPENING = {
    "BEND": "1400", "SOLE-RUB": "12", "THREAD-BLK": "900", "CEMENT": "4350", "TOP-BLOCK": "8", "TOP-PIN": "215",
    "ZIP-25": "5", "POLISH-BLK": "8", "LACE-90-BLK": "16",
}  # fmt: skip

LEFT = {"BEND": "50", "THREAD-BLK": "60", "CEMENT": "250", "TOP-PIN": "15"}  # counted on the last evening, to the last


def _past() -> dict[str, Rows]:
    made = []
    for n, day in enumerate(days()):
        made += [_job(2000 + 2 * n, day, "FULL", "EU 42", "sole=bend"), _job(2001 + 2 * n, day, "HEEL-L", "", "")]
    counted = [
        {"counted at": f"{days()[-1]} 18:00", "material": m, "amount": n, "sheet": "W40"} for m, n in LEFT.items()
    ]
    return {"past-jobs": made, "counts": counted}


def _job(number: int, day: date, job: str, size: str, choices: str) -> dict[str, str]:
    facts = {"ticket": str(number), "taken in": f"{day} 09:30", "finished": f"{day} 16:00", "job": job}
    return facts | {"size": size, "choices": choices}


def _rows(head: str, *lines: str) -> Rows:
    return list(csv.DictReader([head, *lines]))


def _write(path: Path, rows: Rows) -> None:
    with path.open("w", encoding="utf-8", newline="") as opened:
        writer = csv.DictWriter(opened, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
