"""How true the forecast was, in words, tables, figures for programs, and a spreadsheet."""

import json
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path

from stockroom.demand.accuracy import LEVELS, Trueness
from stockroom.flows.outlook.came_true import OUTLOOK, SPAN, ForecastReport, LookedBack, NamedTrueness, Worst
from stockroom.phrases import joined, phrase, plural
from stockroom.show.charts.facts import ForecastPicture
from stockroom.show.formats import Formats
from stockroom.show.layout import Head, TableLine, wrap
from stockroom.show.tables.listing import table
from stockroom.stock.quantities import NANO

NINE_IN_TEN = int(abs(LEVELS - 0.9).argmin())
LEVEL = 0.01  # bias below which it said what came
TOLD = 6  # codes named in a sentence
_HEADS = (
    Head(text="Code"),
    Head(text="Name", flexible=True),
    Head(text="Forecasts", right=True),
    Head(text="Too much", right=True),
    Head(text="Missed by", right=True),
    Head(text="In 9 of 10", right=True),
    Head(text="Better by", right=True),
)
_DATES = (
    Head(text="Code"),
    Head(text="Name", flexible=True),
    Head(text="Looked at", right=True),
    Head(text="Said", right=True),
    Head(text="Range", right=True),
    Head(text="Ran out", right=True),
)


COLUMNS = (
    "Too much: by what part more was said than came. Missed by: the mean distance, as a part of what came. In 9 of 10: "
    "how often use stayed within that range. Better by: how much smaller the misses were than the better plain "
    "average's."
)


def verdict(report: ForecastReport) -> str:
    """Say in a minute's words how true the forecast was."""
    whole = report.whole
    if whole is None:
        return phrase(
            "There is nothing to look back at yet: it takes half a year of entries and %(weeks)s weeks after them.",
            weeks=SPAN,
        )
    return joined([
        plural(
            "Looked back at %(num)s past day, %(weeks)s weeks ahead of it, with only what was known then.",
            "Looked back at %(num)s past days, %(weeks)s weeks ahead of each, with only what was known then.",
            len(report.days),
            weeks=SPAN,
        ),
        phrase(
            "Use stayed within the range of nine in ten %(share)s%% of the time.",
            share=round(100 * whole.coverage[NINE_IN_TEN]),
        ),
        _bias(whole),
        _against(whole),
        _run_outs(report),
        warning(report),
    ])  # fmt: skip


def _bias(whole: Trueness) -> str:
    part = round(100 * abs(whole.bias))
    if abs(whole.bias) < LEVEL:
        return phrase("On average it said what came.")
    if whole.bias > 0:
        return phrase("On average it said %(part)s%% more than came.", part=part)
    return phrase("On average it said %(part)s%% less than came.", part=part)


def _against(whole: Trueness) -> str:
    year, moving = (round(100 * (1 - whole.loss / other)) if other else 0 for other in (whole.average, whole.moving))
    if year >= 0 and moving >= 0:
        return phrase(
            "Its misses were %(year)s%% smaller than those of a year's average, %(moving)s%% than of a two-month one.",
            year=year,
            moving=moving,
        )
    return phrase(
        "Against a year's average its misses were %(year)s%%, against a two-month one %(moving)s%% "
        "(below zero smaller).",
        year=-year,
        moving=-moving,
    )


def _run_outs(report: ForecastReport) -> str:
    runs = report.run_outs
    if not runs.said and not runs.happened:
        return ""
    return phrase(
        "Had nothing more been ordered, %(came)s of %(said)s run-outs held likely within %(weeks)s weeks would have "
        "come; of %(happened)s in all %(missed)s had been held unlikely. Half of the dates said were at most "
        "%(days)s days off, and %(within)s of %(ranged)s fell within their range (eight in ten should).",
        days=runs.days_off,
        said=runs.said,
        weeks=OUTLOOK,
        came=runs.came,
        happened=runs.happened,
        missed=runs.missed,
        within=runs.within,
        ranged=runs.ranged,
    )


def warning(report: ForecastReport) -> str:
    """Warn where a plain average would have been better, and say where it is used."""
    said = []
    if report.plain_better:
        said.append(
            phrase("A plain average of a year would have been better for %(codes)s.", codes=_codes(report.plain_better))
        )
    if report.by_average:
        said.append(
            phrase(
                "Jobs it has served better are now forecast by the plain average: %(jobs)s.",
                jobs=", ".join(report.by_average),
            )
        )
    return joined(said)


def _codes(groups: Sequence[NamedTrueness]) -> str:
    named = ", ".join(group.code for group in groups[:TOLD])
    if len(groups) <= TOLD:
        return named
    return phrase("%(codes)s and %(more)s more", codes=named, more=len(groups) - TOLD)


