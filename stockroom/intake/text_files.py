"""Opening CSV and other text files: encoding, separator, rows."""

import codecs
import csv
import io
import re
from collections.abc import Iterator
from pathlib import Path

from stockroom.intake.faults import Place, place_of
from stockroom.intake.fields import plain_header
from stockroom.intake.sheets import MOST_ROWS, Sheet, bad
from stockroom.phrases import phrase

SEPARATORS = (",", ";", "\t")
LONGEST_ROW = 2**20
_LONG = "row too long"
_LOOKED_AT = 30  # rows in which the header may stand
_UTF16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_UTF8_LETTER = re.compile(rb"[\xc3-\xc5][\x80-\xbf]|\xe2[\x80-\x82][\x80-\xbf]")  # accents and typographic marks
_OLD_NOTE = phrase("read as Windows-1252, since it isn't UTF-8; check that accents came out right.")


def open_text(path: Path, headers: frozenset[str]) -> Sheet:
    """Open a text file as one sheet."""
    place = place_of(path)
    text, note = _decoded(path.read_bytes(), place)
    text, separator = _separator(text, headers, place)
    return Sheet(
        place=place, rows=_rows(text, separator, place), notes=(note,) if note else (), total=text.count("\n") + 1
    )


def _decoded(raw: bytes, place: Place) -> tuple[str, str]:
    note = ""
    try:
        if raw.startswith(_UTF16):
            text = raw.decode("utf-16")
        elif b"\0" in raw:
            raise bad(place, "The file holds NUL bytes; it isn't plain text", "Save it again as CSV in UTF-8.")
        else:
            text, note = _eight_bits(raw, place)
    except UnicodeDecodeError as wrong:
        raise bad(place, "The file's letters can't be read", "Save it again as CSV in UTF-8.") from wrong
    if "\0" in text:
        raise bad(place, "The file holds NUL marks", "Save it again as CSV in UTF-8.")
    return text, note


def _eight_bits(raw: bytes, place: Place) -> tuple[str, str]:
    try:
        return raw.decode("utf-8-sig"), ""
    except UnicodeDecodeError:
        if _UTF8_LETTER.search(raw):
            raise bad(place, "The file mixes two encodings", "Save it again as CSV in UTF-8.") from None
        return raw.decode("cp1252"), _OLD_NOTE


def _separator(text: str, headers: frozenset[str], place: Place) -> tuple[str, str]:
    """Tell how columns are separated: stated in the first line, or by which mark the headers come out."""
    first, _, rest = text.partition("\n")
    stated = re.fullmatch(r"sep=([,;\t])\r?", first)
    if stated:
        return f"\n{rest}", stated[1]  # the blank line keeps the row numbers right
    found = {mark: _headers_met(text, mark, headers) for mark in SEPARATORS}
    best = max(found.values())
    leaders = [mark for mark, met in found.items() if met == best]
    if best and len(leaders) == 1:
        return text, leaders[0]
    used = [mark for mark in SEPARATORS if mark in first]
    if len(used) > 1:
        raise bad(place, "It can't be told how the columns are separated",
                  "Use one of comma, semicolon or tab, and the headers of the template.", row=1)  # fmt: skip
    return text, used[0] if used else ","


def _headers_met(text: str, mark: str, headers: frozenset[str]) -> int:
    """Count the known headers in the row that shows most of them."""
    most = 0
    start = io.StringIO(text[: 64 * 1024], newline="")
    try:
        for row, _ in zip(csv.reader(start, delimiter=mark), range(_LOOKED_AT), strict=False):
            most = max(most, len({plain_header(cell) for cell in row} & headers))
    except csv.Error:
        pass  # said when the rows are read
    return most if most > 1 else 0


class _Lines:
    """Lines of a text, as long as no row grows out of all bounds; csv would hold it in memory whole."""

    def __init__(self, text: str) -> None:
        self._lines = io.StringIO(text, newline="")
        self.taken = 0  # letters since the last row

    def __iter__(self) -> Iterator[str]:
        for line in self._lines:
            self.taken += len(line)
            if self.taken > LONGEST_ROW:
                raise csv.Error(_LONG)
            yield line


def _rows(text: str, separator: str, place: Place) -> Iterator[tuple[int, list[str]]]:
    lines = _Lines(text)
    reader = csv.reader(lines, delimiter=separator, strict=True)
    number, filled = 0, 0
    try:
        for number, row in enumerate(reader, start=1):
            lines.taken = 0
            if not any(row):
                continue
            filled += 1
            if filled > MOST_ROWS:
                raise bad(
                    place,
                    phrase("There are more than %(most)s rows", most=f"{MOST_ROWS:,}"),
                    "Split the file, by year for example.",
                )
            yield number, row
    except csv.Error as wrong:
        raise _broken(wrong, place, number + 1) from wrong


def _broken(wrong: csv.Error, place: Place, row: int) -> Exception:
    if str(wrong) == _LONG or "field limit" in str(wrong):
        return bad(place, "A cell or row is far too long", "Shorten it, or mend its quotes.", row=row)
    return bad(place, "The quotes of a cell don't match", 'Write a quote inside a quoted cell twice: "".', row=row)
