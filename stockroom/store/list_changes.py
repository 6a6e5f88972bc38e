"""Changes of lists and settings, gathered while a transaction is under way and said by one document at its end.

Every row of these tables follows from such documents, which `expected` replays; whoever changes a row by other means
leaves one that doesn't. What tables repeat of other documents is held against those (`flows/book/repeated.py`).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cache
from typing import Any

import sqlalchemy as sa

from stockroom.errors import RefusedError, UsageError, check_text, shorten
from stockroom.phrases import as_phrase, phrase
from stockroom.stock.bounds import check_moment_text, check_money, check_nano, check_number
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.shop import Shop, setting_texts
from stockroom.store import identity, ledger, tables
from stockroom.store.book import Session, carried_by
from stockroom.store.tables import moment_text, read_moment, upsert

Key = tuple[Any, ...]
Row = dict[str, Any]

CLOSED_THROUGH = "closed_through"  # the note of the last closed day

# Each table with what names its rows; a column that only numbers them is no part of what they say.
LISTS: dict[str, tuple[str, ...]] = {
    "setting": ("name",),
    "material": ("code",),
    "supplier": ("code",),
    "offer": ("supplier", "material", "supplier_code", "pack", "valid_from"),
    "job": ("code",),
    "recipe": ("id",),
    "recipe_line": ("recipe", "position"),
    "closure": ("who", "first", "last"),
    "event": ("name", "day"),
    "postage": ("code",),
    "service": ("code",),
    "substitute": ("material", "other"),
    "standing": ("supplier", "material", "supplier_code", "first"),
}
# Notes beside the settings that no document says, each for a reason.
SECRETS = ("passcode:", "session key", "signed out:")  # they let somebody in at the pages
APART = (
    *SECRETS,  # the chain is exported and kept for good
    "mark:", "sheet:",  # of count sheets under way; what is posted says all of them
    ledger.NOTE,  # says where the chain ends
    identity.NOTE,  # says which book this is: backups are named by it
    CLOSED_THROUGH,  # follows from the documents that close periods
)  # fmt: skip
_NUMBERS = {"offer": "id"}
# What people call each list: as the files are called that bring it.
CALLED = {
    "setting": "settings",
    "material": "materials",
    "supplier": "suppliers",
    "offer": "offers",
    "job": "jobs",
    "recipe": "recipes",
    "recipe_line": "recipes",
    "closure": "closures",
    "event": "events",
    "postage": "postage",
    "service": "services",
    "substitute": "substitutes",
    "standing": "standing",
}
# Columns that a file's readers know by another name than the table does.
_READ_AS = {
    ("setting", "name"): "setting",
    ("material", "group_code"): "group",
    ("material", "tax_rate"): "tax %",
    ("supplier", "cut_off"): "cut-off",
    ("supplier", "tax_rate"): "tax %",
    ("offer", "tax_rate"): "tax %",
    ("job", "tax_rate"): "tax %",
    ("substitute", "other"): "substitute",
    ("job", "single_price"): "price of one shoe",
    ("job", "weekly"): "usual a week",
    ("material", "weekly"): "usual a week",
    ("job", "alike"): "like",
    ("material", "alike"): "like",
    ("material", "replaces_at"): "replaces at",
    ("recipe", "reference"): "reference size",
    ("recipe_line", "name"): "line",
    ("recipe_line", "nano"): "amount",
    ("recipe_line", "dimension"): "unit",
    ("recipe_line", "waste"): "waste %",
    ("recipe_line", "minutes"): "machine minutes",
    ("recipe_line", "life_hours"): "life in hours",
}
_SLICE = 500
_BEGINNING = datetime(2000, 1, 1)


@dataclass(slots=True)
class _Gathered:
    """What one transaction changed: for each row what it said before, and what it says now."""

    rows: dict[tuple[str, Key], tuple[Row, Row]] = field(default_factory=dict)
    older: dict[str, dict[str, str]] = field(default_factory=dict)  # figures of rows that no document tells of


def renew(session: Session, name: str, rows: Sequence[Row]) -> None:
    """Insert rows, or renew those that say something else; what changes is said at the transaction's end."""
    key = LISTS[name]
    there = _rows_there(session, name, rows)
    for row in rows:
        _refuse_out_of_bounds(name, row)
    fresh = [row for row in rows if _said(row, name) != _said(there.get(_key(row, key), {}), name)]
    gathered = _gathered(session)
    for row in fresh:
        at = name, _key(row, key)
        before = gathered.rows[at][0] if at in gathered.rows else there.get(at[1], {})
        if name != "setting" or not _apart(str(row["name"])):
            gathered.rows[at] = (before, {**there.get(at[1], {}), **row})
    upsert(session, tables.metadata.tables[name], rows, by=key)  # all: in a damaged file one may only seem there


