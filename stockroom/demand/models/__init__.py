"""One file per forecasting model; the folder is scanned when asked."""

from functools import cache
from importlib import import_module
from pkgutil import iter_modules

from stockroom.demand.view import Model


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
