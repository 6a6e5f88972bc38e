"""Open and start a book: its settings, the sites stock is kept at, its passcodes, and how it stands."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from hashlib import sha256
from secrets import token_hex

from stockroom.errors import UnknownError, UsageError, check_text, nearest
from stockroom.phrases import phrase
from stockroom.show.locale_facts import facts_of
from stockroom.stock.moves import SITE
from stockroom.stock.shop import Shop, with_settings
from stockroom.store import book as books
from stockroom.store import catalogue, identity, ledger, list_changes
from stockroom.store.book import Book, Session, begun, default_place, open_book, shown
from stockroom.store.result_cache import state_mark

__all__ = [
    "Book",
    "BookState",
    "Session",
    "Shop",
    "add_site",
    "begun",
    "change_settings",
    "changed",
    "check_site",
    "default_place",
    "end_session",
    "has_ended",
    "keep_passcode",
    "keep_session_key",
    "kept_passcodes",
    "known_sites",
    "new_book",
    "open_book",
    "open_site",
    "session_key",
    "set_back",
    "settings",
    "shown",
    "sites",
    "state",
]


def new_book(
    place: str,
    shop: Shop | None = None,
    *,
    at: datetime | None = None,
    fill: Callable[[Session], None] | None = None,
) -> Book:
    """Start a book with the shop's settings, and what else is filled in: all in one step, or there is no book."""

    def filled(session: Session) -> None:
        identity.mark(session)
        catalogue.save_shop(session, shop or Shop())
        if fill is not None:
            fill(session)

    return books.new_book(place, at=at, fill=filled)


def settings(book: Book) -> Shop:
    """Read the shop's settings."""
    with book.reading() as session:
        return catalogue.read_shop(session)


def change_settings(book: Book, changes: Mapping[str, str], *, at: datetime | None = None, who: str = "") -> Shop:
    """Change settings by name, all or none."""
    with book.writing(at=at, who=who) as session:
        shop = changed(catalogue.read_shop(session), changes)
        catalogue.save_shop(session, shop)
    return shop


def changed(shop: Shop, changes: Mapping[str, str]) -> Shop:
    """Change settings by name; refused are a locale or currency no figure can be written in, models unknown."""
    shop = with_settings(shop, changes)
    if shop.forecast_models and "forecast_models" in changes:
        _check_models(shop.forecast_models)
    if "locale" in changes:
        facts_of(shop.locale)
    if "currency" in changes and not _is_currency(shop.currency):
        raise UsageError(
            phrase("'%(currency)s' is not a currency.", currency=shop.currency),
            fix="Use its three letters, such as EUR.",
        )
    return shop


def _check_models(names: str) -> None:
    from stockroom.demand.models import named_models  # noqa: PLC0415 -- only where models are chosen

    named_models(names)


def _is_currency(code: str) -> bool:
    from babel.numbers import is_currency  # noqa: PLC0415 -- only where a currency is chosen

    return bool(is_currency(code))


_SLACK = timedelta(minutes=5)  # between the clocks of two machines


def set_back(book: Book, now: datetime) -> datetime | None:
    """Give when the last document was entered, if that is still to come by this clock."""
    with book.reading() as session:
        last = ledger.last_entered(session)
    return last if last and last > now + _SLACK else None


_NOTE = "site:"
_LONGEST = 40


def sites(book: Book) -> list[str]:
    """List the sites: the first one, those added, and those of which documents speak."""
    with book.reading() as session:
        return known_sites(session)


def known_sites(session: Session) -> list[str]:
    """List the sites within a transaction under way; the first one leads."""
    from stockroom.store.usage import sites_with_moves  # noqa: PLC0415 -- most commands list no sites

    added = {name.removeprefix(_NOTE) for name in catalogue.read_notes(session, _NOTE)}
    return [SITE, *sorted((added | sites_with_moves(session)) - {SITE})]


def check_site(book: Book, name: str) -> str:
    """Give a site's name back if there is one; refuses one that isn't there."""
    if name == SITE:
        return name
    known = sites(book)
    if name not in known:
        hint = nearest(name, known) or phrase("There is: %(known)s.", known=", ".join(known))
        raise UnknownError(
            phrase("There is no site '%(name)s'.", name=name),
            fix=phrase("%(hint)s To open it: stockroom sites --add '%(name)s'", hint=hint, name=name),
        )
    return name


