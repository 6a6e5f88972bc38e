"""The year-end list of stock, to be counted by hand and signed: a page of HTML that prints on A4, or a spreadsheet."""

from collections.abc import Sequence
from html import escape
from pathlib import Path

from stockroom.margins.accounts import Accounts
from stockroom.margins.valuation import Valued
from stockroom.phrases import as_phrase, phrase
from stockroom.show.formats import Formats, formats_of, unit_word
from stockroom.show.layout import plain_text
from stockroom.show.workbook.stock_taking import SHEET, SIGNED
from stockroom.show.workbook_paint import one_sheet

_CSS = Path(__file__).with_name("count_sheets.css")
_HEADS = (
    ("", phrase("Material")),
    ("book", phrase("In the book")),
    ("amount", phrase("Counted")),
    ("note", phrase("Remark")),
)


def stock_list_xlsx(accounts: Accounts) -> bytes:
    """Write the list as a spreadsheet."""
    return one_sheet(accounts, SHEET)


def stock_list_html(accounts: Accounts) -> str:
    """Write the list as a page, by shelf place."""
    formats = formats_of(accounts.shop)
    title = formats.say(phrase("Stock at the end of %(day)s", day=formats.day(accounts.period.last)))
    by_place: dict[str, list[Valued]] = {}
    for valued in sorted(accounts.valued, key=lambda v: (v.material.place, v.material.code)):
        by_place.setdefault(valued.material.place, []).append(valued)
    places = [_place(place, held, formats) for place, held in by_place.items()]
    head = (
        '<meta charset="utf-8">\n<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{_text(f'{title}, {accounts.shop.name}')}</title>\n<style>\n{_CSS.read_text('utf-8')}</style>"
    )
    none = f"<p>{_text(formats.say(phrase('Nothing was on the shelf.')))}</p>"
    apart = _on_approval(accounts, formats)
    body = "\n".join([_top(title, accounts), *(places or [none]), apart, _signatures(formats)])
    top = f'<!DOCTYPE html>\n<html lang="{formats.language}">'
    return f"{top}\n<head>\n{head}\n</head>\n<body>\n{body}\n</body>\n</html>\n"


def _text(text: str) -> str:
    return escape(plain_text(text))


def _top(title: str, accounts: Accounts) -> str:
    closed = phrase("The books up to that day are closed.")
    still_open = phrase("The books up to that day are open: figures can still change.")
    say = formats_of(accounts.shop).say
    said = f"{accounts.shop.name}. {say(closed if accounts.period.closed else still_open)}"
    how = say(phrase("Count each line, write what you find, and a word where it differs. Sign, and keep it."))
    return f'<header>\n<h1>{_text(title)}</h1>\n<p>{_text(said)}</p>\n<p class="how">{_text(how)}</p>\n</header>'


def _place(place: str, held: Sequence[Valued], formats: Formats) -> str:
    heads = "".join(f'<th scope="col" class="{mark}">{_text(formats.say(text))}</th>' for mark, text in _HEADS)
    rows = "\n".join(_row(valued, formats) for valued in held)
    title = _text(place or formats.say(phrase("No location given")))
    return (
        f"<section><h2>{title}</h2>\n<table>\n<thead><tr>{heads}</tr></thead>\n"
        f"<tbody>\n{rows}\n</tbody>\n</table></section>"
    )


def _row(valued: Valued, formats: Formats) -> str:
    material = valued.material
    return (
        f'<tr><th scope="row">{_text(material.name)} <span class="code">{_text(material.code)}</span></th>'
        f'<td class="figure">{_text(formats.say(formats.amount(valued.nano, material.unit)))}</td>'
        f'<td class="fill"><span class="line"></span> {_text(formats.say(as_phrase(unit_word(material.unit))))}</td>'
        '<td class="fill"><span class="line full"></span></td></tr>'
    )


def _on_approval(accounts: Accounts, formats: Formats) -> str:
    """List what of it is on approval: it lies there, and is not the shop's until it is bought."""
    mine = [each for each in accounts.going_back if each.on_approval]
    if not mine:
        return ""
    title = phrase("Of it on approval, not bought yet")
    heads = (("", phrase("Material")), ("book", phrase("In the book")), ("book", phrase("Cost")), ("", phrase("Until")))
    top = "".join(f'<th scope="col" class="{mark}">{_text(formats.say(text))}</th>' for mark, text in heads)
    rows = []
    for each in mine:
        material = accounts.materials[each.material]
        rows.append(
            f'<tr><th scope="row">{_text(material.name)} <span class="code">{_text(material.code)}</span></th>'
            f'<td class="figure">{_text(formats.say(formats.amount(each.there, material.unit)))}</td>'
            f'<td class="figure">{_text(formats.money(each.cost))}</td><td>{_text(formats.day(each.until))}</td></tr>'
        )
    body = "\n".join(rows)
    return (
        f"<section><h2>{_text(formats.say(title))}</h2>\n<table>\n<thead><tr>{top}</tr></thead>\n"
        f"<tbody>\n{body}\n</tbody>\n</table></section>"
    )


def _signatures(formats: Formats) -> str:
    lines = "\n".join(f'<p>{_text(formats.say(words))}: <span class="line wide"></span></p>' for words in SIGNED)
    return f"<section><h2>{_text(formats.say(phrase('Signed')))}</h2>\n{lines}\n</section>"
