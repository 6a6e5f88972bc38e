"""The shop's lists: what each says, and forms that add to it, change it or take something out.

A form is made of the declared columns of the list's file: their titles, what they mean, what they may hold. What is
typed goes the way of a file's rows, so that a form is refused for what a file is refused for, beside the field.
"""

from collections.abc import Mapping, Sequence

from flask import Blueprint, jsonify, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.errors import BadEntryError, Problem, StockroomError
from stockroom.flows.loading import lists as flows
from stockroom.flows.loading.lists import LISTS, Entry, ListKind
from stockroom.intake.columns import Field, Type
from stockroom.phrases import joined
from stockroom.stock.quantities import UNITS
from stockroom.web import access, list_words, typed
from stockroom.web.access import may
from stockroom.web.site import formats, role, say, site
from stockroom.web.words import said, words

pages = Blueprint("lists", __name__)

_WHOLE = ("job", "valid from", "reference size", "source")  # what every row of a recipe says alike
_BLANK_LINES = 3  # offered below a recipe's lines
_MOST_LINES = 60
_FIGURES = (Type.NUMBER, Type.WHOLE, Type.MONEY, Type.PERCENT)
_FIRST = {  # what most entries say, beside what is needed or filled in; the rest is folded, but not in short lists
    "materials": ("place", "purpose", "sell price", "usual cost", "usual a week"),
    "suppliers": ("carriage", "carriage free over", "minimum order", "email"),
    "offers": ("unit", "pack name"),
    "jobs": ("family", "price", "bench minutes", "sized", "usual a week"),
    "recipes": ("choice", "option", "material", "amount", "unit"),
}
_INPUTS = {Type.DATE: "date", Type.TIME: "time"}


@pages.get("/lists")
@may(access.OWNER)
def overview() -> str:
    """Show every list with how much stands on it."""
    day = site().now().date()
    found = [(kind, len(flows.entries(site().book, kind, day))) for kind in LISTS.values()]
    return render_template("lists.html", lists=found)


@pages.get("/lists/<name>")
@may(access.OWNER)
def entries(name: str) -> str:
    """Show the entries of a list."""
    kind = flows.list_kind(name)
    found, names = flows.entries(site().book, kind, site().now().date()), _names(kind)
    rows = [(each, list_words.headed(kind, each, names), list_words.told(kind, each, names)) for each in found]
    return render_template("list.html", kind=kind, entries=rows)


@pages.get("/lists/<name>/entry")
@may(access.OWNER)
def entry(name: str) -> str:
    """Show the form of an entry, filled in with what it says, or an empty one."""
    kind = flows.list_kind(name)
    return _opened(kind, _before(kind, request.args.getlist("key")), dict(request.args.items()))


def _names(kind: ListKind) -> dict[str, dict[str, str]]:
    """Give the codes that a list's columns refer to, with what they mean."""
    day, lists = site().now().date(), {_refers(column) for column in kind.kind.columns} & LISTS.keys()
    return {stem: {e.key[0]: e.name for e in flows.entries(site().book, LISTS[stem], day)} for stem in lists}


def _opened(kind: ListKind, before: Entry | None, fresh: Mapping[str, str]) -> str:
    rows = list_words.shown_rows(kind, before.rows if before else [fresh])
    if kind.dated:
        rows = [{**row, kind.dated: site().now().date().isoformat()} for row in rows]
    return _form(kind, rows, before)


@pages.get("/lists/recipes/of")
@may(access.OWNER)
def recipe_of() -> str:
    """Show the form of a job's recipe, or an empty one for it."""
    kind, job = LISTS["recipes"], request.args.get("job", "")
    there = [e for e in flows.entries(site().book, kind, site().now().date()) if e.key == (job,)]
    return _opened(kind, there[0] if there else None, {"job": job})


@pages.post("/lists/<name>/entry")
@may(access.OWNER)
def save(name: str) -> Response | tuple[str, int]:
    """Save an entry; what is wrong is said beside its field, and what was typed stays."""
    kind = flows.list_kind(name)
    before, rows = _before(kind, request.form.getlist("was")), _typed(kind)
    kept, doubts = list_words.kept_rows(kind, rows)
    if doubts:
        return _form(kind, rows, before, doubts), 400
    try:
        done = flows.save(site().book, kind, kept, site().now(), before=before, who=role())
    except BadEntryError as refused:
        return _form(kind, rows, before, refused.problems), 400
    if done.document is None:
        say(words("Nothing was changed: it is said so already."))
    else:
        titles = {column.name: words(column.title) for column in kind.kind.columns}
        names = joined(list(dict.fromkeys(titles[name] for _, name, _, _ in done.changed)), ", ")
        say(words("Saved: %(names)s.", names=names), undo=done.document)
    for note in done.notes:
        say(said(note))
    return go(url_for("lists.entries", name=kind.stem), 303)


