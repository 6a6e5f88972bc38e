"""Spoiling honest files at random, from a seed."""

import csv
import io
import random
import zipfile
from pathlib import Path

from stockroom.errors import BadFileError, StockroomError
from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_files
from stockroom.intake.loaded import Loaded
from tests.nasty.small_shop import FILES, HISTORY

TOKENS = (
    "", " ", "NaN", "inf", "-inf", "1e30", "-1", "0", "9" * 40, "1,234", "1.234", "12,5", "1/0", "½", "٣", "1900-01-01", "9999-12-31",
    "2026-02-30", "03/04/26", "46115", "=1+1", "+1", "-A", "@SUM(A1)", "=cmd|' /C calc'!A0", "../../etc/passwd", "C:\\x", "\u202egnos",
    "\u200b", "\ufeff", "e\u0301", "B\u0415ND", "نعل", "🥿", "x" * 300, "#REF!", "#N/A", "yes", "TRUE", "EU 42", "UK 99", "EU 42 = EU 42",
    "1 l = 860 g", "1 l = 0 g", "sole=bend; sole=none", "=;=", "5=1; 5=1", "33%", "101%", "BEND", "bend", "NORTH", "SHINE", "2026-01-31",
    "2026-01-31 25:61", "2026-01-31T10:00Z", '"', '""', "a\nb", "\t", ";", "dm2", "km", "None", "null", "\\N", "'", "0x10", "1_0", "1e5",
)  # fmt: skip
BYTES = (
    b"\0",
    b"\xff",
    b"\xfe\xff",
    b"\xef\xbb\xbf",
    b'"',
    b",",
    b";",
    b"\r",
    b"\n",
    b"\x1a",
    b"\xc3\x28",
    b"\xed\xa0\x80",
    b"=",
)
MARKS = (
    b"<", b">", b"&", b"&amp;", b"&x;", b"<!DOCTYPE a>", b"</row>", b'r="A0"', b'r="XFE1048577"', b't="s"', b't="e"', b't="d"', b"<v>1e400</v>",
    b"<f>1</f>", b"\0", b"\xff", b'ref="A1:B9"', b"-1", b"99999999999999999999", b"<is/>", b"<c/>", b"<row/>",
)  # fmt: skip


def honest() -> dict[str, list[list[str]]]:
    """Give the small shop's files as rows: each is loaded as it stands."""
    return {stem: list(csv.reader(io.StringIO(text))) for stem, text in (*FILES.items(), *HISTORY.items())}


def spoilt_text(rows: list[list[str]], chance: random.Random) -> bytes:
    """Spoil a cell or a few, then perhaps bytes, of a text file."""
    spoilt = [list(row) for row in rows]
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        _spoil(spoilt, chance)
    text = io.StringIO()
    csv.writer(text, delimiter=chance.choice(",,,;\t")).writerows(spoilt)
    raw = text.getvalue().encode(chance.choice(("utf-8", "utf-8", "utf-8-sig", "utf-16")), "surrogatepass")
    return _spoilt_bytes(raw, BYTES, chance) if chance.random() < 0.25 else raw


def _spoil(rows: list[list[str]], chance: random.Random) -> None:
    """Change one thing: mostly a cell below the header, sometimes a whole row, or where the cells stand."""
    row = chance.choice(rows[1:] * 3 + rows[:1])
    at = chance.randrange(len(row))
    match chance.randrange(12):
        case 0:
            rows.insert(chance.randrange(len(rows)), list(row))
        case 1:
            rows.remove(row)
            rows.append(list(row))
        case 2:
            row[at:at] = [chance.choice(TOKENS)]
        case 3:
            row[at] = f" {row[at]}\u00a0"
        case 4:
            row[at] = row[at].swapcase()
        case 5:
            row[at] = chance.choice(rows)[at % min(map(len, rows))]
        case _:
            row[at] = chance.choice(TOKENS)


def spoilt_workbook(raw: bytes, chance: random.Random) -> bytes:
    """Spoil a part of a workbook, or the packed bytes themselves."""
    if chance.random() < 0.3:
        return _spoilt_bytes(raw, BYTES, chance)
    held = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw)) as whole, zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as written:
        victim = chance.choice(whole.namelist())
        for name in whole.namelist():
            part = whole.read(name)
            written.writestr(name, _spoilt_bytes(part, MARKS, chance) if name == victim else part)
    return held.getvalue()


def outcome(path: Path, known: BookFacts, *, locale: str = "en_IE") -> Loaded | None:
    """Read a file: what it says, or nothing where it is refused in words fit for a screen."""
    try:
        return read_files([path], known, locale=locale, digits=2)
    except BadFileError as refused:
        check_words(refused)
        return None


def check_words(refused: StockroomError) -> None:
    """Hold a refusal to what a screen can show; raised where it can't be."""
    lines = [str(each) for each in refused.problems] if isinstance(refused, BadFileError) else [refused.what]
    assert lines
    unfit = [line for line in lines if not line.isprintable() or len(line) > 800]
    assert unfit == []


def _spoilt_bytes(raw: bytes, marks: tuple[bytes, ...], chance: random.Random) -> bytes:
    spoilt = bytearray(raw)
    for _ in range(chance.randint(1, 3)):
        at = chance.randrange(len(spoilt) + 1)
        span = chance.choice((0, 0, 1, 1, 4, 40))
        spoilt[at : at + span] = chance.choice((*marks, bytes(spoilt[at : at + 30]), b""))
    return bytes(spoilt)