def drop(session: Session, name: str, keys: Iterable[Key]) -> None:
    """Take rows out that nothing else names; that they are gone is said at the transaction's end.

    Raises
    ------
    RefusedError
        If something in the book names one of them.
    """
    gathered, table = _gathered(session), tables.metadata.tables[name]
    for key in keys:
        there = _rows_there(session, name, [dict(zip(LISTS[name], key, strict=True))]).get(tuple(key), {})
        if there:
            at = name, tuple(key)
            gathered.rows[at] = (gathered.rows[at][0] if at in gathered.rows else there, {})
            _delete(session, table, tuple(key))


def turned(content: Mapping[str, Any]) -> dict[str, dict[str, list[Any]]]:
    """Give the change that takes a change back: what was new is gone, what is gone comes again."""
    found: dict[str, dict[str, list[Any]]] = {}
    for name, lists in content.get("lists", {}).items():
        found[name] = {"new": lists.get("gone", []), "gone": lists.get("new", [])}
        found[name]["changed"] = [
            [at, {column: pair[::-1] for column, pair in columns.items()}] for at, columns in lists.get("changed", ())
        ]
    return {name: {what: rows for what, rows in lists.items() if rows} for name, lists in found.items()}


def put(session: Session, lists: Mapping[str, Mapping[str, list[Any]]]) -> None:
    """Do to the rows what a document under way says of them; it says so itself.

    Raises
    ------
    RefusedError
        If a row doesn't say any longer what the document changes, or something in the book names one that would go.
    """
    for name in reversed(LISTS):
        for row in lists.get(name, {}).get("gone", ()):
            key = _key(_whole(row, name), LISTS[name])
            _still(session, name, key, dict(row))
            _delete(session, tables.metadata.tables[name], key)
    for name, columns in LISTS.items():
        table, fresh = tables.metadata.tables[name], []
        for row in lists.get(name, {}).get("new", ()):
            _still(session, name, _key(_whole(row, name), columns), {})
            fresh.append(_full(table, _whole(row, name)))
        for at, changed in lists.get(name, {}).get("changed", ()):
            there = _there(session, name, tuple(at))
            said = _said(there, name)
            if any(said.get(column) != pair[0] for column, pair in changed.items()):
                raise _again(name, tuple(at))
            fresh.append(_full(table, there | {column: pair[1] for column, pair in changed.items()}))
        upsert(session, table, fresh, by=columns)


def _full(table: sa.Table, row: Row) -> Row:
    """Fill in the columns that say nothing, as the table then holds them."""
    kept = [c for c in table.columns if c.name != _NUMBERS.get(table.name)]
    nothing = {c.name: _unsaid(c) for c in kept} | _by_itself(table.name)
    return nothing | {name: value for name, value in row.items() if name in nothing and value is not None}


def _unsaid(column: sa.Column[Any]) -> object:
    return None if column.nullable else {} if isinstance(column.type, sa.JSON) else ""


def _there(session: Session, name: str, key: Key) -> Row:
    return _rows_there(session, name, [dict(zip(LISTS[name], key, strict=True))]).get(key, {})


def _still(session: Session, name: str, key: Key, said: Row) -> None:
    if _said(_there(session, name, key), name) != _said(said, name):
        raise _again(name, key)


def _again(name: str, key: Key) -> RefusedError:
    return RefusedError(
        phrase("It was changed again later: %(row)s.", row=_called((name, key))),
        fix="Undo the later change first, or enter what it should say.",
    )


# What names a row without a foreign key: a recipe may name a group instead of a material, a closure the shop itself.
_NAMED_BY = (
    ("material", "recipe_line", "material"),
    ("material", "material", "alike"),
    ("material", "material", "replaces"),
    ("job", "job", "alike"),
    ("job", "event", "job"),
    ("material", "event", "material"),
    ("supplier", "closure", "who"),
)


