"""A file's faults for a person: what repeats itself row after row is said a few times, then counted."""

from collections.abc import Sequence

from stockroom.errors import Problem
from stockroom.phrases import Number, Phrase, plural

_FIRST = 3  # rows of one fault that are written out

_Alike = tuple[str, str, str, str]


def problem_lines(problems: Sequence[Problem]) -> list[str]:
    """Write each fault; of many alike, the first rows, and how many more there are."""
    alike: dict[_Alike, list[Problem]] = {}
    for problem in problems:
        alike.setdefault(_alike(problem), []).append(problem)
    lines: list[str] = []
    for same in alike.values():
        few = same if len(same) <= _FIRST + 1 else same[:_FIRST]
        lines += [problem.line for problem in few]
        lines += [_more(same[len(few) :])] if len(few) < len(same) else []
    return lines


def problem_facts(problems: Sequence[Problem]) -> list[dict[str, object]]:
    """Give every fault to a program."""
    return [
        {
            "file": p.file, "sheet": p.sheet, "row": p.row, "column": p.column, "value": p.value,
            "what": p.what, "fix": p.fix,
        }
        for p in problems
    ]  # fmt: skip


def _alike(problem: Problem) -> _Alike:
    """Tell what makes faults one: what is wrong often repeats the value, which differs from row to row."""
    what = problem.what.replace(problem.value, "…") if problem.value else problem.what
    return (problem.file, problem.sheet, problem.column, what)


def _more(rest: Sequence[Problem]) -> Phrase:
    """Count the rows that aren't written out."""
    rows, num = [problem.row for problem in rest if problem.row is not None], Number(len(rest))
    if not rows:
        return plural("  … and %(num)s more row like these.", "  … and %(num)s more rows like these.", num)
    return plural(
        "  … and %(num)s more row like these (to row %(last)s).",
        "  … and %(num)s more rows like these (to row %(last)s).",
        num,
        last=Number(max(rows)),
    )
