"""Finding the thing a few letters mean: resolved when only one fits, listed when several do, never guessed."""

from collections.abc import Mapping

from stockroom.errors import AmbiguousError, UnknownError, nearest
from stockroom.phrases import as_phrase, phrase

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
        raise UnknownError(
            phrase("No %(kind)s was named.", kind=as_phrase(kind)),
            fix=phrase("Give its code or a part of its name. %(some)s", some=_some(names)),
        )
    for fits in (_same, _starts, _words):
        found = [code for code, name in names.items() if fits(sought, code.casefold(), name.casefold())]
        if len(found) == 1:
            return found[0]
        if found:
            listed = "; ".join(f"{code} ({names[code]})" for code in sorted(found)[:_LISTED])
            raise AmbiguousError(
                phrase("'%(typed)s' fits more than one %(kind)s.", typed=typed, kind=as_phrase(kind)),
                fix=_which(listed, len(found) - _LISTED),
            )
    hint = nearest(typed, names) or nearest(typed, names.values()) or _some(names)
    raise UnknownError(phrase("No %(kind)s fits '%(typed)s'.", kind=as_phrase(kind), typed=typed), fix=hint)


def _same(sought: str, code: str, name: str) -> bool:
    return sought in (code, name)


def _starts(sought: str, code: str, _name: str) -> bool:
    return code.startswith(sought)


def _words(sought: str, code: str, name: str) -> bool:
    return all(word in name or word in code for word in sought.split())


def _which(listed: str, more: int) -> str:
    if more > 0:
        return phrase("Say which: %(codes)s; and %(more)s more.", codes=listed, more=more)
    return phrase("Say which: %(codes)s.", codes=listed)


def _some(names: Mapping[str, str]) -> str:
    if not names:
        return phrase("There is none yet.")
    some = ", ".join(sorted(names)[:_LISTED]) + (", …" if len(names) > _LISTED else "")
    return phrase("There is: %(known)s.", known=some)