def _delete(session: Session, table: sa.Table, key: Key) -> None:
    by = {
        (other.name, fk.parent.name)
        for other in tables.metadata.tables.values()
        for fk in other.foreign_keys
        if fk.column.table is table
    } | {(other, column) for name, other, column in _NAMED_BY if name == table.name}
    for other, column in sorted(by):
        named = tables.metadata.tables[other]
        asked = sa.select(sa.literal(1)).select_from(named).where(named.c[column] == key[0]).limit(1)
        if session.execute(asked).scalar() is not None:
            raise RefusedError(
                phrase(
                    "%(row)s can't go: something in the book names it (%(other)s).",
                    row=_called((table.name, key)),
                    other=as_phrase(other.replace("_", " ")),
                ),
                fix="Take out first what names it. Materials and jobs can be marked as not active instead.",
            )
    where = [table.c[column] == value for column, value in zip(LISTS[table.name], key, strict=True)]
    session.execute(sa.delete(table).where(*where))


_NANO = {"pack", "nano"}
_DAYS = {"valid_from", "first", "last", "day"}
_MOST_TEXT = 20_000  # letters


def _refuse_out_of_bounds(name: str, row: Row) -> None:
    """Refuse what not every database could keep, or no shop means."""
    for column, value in row.items():

        def what(column: str = column) -> str:
            return phrase(
                "%(list)s '%(key)s': %(column)s",
                list=as_phrase(name.replace("_", " ")),
                key=shorten(str(row[LISTS[name][0]])),
                column=as_phrase(title_of(name, column)),
            )

        if isinstance(value, str):
            check_text(value)
            if len(value) > _MOST_TEXT:
                raise UsageError(phrase("%(what)s is too long.", what=what()), fix="Shorten it.")
            if column in _DAYS and value:
                check_moment_text(value, what)
        elif column in _NANO:
            check_nano(value, what)
        elif isinstance(value, int) and not isinstance(value, bool):
            whole = isinstance(tables.metadata.tables[name].c[column].type, sa.Integer)
            (check_number if whole else check_money)(value, what)


def say_older(session: Session, kind: str, figures: Mapping[str, str]) -> None:
    """Record a hash of each row that no document describes, such as tickets from before the book's first day."""
    _gathered(session).older.setdefault(kind, {}).update(figures)


def take_over(session: Session, older: Mapping[str, Mapping[str, str]]) -> None:
    """Say every row that no document says yet: how a book of an older version joins in."""
    gathered, known = _gathered(session), expected(changes(session))
    for name, row in _every_row(session):
        at = name, _key(row, LISTS[name])
        if _said(row, name) != _said(known.rows.get(at, {}), name):
            gathered.rows[at] = (known.rows.get(at, {}), row)
    for kind, figures in older.items():
        gathered.older.setdefault(kind, {}).update(figures)


def said_any(session: Session) -> bool:
    """Say whether any document says a change of lists, as one does in every book but those of older versions."""
    asked = sa.select(tables.document.c.id).where(tables.document.c.kind == str(DocumentKind.CHANGE)).limit(1)
    return session.execute(asked).scalar() is not None


