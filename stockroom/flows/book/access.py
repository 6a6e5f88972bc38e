"""Who may open the pages: kept hashes of passcodes, and the key that signs sessions."""

from secrets import token_hex

from stockroom.store import catalogue
from stockroom.store.book import Book

_PASSCODE = "passcode:"
_KEY = "session key"


def kept_passcodes(book: Book) -> dict[str, str]:
    """Give the kept hash of each role that has a passcode."""
    with book.reading() as session:
        notes = catalogue.read_notes(session, _PASSCODE)
    return {name.removeprefix(_PASSCODE): kept for name, kept in notes.items() if kept}


def keep_passcode(book: Book, role: str, kept: str) -> None:
    """Keep a role's hashed passcode; an empty one closes the role."""
    with book.writing() as session:
        catalogue.save_note(session, f"{_PASSCODE}{role}", kept)


def session_key(book: Book) -> str:
    """Give the key that signs sessions; made when first asked for."""
    with book.writing() as session:
        key = catalogue.read_note(session, _KEY)
        if not key:
            key = token_hex(32)
            catalogue.save_note(session, _KEY, key)
        return key
