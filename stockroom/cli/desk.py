"""What commands share: the open book, the clock, the shop's way of writing, and output for people or programs."""

import json
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import wraps
from typing import Any
from uuid import uuid4

import click
from click.core import ParameterSource

from stockroom.errors import UsageError
from stockroom.flows.book.opening import Book, open_book, settings
from stockroom.show.formats import Formats, formats_of
from stockroom.stock.money import major, minor
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import NANO, Unit, plain
from stockroom.stock.shop import Shop
from stockroom.stock.typed import amount as amount  # noqa: PLC0414 -- offered on
from stockroom.stock.typed import iso
from stockroom.stock.typed import number as number  # noqa: PLC0414 -- as above

TOLD = "stockroom.told"  # where the activity log finds the numbers a command answered with
LOOKED = "stockroom.looked"  # set by a command that could have changed the book and only showed something
_DAY = len("2026-03-31")


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter:
    """An open book with the shop's settings."""

    book: Book
    shop: Shop
    formats: Formats


@contextmanager
def open_counter(place: str) -> Iterator[Counter]:
    """Open the book for one command."""
    book = open_book(place)
    try:
        shop = settings(book)
        yield Counter(book=book, shop=shop, formats=formats_of(shop))
    finally:
        book.close()


def now() -> datetime:
    """Read the clock: only doors do. STOCKROOM_NOW stands in for it when a program drives the shop."""
    said = os.environ.get("STOCKROOM_NOW")
    return moment(said) if said else datetime.now().replace(microsecond=0)


def moment(text: str) -> datetime:
    """Read a day or a moment, ISO or with dots; a day alone means its noon, between morning and evening documents.

    Raises
    ------
    UsageError
        If the text is neither.
    """
    said = iso(text)
    try:
        read = datetime.fromisoformat(said)
    except ValueError as wrong:
        raise UsageError(f"'{text}' is not a day or a moment.", fix="Write 2026-03-31 or 2026-03-31T14:30.") from wrong
    return read.replace(hour=12, tzinfo=None) if len(said) <= _DAY else read.replace(tzinfo=None)


def day(text: str) -> date:
    """Read a day, ISO or with dots."""
    return moment(text).date()


def money(text: str, shop: Shop) -> int:
    """Read money in major units into minor units."""
    return minor(number(text), shop.currency_digits)


def price(minor_units: int, shop: Shop) -> str:
    """Write money for a program: an exact decimal in major units."""
    return str(major(minor_units, shop.currency_digits))


def choices(pairs: tuple[str, ...]) -> dict[str, str]:
    """Read choices such as 'sole=bend'.

    Raises
    ------
    UsageError
        If one has no equals sign between name and choice.
    """
    found = {}
    for pair in pairs:
        name, equals, option = pair.partition("=")
        if not equals:
            raise UsageError(f"'{pair}' is not a choice.", fix="Write it like sole=bend.")
        found[name.strip()] = option.strip()
    return found


def tell(facts: object, words: str, *, as_json: bool) -> None:
    """Answer a program with JSON, a person with words."""
    asked = click.get_current_context(silent=True)
    if asked is not None and isinstance(facts, dict):
        asked.find_root().meta[TOLD] = facts
    click.echo(json.dumps(facts, ensure_ascii=False, indent=2, default=str) if as_json else words)


def looked() -> None:
    """Say that the command under way only looks this time: it is not noted in the activity log."""
    asked = click.get_current_context(silent=True)
    if asked is not None:
        asked.find_root().meta[LOOKED] = True


@contextmanager
def progress(*, quiet: bool = False) -> Iterator[Callable[[str, int, int | None], None]]:
    """Show how far long work has come, on a terminal only."""
    shown = sys.stderr.isatty() and not quiet

    def told(what: str, done: int, of: int | None) -> None:
        if shown:
            click.echo(f"\r\033[K{what}: {done:,}" + (f" of {of:,}" if of else ""), err=True, nl=False)

    yield told
    if shown:
        click.echo("\r\033[K", err=True, nl=False)


def width() -> int:
    """Give the width to write in: the terminal's, within reason; 100 when nobody looks."""
    import shutil

    return max(60, min(shutil.get_terminal_size((100, 24)).columns, 160))


def exactly(nano: int, of: Unit) -> dict[str, str]:
    """Write an amount for a program: exact decimal and unit."""
    return {"amount": plain(Decimal(nano) / NANO * NANO / of.nano), "unit": of.name}


