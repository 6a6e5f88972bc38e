"""Add to the shop's lists, change what they say, take something out."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter
from stockroom.errors import UsageError
from stockroom.flows.bench.tickets import find_material
from stockroom.flows.loading import lists, replacing
from stockroom.flows.loading.lists import Entry, ListKind, Saved
from stockroom.intake.columns import Type, plain_header
from stockroom.phrases import phrase
from stockroom.stock.quantities import exchange

_who = click.option("--who", default="", help="Who did it.")
_words = click.argument("words", nargs=-1, metavar="[KEY]... [COLUMN=VALUE]...")
_list = click.argument("name", metavar="LIST")
_check = click.option("--check-only", "dry_run", is_flag=True, help="Check everything, save nothing.")


@click.command()
@_list
@_words
@_who
@_check
@desk.view
def add(counter: Counter, *, name: str, words: tuple[str, ...], who: str, dry_run: bool, as_json: bool) -> None:
    """Add a material, supplier, offer, job, recipe line, closure, substitute and so on.

    Such as: stockroom add material code=WAX name="Black wax" family=finish unit=g. The columns are those of the files;
    templates --explain shows them. A recipe's line is named by the job and its own name.
    """
    kind = lists.list_kind(name)
    key, values = _split(kind, words)
    if kind.stem == "recipes" and key:
        entry, rows = _recipe_with(counter, kind, key, values)
    else:
        entry, rows = None, (dict(zip(kind.key, key, strict=False)) | values,)
    saved = lists.save(
        counter.book, kind, _dated(kind, rows, values), desk.now(), before=entry, who=who, dry_run=dry_run
    )
    _tell(kind, saved, dry_run=dry_run, as_json=as_json)


@click.command()
@_list
@_words
@_who
@_check
@desk.view
def change(counter: Counter, *, name: str, words: tuple[str, ...], who: str, dry_run: bool, as_json: bool) -> None:
    """Change what a list says, or show it.

    Such as: stockroom change material WAX "sell price=6". Without a column it shows the entry, without a key the list.
    A recipe's line is named by the job and its own name. Offers and recipes hold from today, or from the day given as
    their 'valid from'.
    """
    kind = lists.list_kind(name)
    key, values = _split(kind, words)
    if not values:
        desk.looked()
        _show(counter, kind, key, as_json=as_json)
        return
    if kind.stem == "recipes":
        entry, rows = _recipe_changed(counter, kind, key, values)
    else:
        entry = lists.find(counter.book, kind, key, _from(kind, values))
        rows = ({**entry.rows[0], **values},)
    saved = lists.save(
        counter.book, kind, _dated(kind, rows, values), desk.now(), before=entry, who=who, dry_run=dry_run
    )
    _tell(kind, saved, dry_run=dry_run, as_json=as_json, holds=_holds(counter, kind, entry, values))


@click.command()
@click.argument("old", metavar="OLD")
@click.argument("new", metavar="NEW")
@click.option(
    "--rate", metavar="NEW=OLD", help="How much of the new one does for how much of the old one [as is said]."
)
@click.option("--from", "since", metavar="DAY", help="From when recipes take the new one [today].")
@_who
@_check
@desk.view
def replace(counter: Counter, *, old: str, new: str, dry_run: bool, as_json: bool, **said: Any) -> None:
    """Let a material stand in for another: its past counts, recipes take the new one.

    Such as: stockroom replace POLISH-BLK WAX --rate "40 g = 1 piece". Sales, waste and what counts teach of the old
    one hold for the new one, so that the outlook need not begin at nothing. What is left of the old one stays on the
    shelf.
    """
    asked = replacing.Replacement(
        old=find_material(counter.book, old),
        new=find_material(counter.book, new),
        rate=exchange(said["rate"]) if said["rate"] else None,
        since=desk.day_ahead(said["since"]) if said["since"] else None,
    )
    done = replacing.replace_material(counter.book, asked, desk.now(), who=said["who"], dry_run=dry_run)
    jobs = ", ".join(done.jobs)
    taken = f"Recipes that take it now: {jobs}." if jobs else f"No recipe names {done.old.code}."
    lines = [f"{done.new.code} stands in for {done.old.code}. {taken}"]
    if dry_run:
        lines.append("Checked only: nothing was saved.")
    elif done.document is not None:
        lines.append(f"Saved as document {done.document}. To undo it: stockroom undo {done.document}")
    facts = {
        "old": done.old.code, "new": done.new.code, "jobs": list(done.jobs),
        "document": None if dry_run else done.document, "tried_only": dry_run,
    }  # fmt: skip
    desk.tell(facts, "\n".join(lines), as_json=as_json)


@click.command()
@_list
@click.argument("key", nargs=-1, required=True)
@_who
@desk.view
def remove(counter: Counter, *, name: str, key: tuple[str, ...], who: str, as_json: bool) -> None:
    """Take something out of a list that nothing in the book names, such as a closure that was called off.

    Such as: stockroom remove material WAX. What documents name stays: change it to active=no. A recipe's line is named
    by the job and its own name.
    """
    kind = lists.list_kind(name)
    if kind.stem == "recipes" and len(key) > 1:
        entry = lists.find(counter.book, kind, key[:1], desk.now().date())
        at = _line_at(entry, key[1])
        rows = tuple(row for number, row in enumerate(entry.rows) if number != at)
        if not rows:
            raise UsageError("A recipe needs one line at least.", fix="Change the line instead.")
        saved = lists.save(counter.book, kind, _dated(kind, rows, {}), desk.now(), before=entry, who=who)
        _tell(kind, saved, dry_run=False, as_json=as_json)
        return
    entry = lists.find(counter.book, kind, key, desk.now().date())
    number = lists.remove(counter.book, kind, entry, desk.now(), who=who)
    desk.tell(
        {"list": kind.one, "key": list(entry.key), "document": number},
        f"{entry.name} is taken out (document {number}). To have it back: stockroom undo {number}",
        as_json=as_json,
    )


def _split(kind: ListKind, words: Sequence[str]) -> tuple[list[str], dict[str, str]]:
    """Part what names an entry from the columns to be changed."""
    headers, key, values = kind.kind.headers, list[str](), dict[str, str]()
    for word in words:
        column, equals, value = word.partition("=")
        known = headers.get(plain_header(column))
        if equals and known:
            values[known] = _said_day(kind, known, value.strip())
        elif equals and values:
            raise UsageError(
                phrase("No column of %(list)s is called '%(name)s'.", list=kind.kind.title, name=column),
                fix=phrase("There is: %(known)s.", known=", ".join(c.title for c in kind.kind.columns)),
            )
        else:
            place = len(key)
            key.append(_said_day(kind, kind.key[place], word) if place < len(kind.key) else word)
    return key, values


def _said_day(kind: ListKind, column: str, text: str) -> str:
    """Bring a day as people say it, '25.12.' or 'friday', into the form of files; all else is read as there."""
    if kind.kind.column(column).type is not Type.DATE:
        return text
    try:
        return desk.day_ahead(text).isoformat()
    except UsageError:
        return text


def _from(kind: ListKind, values: Mapping[str, str]) -> date:
    """Give the day from which a change holds: the one that was typed, or today."""
    said = values.get(kind.dated, "") if kind.dated else ""
    return desk.day(said) if said else desk.now().date()


def _holds(counter: Counter, kind: ListKind, entry: Entry, values: Mapping[str, str]) -> tuple[str, str]:
    """Say from when a change holds, and what stays until then; nothing where the list has no days."""
    if not kind.dated:
        return "", ""
    day, was = _from(kind, values), date.fromisoformat(entry.rows[0][kind.dated])
    write = counter.formats.day
    if day <= was:
        return f"From {write(day)} on:", ""
    return f"From {write(day)} on:", f"Until then, what holds since {write(was)} stays."


def _dated(kind: ListKind, rows: Sequence[Mapping[str, str]], values: Mapping[str, str]) -> list[dict[str, str]]:
    """Let a change hold from the day that was typed, or from today."""
    if not kind.dated:
        return [dict(row) for row in rows]
    day = values.get(kind.dated) or desk.now().date().isoformat()
    return [dict(row) | {kind.dated: day} for row in rows]


def _recipe_with(
    counter: Counter, kind: ListKind, key: Sequence[str], values: Mapping[str, str]
) -> tuple[Entry | None, tuple[Mapping[str, str], ...]]:
    """Give the recipe's rows, if there is one, and a line more."""
    job, line = lists.coded(counter.book, kind, key[:1])[0], key[1] if len(key) > 1 else ""
    day = desk.now().date()
    there = [e for e in lists.entries(counter.book, kind, day) if e.key[0].casefold() == job.casefold()]
    rows = there[0].rows if there else ()
    fresh = {"job": job} | ({"line": line} if line else {}) | dict(values)
    said = {name: values[name] for name in ("reference size", "source") if name in values}
    return (there[0] if there else None), (*({**row, **said} for row in rows), fresh)


