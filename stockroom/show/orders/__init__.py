"""Forms of a purchase order, one file each: a module here ending `FORMAT = OrderFormat(...)` is found unasked."""

from collections.abc import Iterable
from importlib import import_module
from pkgutil import iter_modules

from stockroom.errors import UnknownError, nearest
from stockroom.phrases import phrase
from stockroom.show.order_form import OrderFormat


def order_formats() -> dict[str, OrderFormat]:
    """Find every form of order, by name."""
    names = sorted(module.name for module in iter_modules(__path__))
    return by_name(import_module(f"{__name__}.{name}").FORMAT for name in names)


def order_format(name: str) -> OrderFormat:
    """Give one form of order by its name.

    Raises
    ------
    UnknownError
        If there is none of that name.
    """
    known = order_formats()
    if name not in known:
        fix = nearest(name, known) or f"Forms: {', '.join(known)}."
        raise UnknownError(phrase("No form of order is called '%(name)s'.", name=name), fix=fix)
    return known[name]


def by_name(formats: Iterable[OrderFormat]) -> dict[str, OrderFormat]:
    """Put forms in order of name.

    Raises
    ------
    ValueError
        If two have the same name.
    """
    found: dict[str, OrderFormat] = {}
    for each in formats:
        if each.name in found:
            raise ValueError(f"two forms of order are called {each.name!r}")
        found[each.name] = each
    return dict(sorted(found.items()))