class Renamed(click.Option):
    """An option that older scripts know by other names: those work, and are not listed."""

    def __init__(self, *args: Any, was: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.was = was

    def add_to_parser(self, parser: Any, ctx: click.Context) -> None:
        """Have the older names read as well."""
        shown = self.opts
        self.opts = [*shown, *self.was]
        super().add_to_parser(parser, ctx)
        self.opts = shown


def renamed(*names: str, was: str, **kwargs: Any) -> Callable[..., Any]:
    """Make an option that was called otherwise before."""
    return click.option(*names, cls=Renamed, was=(was,), **kwargs)


_entry_options = (
    click.option("--at", metavar="WHEN", help="When it happened: 2026-03-31 or 2026-03-31T14:30 [now]."),
    renamed("--once", "key", was="--key", metavar="KEY", help="The same KEY twice changes nothing."),
    click.option("--site", default="main", show_default=True, help="Where."),
    click.option("--who", default="", help="Who did it."),
    click.option("--note", default="", help="A note to keep with it."),
)
_SURE = "anyway"
anyway_option = click.option("--anyway", _SURE, is_flag=True, help="Enter it though it looks like a slip.")
json_option = click.option("--json", "as_json", is_flag=True, help="Answer in JSON, for programs.")


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedEntry:
    """What was typed about an entry, whatever it is."""

    at: str | None
    key: str | None
    site: str
    who: str
    note: str
    as_json: bool
    sure: bool = False

    @property
    def stamp(self) -> Stamp:
        """The stamp its document carries.

        Raises
        ------
        UsageError
            If its moment is still to come.
        """
        entered = now()
        happened = moment(self.at) if self.at else entered
        if happened > entered and happened.date() == entered.date() and len(iso(self.at or "")) <= _DAY:
            happened = entered  # today, in the morning: noon is still to come
        if happened > entered:
            raise UsageError(f"{self.at} is still to come.", fix="Give the day it happened, today at the latest.")
        mark = self.key or uuid4().hex
        said = {"who": self.who, "note": self.note, "site": self.site, "stated": iso(self.at or "")}
        return Stamp(key=mark, happened=happened, entered=entered, sure=self.sure, **said)

    def tell(self, facts: object, words: str) -> None:
        """Answer whoever asked."""
        tell(facts, words, as_json=self.as_json)


def entry(command: Callable[..., None]) -> Callable[..., None]:
    """Make a function a command that enters something: it gets the counter, the entry, and its own options."""

    @wraps(command)
    def run(place: str, /, **typed: Any) -> None:
        sure = typed.pop(_SURE, False)
        mine = {name: typed.pop(name) for name in ("at", "key", "site", "who", "note", "as_json")}
        with open_counter(place) as counter:
            _mind_the_clock(counter)
            the_site(counter, mine["site"])
            command(counter, TypedEntry(**mine, sure=sure), **typed)

    return _opted(click.pass_obj(run), (*_entry_options, json_option))


def was_typed(option: str) -> bool:
    """Say whether an option was given, rather than left at its default."""
    return click.get_current_context().get_parameter_source(option) is ParameterSource.COMMANDLINE


def the_site(counter: Counter, typed: str) -> str:
    """Give a site that was named; one that isn't there is refused."""
    from stockroom.flows.book.sites import check_site

    return check_site(counter.book, typed)


def _mind_the_clock(counter: Counter) -> None:
    """Say when the clock can't be right; the entry stands all the same, and can be taken back."""
    from stockroom.flows.book.opening import set_back

    reads = now()
    last = set_back(counter.book, reads)
    if last is not None:
        write = counter.formats.moment
        click.echo(
            f"Is the clock right? It reads {write(reads)}, but a document was entered on {write(last)}.", err=True
        )


def view(command: Callable[..., None]) -> Callable[..., None]:
    """Make a function a command that only looks: it gets the counter and its own options."""

    @wraps(command)
    def run(place: str, /, **typed: Any) -> None:
        with open_counter(place) as counter:
            command(counter, **typed)

    return _opted(click.pass_obj(run), (json_option,))


def opted(*options: Callable[..., Any]) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command a family of options, in their order."""
    return lambda command: _opted(command, options)


def _opted(command: Callable[..., None], options: Sequence[Callable[..., Any]]) -> Callable[..., None]:
    for option in reversed(options):
        command = option(command)
    return command
