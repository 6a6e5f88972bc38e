"""Margins and accounts as text for a terminal."""

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from textwrap import fill
from typing import Any

from stockroom.margins.alerts import Alert
from stockroom.margins.changes import CONVENTION, MarginChange
from stockroom.margins.cutting import CutOrBuy, Cutting, SizeCosts, Yield
from stockroom.margins.income import Coins, Group, in_coins
from stockroom.show.charts.margins import layout_words
from stockroom.show.formats import Formats
from stockroom.show.layout import Head, TableLine, wrap
from stockroom.show.tables.listing import table
from stockroom.stock.money import MILLI, half_up, major
from stockroom.stock.recipes import Job
from stockroom.stock.shop import Shop

_MARGINS = (
    Head(text="Which", flexible=True),
    Head(text="Done", right=True),
    Head(text="Net income", right=True),
    Head(text="Materials", right=True),
    Head(text="Materials %", right=True),
    Head(text="Card fee", right=True),
    Head(text="Post", right=True),
    Head(text="Margin", right=True),
    Head(text="Margin an hour", right=True),
    Head(text="Lost", right=True),
    Head(text="Mean margin", right=True),
)
_SUBTRACTED = ("Card fee", "Post")  # shown where there is any
_MOVED = (Head(text="What", flexible=True), Head(text="Effect", right=True), Head(text="Most of it in", flexible=True))
_ALERTS = (
    Head(text="Job", flexible=True),
    Head(text="Price", right=True),
    Head(text="Margin % before", right=True),
    Head(text="Margin % now", right=True),
    Head(text="Price that restores it", right=True),
    Head(text="Risen", flexible=True),
)
_CUT = (
    Head(text="Size"),
    Head(text="Cut", right=True),
    Head(text="Bought", right=True),
    Head(text="Cutting saves", right=True),
    Head(text="Break-even yield", right=True),
)
_SHOWN = 3
_ALIKE = Fraction(1, 100)  # yields no further apart say the same


def margin_table(
    title: str,
    groups: Sequence[Group],
    names: Mapping[str, str],
    formats: Formats,
    *,
    whole: Group | None = None,
    width: int | None = 100,
) -> str:
    """Draw groups of jobs with what they earned, how sure the mean is, and what was lost below the minimum margin."""
    coins = in_coins(groups)
    if whole:
        coins.append(_sum(coins))
    shown = [*groups, *([whole] if whole else [])]
    fees = any(each.fee for each in coins), any(each.post for each in coins)
    lines = [_margin_line(group, each, fees, (names, formats)) for group, each in zip(shown, coins, strict=True)]
    heads = [head for head in _MARGINS if head.text not in _SUBTRACTED or fees[_SUBTRACTED.index(head.text)]]
    return table(title, heads, lines, empty="No paid job was finished in the period.", width=width)


def _sum(coins: Sequence[Coins]) -> Coins:
    return Coins(
        **{name: sum(getattr(each, name) for each in coins) for name in ("income", "materials", "fee", "post")}
    )


def moved_table(
    title: str, found: MarginChange, names: Mapping[str, str], formats: Formats, *, width: int | None = 100
) -> str:
    """Draw the way from one margin to the other, step by step; what is printed adds up."""
    before, effects, after = found.printed
    steps = [
        TableLine(cells=(part.name, _signed(effect * MILLI, formats), _most(part.by_job, names, formats)))
        for part, effect in zip(found.parts, effects, strict=True)
    ]
    first, last = (
        TableLine(cells=(words, formats.money(value), ""))
        for words, value in (("margin before", before), ("margin after", after))
    )
    words = fill(CONVENTION, width=width or 100)
    return f"{table(title, _MOVED, [first, *steps, last], width=width).rstrip()}\n\n{words}"


def alert_table(
    title: str,
    found: Iterable[Alert],
    names: tuple[Mapping[str, Job], Mapping[str, str]],
    formats: Formats,
    *,
    width: int | None = 100,
) -> str:
    """Draw the jobs that fell below the minimum margin, and the price that would restore each."""
    jobs, materials = names
    lines = [
        TableLine(
            cells=(
                jobs[alert.job].name,
                formats.money(alert.price),
                _share(alert.share_before, formats),
                _share(alert.share_after, formats),
                formats.money(alert.restoring),
                _risen(alert.rises, materials, formats),
            )
        )
        for alert in found
    ]
    return table(title, _ALERTS, lines, empty="No job fell below the minimum margin.", width=width)


def cut_table(title: str, choices: Iterable[SizeCosts], formats: Formats, *, width: int | None = 100) -> str:
    """Draw cut or bought, size by size."""
    return table(title, _CUT, [_cut_line(choice, formats) for choice in choices], width=width)


def yield_words(found: Yield, formats: Formats) -> str:
    """Say what part of a sheet ends in soles, and how that is known."""
    write = formats.percent
    between = f"Yield: {write(found.share, 1)} of a sheet ends in soles ({write(found.low)} to {write(found.high)})."
    if found.counted is None:
        return f"{between} It is what the layout gives: count the sheet now and then, and it follows your own cutting."
    sheets = formats.number(round(found.sheets, 1))
    return (
        f"{between} The layout gives {write(found.layout, 1)}; your counts say {write(found.counted, 1)}, by {sheets} "
        f"sheets' worth of work and the offcuts kept."
    )


