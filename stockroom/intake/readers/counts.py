"""Counts, put together by their sheets."""

from collections.abc import Iterable

from stockroom.errors import UsageError
from stockroom.intake.readers.rows import Context, Seen, amount, digest
from stockroom.intake.tables import Line
from stockroom.phrases import phrase
from stockroom.stock.counts import Count, CountLine, Reason

_WHEN = phrase("Fill it in, such as 2026-02-07 17:55, so that it is compared with the book of that moment.")


def read_counts(lines: Iterable[Line], context: Context) -> list[Count]:
    """Read counts: rows of one sheet are one count; rows without a sheet, those of one day."""
    sheets: dict[tuple[str, str], list[CountLine]] = {}
    seen = Seen(context, "This bin's count")
    for line in lines:
        if line["amount"] is None:
            continue
        found, error = amount(line, context), amount(line, context, column="error")
        when = line["counted at"] or context.counted
        if when is None and not line.bad:
            context.blame(line, UsageError("When the bin was counted isn't stated.", fix=_WHEN), column="counted at")
            continue
        if line.bad or found is None or when is None:
            continue
        day = "" if line["sheet"] else str(when.date())
        counted = CountLine(
            material=line["material"],
            amount=found,
            counted=when,
            error=error,
            aid=line["aid"],
            who=line["who"],
            reason=Reason(line["reason"] or Reason.OTHER),
            note=line["note"],
        )
        if not seen.again(line, (line["sheet"], counted.material, counted.counted), counted):
            sheets.setdefault((line["sheet"], day), []).append(counted)
    return [Count(key=_key(sheet, rows), lines=tuple(rows)) for (sheet, _), rows in sheets.items()]


def _key(sheet: str, rows: list[CountLine]) -> str:
    """Give the sheet's own mark; without one, the day and a hash of what was counted."""
    if sheet:
        return sheet
    content = sorted((str(row.counted), row.material, row.amount.nano) for row in rows)
    return f"{rows[0].counted.date()}:{digest(*content)}"
