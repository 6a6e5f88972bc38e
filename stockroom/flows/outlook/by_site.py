"""The outlook of every site of a chain, worked out side by side: each by a worker that opens the book for itself."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from importlib import import_module
from typing import Any, Protocol

from stockroom.errors import BookError
from stockroom.flows.outlook.futures import N_PATHS
from stockroom.flows.outlook.run_outs import look_ahead, run_out_rows
from stockroom.stock.lists import RunOutRow
from stockroom.store.book import open_book

_PATIENCE = 10  # seconds until a cluster is given up
Progress = Callable[[str, int, int | None], None]  # what is being done, how far, of how much


class Workers(Protocol):
    """Whoever does the work: in this process, in several, or on several machines."""

    def map(self, work: "Callable[[SiteTask], SiteOutlook]", asked: "Sequence[SiteTask]") -> "Iterable[SiteOutlook]":
        """Do each piece; the answers come in the order of what was asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteTask:
    """One site to look ahead for."""

    place: str
    site: str
    moment: datetime
    weeks: int | None = None
    n_paths: int = N_PATHS


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteOutlook:
    """A site's run-outs, the soonest first."""

    site: str
    rows: tuple[RunOutRow, ...]


def look_ahead_at(asked: SiteTask) -> SiteOutlook:
    """Work out one site's outlook in a worker of its own."""
    with closing(open_book(asked.place)) as book:
        seen = look_ahead(book, asked.moment, weeks=asked.weeks, site=asked.site, n_paths=asked.n_paths)
        return SiteOutlook(site=asked.site, rows=tuple(run_out_rows(seen)))


def look_ahead_everywhere(
    asked: Sequence[SiteTask], workers: Workers, *, progress: Progress | None = None
) -> list[SiteOutlook]:
    """Work out many sites' outlooks; the same whoever does the work."""
    found: list[SiteOutlook] = []
    for each in workers.map(look_ahead_at, asked):
        found.append(each)
        if progress:
            progress("sites", len(found), len(asked))
    return found


class InTurn:
    """One after the other, in this process."""

    def map(self, work: Callable[[SiteTask], SiteOutlook], asked: Sequence[SiteTask]) -> Iterator[SiteOutlook]:
        """Do each piece."""
        return map(work, asked)


@contextmanager
def processes(count: int) -> Iterator[Workers]:
    """Give workers that are processes of this machine.

    Raises
    ------
    BookError
        If a worker is stopped before its site is done.
    """
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415 -- only where many sites are asked about
    from concurrent.futures.process import BrokenProcessPool  # noqa: PLC0415 -- as above
    from multiprocessing import get_context  # noqa: PLC0415 -- as above

    # Started afresh: a copy of this process would share its open database connections and threads.
    try:
        with ProcessPoolExecutor(max_workers=count, mp_context=get_context("spawn")) as pool:
            yield pool
    except BrokenProcessPool as wrong:
        raise BookError(
            "A worker was stopped before its site was done.", fix="Try again with fewer: --workers 1"
        ) from wrong


class OnCluster:
    """The workers of a cluster, through a client that has `map` and `gather` (such as `distributed.Client`)."""

    def __init__(self, client: Any) -> None:  # noqa: ANN401 -- an optional library's class
        self.client = client

    def map(self, work: Callable[[SiteTask], SiteOutlook], asked: Sequence[SiteTask]) -> list[SiteOutlook]:
        """Do each piece; a worker on another machine reaches the book only on a server."""
        answers: list[SiteOutlook] = self.client.gather(self.client.map(work, asked))
        return answers


@contextmanager
def cluster(address: str = "", *, count: int = 2) -> Iterator[Workers]:
    """Give the workers of a Dask cluster at an address, or of one on this machine; an optional extra.

    Raises
    ------
    BookError
        If the library is not installed.
    """
    try:
        dask = import_module("distributed")  # an optional extra
    except ImportError as missing:
        raise BookError("Work on a cluster needs another library.", fix="pip install distributed") from missing
    if address:
        with _joined(dask, address) as client:
            yield OnCluster(client)
        return
    local = dask.LocalCluster(n_workers=count, threads_per_worker=1, dashboard_address="127.0.0.1:0")
    with local, dask.Client(local) as client:
        yield OnCluster(client)


def _joined(dask: Any, address: str) -> Any:  # noqa: ANN401 -- an optional library's classes
    try:
        return dask.Client(address, timeout=_PATIENCE)
    except (OSError, ValueError) as wrong:  # nobody there, or no address
        raise BookError(
            f"No cluster answers at {address}.", fix="Check the address, or leave --cluster out."
        ) from wrong
