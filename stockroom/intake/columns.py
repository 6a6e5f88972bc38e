"""Every kind of file and its columns, in the order in which they are loaded."""

from stockroom.errors import UnknownError, nearest
from stockroom.intake.catalogue_columns import CATALOGUE
from stockroom.intake.fields import Kind, plain_header
from stockroom.intake.history_columns import HISTORY
from stockroom.phrases import phrase

KINDS: dict[str, Kind] = {kind.stem: kind for kind in CATALOGUE + HISTORY}


def kind_of(name: str) -> Kind | None:
    """Recognise a kind from a file's stem or a sheet's name: 'Past jobs' and 'past_jobs' are 'past-jobs'."""
    return KINDS.get(plain_header(name).replace(" ", "-"))


def kind_named(name: str) -> Kind:
    """Give a kind by its name; says which there are when it isn't one."""
    kind = kind_of(name)
    if kind is None:
        raise UnknownError(
            phrase("No kind of file is called '%(name)s'.", name=name),
            fix=nearest(name, KINDS) or phrase("Kinds: %(kinds)s.", kinds=", ".join(KINDS)),
        )
    return kind