def why(worst: Worst, formats: Formats) -> str:
    """Say why a material was missed."""
    cause = worst.cause
    if cause.kind == "stopped" and worst.since:
        return phrase("Hardly used since about %(day)s", day=worst.since)
    if cause.kind == "step" and worst.since:
        amounts = [formats.told(round(each * NANO), worst.material.unit) for each in (cause.before, cause.after)]
        return phrase(
            "About %(day)s its use went from %(before)s to %(after)s a week",
            day=worst.since,
            before=amounts[0],
            after=amounts[1],
        )
    told = {
        "lumps": phrase(
            "Comes in few large uses: one week held %(share)s%% of a year's", share=round(100 * cause.share)
        ),
        "rare": phrase("Used in %(weeks)s weeks of the last year: which ones is chance", weeks=cause.week),
        "young": phrase("Used too little or too short a time to be known"),
        "together": phrase("Missed the same way many times in a row"),
    }
    return told.get(cause.kind) or phrase("Chance: nothing stands out")


def report_words(report: ForecastReport, formats: Formats, *, width: int | None = 80) -> str:
    """Draw the whole report for a terminal."""
    parts = [wrap(verdict(report), width)]
    if report.whole:
        parts.append(wrap(COLUMNS, width))
        worst = [_line(each.material.code, each.material.name, each.figures, formats, why(each, formats))
                 for each in report.worst]  # fmt: skip
        families = [_line("", group.name, group.figures, formats) for group in report.families]
        parts += [
            table("By family, least gain first", _HEADS, families,
                  width=width),
            table("Missed by most, and why", _HEADS, worst, width=width).rstrip(),
        ]  # fmt: skip
        if report.run_outs.farthest:
            parts.append(_dates(report.run_outs.farthest, formats, width))
    return "\n\n".join(parts)


def _dates(rows: Sequence[LookedBack], formats: Formats, width: int | None) -> str:
    """List run-outs said beside what happened."""
    lines = [
        TableLine(cells=(row.material.code, row.material.name, formats.day(row.on), *run_out_said(row, formats)))
        for row in rows
    ]
    return table("Run-outs farthest outside what was said", _DATES, lines, width=width).rstrip()


def run_out_said(row: LookedBack, formats: Formats) -> tuple[str, str, str]:
    """Say of a run-out the day said, its range, and the day that came."""
    early, late = (formats.day(day) if day else phrase("later") for day in (row.said.earliest, row.said.latest))
    said = formats.day(row.said.runs_out) if row.said.runs_out else phrase("not within %(weeks)s weeks", weeks=OUTLOOK)
    came = formats.day(row.ran_out) if row.ran_out else phrase("not within %(weeks)s weeks", weeks=OUTLOOK)
    return said, phrase("%(early)s to %(late)s", early=early, late=late), came


def _line(code: str, name: str, of: Trueness, formats: Formats, note: str = "") -> TableLine:
    figures = (of.bias, of.error, of.coverage[NINE_IN_TEN], of.gain)
    said = (formats.number(of.forecasts), *(formats.percent(figure) for figure in figures))
    return TableLine(cells=(code, name, *said), notes=(note,))


def report_facts(report: ForecastReport, formats: Formats) -> dict[str, object]:
    """Give the report to a program."""
    runs = report.run_outs
    return {
        "as_of": report.as_of.isoformat(),
        "weeks": SPAN,
        "days": [day.isoformat() for day in report.days],
        "verdict": verdict(report),
        "whole": _facts(report.whole) if report.whole else None,
        "families": [{"family": group.name, **_facts(group.figures)} for group in report.families],
        "materials": [{"material": g.code, "name": g.name, **_facts(g.figures)} for g in report.materials],
        "worst": [
            {"material": each.material.code, "cause": each.cause.kind, "why": why(each, formats),
             "since": each.since.isoformat() if each.since else None}
            for each in report.worst
        ],
        "run_outs": {
            "weeks": OUTLOOK, "held_likely": runs.said, "of_them_came": runs.came, "came": runs.happened,
            "of_them_held_unlikely": runs.missed, "with_a_range": runs.ranged, "within_it": runs.within,
            "median_days_off": runs.days_off,
            "farthest": [
                {"material": row.material.code, "on": row.on.isoformat(), "said": _iso(row.said.runs_out),
                 "earliest": _iso(row.said.earliest), "latest": _iso(row.said.latest), "happened": _iso(row.ran_out)}
                for row in runs.farthest
            ],
        },
        "average_would_be_better": [group.code for group in report.plain_better],
        "jobs_by_average": list(report.by_average),
    }  # fmt: skip


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day else None


