"""Finding the thing a few letters mean: resolved when only one fits, listed when several do, never guessed."""

from collections.abc import Mapping

from stockroom.errors import AmbiguousError, UnknownError, nearest

_LISTED = 8


def find(kind: str, typed: str, names: Mapping[str, str]) -> str:
    """Give the code that `typed` means.

    Parameters
    ----------
    kind : str
        What is looked for, as a person calls it: 'material', 'job', 'supplier'.
    typed : str
        A code, the beginning of one, or words of the name, in any case.
    names : mapping of str to str
        Code to name.

    Raises
    ------
    UnknownError, AmbiguousError
        If nothing fits, or more than one thing fits equally well.
    """
    sought = typed.strip().casefold()
    if not sought:
        raise UnknownError(f"No {kind} was named.", fix=f"Give its code or a part of its name. {_some(names)}")
    for fits in (_same, _starts, _words):
        found = [code for code, name in names.items() if fits(sought, code.casefold(), name.casefold())]
        if len(found) == 1:
            return found[0]
        if found:
            listed = "; ".join(f"{code} ({names[code]})" for code in sorted(found)[:_LISTED])
            more = f"; and {len(found) - _LISTED} more" if len(found) > _LISTED else ""
            raise AmbiguousError(f"'{typed}' fits more than one {kind}.", fix=f"Say which: {listed}{more}.")
    hint = nearest(typed, names) or nearest(typed, names.values()) or _some(names)
    raise UnknownError(f"No {kind} fits '{typed}'.", fix=hint)


def _same(sought: str, code: str, name: str) -> bool:
    return sought in (code, name)


def _starts(sought: str, code: str, _name: str) -> bool:
    return code.startswith(sought)


def _words(sought: str, code: str, name: str) -> bool:
    return all(word in name or word in code for word in sought.split())


def _some(names: Mapping[str, str]) -> str:
    some = ", ".join(sorted(names)[:_LISTED])
    return f"There is: {some}{', …' if len(names) > _LISTED else ''}." if some else "There is none yet."
