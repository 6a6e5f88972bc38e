"""A count sheet as a page that prints on A4 and needs nothing beside itself."""

from html import escape
from pathlib import Path

from stockroom.show.formats import Formats, unit_word
from stockroom.show.layout import plain_text
from stockroom.stock.lists import CountSheet, SheetLine

SPARE_ROWS = 4  # for what is found but not listed


def sheet_html(sheet: CountSheet, formats: Formats) -> str:
    """Write a count sheet as a page of HTML, with its own print rules."""
    css = Path(__file__).with_suffix(".css").read_text(encoding="utf-8")
    places = [_place(place, lines, formats) for place, lines in sheet.by_place.items()]
    head = (
        '<meta charset="utf-8">\n<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{_text(f'Count sheet {sheet.key}, {sheet.shop}')}</title>\n"
        f"<style>\n{css}{_every_page(sheet.key)}</style>"
    )
    body = "\n".join([_top(sheet, formats), *(places or [_tag("p", "Nothing to count.")]), _spare()])
    return f'<!DOCTYPE html>\n<html lang="en">\n<head>\n{head}\n</head>\n<body>\n{body}\n</body>\n</html>\n'


def _text(text: str) -> str:
    return escape(plain_text(text))


def _tag(name: str, content: str, mark: str = "") -> str:
    kind = f' class="{mark}"' if mark else ""
    return f"<{name}{kind}>{content}</{name}>"


def _line(mark: str = "") -> str:
    return _tag("span", "", f"line {mark}".strip())


def _top(sheet: CountSheet, formats: Formats) -> str:
    parts = [
        _tag("h1", f"Count sheet {_tag('span', _text(sheet.key), 'key')}"),
        _tag("p", _text(f"{sheet.shop}, made {formats.moment(sheet.made)}")),
        _tag("p", _text(sheet.note)) if sheet.note else "",
        _tag("p", f"Counted by {_line('wide')} Day {_line()}", "blanks"),
        _tag(
            "p",
            "Write what you find and the time. An empty bin is 0. Leave what you don't count blank. "
            "Work may go on meanwhile.",
            "how",
        ),
    ]
    return _tag("header", "\n".join(part for part in parts if part))


def _place(place: str, lines: tuple[SheetLine, ...], formats: Formats) -> str:
    with_book = any(line.book is not None for line in lines)
    heads = {"done": "Done", "name": "Material", "book": "Book", "amount": "Amount", "time": "Time", "note": "Note"}
    if not with_book:
        del heads["book"]
    rows = [_row(line, formats, with_book=with_book) for line in lines]
    title = _tag("h2", _text(place) if place else "No place given")
    return _tag("section", f"{title}\n{_table(heads, rows)}")


def _table(heads: dict[str, str], rows: list[str]) -> str:
    head = "".join(f'<th scope="col" class="{mark}">{text}</th>' for mark, text in heads.items())
    body = "\n".join(rows)
    return f"<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{body}\n</tbody>\n</table>"


def _row(line: SheetLine, formats: Formats, *, with_book: bool) -> str:
    book = "" if line.book is None else _text(formats.amount(line.book, line.unit))
    cells = [
        _tag("td", _tag("span", "", "box"), "tick"),
        f'<th scope="row">{_what(line)}</th>',
        _tag("td", book, "figure") if with_book else "",
        _tag("td", f"{_line()} {_text(unit_word(line.unit))}", "fill"),
        _tag("td", _line("short"), "fill"),
        _tag("td", _line("full"), "fill"),
    ]
    return _tag("tr", "".join(cells))


def _what(line: SheetLine) -> str:
    how = ". ".join(part.rstrip(".") for part in (line.aid, line.hint) if part)
    hint = _tag("div", f"{_text(how[:1].upper() + how[1:])}.", "hint") if how else ""
    return f"{_text(line.name)} {_tag('span', _text(line.material), 'code')}{hint}"


def _spare() -> str:
    row = _tag("tr", _tag("td", _line("full"), "fill") + _tag("td", _line("full"), "fill"))
    table = _table({"what": "What and where", "rest": "Amount, unit and time"}, [row] * SPARE_ROWS)
    return _tag("section", f"{_tag('h2', 'Found, but not on this sheet')}\n{table}")


def _every_page(key: str) -> str:
    """Print the sheet's key on every page: pages get separated."""
    shown = "".join(mark if mark.isalnum() or mark in " -_" else f"\\{ord(mark):06x}" for mark in plain_text(key))
    return f'@page {{ @top-right {{ content: "Count sheet {shown}"; font-size: 9pt; }} }}\n'
