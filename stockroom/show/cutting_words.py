"""Cut or buy in words, and as facts for a program."""

from fractions import Fraction
from typing import Any

from stockroom.margins.cutting import Choice
from stockroom.margins.cutting_found import CutOrBuy, Cutting
from stockroom.show.charts_margins import layout_words
from stockroom.show.formats import Formats
from stockroom.show.layout import wrap
from stockroom.show.money_tables import cut_table, yield_words
from stockroom.stock.money import MILLI, half_up, major
from stockroom.stock.shop import Shop


def cut_words(found: CutOrBuy, formats: Formats, *, width: int | None = 100) -> str:
    """Say what cutting costs against buying, job by job, and what a sheet gives."""
    material, sheet = found.material, found.sheet
    unit = material.unit
    each = formats.fine(half_up(Fraction(sheet.cost * unit.nano, sheet.area)))
    bought = f"{found.pack}, {formats.amount(sheet.area, unit)} for {formats.milli(sheet.cost)}: {each} a {unit.name}"
    parts = [
        wrap(f"{material.name} ({bought}, without carriage).", width),
        wrap(yield_words(found.measured, formats), width),
    ]
    for job in found.jobs:
        parts += [_job_words(job, found, formats, width)]
    return "\n\n".join(part.rstrip("\n") for part in parts)


def cut_facts(found: CutOrBuy, shop: Shop) -> dict[str, Any]:
    """Give the same to a program."""
    digits = shop.currency_digits
    return {
        "material": found.material.code,
        "sheet": {"pack": found.pack, "cost": _major(found.sheet.cost, digits)},
        "measured_yield": None
        if found.measured is None
        else {"share": found.measured.share, "error": found.measured.error, "months": found.measured.sheets},
        "jobs": [
            {
                "job": job.job,
                "line": job.line,
                "yield": float(found.share or job.recipe_share),
                "recipe_yield": float(job.recipe_share),
                "pairs_on_a_sheet": job.layout.pairs if job.layout else None,
                "layout_yield": job.layout.share if job.layout else None,
                "against": {r.material: [_choice_facts(c, digits) for c in r.choices] for r in job.rivals},
            }
            for job in found.jobs
        ],
    }


def _job_words(job: Cutting, found: CutOrBuy, formats: Formats, width: int | None) -> str:
    reckoned = formats.percent(float(found.share or job.recipe_share), 1)
    by_recipe = formats.percent(float(job.recipe_share), 1)
    said = [
        cut_table(f"{job.job}, {job.line}, against {rival.material}", rival.choices, formats, width=width)
        for rival in job.rivals
    ] or [f"{job.job}, {job.line}: nothing pre-cut serves the same choice."]
    said.append(wrap(f"Reckoned with a yield of {reckoned}; the recipe's is {by_recipe}.", width))
    if job.layout and job.layout_size:
        said.append(
            wrap(f"In {job.layout_size}, drawn to the recipe's area: {layout_words(job.layout, formats)}", width)
        )
    return "\n".join(part.rstrip("\n") for part in said)


def _choice_facts(choice: Choice, digits: int) -> dict[str, Any]:
    return {
        "size": str(choice.size),
        "cut": _major(choice.cut, digits),
        "bought": None if choice.bought is None else _major(choice.bought, digits),
        "saved": None if choice.saved is None else _major(choice.saved, digits),
        "break_even_yield": None if choice.break_even is None else float(choice.break_even),
    }


def _major(milli: int, digits: int) -> str:
    return f"{major(milli, digits) / MILLI:f}"
