"""A count sheet as a spreadsheet to fill in; without the book's figures unless they are asked for.

Its headings are those of a file of counts, so that a filled-in sheet is read back as it is.
"""

from datetime import timedelta
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from stockroom.phrases import as_phrase, phrase
from stockroom.show.formats import Formats, unit_word
from stockroom.show.layout import plain_text
from stockroom.show.spreadsheet import (
    Heading,
    fit_row,
    new_book,
    put_headings,
    put_number,
    put_text,
    put_time,
    saved,
    set_page,
)
from stockroom.stock.counts import CountReason
from stockroom.stock.lists import CountSheet, SheetLine

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.datavalidation import DataValidation
    from openpyxl.worksheet.worksheet import Worksheet

_HEADINGS = (
    ("Location", 14), ("Material", 14), ("Name", 34), ("Unit", 8), ("Counting method", 18), ("Amount", 11),
    ("Counted at", 17), ("Who", 12), ("Reason", 17), ("Note", 28), ("Sheet", 16), ("Answers", 24),
)  # fmt: skip
_BOOK = ("Book", 11)
_COLUMN = {heading: column for column, (heading, _) in enumerate((*_HEADINGS, _BOOK), 1)}
_TO_FILL = ("Amount", "Counted at", "Who", "Reason", "Note", "Answers")
_FIGURES = {"Amount", "Book"}
_MOST = 10**9


def sheet_xlsx(sheet: CountSheet) -> bytes:
    """Write a count sheet as a workbook to fill in; a hidden sheet keeps its mark."""
    book, page = new_book("Counts")
    headings = _HEADINGS if sheet.blind else (*_HEADINGS, _BOOK)
    put_headings(page, 1, [Heading(text=text, width=width, right=text in _FIGURES) for text, width in headings])
    lines = [line for group in sheet.by_place.values() for line in group]
    for row, line in enumerate(lines, 2):
        _put_line(page, row, line, sheet.key)
    _guide(page, sheet, len(lines) + 1)
    set_page(page, f"Count sheet {sheet.key}, {sheet.shop}", heading_row=1)
    _put_mark(book, sheet)
    return saved(book)


def _put_line(page: "Worksheet", row: int, line: SheetLine, key: str) -> None:
    from openpyxl.comments import Comment

    texts = {"Location": line.place, "Material": line.material, "Name": line.name, "Unit": unit_word(line.unit)}
    for heading, text in {**texts, "Counting method": line.aid, "Sheet": key}.items():
        if text:
            put_text(page, (row, _COLUMN[heading]), text)
    fit_row(page, row, [(line.name, dict(_HEADINGS)["Name"])])
    if line.hint:
        page.cell(row=row, column=_COLUMN["Counting method"]).comment = Comment(plain_text(line.hint), "stockroom")
    for heading in _TO_FILL:
        _open(page, row, _COLUMN[heading])
    page.cell(row=row, column=_COLUMN["Counted at"]).number_format = "yyyy-mm-dd hh:mm"
    if line.book is not None:
        put_number(page, (row, _COLUMN["Book"]), line.unit.count(line.book))


def _open(page: "Worksheet", row: int, column: int) -> None:
    from openpyxl.styles import Border, PatternFill, Side

    cell = page.cell(row=row, column=column)
    thin = Side(style="thin", color="8A8272")
    cell.fill = PatternFill("solid", fgColor="FFFBEA")
    cell.border = Border(left=thin, right=thin, top=thin, bottom=thin)


def _guide(page: "Worksheet", sheet: CountSheet, last: int) -> None:
    from openpyxl.utils import get_column_letter

    if last == 1:
        return
    for heading, rule in _rules(sheet).items():
        letter = get_column_letter(_COLUMN[heading])
        rule.add(f"{letter}2:{letter}{last}")
        page.add_data_validation(rule)


def _rules(sheet: CountSheet) -> "dict[str, DataValidation]":
    from openpyxl.worksheet.datavalidation import DataValidation

    earliest = sheet.made - timedelta(days=1)
    amount = DataValidation(type="decimal", operator="between", formula1="0", formula2=str(_MOST), allow_blank=True)
    amount.promptTitle, amount.prompt = (
        "Amount",
        "What you found, in the unit shown. None: 0. Not counted: leave blank.",
    )
    amount.errorTitle, amount.error = "Amount", "Give a number, 0 or more, in the unit shown; or leave the cell blank."
    when = DataValidation(
        type="date", operator="greaterThan", formula1=f"DATE({earliest.year},{earliest.month},{earliest.day})"
    )
    when.promptTitle, when.prompt = "Counted at", "Day and time of counting this item, such as 2026-01-31 17:40."
    when.errorTitle, when.error = "Counted at", "Give a day and a time after this sheet was made."
    reason = DataValidation(type="list", formula1=f'"{",".join(CountReason)}"', allow_blank=True)
    reason.errorTitle, reason.error = "Reason", "Choose a reason from the list, or leave the cell blank."
    for rule in (amount, when, reason):
        rule.showInputMessage = rule.showErrorMessage = True
    return {"Amount": amount, "Counted at": when, "Reason": reason}


def _put_mark(book: "Workbook", sheet: CountSheet) -> None:
    mark = book.create_sheet("Mark")
    for row, (label, text) in enumerate((("shop", sheet.shop), ("sheet", sheet.key), ("site", sheet.site)), 1):
        put_text(mark, (row, 1), label)
        put_text(mark, (row, 2), text)
    put_text(mark, (4, 1), "made")
    put_time(mark, (4, 2), sheet.made)
    mark.sheet_state = "hidden"


