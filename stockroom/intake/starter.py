"""The starter shop: typical materials, jobs with recipes in usual amounts, invented suppliers, as rows of files.

Common practice, amounts to be checked against one's own. Where a figure has a source it is held to it by a test: the
spread of cement, the thread of a sole seam. Prices are examples. Every other text has its German in `de.csv`.
"""

import csv
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

_FOLDER = Path(__file__).parent / "starter_shop"
_SAID = {  # what people read: the rest are codes, figures and words of the program
    "materials": ("name", "place", "other words", "note"),
    "suppliers": ("name", "note"),
    "offers": ("pack name",),
    "jobs": ("name", "family"),
    "recipes": ("line", "choice", "option"),
}
SYSTEMS = ("EU", "UK", "US M")
_REFERENCE = "EU 42 = UK 8 = US M 9"  # UK and US: common practice, from memory; never converted
_MONEY = ("price", "sell price", "usual cost", "carriage", "carriage free over", "minimum order")

Rows = dict[str, Sequence[Mapping[str, str]]]


def starter_rows(language: str, day: date, *, system: str = "EU", digits: int = 2, source: str = "") -> Rows:
    """Give the rows of the starter shop by the stem of their file, with a point in figures.

    Parameters
    ----------
    language : str
        Of the texts, where they have a list of words; otherwise English.
    day : date
        From when recipes and prices hold.
    system : str
        Of the shoe sizes its packs come in.
    digits : int
        Decimals of the currency: where it has none, an example price of 3.20 is 320.
    source : str
        What the recipes say they come from.
    """
    spoken = (_FOLDER / f"{language}.csv").exists()
    words = {row["en"]: row[language] for row in _read(language)} if spoken else {}
    sizes = {row["sizes"]: row for row in _read("sizes")}

    def row(stem: str, raw: Mapping[str, str]) -> dict[str, str]:
        made = dict(raw) | {name: words.get(raw[name], raw[name]) for name in _SAID[stem]}
        if packed := made.pop("sizes", ""):
            low, high = (sizes[packed][f"{system} {end}"] for end in ("from", "to"))
            made |= {"size from": f"{system} {low}", "size to": f"{system} {high}"}
            made["name"] = made["name"].format(sizes=f"{system} {low}–{high}")
        made |= {name: _whole(made[name]) for name in _MONEY if made.get(name) and not digits}
        if stem in ("offers", "recipes"):
            made["valid from"] = day.isoformat()
        if stem == "recipes":
            made |= {"reference size": _REFERENCE, "source": source}
        return made

    return {stem: [row(stem, raw) for raw in _read(stem)] for stem in _SAID}


def usual_families(language: str) -> set[str]:
    """Give the families that the jobs of a shop usually are of, in a language."""
    return {row["family"] for row in starter_rows(language, date.min)["jobs"]}


def _whole(price: str) -> str:
    return price.replace(".", "")


def _read(stem: str) -> list[dict[str, str]]:
    with (_FOLDER / f"{stem}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
