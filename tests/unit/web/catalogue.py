"""The texts of the pages, gathered from templates and code as a translator would.

What the pages themselves say stands in templates and in `words(…)`; what they are told by the rooms below stands in
`phrase(…)` and `plural(…)`, and in the plain texts of errors.

Run to write missing texts into the catalogues: python -m tests.unit.web.catalogue
"""

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.pofile import read_po, write_po

from stockroom import errors
from stockroom.counting.aids import aids
from stockroom.show.formats import AMOUNTS, unit_word
from stockroom.show.languages import FOLDER, LANGUAGES
from stockroom.stock.counts import CountReason
from stockroom.stock.layer_book import Cause
from stockroom.stock.materials import Family
from stockroom.stock.moves import DocumentKind, MoveKind
from stockroom.stock.orders import OrderState
from stockroom.stock.quantities import UNITS, Dimension
from stockroom.stock.shop import Shop, setting_options, shown_settings, write_weekdays
from stockroom.stock.tickets import TicketState
from stockroom.web.access import ROLES
from stockroom.web.at_the_page import AT_THE_PAGE, TYPED_THERE

WEB = FOLDER.parent
_DAYS = set(write_weekdays(frozenset(range(7))).split())
HOUSE = WEB.parent
_AT_START = ("command.py", "server.py")  # said in the window the pages are started from
_AT_OPENING = (
    "store/book.py",
    "store/book_files.py",
    "store/ledger.py",
    "store/transfer.py",
    "store/upgrading.py",
)  # said there, too
_DECLARED = {"SheetColumn", "Check", "WorkbookSheet", "taxed"}
_NOTES = {  # headings of the notes
    "Period", "Documents", "Jobs without a price", "Check figure", "Method", "Cost", "Order of events",
    "Provisional costs", "Rounding", "Tax", "Write-downs", "Journal",
}  # fmt: skip
_GIVEN_AWAY = ("show/receipts.py",)  # written at the command line alone, and read by customers
_HANDED = {  # take words that they put into a sentence or a list of faults, by which arguments
    "find": (0,), "above_zero": (1,), "whole": (2,), "Seen": (1,), "_same": (2,), "bad": (1, 2), "note": (1,),
    "_fault": (1,),
}  # fmt: skip
ERRORS = {
    name for name, kind in vars(errors).items() if isinstance(kind, type) and ("Error" in name or name == "Problem")
}
_KEYWORDS = {"_": None, "words": None, "gettext": None, "counted": (1, 2), "ngettext": (1, 2)}


def texts() -> dict[str, str]:
    """Give every text, with its plural where it has one; not what pages say in other words."""
    return {text: many for text, many in every_text().items() if text not in (AT_THE_PAGE.keys() | TYPED_THERE)}


def every_text() -> dict[str, str]:
    """Give every text that is worded where pages can reach it."""
    found: dict[str, str] = {}
    for path in sorted(WEB.rglob("*.html")):
        found |= _of("jinja2.ext:babel_extract", path)
    for path in sorted(WEB.rglob("*.py")):
        found |= _of("python", path)
    for call in calls():
        found |= dict.fromkeys(call.texts, "") if call.many is None else {call.texts[0]: call.many}
    return found | dict(AMOUNTS.values()) | dict.fromkeys(named(), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """A place below the pages where something is worded."""

    place: str
    texts: tuple[str, ...]  # without the plural
    many: str | None  # of a plural
    facts: frozenset[str] | None  # named beside the text; None where they are handed over together
    loose: bool  # made of pieces, so that no other language can say it


@cache
def calls() -> tuple[Call, ...]:
    """Find every phrase, and every text of an error, in the rooms whose words reach the pages."""
    return tuple(call for path in sorted(reached()) for call in _calls(path))


def _calls(path: Path) -> Iterator[Call]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute):
            name = node.func.id if isinstance(node.func, ast.Name) else node.func.attr
            yield from _worded(node, name, f"{path.relative_to(HOUSE)}:{node.lineno}")


def reached() -> set[Path]:
    """Follow what the pages import, wherever in a module they do: what only the command line uses stays English."""
    found: set[Path] = set()
    waiting = [path for path in WEB.rglob("*.py") if path.relative_to(WEB).as_posix() not in _AT_START]
    waiting += [HOUSE / each for each in _GIVEN_AWAY]
    while waiting:
        path = waiting.pop()
        if path not in found:
            found.add(path)
            waiting += _imported(path)
    return {path for path in found if path.relative_to(HOUSE).as_posix() not in _AT_OPENING}


def _imported(path: Path) -> list[Path]:
    """Give the modules of the house that a module imports; of a folder of plug-ins, all of them."""
    made: list[Path] = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("stockroom"):
            place = HOUSE.joinpath(*node.module.split(".")[1:])
            modules = [(place / each.name).with_suffix(".py") for each in node.names]
            door = place.is_dir() and not all(module.exists() for module in modules)
            made += [place.with_suffix(".py"), *modules, *(place.glob("*.py") if door else ())]
    return [each for each in made if each.exists()]