@pages.post("/lists/<name>/check")
@may(access.OWNER)
def check(name: str) -> Response:
    """Say to the form's script what is wrong so far, and what a recipe costs; nothing is saved."""
    kind = flows.list_kind(name)
    before, rows = _before(kind, request.form.getlist("was")), _typed(kind)
    rows, doubts = list_words.kept_rows(kind, rows)
    problems: Sequence[Problem] = doubts
    told = ""
    try:
        if not doubts:
            flows.save(site().book, kind, rows, site().now(), before=before, dry_run=True)
            told = _cost(rows) if kind.stem == "recipes" else ""
    except BadEntryError as refused:
        problems = refused.problems
    except StockroomError as wrong:
        told = said(wrong.words)
    return jsonify(faults=_beside(kind, problems), said=told)


@pages.post("/lists/<name>/remove")
@may(access.OWNER)
def remove(name: str) -> Response:
    """Take an entry out that nothing names."""
    kind = flows.list_kind(name)
    found = flows.find(site().book, kind, request.form.getlist("was"), site().now().date())
    number = flows.remove(site().book, kind, found, site().now(), who=role())
    say(words("Taken out: %(name)s.", name=found.name), undo=number)
    return go(url_for("lists.entries", name=kind.stem), 303)


def _before(kind: ListKind, key: Sequence[str]) -> Entry | None:
    return flows.find(site().book, kind, key, site().now().date()) if any(key) else None


def _typed(kind: ListKind) -> list[dict[str, str]]:
    """Read the rows of the form; a line of a recipe without a name, or marked to be left out, is none."""
    names = [column.name for column in kind.kind.columns]

    def row(number: int) -> dict[str, str]:
        return {name: request.form.get(f"{number}:{name}", "").strip() for name in names}

    if kind.stem != "recipes":
        return [row(0)]
    whole = {name: request.form.get(f"0:{name}", "").strip() for name in _WHOLE}
    lines = [{**row(n), **whole} for n in range(_MOST_LINES) if not request.form.get(f"{n}:gone")]
    kept = [line for line in lines if any(line[name] for name in ("line", "material", "amount", "option"))]
    return kept or [whole]


def _form(
    kind: ListKind, rows: Sequence[Mapping[str, str]], before: Entry | None, problems: Sequence[Problem] = ()
) -> str:
    recipe = kind.stem == "recipes"
    columns = kind.kind.columns
    names = _names(kind)
    known = {stem: list(each.items()) for stem, each in names.items()}
    faults = _beside(kind, problems)
    return render_template(
        "list_entry.html",
        kind=kind,
        before=before,
        rows=[*rows, *({} for _ in range(_BLANK_LINES if recipe else 0))],
        filled=len(rows),
        whole=[column for column in columns if recipe and column.name in _WHOLE],
        columns=[column for column in columns if not (recipe and column.name in _WHOLE)],
        first=_FIRST.get(kind.stem, tuple(column.name for column in columns)),
        fixed=kind.key if before is not None and (kind.coded or recipe) else (),
        known=known,
        refers=_refers,
        units=UNITS,
        inputs=_INPUTS,
        figures=_FIGURES,
        types=Type,
        word=words,
        faults=faults,
        told=_cost(before.rows) if recipe and before and not problems else "",
        heading=list_words.headed(kind, before, names) if before else "",
        about=list_words.told(kind, before, names) if before else (),
        example=_example,
    )


def _example(column: Field) -> str:
    """Write a column's example as the reader types it; a day's field shows how by itself."""
    examples = column.type in _FIGURES and column.example
    return typed.figures(column.example) if examples else ""


def _refers(column: Field) -> str:
    """Say which list's codes a field offers; of groups, the materials'."""
    return "materials" if column.refers_to == "stock" else column.refers_to


def _beside(kind: ListKind, problems: Sequence[Problem]) -> dict[str, list[str]]:
    """Put each fault beside its field, or at the top where it is about no field."""
    headers, found = kind.kind.headers, dict[str, list[str]]()
    for problem in problems:
        column = headers.get(problem.column, "")
        number = 0 if problem.row is None or column in _WHOLE else problem.row - 1
        text = f"{said(problem.what).rstrip('.')}. {said(problem.fix)}".strip()
        found.setdefault(f"{number}:{column}" if column else "", []).append(text)
    return found


def _cost(rows: Sequence[Mapping[str, str]]) -> str:
    try:
        cost = flows.costed(site().book, rows, site().now())
    except StockroomError:
        return ""
    text = words("Materials of the usual pair: %(money)s.", money=formats().money(cost.materials))
    if cost.left is not None and cost.price is not None:
        left = formats().percent(float(cost.left))
        text += " " + words(
            "Of its price, %(price)s, before tax %(left)s is left.", price=formats().money(cost.price), left=left
        )
    if cost.unpriced:
        text += " " + words("Nobody has said yet what these cost: %(codes)s.", codes=", ".join(cost.unpriced))
    return text