def _recipe_changed(
    counter: Counter, kind: ListKind, key: Sequence[str], values: Mapping[str, str]
) -> tuple[Entry, tuple[Mapping[str, str], ...]]:
    entry = lists.find(counter.book, kind, key[:1], desk.now().date())
    if len(key) == 1:
        whole = {"valid from", "reference size", "source"}
        if not values.keys() <= whole:
            lines = ", ".join(f"'{row['line']}'" for row in entry.rows)
            raise UsageError("Say which line of the recipe.", fix=phrase("Its lines: %(lines)s.", lines=lines))
        return entry, tuple({**row, **values} for row in entry.rows)
    at = _line_at(entry, key[1])
    return entry, tuple({**row, **values} if number == at else row for number, row in enumerate(entry.rows))


def _line_at(entry: Entry, line: str) -> int:
    names = [row["line"].casefold() for row in entry.rows]
    if line.casefold() not in names:
        lines = ", ".join(f"'{row['line']}'" for row in entry.rows)
        raise UsageError(
            phrase("The recipe has no line '%(line)s'.", line=line), fix=phrase("Its lines: %(lines)s.", lines=lines)
        )
    return names.index(line.casefold())


def _show(counter: Counter, kind: ListKind, key: Sequence[str], *, as_json: bool) -> None:
    day = desk.now().date()
    if not key:
        every = lists.entries(counter.book, kind, day)
        lines = [_line_of(counter, kind, e, every) for e in every if not any(_comes_after(kind, e, o) for o in every)]
        facts = {"list": kind.one, "entries": [list(e.key) for e in every]}
        desk.tell(facts, "\n".join(lines) or "Nothing is on this list yet.", as_json=as_json)
        return
    entry = lists.find(counter.book, kind, key[:1] if kind.stem == "recipes" else key, day)
    later = [each for each in lists.entries(counter.book, kind, day) if _comes_after(kind, each, entry)]
    titles = {column.name: column.title for column in kind.kind.columns}
    rows = [row for each in (entry, *later) for row in each.rows]
    said = ["\n".join(f"{titles[name]} = {text}" for name, text in row.items() if text) for row in entry.rows]
    said += [f"From {_first(counter, kind, each)} on:\n{_otherwise(each, entry, titles)}" for each in later]
    desk.tell({"list": kind.one, "rows": [dict(row) for row in rows]}, "\n\n".join(said), as_json=as_json)