def _margin_line(
    group: Group, coins: Coins, fees: tuple[bool, bool], words: tuple[Mapping[str, str], Formats]
) -> TableLine:
    names, formats = words
    cells = (
        _named(group.name, names),
        str(group.count),
        formats.money(coins.income),
        formats.money(coins.materials),
        _share(group.materials_share, formats),
        *([formats.money(coins.fee)] if fees[0] else []),
        *([formats.money(coins.post)] if fees[1] else []),
        formats.money(coins.margin),
        _an_hour(group, formats),
        formats.milli(group.lost) if group.lost else "",
        _between(group, formats),
    )
    return TableLine(cells=cells)


def _an_hour(group: Group, formats: Formats) -> str:
    if group.per_hour is None:
        return ""
    if group.hour_least is None or group.hour_most is None:
        return formats.milli(group.per_hour)
    return f"{formats.milli(group.per_hour)} ± {formats.milli((group.hour_most - group.hour_least) // 2)}"


def _between(group: Group, formats: Formats) -> str:
    if group.least is None or group.most is None:
        return "" if group.count > 1 or group.name == "All" else "one job tells little"
    return f"{formats.milli(group.least)} to {formats.milli(group.most)}"


def _named(name: str, names: Mapping[str, str]) -> str:
    """Put a job's name in place of its code, alone or before its choices."""
    code, colon, chosen = name.partition(":")
    return f"{names.get(code, code)}{colon}{chosen}"


def _most(by_job: Mapping[str, int], names: Mapping[str, str], formats: Formats) -> str:
    dear = sorted(by_job.items(), key=lambda pair: (-abs(pair[1]), pair[0]))[:_SHOWN]
    return ", ".join(f"{names.get(job, job)} {_signed(effect, formats)}" for job, effect in dear)


def _risen(rises: Sequence[tuple[str, int]], names: Mapping[str, str], formats: Formats) -> str:
    return ", ".join(f"{names.get(code, code)} {_signed(rise, formats)} a job" for code, rise in rises[:_SHOWN])


def _cut_line(choice: SizeCosts, formats: Formats) -> TableLine:
    worth = choice.break_even is not None and choice.break_even <= 1
    cells = (
        str(choice.size),
        formats.milli(choice.cut),
        "" if choice.bought is None else formats.milli(choice.bought),
        "" if choice.saved is None else _signed(choice.saved, formats),
        _share(choice.break_even, formats) if worth else ("never" if choice.bought is not None else ""),
    )
    return TableLine(cells=cells)


def _share(share: Fraction | None, formats: Formats) -> str:
    return "" if share is None else formats.percent(float(share))


def _signed(milli: int, formats: Formats) -> str:
    return f"{'+' if milli > 0 else ''}{formats.milli(milli)}"


def cut_words(found: CutOrBuy, formats: Formats, *, width: int | None = 100) -> str:
    """Say what cutting costs against buying, job by job, and what a sheet gives."""
    material, sheet = found.material, found.sheet
    unit = material.unit
    each = formats.fine(half_up(Fraction(sheet.cost * unit.nano, sheet.area)))
    bought = f"{found.pack}, {formats.amount(sheet.area, unit)} for {formats.milli(sheet.cost)}: {each} a {unit.name}"
    parts = [
        wrap(f"{material.name} ({bought}, without carriage).", width),
        wrap(yield_words(found.learnt, formats), width),
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
        "yield": {
            "share": float(found.share),
            "learnt": found.learnt.share,
            "low": found.learnt.low,
            "high": found.learnt.high,
            "layout": found.learnt.layout,
            "counted": found.learnt.counted,
            "sheets": found.learnt.sheets,
        },
        "jobs": [
            {
                "job": job.job,
                "line": job.line,
                "yield": float(found.share),
                "recipe_yield": float(job.recipe_share),
                "pairs_on_a_sheet": job.layout.pairs if job.layout else None,
                "layout_yield": job.layout.share if job.layout else None,
                "against": {r.material: [_choice_facts(c, digits) for c in r.choices] for r in job.rivals},
            }
            for job in found.jobs
        ],
    }


def _job_words(job: Cutting, found: CutOrBuy, formats: Formats, width: int | None) -> str:
    reckoned, by_recipe = (formats.percent(float(share), 1) for share in (found.share, job.recipe_share))
    waste = formats.percent(float(1 / found.share - 1))
    said = [
        cut_table(f"{job.job}, {job.line}, against {rival.material}", rival.choices, formats, width=width)
        for rival in job.rivals
    ] or [f"{job.job}, {job.line}: nothing pre-cut serves the same choice."]
    fits = abs(found.share - job.recipe_share) <= _ALIKE
    hint = "" if fits else f" A waste of {waste} on its line would draw by the one reckoned with."
    said.append(wrap(f"Reckoned with a yield of {reckoned}; the recipe's is {by_recipe}.{hint}", width))
    if job.layout and job.layout_size:
        said.append(
            wrap(f"In {job.layout_size}, drawn to the recipe's area: {layout_words(job.layout, formats)}", width)
        )
    return "\n".join(part.rstrip("\n") for part in said)


def _choice_facts(choice: SizeCosts, digits: int) -> dict[str, Any]:
    return {
        "size": str(choice.size),
        "cut": _major(choice.cut, digits),
        "bought": None if choice.bought is None else _major(choice.bought, digits),
        "saved": None if choice.saved is None else _major(choice.saved, digits),
        "break_even_yield": None if choice.break_even is None else float(choice.break_even),
    }


def _major(milli: int, digits: int) -> str:
    return f"{major(milli, digits) / MILLI:f}"
