"""Filled-in count sheets: from this shop and still of use, read whole or not at all."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from stockroom.counting.aids import aid as find_aid
from stockroom.errors import BadFileError, Problem, RefusedError, StockroomError, UsageError
from stockroom.flows.count_sheets import aid_for, issued, measurable, open_asks
from stockroom.flows.loading.load import what_is_known
from stockroom.intake.filled_sheets import Mark, read_answers, read_mark
from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_files
from stockroom.intake.tables import ReadRow
from stockroom.phrases import phrase, trimmed
from stockroom.stock.counts import Count, CountLine, CountReason
from stockroom.stock.materials import Material
from stockroom.store import catalogue
from stockroom.store.book import Book, Session


def read_filled(book: Book, path: Path, *, counted: datetime | None = None, now: datetime | None = None) -> list[Count]:
    """Read a filled-in sheet into counts; nothing is entered yet.

    Parameters
    ----------
    book : Book
        The book.
    path : Path
        The sheet.
    counted : datetime, optional
        When bins were counted whose rows don't say.
    now : datetime, optional
        The moment of reading: a bin counted later is a fault.

    Raises
    ------
    BadFileError
        With every fault of its rows.
    RefusedError
        If the sheet was made for another shop or book.
    """
    with book.reading() as session:
        mark = read_mark(path)
        if mark is not None:
            _refuse_strange(session, mark)
        shop, known = catalogue.read_shop(session), what_is_known(session)
    written: dict[str, Any] = {"locale": shop.locale, "digits": shop.currency_digits}
    loaded = read_files([f"counts={path}"], known, **written, counted=counted, now=now)
    answered = read_answers(path, known, **written)
    counts = _with_answers(loaded.counts, answered, known, counted)
    return [_marked(count, mark) for count in counts]


def _refuse_strange(session: Session, mark: Mark) -> None:
    shop = catalogue.read_shop(session).name
    if mark.shop != shop:
        raise RefusedError(
            phrase(
                "Count sheet %(sheet)s was made for '%(made_for)s'; this is the book of '%(shop)s'.",
                sheet=mark.key,
                made_for=mark.shop,
                shop=shop,
            ),
            fix="Enter it into the book it was made from.",
        )
    if issued(session, mark.key) is None:
        raise RefusedError(
            phrase("Count sheet %(sheet)s was not made from this book.", sheet=mark.key),
            fix="Make a new sheet (stockroom count-sheet), or type in what was counted: stockroom count …",
        )


def _marked(count: Count, mark: Mark | None) -> Count:
    if mark is None:
        return count
    if count.key != mark.key:
        raise RefusedError(
            phrase("Rows of count sheet '%(count)s' stand on sheet %(sheet)s.", count=count.key, sheet=mark.key),
            fix="Leave the column 'Sheet' as it was, or take these rows to their own sheet.",
        )
    return replace(count, lines=tuple(replace(line, site=mark.site) for line in count.lines))


def _with_answers(
    counts: Sequence[Count], answered: Sequence[ReadRow], known: BookFacts, counted: datetime | None
) -> list[Count]:
    by_key = {count.key: count for count in counts}
    problems: list[Problem] = []
    for row in answered:
        try:
            line = _measured(row, known.materials, counted)
        except StockroomError as wrong:
            problems.append(_problem(row, wrong))
            continue
        key = row["sheet"] or f"{line.counted.date()}"
        mine = by_key.get(key, Count(key=key, lines=()))
        by_key[key] = replace(mine, lines=(*mine.lines, line))
    if problems:
        raise BadFileError(problems)
    return list(by_key.values())


def _problem(row: ReadRow, wrong: StockroomError) -> Problem:
    return Problem(
        what=trimmed(wrong.what), fix=wrong.fix, file=row.place.file, sheet=row.place.sheet, row=row.row,
        column="answers", value=row["answers"],
    )  # fmt: skip


def _measured(row: ReadRow, materials: Mapping[str, Material], counted: datetime | None) -> CountLine:
    material, when = materials[row["material"]], row["counted at"] or counted
    if when is None:
        raise UsageError("When the bin was counted isn't stated.", fix="Fill it in, such as 2026-02-07 17:55.")
    aid = find_aid(row["aid"]) if row["aid"] else aid_for(material)
    measured = aid.measure(answers(row["answers"], aid.name, material), measurable(material))
    return CountLine(
        material=material.code,
        amount=measured.amount,
        counted=when,
        error=measured.error,
        aid=aid.name,
        who=row["who"],
        reason=CountReason(row["reason"] or CountReason.OTHER),
        note=row["note"] or row["answers"],
    )


def answers(text: str, aid: str, material: Material) -> dict[str, str]:
    """Read answers such as 'gross=1860; tare=410', or the one answer that is asked for."""
    parts = [part.strip() for part in text.replace("\n", ";").split(";") if part.strip()]
    found = {}
    for part in parts:
        name, equals, answer = part.partition("=")
        if not equals:
            wanted = open_asks(find_aid(aid), material)
            if len(parts) > 1 or len(wanted) != 1:
                raise UsageError(
                    phrase("'%(part)s' answers nothing by name.", part=part),
                    fix=phrase("Write it like %(answers)s.", answers="; ".join(f"{a.name}=…" for a in wanted)),
                )
            return {wanted[0].name: part}
        found[name.strip()] = answer.strip()
    return found
