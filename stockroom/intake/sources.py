"""Which files to read and what each holds; a supplier's price list in its own layout, brought into ours."""

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from stockroom.errors import BadFileError, Problem, UnknownError, UsageError, nearest
from stockroom.intake.cells import Cell, marks_of, written
from stockroom.intake.columns import KINDS, README, TITLES, FileKind, kind_of, plain_header
from stockroom.intake.faults import Faults, place_of
from stockroom.intake.known import LoadScope
from stockroom.intake.sheets import SUFFIXES, FileSheet, bad, open_sheets
from stockroom.phrases import Number, joined, phrase, trimmed

_PARTS = ("name", "kind", "locale", "columns", "always", "words", "materials")
_MOST_BYTES = 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceListLayout:
    """How a supplier's list maps to a kind of file."""

    name: str
    kind: FileKind
    columns: Mapping[str, str]  # our column: their header
    always: Mapping[str, str] = field(default_factory=dict)  # our column: what stands in every row
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)  # our column: their word: ours
    materials: Mapping[str, str] = field(default_factory=dict)  # their code: our material
    locale: str = ""  # how the list writes numbers and days; empty: as the shop does

    @property
    def headers(self) -> tuple[str, ...]:
        """Their headers, in the form in which headers are compared."""
        return tuple(plain_header(header) for header in self.columns.values())


def read_layout(path: Path) -> PriceListLayout:
    """Read a mapping file.

    Raises
    ------
    BadFileError
        If it isn't TOML, or names a column that isn't there.
    """
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise _fault(path, "The file is too large for a layout")
        stated = tomllib.loads(path.read_text("utf-8"))
    except OSError as wrong:
        raise _fault(path, phrase("The file can't be opened: %(reason)s", reason=wrong.strerror)) from wrong
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as wrong:
        raise _fault(path, phrase("The file isn't TOML: %(reason)s", reason=wrong)) from wrong
    return _layout(path, stated)


def arrange(layout: PriceListLayout, sheet: FileSheet, book: LoadScope, faults: Faults) -> FileSheet:
    """Give a supplier's sheet as a sheet with our headers; rows of materials the shop doesn't keep are left out."""
    return replace(sheet, rows=_arranged(layout, sheet, book, faults))


def _arranged(
    layout: PriceListLayout, sheet: FileSheet, book: LoadScope, faults: Faults
) -> Iterator[tuple[int, Sequence[Cell | None]]]:
    places: dict[str, int] | None = None
    ours = _materials(layout, book)
    names = [*layout.columns, *layout.always, *(["material"] if ours is not None else [])]
    left_out = 0
    for number, cells in sheet.rows:
        if places is None:
            places = _places(layout, cells)
            if places is not None:
                yield number, names
            continue
        row = [_worded(layout, name, cells, places[name]) for name in layout.columns]
        kept = "" if ours is None else ours.get(written(row[names.index("supplier code")] or "").casefold())
        if kept is None:
            left_out += 1
            continue
        yield number, [*row, *layout.always.values(), *([kept] if ours is not None else [])]
    if places is None:
        raise bad(sheet.place, phrase("No row holds the headers of the layout '%(name)s'", name=layout.name),
                  phrase("It needs: %(headers)s.", headers=", ".join(layout.columns.values())))  # fmt: skip
    if left_out:
        faults.note(sheet.place, phrase("rows left out, of codes you don't keep: %(rows)s.", rows=Number(left_out)))


def _places(layout: PriceListLayout, cells: Sequence[Cell | None]) -> dict[str, int] | None:
    met = [plain_header(written(cell)) if cell is not None else "" for cell in cells]
    if not all(header in met for header in layout.headers):
        return None
    return {ours: met.index(plain_header(theirs)) for ours, theirs in layout.columns.items()}


def _worded(layout: PriceListLayout, name: str, cells: Sequence[Cell | None], index: int) -> Cell | None:
    cell = cells[index] if index < len(cells) else None
    words = layout.words.get(name)
    return words.get(written(cell), cell) if words and cell is not None else cell


def _materials(layout: PriceListLayout, book: LoadScope) -> Mapping[str, str] | None:
    """Which material a supplier's code means: as the layout says, else as earlier offers say."""
    if "material" in layout.columns or "material" in layout.always or "supplier code" not in layout.columns:
        return None
    supplier = layout.always.get("supplier", "")
    known = {o.supplier_code.casefold(): o.material for o in book.offers if o.supplier == supplier and o.supplier_code}
    return known | {code.casefold(): material for code, material in layout.materials.items()}


def _layout(path: Path, stated: Mapping[str, Any]) -> PriceListLayout:
    kind = kind_of(str(stated.get("kind", "offers")))
    wrong = [_unknown(path, part, _PARTS) for part in stated if part not in _PARTS]
    if kind is None:
        wrong.append(_fault(path, phrase("No kind of file is called '%(name)s'", name=stated["kind"])))
        raise BadFileError([problem for error in wrong for problem in error.problems])
    names = tuple(kind.headers)
    tables = {part: stated.get(part, {}) for part in ("columns", "always", "words", "materials")}
    wrong += [
        _fault(path, phrase("'%(part)s' must be a table of names", part=part))
        for part, table in tables.items()
        if not _fits(part, table)
    ]
    if not wrong:
        used = (*tables["columns"], *tables["always"], *tables["words"])
        wrong += [_unknown(path, name, names) for name in used if name not in names]
        wrong += [] if tables["columns"] else [_fault(path, "The layout maps no columns")]
    if wrong:
        raise BadFileError([problem for error in wrong for problem in error.problems])
    return PriceListLayout(name=str(stated.get("name", path.stem)), kind=kind, locale=_locale(path, stated), **tables)


def _locale(path: Path, stated: Mapping[str, Any]) -> str:
    locale = str(stated.get("locale", ""))
    try:
        if locale:
            marks_of(locale)
    except UsageError as wrong:
        raise _fault(path, trimmed(wrong.what)) from wrong
    return locale


def _fits(part: str, table: object) -> bool:
    if part == "words" and isinstance(table, dict):
        return all(_fits("columns", inner) for inner in table.values())
    return isinstance(table, dict) and all(isinstance(value, str) for value in table.values())


def _fault(path: Path, what: str) -> BadFileError:
    return BadFileError(
        [Problem(what=what, fix="Correct the layout; data/layouts shows one.", file=place_of(path).file)]
    )


def _unknown(path: Path, name: str, known: Iterable[str]) -> BadFileError:
    fix = nearest(name, known) or phrase("There is: %(known)s.", known=", ".join(known))
    return BadFileError(
        [
            Problem(
                what=phrase("The layout names '%(name)s', which isn't there", name=name),
                fix=fix,
                file=place_of(path).file,
            )
        ]
    )


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
