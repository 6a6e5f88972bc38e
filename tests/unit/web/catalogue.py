"""The texts of the pages, gathered from templates and code as a translator would.

Run to write missing texts into the catalogues: python -m tests.unit.web.catalogue
"""

from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.pofile import read_po, write_po

from stockroom.counting.aids import aids
from stockroom.stock.counts import Reason
from stockroom.stock.moves import DocumentKind, MoveKind
from stockroom.stock.orders import OrderState
from stockroom.stock.shop import Shop, setting_texts
from stockroom.stock.tickets import TicketState
from stockroom.web.passcodes import ROLES
from stockroom.web.words import FOLDER, LANGUAGES

WEB = FOLDER.parent
_KEYWORDS = {"_": None, "words": None, "gettext": None, "counted": (1, 2), "ngettext": (1, 2)}


def texts() -> dict[str, str]:
    """Give every text, with its plural where it has one."""
    found: dict[str, str] = {}
    for path in sorted(WEB.rglob("*.html")):
        found |= _of("jinja2.ext:babel_extract", path)
    for path in sorted(WEB.rglob("*.py")):
        found |= _of("python", path)
    return found | dict.fromkeys(named(), "")


def named() -> set[str]:
    """Give the names that the pages translate as they come: states, kinds, reasons, settings, aids."""
    from stockroom.counting.reconcile import Verdict
    from stockroom.margins.moved import STEPS
    from stockroom.web.app import FAULTS

    kinds = (Reason, DocumentKind, MoveKind, OrderState, TicketState, Verdict)
    states = {str(each) for kind in kinds for each in kind}
    settings = {name.replace("_", " ") for name in setting_texts(Shop())}
    asked = {text for aid in aids().values() for text in (aid.title, *(ask.prompt for ask in aid.asks))}
    return states | settings | asked | set(ROLES) | set(STEPS) | {text for pair in FAULTS.values() for text in pair}


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
