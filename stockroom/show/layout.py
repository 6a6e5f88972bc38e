"""Plain columns for a terminal: aligned, wrapped at words, aware of wide letters, as wide as it may be."""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from textwrap import TextWrapper

GAP = "  "
NARROWEST = 6  # a flexible column is never squeezed below this
COMFORTABLE = 14  # below this it moves under its row
NOTE_INDENT = "    "


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """A column's heading and how it behaves."""

    text: str
    right: bool = False  # figures stand to the right
    flexible: bool = False  # wraps when the page is narrow


@dataclass(frozen=True, slots=True, kw_only=True)
class TableLine:
    """A row of cells, with sentences that belong under it."""

    cells: tuple[str, ...]
    notes: tuple[str, ...] = ()
    title: str = ""  # stands above it


def draw(heads: Sequence[Head], lines: Sequence[TableLine], *, width: int | None = 80) -> str:
    """Draw rows under their headings, no wider than `width` columns where words allow (None: as wide as needed).

    Columns empty in every row are left out; a flexible column that would get too narrow to read
    moves below its row, or above it if it is the first, which names it.
    """
    filled = [n for n in range(len(heads)) if any(line.cells[n] for line in lines)]
    heads, lines = _keep(heads, lines, filled)
    widths = _widths(heads, [line.cells for line in lines], width)
    for n, head in enumerate(heads):
        if head.flexible and widths[n] < COMFORTABLE and widths[n] < _needed(n, head, lines):
            return draw(*_fold(heads, lines, n), width=width)
    drawn = [_row([head.text for head in heads], heads, widths), GAP.join("-" * room for room in widths)]
    for line in lines:
        drawn += [wrap(plain_text(line.title), width)] if line.title else []
        drawn.append(_row(line.cells, heads, widths))
        drawn.extend(wrap(plain_text(note), width, indent=NOTE_INDENT) for note in line.notes if note)
    return "\n".join(drawn)


def wrap(text: str, width: int | None = 80, *, indent: str = "") -> str:
    """Break a sentence at words into lines no wider than `width`."""
    if width is None:
        return f"{indent}{text}"
    room = max(width - len(indent), NARROWEST)
    return "\n".join(f"{indent}{part}" for part in _broken(text, room))


def cells_wide(text: str) -> int:
    """Count the terminal columns a text takes: wide letters two, combining marks none."""
    return len(text) if text.isascii() else sum(_wide(mark) for mark in text)


def plain_text(text: str) -> str:
    """Make a text safe to print: control marks are shown, never obeyed."""
    if text.isprintable():
        return text
    return "".join(mark if mark.isprintable() or mark in _SPACES else "\N{REPLACEMENT CHARACTER}" for mark in text)


_SPACES = "\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}"


def _wide(mark: str) -> int:
    if unicodedata.combining(mark) or unicodedata.category(mark) in {"Mn", "Me", "Cf"}:
        return 0
    return 2 if unicodedata.east_asian_width(mark) in {"W", "F"} else 1


def _keep(heads: Sequence[Head], lines: Sequence[TableLine], kept: Sequence[int]) -> tuple[list[Head], list[TableLine]]:
    rows = [replace(line, cells=tuple(line.cells[n] for n in kept)) for line in lines]
    return [heads[n] for n in kept], rows


def _fold(heads: Sequence[Head], lines: Sequence[TableLine], column: int) -> tuple[list[Head], list[TableLine]]:
    moved = [
        replace(line, notes=(line.cells[column], *line.notes)) if column else replace(line, title=line.cells[0])
        for line in lines
    ]
    return _keep(heads, moved, [n for n in range(len(heads)) if n != column])


def _needed(column: int, head: Head, lines: Sequence[TableLine]) -> int:
    return max(cells_wide(text) for text in (head.text, *(line.cells[column] for line in lines)))


def _widths(heads: Sequence[Head], rows: Sequence[Sequence[str]], width: int | None) -> list[int]:
    widths = [max(cells_wide(text) for text in (head.text, *cells)) for head, *cells in zip(heads, *rows, strict=True)]
    spare = (width or sum(widths) * 2) - sum(widths) - len(GAP) * (len(widths) - 1)
    loose = [n for n, head in enumerate(heads) if head.flexible]
    while spare < 0 and any(widths[n] > NARROWEST for n in loose):
        widths[max(loose, key=widths.__getitem__)] -= 1
        spare += 1
    return widths


def _row(cells: Sequence[str], heads: Sequence[Head], widths: Sequence[int]) -> str:
    broken = [_broken(plain_text(cell), room) for cell, room in zip(cells, widths, strict=True)]
    depth = max(len(parts) for parts in broken)
    return "\n".join(
        GAP.join(
            _padded(parts[level] if level < len(parts) else "", room, right=head.right)
            for parts, room, head in zip(broken, widths, heads, strict=True)
        ).rstrip()
        for level in range(depth)
    )


def _padded(text: str, room: int, *, right: bool) -> str:
    gap = " " * max(room - cells_wide(text), 0)
    return gap + text if right else text + gap


def _broken(text: str, room: int) -> list[str]:
    if cells_wide(text) <= room:
        return [text]
    if cells_wide(text) == len(text):
        return TextWrapper(width=room, break_on_hyphens=False).wrap(text) or [""]
    return _broken_wide(text, room)


def _broken_wide(text: str, room: int) -> list[str]:
    lines = [""]
    for word in re.findall(r"\S+\s*", text):
        if lines[-1] and cells_wide(lines[-1] + word.rstrip()) > room:
            lines.append("")
        for mark in word:
            if cells_wide(lines[-1] + mark) > room and not mark.isspace():
                lines.append("")
            lines[-1] += mark
    return [line.rstrip() for line in lines]