def _line_of(counter: Counter, kind: ListKind, entry: Entry, every: Sequence[Entry]) -> str:
    """Write an entry on a line, with the days from which it will be otherwise."""
    name = "" if entry.name in (*entry.key, entry.key_text) else entry.name
    days = [_first(counter, kind, each) for each in every if _comes_after(kind, each, entry)]
    return "  ".join(filter(None, (*entry.key, name, f"(otherwise from {', '.join(days)} on)" if days else "")))


def _otherwise(later: Entry, entry: Entry, titles: Mapping[str, str]) -> str:
    """Say what an entry will say otherwise."""
    was, will = entry.rows[0], later.rows[0]
    return "\n".join(f"{titles[name]} = {text or '(nothing)'}" for name, text in will.items() if text != was.get(name))


def _first(counter: Counter, kind: ListKind, entry: Entry) -> str:
    return counter.formats.day(date.fromisoformat(entry.rows[0][kind.dated]))


def _comes_after(kind: ListKind, other: Entry, entry: Entry) -> bool:
    """Say whether an entry is what another will be from a later day on."""
    if not kind.dated or kind.dated not in kind.key:
        return False
    place = kind.key.index(kind.dated)
    alike = other.key[:place] + other.key[place + 1 :] == entry.key[:place] + entry.key[place + 1 :]
    return alike and other.key[place] > entry.key[place]


def _priced(name: str, saved: Saved) -> str:
    return f" (per {saved.priced_for})" if name == "usual cost" and saved.priced_for else ""


def _tell(kind: ListKind, saved: Saved, *, dry_run: bool, as_json: bool, holds: tuple[str, str] = ("", "")) -> None:
    titles = {column.name: column.title for column in kind.kind.columns}
    lines = [holds[0]] if holds[0] else []
    for line, name, was, said in saved.changed:
        if name == kind.dated and holds[0]:
            continue
        what = f"{f'{line}: ' if line else ''}{titles[name]}{_priced(name, saved)}"
        lines.append(f"  {what}: {was or '(nothing)'} → {said or '(nothing)'}")
    lines += [holds[1]] if holds[1] else []
    if dry_run:
        lines.append("Checked only: nothing was saved.")
    elif saved.document is None:
        lines = ["Nothing new: it is said so already."]
    else:
        lines.append(f"Saved as document {saved.document}. To undo it: stockroom undo {saved.document}")
    facts = {
        "list": kind.one,
        "document": None if dry_run else saved.document,
        "changed": [
            {"line": line, "column": titles[name], "was": was, "is": said} for line, name, was, said in saved.changed
        ],
        "notes": list(saved.notes),
        "tried_only": dry_run,
    }
    desk.tell(facts, "\n".join([*lines, *saved.notes]), as_json=as_json)