def _facts(of: Trueness) -> dict[str, object]:
    return {
        "forecasts": of.forecasts,
        "bias": round(of.bias, 4),
        "error": round(of.error, 4),
        "coverage": {f"{level:g}": round(share, 4) for level, share in zip(LEVELS, of.coverage, strict=True)},
        "loss": round(of.loss, 5),
        "loss_of_average": round(of.average, 5),
        "loss_of_moving_average": round(of.moving, 5),
        "average_better": of.plain_better,
    }


def report_picture(report: ForecastReport) -> ForecastPicture:
    """Give what the chart is drawn from."""
    return ForecastPicture(
        days=report.days,
        within=tuple(each.coverage[NINE_IN_TEN] for each in report.by_day),
        loss=tuple(each.loss / each.average if each.average else 1.0 for each in report.by_day),
    )


def report_xlsx(report: ForecastReport, formats: Formats) -> bytes:
    """Write a workbook: materials, families, the worst and why, and every day's row."""
    from stockroom.show import spreadsheet as sheets  # noqa: PLC0415 -- slow import

    book, page = sheets.new_book("Materials")
    figures = ("Forecasts", "Too much", "Missed by", "Within 9 in 10", "Better by", "Average better")
    rows = [(g.code, g.name, *_cells(g.figures)) for g in report.materials]
    _sheet(page, ("Code", "Material", *figures), rows)
    _sheet(book.create_sheet("Families"), ("Family", *figures), [(g.name, *_cells(g.figures)) for g in report.families])
    _sheet(book.create_sheet("Worst"), ("Code", "Material", "Why"),
           [(w.material.code, w.material.name, str(why(w, formats))) for w in report.worst])  # fmt: skip
    _sheet(
        book.create_sheet("Days"),
        ("Day", "Code", "Said", "Came", "Unit", "Runs out", "Earliest", "Latest", "Ran out"),
        [
            (row.on, row.material.code, _amount(row.mean, row), _amount(row.came, row), row.material.unit.name,
             row.said.runs_out or "", row.said.earliest or "", row.said.latest or "", row.ran_out or "")
            for row in report.rows
        ],
    )  # fmt: skip
    return sheets.saved(book)


def _amount(base: float, row: object) -> Decimal:
    unit = row.material.unit  # type: ignore[attr-defined]
    return Decimal(f"{base * NANO / unit.nano:.3f}")


def _cells(of: Trueness) -> tuple[object, ...]:
    shares = (of.bias, of.error, of.coverage[NINE_IN_TEN], of.gain)
    return (of.forecasts, *(Decimal(f"{share:.3f}") for share in shares), "yes" if of.plain_better else "")


def _sheet(page: object, heads: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    from stockroom.show import spreadsheet as sheets  # noqa: PLC0415 -- slow import

    sheets.put_headings(page, 1, [sheets.Heading(text=head, width=16, right=False) for head in heads])  # type: ignore[arg-type]
    for number, row in enumerate(rows, 2):
        for column, (head, value) in enumerate(zip(heads, row, strict=True), 1):
            if isinstance(value, str):
                sheets.put_text(page, (number, column), value)  # type: ignore[arg-type]
            elif isinstance(value, date):
                sheets.put_time(page, (number, column), value)  # type: ignore[arg-type]
            elif isinstance(value, int | Decimal):
                share = head in ("Too much", "Missed by", "Within 9 in 10", "Better by")
                sheets.put_number(page, (number, column), value, number_format="0%" if share else "")  # type: ignore[arg-type]
    sheets.finish_list(page, 1, len(heads))  # type: ignore[arg-type]
    sheets.set_page(page, page.title, heading_row=1)  # type: ignore[arg-type,attr-defined]


def write_report(report: ForecastReport, folder: Path, formats: Formats) -> list[Path]:
    """Write the report as a spreadsheet, JSON and a chart; gives the files written."""
    from stockroom.show.charts.past import forecast_chart  # noqa: PLC0415 -- charts are slow to import

    facts = json.dumps(report_facts(report, formats), ensure_ascii=False, indent=2) + "\n"
    files = {"forecast-report.xlsx": report_xlsx(report, formats), "forecast-report.json": facts.encode()}
    if report.whole:
        files["forecast-report.png"] = forecast_chart(report_picture(report), formats, _against(report.whole))
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return [folder / name for name in files]


def picture_words(report: ForecastReport) -> str:
    """Say what the chart shows."""
    return _against(report.whole) if report.whole else ""
