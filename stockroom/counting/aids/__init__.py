"""One file per counting aid; the folder is scanned when asked."""

from importlib import import_module
from pkgutil import iter_modules

from stockroom.counting.aid import Aid
from stockroom.errors import UnknownError, nearest
from stockroom.phrases import phrase


def aids() -> dict[str, Aid]:
    """Find every aid, by name; two of the same name are a fault in the program."""
    found: dict[str, Aid] = {}
    for module in iter_modules(__path__):
        aid: Aid = import_module(f"{__name__}.{module.name}").AID
        if aid.name in found:
            msg = f"two counting aids are called '{aid.name}'"
            raise ValueError(msg)
        found[aid.name] = aid
    return found


def aid(name: str) -> Aid:
    """Look one aid up by name.

    Raises
    ------
    UnknownError
        If there is none of that name.
    """
    known = aids()
    if name not in known:
        fix = nearest(name, known) or phrase("Counting methods: %(aids)s.", aids=", ".join(known))
        raise UnknownError(phrase("No counting method is called '%(name)s'.", name=name), fix=fix)
    return known[name]
