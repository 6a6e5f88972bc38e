"""Collecting every fault of a load, so that a person can correct them in one go."""

from dataclasses import dataclass, field, replace
from pathlib import Path

from stockroom.errors import BadFileError, Problem, StockroomError, shorten
from stockroom.phrases import Number, as_phrase, joined, phrase, trimmed

MOST = 1_000  # a list longer than this is not read by anyone


MOST_NOTES = 100
LONGEST_NAME = 120


class TooManyFaultsError(Exception):
    """So many faults that reading on would only repeat them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilePlace:
    """A file, and the sheet in it where there are sheets."""

    file: str
    sheet: str = ""
    path: str = ""  # tells files of one name in different folders apart


def place_of(path: Path) -> FilePlace:
    """Give a file's place; marks in its name that a screen would obey are made visible."""
    return FilePlace(file=shorten(path.name, LONGEST_NAME), path=str(path.absolute()))


@dataclass(slots=True)
class Faults:
    """The faults and notes of a load, in the order they were met."""

    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    unsaid: int = 0  # notes beyond those kept

    def add(self, problem: Problem) -> None:
        """Keep a fault; what it repeats of the file is made fit for a screen."""
        self.problems.append(replace(problem, what=_shown(problem.what), fix=_shown(problem.fix)))
        if len(self.problems) >= MOST:
            raise TooManyFaultsError

    def at(
        self, place: FilePlace, error: StockroomError, *, row: int | None = None, column: str = "", value: str = ""
    ) -> None:
        """Keep what an error says, with the place where it was met."""
        self.add(
            Problem(
                what=trimmed(error.what),
                fix=error.fix,
                file=place.file,
                sheet=place.sheet,
                row=row,
                column=column,
                value=value,
            )
        )

    def take(self, refused: BadFileError) -> None:
        """Keep the faults for which a file was refused."""
        for problem in refused.problems:
            self.add(problem)

    def note(self, place: FilePlace, remark: str) -> None:
        """Keep a remark that refuses nothing."""
        sheet = phrase("sheet %(name)s", name=place.sheet) if place.sheet else ""
        if len(self.notes) < MOST_NOTES:
            where = joined((place.file, sheet), ", ")
            self.notes.append(_shown(phrase("%(place)s: %(remark)s", place=where, remark=as_phrase(remark))))
        else:
            self.unsaid += 1

    def remarks(self) -> tuple[str, ...]:
        """Give the notes, and say how many there were besides."""
        if not self.unsaid:
            return tuple(self.notes)
        return (*self.notes, phrase("… and %(rest)s more remarks of this kind.", rest=Number(self.unsaid)))

    def refuse(self) -> None:
        """Refuse what was read, with all that was found wrong, if anything was."""
        if self.problems:
            raise BadFileError(self.problems)


def _shown(text: str) -> str:
    return text if text.isprintable() else shorten(text, len(text))
