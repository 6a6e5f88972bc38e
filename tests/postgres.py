"""A private PostgreSQL server for tests: its own folder, its own socket, gone afterwards."""

import os
import pwd
import shutil
import subprocess
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import psycopg

OWNER = "stockroom"
# Nothing here outlives the test run, so nothing needs to reach the disk.
_SORTING = ("--locale-provider=icu", "--icu-locale=en-US")  # sorts texts as a shop's server does, not by code point
_FAST = (
    "fsync=off", "synchronous_commit=off", "full_page_writes=off", "max_connections=60", "shared_buffers=64MB",
    "max_wal_size=128MB",
)  # fmt: skip
_MEMORY, _ROOM = Path("/dev/shm"), 2**30  # noqa: S108 -- the folder made there is the server's own


class ServerMissingError(Exception):
    """PostgreSQL's server programs are not on this machine."""


@dataclass
class Server:
    """A running server that listens on a socket in its own folder only."""

    programs: Path
    folder: Path
    user: str | None  # the account it runs as; None: ours
    made: int = field(default=0)

    @classmethod
    def start(cls) -> "Server":
        """Make a cluster and start it."""
        folder = Path(tempfile.mkdtemp(prefix="stockroom-pg-", dir=_roomy()))
        server = cls(programs=_programs(), folder=folder, user=_account())
        if server.user:
            shutil.chown(folder, server.user)
        server._run(
            "initdb",
            "--no-sync",
            "--auth=trust",
            "-U",
            OWNER,
            "--encoding=UTF8",
            "--locale=C",
            *_SORTING,
            "-D",
            server._cluster,
        )
        options = " ".join(f"-c {setting}" for setting in _FAST)
        server._run(
            "pg_ctl", "start", "-w", "-s", "-D", server._cluster, "-l", str(folder / "log"),
            "-o", f"-c listen_addresses='' -k {folder} {options}",
        )  # fmt: skip
        return server

    def stop(self) -> None:
        """Stop the server and remove all it kept."""
        self._run("pg_ctl", "stop", "-m", "immediate", "-s", "-D", self._cluster)
        shutil.rmtree(self.folder, ignore_errors=True)

    def create(self, name: str, template: str = "template1") -> str:
        """Make a database; gives its address."""
        with self._admin() as session:
            # Files in memory are quicker copied than written through the log; older servers know no other way.
            swift = self.folder.is_relative_to(_MEMORY) and session.info.server_version >= 150000
            how = "STRATEGY FILE_COPY" if swift else ""
            session.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}" {how}')
        return self.place(name)

    def copy(self, place: str) -> str:
        """Copy a database nobody is in, under a new name; takes and gives an address."""
        self.made += 1
        return self.create(f"book_{self.made}", _name(place))

    def drop(self, place: str) -> None:
        """Drop a database by its address."""
        with self._admin() as session:
            session.execute(f'DROP DATABASE "{_name(place)}" WITH (FORCE)')

    def rename(self, place: str, name: str) -> str:
        """Take a database away from its address, whoever is connected; gives its new address."""
        old = place.partition("@/")[2].partition("?")[0]
        with self._admin() as session:
            session.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s", [old])
            session.execute(f'ALTER DATABASE "{old}" RENAME TO "{name}"')
        return self.place(name)

    def place(self, name: str) -> str:
        """Give a database's address."""
        return f"postgresql://{OWNER}@/{name}?host={self.folder}"

    @property
    def _cluster(self) -> str:
        return str(self.folder / "cluster")

    def _admin(self) -> "psycopg.Connection[tuple[object, ...]]":
        return psycopg.connect(f"host={self.folder} user={OWNER} dbname=postgres", autocommit=True)

    def _run(self, program: str, *arguments: str) -> None:
        done = subprocess.run(
            [str(self.programs / program), *arguments],
            user=self.user, cwd=self.folder, check=False, stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE if program == "initdb" else subprocess.DEVNULL, text=True,
        )  # fmt: skip
        if done.returncode:
            raise RuntimeError(f"{program} failed: {done.stderr or (self.folder / 'log').read_text()}")


def _roomy() -> Path:
    """Give a folder to work in: in memory where there is room. A socket's path must be short."""
    found = _MEMORY.is_dir() and os.access(_MEMORY, os.W_OK) and shutil.disk_usage(_MEMORY).free >= _ROOM
    return _MEMORY if found else Path("/tmp")  # noqa: S108 -- as above


def _name(place: str) -> str:
    return place.partition("@/")[2].partition("?")[0]


def _programs() -> Path:
    found = shutil.which("initdb")
    places = [Path(found).resolve().parent] if found else []
    places += sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: -float(p.parent.name))
    for place in places:
        if (place / "initdb").exists() and (place / "postgres").exists():
            return place
    raise ServerMissingError("PostgreSQL's server is not installed (Debian: apt-get install postgresql).")


def _account() -> str | None:
    """Give the account to run as: the server refuses to run as root."""
    if os.geteuid() != 0:
        return None
    known = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in known else "nobody"