def _worded(node: ast.Call, name: str, place: str) -> Iterator[Call]:
    given = {keyword.arg: keyword.value for keyword in node.keywords}
    if name in {"phrase", "plural"}:
        facts = None if None in given else frozenset(str(each) for each in given)
        plain = [_plain(each)[0] for each in node.args]
        many = plain[1][0] if name == "plural" and plain[1] else None
        yield Call(place=place, texts=tuple(plain[0]), many=many, facts=facts, loose=False)
    elif name in _HANDED or name in ERRORS:
        spoken = node.args if name in ERRORS else [node.args[n] for n in _HANDED[name] if n < len(node.args)]
        for said in (*spoken, *(value for key, value in given.items() if key in {"what", "fix"})):
            texts, loose = _plain(said)
            yield Call(place=place, texts=tuple(texts), many=None, facts=None, loose=loose)


def _plain(node: ast.expr) -> tuple[list[str], bool]:
    """Give the texts an expression may be, as far as they are written out; say whether any is put together there."""
    if isinstance(node, ast.Constant):
        return ([node.value] if isinstance(node.value, str) and node.value else []), False
    if isinstance(node, ast.IfExp | ast.BoolOp):
        branches = [node.body, node.orelse] if isinstance(node, ast.IfExp) else node.values
        found = [_plain(each) for each in branches]
        return [text for texts, _ in found for text in texts], any(loose for _, loose in found)
    return [], isinstance(node, ast.JoinedStr | ast.BinOp)


def named() -> set[str]:
    """Give the names that the pages translate as they come: states, kinds, reasons, settings, aids."""
    from stockroom.counting.reconcile import CountVerdict
    from stockroom.flows.loading.lists import LISTS
    from stockroom.flows.loading.load import FACTS, STATED
    from stockroom.intake.columns import KINDS, TITLES, Type
    from stockroom.intake.sheets import OPENINGS
    from stockroom.margins.changes import STEPS
    from stockroom.margins.journal import ACCOUNTS
    from stockroom.margins.valuation import Why
    from stockroom.store.list_changes import CALLED
    from stockroom.web.app import FAULTS

    kinds = (Cause, Why, CountReason, DocumentKind, Family, MoveKind, OrderState, TicketState, CountVerdict, Dimension)
    states = {getattr(each, "label", str(each)) for kind in kinds for each in kind}
    settings = {name.replace("_", " ") for name in shown_settings(Shop())} | _DAYS
    settings |= {text for name in shown_settings(Shop()) for text in setting_options(name)}
    asked = {text for aid in aids().values() for text in (aid.title, *(ask.prompt for ask in aid.asks))}
    facts = {name.replace("_", " ") for name in (*FACTS, *STATED, "choice")}
    columns = {column.meaning for kind in KINDS.values() for column in kind.columns}
    columns |= {
        text for each in LISTS.values() for column in each.kind.columns for text in (column.title, *column.choices)
    }
    columns |= {each.kind.what for each in LISTS.values()}
    shown = (
        set(UNITS)
        | set(map(unit_word, UNITS.values()))
        | set(TITLES)
        | set(CALLED.values())
        | set(ACCOUNTS)
        | facts
        | columns
        | set(map(str, Type))
        | set(OPENINGS.values())
    )
    return (
        states
        | settings
        | asked
        | shown
        | set(ROLES)
        | set(STEPS)
        | _workbook()
        | {text for pair in FAULTS.values() for text in pair}
    )


def _workbook() -> set[str]:
    """Give the words of the accountant's workbook that are said as they are declared: headings, tabs, names in cells."""
    from stockroom.margins.accounts import COST
    from stockroom.margins.income import BY
    from stockroom.margins.journal import ACCOUNTS, AGAINST
    from stockroom.margins.valuation import BANDS, COLUMNS
    from stockroom.stock.tax import CAUTION, ROUNDING

    sums = ("opening", *COLUMNS, "rounding", "closing")
    found = {name.capitalize() for name in (*sums, *BANDS)} | set(ACCOUNTS) | set(AGAINST) | set(BY)
    shows = HOUSE / "show"
    for path in (*(shows / "workbook").glob("*.py"), shows / "workbook_page.py", shows / "workbook_paint.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in _DECLARED:
                said = [word.value for word in node.keywords if word.arg in {"title", "what", "name"}]
                said += node.args if getattr(node.func, "id", "") == "taxed" else []
                found |= {each.value for each in said if isinstance(each, ast.Constant) and isinstance(each.value, str)}
    return found | _NOTES | {COST, ROUNDING, CAUTION}


def _of(method: str, path: Path) -> dict[str, str]:
    options = {"newstyle_gettext": "true", "trimmed": "false", "silent": "false"}
    found = extract(method, BytesIO(path.read_bytes()), keywords=_KEYWORDS, options=options)
    return {
        (message if isinstance(message, str) else message[0]): ("" if isinstance(message, str) else message[1])
        for _, message, _, _ in found
    }


def catalogue(language: str) -> Catalog:
    """Read a language's catalogue."""
    with (FOLDER / language / "LC_MESSAGES" / "pages.po").open("rb") as file:
        return read_po(file, locale=language)


def renew(language: str) -> None:
    """Write a language's catalogue anew: texts that are gone leave it, new ones wait for a translator."""
    place = FOLDER / language / "LC_MESSAGES" / "pages.po"
    known = catalogue(language) if place.exists() else Catalog(locale=language)
    made = Catalog(locale=language, project="stockroom", fuzzy=False)
    for one, many in sorted(texts().items()):
        kept = known.get(one)
        made.add((one, many) if many else one, string=kept.string if kept else (("", "") if many else ""))
    with place.open("wb") as file:
        write_po(file, made, width=120, omit_header=False, no_location=True)


if __name__ == "__main__":
    for each in LANGUAGES.keys() - {"en"}:
        renew(each)
