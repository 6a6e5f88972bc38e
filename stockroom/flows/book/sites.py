"""The places stock is kept: named once, so that a slip of the pen opens no second shop."""

from datetime import datetime

from stockroom.errors import UnknownError, UsageError, check_text, nearest
from stockroom.phrases import phrase
from stockroom.stock.moves import SITE
from stockroom.store import catalogue
from stockroom.store.book import Book, Session
from stockroom.store.usage import sites_with_moves

_NOTE = "site:"
_LONGEST = 40


def sites(book: Book) -> list[str]:
    """List the sites: the first one, those added, and those of which documents speak."""
    with book.reading() as session:
        return known_sites(session)


def known_sites(session: Session) -> list[str]:
    """List the sites within a transaction under way; the first one leads."""
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
    """Open a site; gives all of them.

    Raises
    ------
    UsageError
        If it can't be a name, or one too much like it is there.
    """
    check_text(name)
    if not name.strip() or name != name.strip() or len(name) > _LONGEST or not name.isprintable():
        raise UsageError(
            phrase("'%(name)s' can't be a site's name.", name=name),
            fix=phrase("Use at most %(most)s letters and signs.", most=_LONGEST),
        )
    with book.writing(at=at) as session:
        alike = [known for known in known_sites(session) if known.casefold() == name.casefold() and known != name]
        if alike:
            raise UsageError(
                phrase("There is a site '%(site)s' already.", site=alike[0]),
                fix="Use that name, or one that differs more.",
            )
        catalogue.save_note(session, f"{_NOTE}{name}", "open")
        return known_sites(session)
