"""One file per forecasting model; the folder is scanned when asked."""

from functools import cache
from importlib import import_module
from pkgutil import iter_modules

from stockroom.demand.view import Model
from stockroom.errors import UnknownError, nearest, shorten
from stockroom.phrases import phrase


@cache
def all_models() -> dict[str, Model]:
    """Every model of this folder by name; a file's model is its `MODEL`."""
    found: dict[str, Model] = {}
    for module in iter_modules(__path__):
        file = import_module(f"{__name__}.{module.name}")
        mine: tuple[Model, ...] = file.MODELS if hasattr(file, "MODELS") else (file.MODEL,)
        for model in mine:
            if model.name in found:
                raise ValueError(f"two forecasting models are called {model.name!r}")
            found[model.name] = model
    return found


def everyday_models() -> dict[str, Model]:
    """Give the models asked by default: quick, and worth asking."""
    return {name: model for name, model in all_models().items() if model.everyday}


def named_models(text: str) -> tuple[str, ...] | None:
    """Read names of models as a person types them, commas or spaces between; None for the everyday ones.

    Raises
    ------
    UnknownError
        If no model is called so.
    """
    names = tuple(dict.fromkeys(text.replace(",", " ").split()))
    for name in names:
        if name not in all_models():
            raise UnknownError(
                phrase("No forecasting model is called '%(name)s'.", name=shorten(name)),
                fix=nearest(name, list(all_models())) or phrase("Models: %(names)s.", names=", ".join(all_models())),
            )
    return names or None