SPARE_ROWS = 4  # for what is found but not listed


def sheet_html(sheet: CountSheet, formats: Formats) -> str:
    """Write a count sheet as a page of HTML, with its own print rules."""
    css = Path(__file__).with_suffix(".css").read_text(encoding="utf-8")
    places = [_place(place, lines, formats) for place, lines in sheet.by_place.items()]
    head = (
        '<meta charset="utf-8">\n<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{_text(f'{_title(sheet.key, formats)}, {sheet.shop}')}</title>\n"
        f"<style>\n{css}{_every_page(sheet.key, formats)}</style>"
    )
    none = _tag("p", _text(formats.say(phrase("Nothing to count."))))
    body = "\n".join([_top(sheet, formats), *(places or [none]), _spare(formats)])
    top = f'<!DOCTYPE html>\n<html lang="{formats.language}">'
    return f"{top}\n<head>\n{head}\n</head>\n<body>\n{body}\n</body>\n</html>\n"


def _title(key: str, formats: Formats) -> str:
    return formats.say(phrase("Count sheet %(key)s", key=key))


def _text(text: str) -> str:
    return escape(plain_text(text))


def _tag(name: str, content: str, mark: str = "") -> str:
    kind = f' class="{mark}"' if mark else ""
    return f"<{name}{kind}>{content}</{name}>"


def _line(mark: str = "") -> str:
    return _tag("span", "", f"line {mark}".strip())


def _top(sheet: CountSheet, formats: Formats) -> str:
    say = formats.say
    made = say(phrase("%(shop)s, made %(moment)s", shop=sheet.shop, moment=formats.moment(sheet.made)))
    how = phrase(
        "Write what you find and the time. Where there is none, write 0. Leave what you don't count blank. "
        "Work may go on meanwhile."
    )
    who = f"{_text(say(phrase('Counted by')))} {_line('wide')} {_text(say(phrase('Day')))} {_line()}"
    parts = [
        _tag("h1", _text(_title(sheet.key, formats)).replace(_text(sheet.key), _tag("span", _text(sheet.key), "key"))),
        _tag("p", _text(made)),
        _tag("p", _text(say(sheet.note))) if sheet.note else "",
        _tag("p", who, "blanks"),
        _tag("p", _text(say(how)), "how"),
    ]
    return _tag("header", "\n".join(part for part in parts if part))


def _place(place: str, lines: tuple[SheetLine, ...], formats: Formats) -> str:
    with_book = any(line.book is not None for line in lines)
    said = {"done": phrase("Done"), "name": phrase("Material"), "book": phrase("Book"), "amount": phrase("Amount")}
    said |= {"time": phrase("Time"), "note": phrase("Note")}
    heads = {mark: formats.say(text) for mark, text in said.items()}
    if not with_book:
        del heads["book"]
    rows = [_row(line, formats, with_book=with_book) for line in lines]
    title = _tag("h2", _text(place or formats.say(phrase("No location given"))))
    return _tag("section", f"{title}\n{_table(heads, rows)}")


def _table(heads: dict[str, str], rows: list[str]) -> str:
    head = "".join(f'<th scope="col" class="{mark}">{text}</th>' for mark, text in heads.items())
    body = "\n".join(rows)
    return f"<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{body}\n</tbody>\n</table>"


def _row(line: SheetLine, formats: Formats, *, with_book: bool) -> str:
    book = "" if line.book is None else _text(formats.say(formats.amount(line.book, line.unit)))
    cells = [
        _tag("td", _tag("span", "", "box"), "tick"),
        f'<th scope="row">{_what(line, formats)}</th>',
        _tag("td", book, "figure") if with_book else "",
        _tag("td", f"{_line()} {_text(formats.say(as_phrase(unit_word(line.unit))))}", "fill"),
        _tag("td", _line("short"), "fill"),
        _tag("td", _line("full"), "fill"),
    ]
    return _tag("tr", "".join(cells))


def _what(line: SheetLine, formats: Formats) -> str:
    how = ". ".join(formats.say(as_phrase(part)).rstrip(".") for part in (line.aid, line.hint) if part)
    hint = _tag("div", f"{_text(how[:1].upper() + how[1:])}.", "hint") if how else ""
    return f"{_text(line.name)} {_tag('span', _text(line.material), 'code')}{hint}"


def _spare(formats: Formats) -> str:
    row = _tag("tr", _tag("td", _line("full"), "fill") + _tag("td", _line("full"), "fill"))
    heads = {"what": phrase("What and where"), "rest": phrase("Amount, unit and time")}
    table = _table({mark: formats.say(text) for mark, text in heads.items()}, [row] * SPARE_ROWS)
    title = _tag("h2", _text(formats.say(phrase("Found, but not on this sheet"))))
    return _tag("section", f"{title}\n{table}")


def _every_page(key: str, formats: Formats) -> str:
    """Print the sheet's key on every page: pages get separated."""
    title = plain_text(_title(key, formats))
    shown = "".join(mark if mark.isalnum() or mark in " -_" else f"\\{ord(mark):06x}" for mark in title)
    return f'@page {{ @top-right {{ content: "{shown}"; font-size: 9pt; }} }}\n'
