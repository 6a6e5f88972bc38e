"""Which files to read, and what each of them holds."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from stockroom.errors import BadFileError, Problem, UnknownError, UsageError, nearest
from stockroom.intake.columns import KINDS, README, TITLES, FileKind, kind_of
from stockroom.intake.faults import Faults, place_of
from stockroom.intake.known import LoadScope
from stockroom.intake.layouts import PriceListLayout, read_layout
from stockroom.intake.sheets import SUFFIXES, FileSheet, open_sheets
from stockroom.phrases import joined, phrase

_DATED = re.compile(r"(.+?)[-_ ]?[0-9][0-9_. -]*")  # 'past-jobs-2025', 'counts 2026-02'
_LISTED = phrase("Kinds: %(kinds)s.", kinds=", ".join(TITLES))
_LEFT_BEHIND = ("~$", ".~")  # a spreadsheet's own lock files


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A file, with its kind or layout where stated."""

    path: Path
    kind: FileKind | None = None
    layout: PriceListLayout | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceSheet:
    """A sheet to be read as one kind of file."""

    kind: FileKind
    sheet: FileSheet
    layout: PriceListLayout | None = None


def sources(stated: Iterable[str | Path], faults: Faults) -> list[Source]:
    """Spell out folders, files, 'kind=file' and 'layout.toml=file'."""
    found: list[Source] = []
    for each in stated:
        path = Path(each)
        if path.is_dir():
            found += _in_folder(path, faults)
        elif "=" in str(each) and not path.exists():
            found += _stated(str(each), faults)
        else:
            found += _recognised(path, faults)
    return found


def parts(source: Source, faults: Faults, book: LoadScope) -> list[SourceSheet]:
    """Open a file and say what each of its sheets holds."""
    kind = source.kind or kind_of_file(source.path)
    headers = frozenset(source.layout.headers) if source.layout else _headers(kind)
    try:
        sheets = open_sheets(source.path, headers)
    except BadFileError as wrong:
        for stem in [kind.stem] if kind else KINDS:
            book.leave_open(stem)
        faults.take(wrong)
        return []
    found = [
        SourceSheet(kind=each, sheet=sheet, layout=source.layout)
        for each, sheet in _named(source, kind, sheets, faults)
    ]
    if not found:
        for sheet in sheets:
            sheet.close()
        faults.at(place_of(source.path), UsageError("No visible sheet is named after what it holds.", fix=_LISTED))
    return found


def _named(
    source: Source, kind: FileKind | None, sheets: Sequence[FileSheet], faults: Faults
) -> Iterator[tuple[FileKind, FileSheet]]:
    """Pair sheets with kinds: by their own names, else the only (or first) sheet by the file's."""
    by_name = [] if source.layout else [(each, sheet) for sheet in sheets if (each := kind_of(sheet.place.sheet))]
    if kind is not None and (len(sheets) == 1 or not by_name):
        by_name = [(kind, sheet) for sheet in sheets[:1]]
    taken = [(each, sheet) for each, sheet in by_name if source.kind in (None, each)]
    yield from taken
    for sheet in sheets:
        if sheet.place.sheet != README and not any(sheet is used for _, used in taken):
            faults.note(sheet.place, "the sheet wasn't loaded: its name isn't that of a kind of file asked for.")


def kind_of_file(path: Path) -> FileKind | None:
    """Recognise a kind from a file's name, with or without a date at its end."""
    dated = _DATED.fullmatch(path.stem)
    return kind_of(path.stem) or (kind_of(dated[1]) if dated else None)


def _headers(kind: FileKind | None) -> frozenset[str]:
    return frozenset(header for each in ([kind] if kind else KINDS.values()) for header in each.headers)


def _in_folder(folder: Path, faults: Faults) -> list[Source]:
    found = []
    for path in sorted(folder.iterdir()):
        if path.suffix.casefold() not in SUFFIXES or path.name.startswith(_LEFT_BEHIND) or not path.is_file():
            continue
        if kind_of_file(path) is not None or path.suffix.casefold() == ".xlsx":
            found.append(Source(path=path))
        else:
            hint = nearest(path.stem, TITLES)
            faults.note(place_of(path), joined((phrase("not named after a kind of file and passed over."), hint)))
    if not found:
        faults.add(
            Problem(
                what="No file of the folder is named after what it holds",
                fix=joined((phrase("Name them like materials.csv."), _LISTED)),
                file=place_of(folder).file,
            )
        )
    return found


def _stated(text: str, faults: Faults) -> list[Source]:
    left, _, right = text.partition("=")
    path = Path(right)
    if left.casefold().endswith(".toml"):
        try:
            layout = read_layout(Path(left))
        except BadFileError as wrong:
            faults.take(wrong)
            return []
        return [Source(path=path, kind=layout.kind, layout=layout)]
    kind = kind_of(left)
    if kind is None:
        hint = joined((nearest(left, TITLES), _LISTED))
        faults.at(place_of(path), UnknownError(phrase("No kind of file is called '%(left)s'.", left=left), fix=hint))
        return []
    return [Source(path=path, kind=kind)]


def _recognised(path: Path, faults: Faults) -> list[Source]:
    if kind_of_file(path) is None and path.suffix.casefold() != ".xlsx":
        hint = nearest(path.stem, TITLES)
        faults.add(
            Problem(
                what="Its name doesn't say what it holds",
                fix=joined(
                    (hint, phrase("Name it like materials.csv, or say materials=%(file)s.", file=path.name), _LISTED)
                ),
                file=place_of(path).file,
            )
        )
        return []
    return [Source(path=path)]
