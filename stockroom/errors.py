"""Every error a person can meet: what is wrong, where, and how to put it right."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from stockroom.phrases import as_phrase, joined, phrase, plural


class StockroomError(Exception):
    """Something a person can put right.

    Parameters
    ----------
    what : str
        What is wrong, in a sentence.
    fix : str
        What to do about it, in a sentence.
    """

    exit_code = 1

    def __init__(self, what: str, *, fix: str = "") -> None:
        super().__init__(what)
        self.what = as_phrase(what)
        self.fix = as_phrase(fix)

    @property
    def words(self) -> str:
        """What is wrong and what to do about it, in one text."""
        return joined((self.what, self.fix))


class UsageError(StockroomError):
    """The words given to a command can't be understood."""

    exit_code = 2


class UnknownError(StockroomError):
    """A code or name is not in the book."""

    exit_code = 3


class AmbiguousError(StockroomError):
    """A name fits more than one thing; never guessed."""

    exit_code = 4


class RefusedError(StockroomError):
    """The request makes sense, but the state of the book forbids it."""

    exit_code = 5


class DoubtError(RefusedError):
    """It is likely a slip, and is entered all the same once it is said a second time."""


class BookError(StockroomError):
    """The book itself can't be opened, read or written."""

    exit_code = 6


class OlderBookError(BookError):
    """The book is of an earlier version, and can be brought up."""


class UnitsError(StockroomError):
    """Two amounts that can't meet, such as grams and metres."""

    exit_code = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One fault in a file: where it is, what it is, and what to do."""

    what: str
    fix: str = ""
    file: str = ""
    sheet: str = ""
    row: int | None = None
    column: str = ""
    value: str = ""

    @property
    def line(self) -> str:
        """The fault as one line for a person."""
        facts = {"place": self._place(), "what": as_phrase(self.what)}
        if self.value:
            said = phrase("%(place)s: %(what)s (found: '%(value)s').", value=shorten(self.value), **facts)
        else:
            said = phrase("%(place)s: %(what)s.", **facts)
        return joined((said, as_phrase(self.fix)))

    def _place(self) -> str:
        place = [
            self.file,
            phrase("sheet %(name)s", name=self.sheet) if self.sheet else "",
            phrase("row %(number)s", number=self.row) if self.row is not None else "",
            phrase("column '%(name)s'", name=self.column) if self.column else "",
        ]
        return joined(place, ", ")

    def __str__(self) -> str:
        """Give the fault as one line for a person."""
        return str(self.line)


class BadFileError(StockroomError):
    """A file is refused whole; every fault in it is listed."""

    exit_code = 7

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__(
            plural(
                "%(num)s problem found; nothing was loaded.",
                "%(num)s problems found; nothing was loaded.",
                len(problems),
            ),
            fix=phrase("Correct the rows listed and load the file again."),
        )
        self.problems = tuple(problems)


class BadEntryError(BadFileError):
    """What was typed into a list is refused; every fault in it is listed, each with its column."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__(problems)
        self.what = plural(
            "%(num)s problem found; nothing was saved.", "%(num)s problems found; nothing was saved.", len(problems)
        )
        self.fix = phrase("Correct what is listed and save again.")
        self.args = (self.what,)


def shorten(text: str, limit: int = 60) -> str:
    """Cut a long value so that a message stays readable; control marks are shown, not obeyed."""
    shown = "".join(mark if mark.isprintable() else "\N{REPLACEMENT CHARACTER}" for mark in text[: limit + 1])
    return shown if len(shown) <= limit else shown[: limit - 1] + "…"


_TELLING = 3  # letters


def nearest(wrong: str, known: Iterable[str]) -> str:
    """Suggest the known word closest to a wrong one, or the only one that begins so, or give an empty text."""
    from difflib import get_close_matches  # noqa: PLC0415 -- only when something went wrong

    by_fold = {word.casefold(): word for word in known}
    begun = [word for word in by_fold if len(wrong) >= _TELLING and word.startswith(wrong.casefold())]
    near = get_close_matches(wrong.casefold(), by_fold, n=1) or (begun if len(begun) == 1 else [])
    return phrase("Did you mean '%(word)s'?", word=by_fold[near[0]]) if near else ""


def check_text(text: str) -> None:
    """Refuse a text that not every database can keep: a NUL, or half of a character."""
    if "\x00" in text or not (text.isascii() or _whole(text)):
        raise UsageError("A text holds a character that can't be saved.", fix="Type it again without pasting.")


def _whole(text: str) -> bool:
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True
