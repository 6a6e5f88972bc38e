"""The accountant's workbook, one file a sheet: a module here ending `SHEET = Sheet(...)` is found unasked."""

from collections.abc import Iterable
from importlib import import_module
from pkgutil import iter_modules

from stockroom.show.workbook_page import WorkbookSheet


def workbook_sheets() -> list[WorkbookSheet]:
    """Find every sheet, in the order of the tabs."""
    names = sorted(module.name for module in iter_modules(__path__))
    return in_order(import_module(f"{__name__}.{name}").SHEET for name in names)


def in_order(sheets: Iterable[WorkbookSheet]) -> list[WorkbookSheet]:
    """Put sheets in the order of their places.

    Raises
    ------
    ValueError
        If two have the same name or place.
    """
    found = sorted(sheets, key=lambda sheet: sheet.place)
    for fact in ([sheet.name for sheet in found], [sheet.place for sheet in found]):
        if len(set(fact)) < len(fact):
            raise ValueError(f"two sheets share a name or a place: {fact}")
    return found