def add_site(book: Book, name: str, *, at: datetime | None = None) -> list[str]:
    """Open a site; gives all of them."""
    open_site(book, name, at=at)
    return sites(book)


def open_site(book: Book, name: str, *, at: datetime | None = None, who: str = "") -> int | None:
    """Open a site; gives the document that says so.

    Raises
    ------
    UsageError
        If it can't be a name, or one too much like it is there.
    """
    with book.writing(at=at, who=who) as session:
        _may_open(session, name)
        catalogue.save_note(session, f"{_NOTE}{name}", "open")
        return list_changes.say_now(session)


def check_new_site(book: Book, name: str) -> None:
    """Refuse a name that no site can be opened under.

    Raises
    ------
    UsageError
        If it can't be a name, or one too much like it is there.
    """
    with book.reading() as session:
        _may_open(session, name)


def _may_open(session: Session, name: str) -> None:
    check_text(name)
    if not name.strip() or name != name.strip() or len(name) > _LONGEST or not name.isprintable():
        raise UsageError(
            phrase("'%(name)s' can't be a site's name.", name=name),
            fix=phrase("Use at most %(most)s letters and signs.", most=_LONGEST),
        )
    alike = [known for known in known_sites(session) if known.casefold() == name.casefold() and known != name]
    if alike:
        raise UsageError(
            phrase("There is a site '%(site)s' already.", site=alike[0]),
            fix="Use that name, or one that differs more.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class BookState:
    """The book at a moment: equal states give equal results."""

    documents: int  # number of the last document
    mark: str
    day: date


def state(book: Book, now: datetime) -> BookState:
    """Read how the book stands."""
    with book.reading() as session:
        documents, mark = state_mark(session)
    return BookState(documents=documents, mark=mark, day=now.date())


_PASSCODE = "passcode:"
_KEY = "session key"
_ENDED = "signed out:"
STAY = timedelta(days=14)  # how long a session lasts


def kept_passcodes(book: Book) -> dict[str, str]:
    """Give the kept hash of each role that has a passcode."""
    with book.reading() as session:
        notes = catalogue.read_notes(session, _PASSCODE)
    return {name.removeprefix(_PASSCODE): kept for name, kept in notes.items() if kept}


def keep_passcode(book: Book, role: str, kept: str) -> None:
    """Keep a role's hashed passcode; an empty one closes the role."""
    with book.writing() as session:
        catalogue.save_note(session, f"{_PASSCODE}{role}", kept)


def renew_passcodes(session: Session, kept: Mapping[str, str]) -> None:
    """Let the kept passcodes of some roles be all there are."""
    for name in catalogue.read_notes(session, _PASSCODE):
        catalogue.drop_note(session, name)
    for role, hashed in kept.items():
        catalogue.save_note(session, f"{_PASSCODE}{role}", hashed)


def end_session(book: Book, number: str, now: datetime) -> None:
    """Remember that a session was signed out of, as long as its cookie could be shown again."""
    with book.writing() as session:
        for name, ended in catalogue.read_notes(session, _ENDED).items():
            if datetime.fromisoformat(ended) < now - STAY:
                catalogue.drop_note(session, name)
        catalogue.save_note(session, f"{_ENDED}{_of(number)}", now.isoformat(timespec="seconds"))


def has_ended(book: Book, number: str) -> bool:
    """Say whether a session was signed out of."""
    with book.reading() as session:
        return bool(catalogue.read_note(session, f"{_ENDED}{_of(number)}"))


def _of(number: str) -> str:
    return sha256(number.encode()).hexdigest()[:32]  # who reads the book learns no session's number


def session_key(book: Book) -> str:
    """Give the key that signs sessions; made when first asked for."""
    with book.writing() as session:
        key = catalogue.read_note(session, _KEY)
        return key or keep_session_key(session, token_hex(32))


def keep_session_key(session: Session, key: str) -> str:
    """Keep the key that signs sessions, so that those opened before the book was begun go on; gives it back."""
    catalogue.save_note(session, _KEY, key)
    return key