def say_now(session: Session) -> int | None:
    """Say what was gathered before the transaction ends; gives the number of the document that says it, if any."""
    carried, before = carried_by(session), ledger.head(session)[0]
    if carried.gathered is not None:
        _say(session)
        carried.before_kept.remove(_say)
    newest = ledger.head(session)[0]
    return newest if newest != before else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the lists hold by their documents, and the hashes of rows that no other document describes."""

    rows: Mapping[tuple[str, Key], Row]
    older: Mapping[str, Mapping[str, str]]


def changes(session: Session) -> list[Document]:
    """Read the documents that say changes of lists, or take such back, in the order they were entered."""
    return ledger.read_documents(session, kinds=[DocumentKind.CHANGE, DocumentKind.REVERSAL], with_moves=False)


def _naming(session: Session, name: str, after: datetime) -> list[Document]:
    """Read the documents entered after a moment that change a list, but for the first of all that does.

    What that one brought was there when the book was begun, whenever it was entered.
    """
    document = tables.document
    kinds = [str(DocumentKind.CHANGE), str(DocumentKind.REVERSAL)]
    late = sa.select(document.c.id).where(document.c.kind.in_(kinds), document.c.entered > moment_text(after))
    numbers = list(session.execute(late).scalars())
    if not numbers:
        return []
    named = sa.select(sa.func.min(document.c.id)).where(
        document.c.kind == kinds[0], document.c.subject.contains(CALLED[name])
    )
    first = session.execute(named).scalar()
    found = ledger.read_documents(session, numbers=numbers, with_moves=False)
    return [each for each in found if each.id != first and name in each.content.get("lists", {})]  # type: ignore[operator]


def rows_then(session: Session, name: str, moment: datetime) -> list[Row]:
    """Give the rows of a list as they stood at a moment; those the list began with were always there."""
    later = _naming(session, name, moment)
    key = LISTS[name]
    there = session.execute(sa.select(tables.metadata.tables[name])).mappings()
    rows = {_key(row, key): row for row in map(dict, there)}
    for document in reversed(later):
        said: Mapping[str, Any] = document.content
        for row in said["lists"][name].get("new", ()):
            rows.pop(_key(_whole(row, name), key), None)
        for row in said["lists"][name].get("gone", ()):
            rows[_key(_whole(row, name), key)] = _whole(row, name)
        for at, columns in said["lists"][name].get("changed", ()):
            rows.setdefault(tuple(at), {}).update({column: was for column, (was, _) in columns.items()})
    return list(rows.values())


def added(session: Session, name: str, after: datetime) -> dict[str, date]:
    """Say on which day each row was added that came to a list after a moment, and not with the list itself."""
    found: dict[str, date] = {}
    for document in _naming(session, name, after):
        said: Mapping[str, Any] = document.content
        for row in said["lists"][name].get("new", ()):
            found.setdefault(str(row[LISTS[name][0]]), document.entered.date())
    return found


def expected(documents: Iterable[Document]) -> Said:
    """Replay changes: give every row that they make."""
    rows: dict[tuple[str, Key], Row] = {}
    older: dict[str, dict[str, str]] = {}
    for document in documents:
        said: Mapping[str, Any] = document.content
        for name, lists in said.get("lists", {}).items():
            for row in lists.get("gone", ()):
                rows.pop((name, _key(_whole(row, name), LISTS[name])), None)
            for row in lists.get("new", ()):
                rows[name, _key(_whole(row, name), LISTS[name])] = _whole(row, name)
            for at, columns in lists.get("changed", ()):
                row = rows.setdefault((name, tuple(at)), dict(zip(LISTS[name], at, strict=True)))
                row.update({column: now for column, (_, now) in columns.items()})
        for kind, figures in said.get("older", {}).items():
            older.setdefault(kind, {}).update(figures)
    return Said(rows=rows, older=older)


def disagreeing(session: Session, said: Said) -> Iterable[str]:
    """Say which rows of the lists are not as the documents make them."""
    met: set[tuple[str, Key]] = set()
    for name, row in _every_row(session):
        at = name, _key(row, LISTS[name])
        met.add(at)
        known = said.rows.get(at, {})
        mine, theirs = _said(row, name), _said(known, name)
        if known and mine != theirs:
            other = sorted(column for column in mine.keys() | theirs.keys() if mine.get(column) != theirs.get(column))
            for column in other:
                yield (
                    f"The {_called(at)} says '{title_of(name, column)}' is {_value(column, mine)}, "
                    f"but its documents make it {_value(column, theirs)}."
                )
        elif not known and not _is_default(name, row):
            yield f"The {_called(at)} is there, but no document brought it."
    for at in sorted(said.rows.keys() - met, key=repr):
        yield f"The {_called(at)} is gone."


def title_of(name: str, column: str) -> str:
    """Say what people read for a table's column: its title in the list's file."""
    from stockroom.intake.columns import KINDS  # noqa: PLC0415 -- a sale or a finish names no column

    read_as = _READ_AS.get((name, column), column.replace("_", " "))
    columns = KINDS["shop" if name == "setting" else CALLED[name]].columns
    return next((each.title for each in columns if each.name == read_as), read_as)


def _value(column: str, row: Row) -> str:
    return _shown(column, row[column]) if column in row else "nothing"


def _shown(column: str, value: object) -> str:
    """Write amounts in their base unit; a table keeps billionths."""
    return f"{(Decimal(value) / 10**9).normalize():f}" if column in _NANO and isinstance(value, int) else str(value)


def _called(at: tuple[str, Key]) -> str:
    name, key = at
    said = (_shown(column, each) for column, each in zip(LISTS[name], key, strict=True) if each != "")
    return f"{name.replace('_', ' ')} {' '.join(said)}"


def _gathered(session: Session) -> _Gathered:
    carried = carried_by(session)
    if carried.gathered is None:
        carried.gathered = _Gathered()
        carried.before_kept.append(_say)
    found: _Gathered = carried.gathered
    return found


def _say(session: Session) -> None:
    """Write the document of what was changed, if anything was."""
    gathered, carried_by(session).gathered = _gathered(session), None
    lists: dict[str, dict[str, list[Any]]] = {}
    for (name, key), (before, now) in gathered.rows.items():
        was, says = _said(before, name), _said(now, name)
        if before and not now:
            if not _is_default(name, before):
                lists.setdefault(name, {}).setdefault("gone", []).append(was)
        elif before and was != says:
            other = {c: [was.get(c), says.get(c)] for c in was.keys() | says.keys() if was.get(c) != says.get(c)}
            lists.setdefault(name, {}).setdefault("changed", []).append([list(key), other])
        elif not before and not _is_default(name, now):
            lists.setdefault(name, {}).setdefault("new", []).append(says)
    content = {name: what for name, what in (("lists", lists), ("older", gathered.older)) if what}
    if content:
        _append(session, content, subject=", ".join(sorted({CALLED[name] for name in lists})))


def _append(session: Session, content: dict[str, Any], *, subject: str) -> None:
    newest = ledger.head(session)[0]
    carried = carried_by(session)
    moment = carried.at or _last_entered(session) or _BEGINNING
    document = Document(
        kind=DocumentKind.CHANGE,
        key=_free_key(session, newest + 1),
        subject=subject,
        happened=moment,
        booked_on=_open_day(session, moment.date()),
        entered=moment,
        who=carried.who,
        content=content,
    )
    ledger.append(session, [document])


def _free_key(session: Session, number: int) -> str:
    key = f"list change {number}"
    while ledger.known_keys(session, [key]):
        key += "'"
    return key


def _last_entered(session: Session) -> datetime | None:
    asked = sa.select(tables.document.c.entered).order_by(tables.document.c.id.desc()).limit(1)
    text = session.execute(asked).scalar()
    return read_moment(text) if text else None


def _open_day(session: Session, day: date) -> date:
    """Give the day itself, or the first that is open: a closed period takes nothing more."""
    asked = sa.select(tables.setting.c.value).where(tables.setting.c.name == CLOSED_THROUGH)
    closed = session.execute(asked).scalar()
    return max(day, date.fromisoformat(closed) + timedelta(days=1)) if closed else day


def _every_row(session: Session) -> Iterable[tuple[str, Row]]:
    for name in LISTS:
        for row in session.execute(sa.select(tables.metadata.tables[name])).mappings():
            if name != "setting" or not _apart(row["name"]):
                yield name, dict(row)


def _rows_there(session: Session, name: str, rows: Sequence[Row]) -> dict[Key, Row]:
    table, key = tables.metadata.tables[name], LISTS[name]
    wanted = list({row[key[0]] for row in rows})
    found: dict[Key, Row] = {}
    for start in range(0, len(wanted), _SLICE):
        asked = sa.select(table).where(table.c[key[0]].in_(wanted[start : start + _SLICE]))
        found.update((_key(dict(row), key), dict(row)) for row in session.execute(asked).mappings())
    return found


def _key(row: Mapping[str, Any], key: Sequence[str]) -> Key:
    return tuple(row.get(name) for name in key)


def _said(row: Mapping[str, Any], name: str) -> Row:
    """Give the columns of a row that differ from their defaults, without a number that only tells rows apart.

    So a column that comes later, with what rows then hold by themselves, changes nothing that was said before.
    """
    unsaid, usual = _NUMBERS.get(name), _by_itself(name)
    return {
        column: value
        for column, value in row.items()
        if column != unsaid and value not in (None, "", {}) and not _same(value, usual.get(column))
    }


def _by_itself(name: str) -> dict[str, Any]:
    """Give what the columns of a table hold that a row need not say."""
    return _flags(name) | tables.come_later(tables.metadata.tables[name])


def _same(value: object, usual: object) -> bool:
    return type(value) is type(usual) and value == usual


@cache
def _flags(name: str) -> dict[str, bool]:
    """Give the defaults of a table's flags."""
    columns = tables.metadata.tables[name].columns
    flags = [column for column in columns if isinstance(column.type, sa.Boolean) and column.server_default is not None]
    return {column.name: "true" in str(column.server_default.arg).lower() for column in flags}  # type: ignore[union-attr]


def _whole(row: Row, name: str) -> Row:
    """Fill in the parts of a row's name that are empty."""
    return {**dict.fromkeys(LISTS[name], ""), **row}


def _apart(name: str) -> bool:
    return name.startswith(APART)


_DEFAULTS = setting_texts(Shop())


def _is_default(name: str, row: Mapping[str, Any]) -> bool:
    """Say whether a row is a setting as every shop begins with it. A default that changes needs a step that says so."""
    return name == "setting" and _DEFAULTS.get(str(row.get("name"))) == row.get("value")
