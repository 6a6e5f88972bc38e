"""The whole schema: amounts in billionths of the base unit, money in minor units, moments as sortable ISO texts.

Below it, days and moments to texts and back, and rows renewed on either database.
"""

from collections.abc import Sequence
from datetime import date, datetime
from functools import lru_cache
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import sqlite
from sqlalchemy.types import TypeDecorator

metadata = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
    }
)

SCHEMA = "0012"  # the newest step in store/migrations; a test holds them together
LARGEST = 2**63 - 1


class Whole(TypeDecorator[int]):
    """A whole number that is never rounded into being: floats, decimals and overflow are refused."""

    impl = sa.BigInteger
    cache_ok = True

    def process_bind_param(self, value: int | None, dialect: sa.Dialect) -> int | None:  # noqa: ARG002 -- sqlalchemy's signature
        """Refuse what is not a whole number the database can hold."""
        if value is None or (type(value) is int and -LARGEST <= value <= LARGEST):
            return value
        raise ValueError(f"{value!r} is not a whole number of at most 63 bits")


def _code(name: str, *arguments: object, **options: object) -> sa.Column[str]:
    return sa.Column(name, sa.String, *arguments, nullable=False, **options)  # type: ignore[arg-type]


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False, server_default="")


def _later(column: sa.Column[Any], before: object) -> sa.Column[Any]:
    """Mark a column that books, exports and closings from before it lack, with what holds of theirs."""
    column.info["before"] = before
    return column


def come_later(table: sa.Table) -> dict[str, Any]:
    """Give the columns of a table that came later, each with what holds of a row written before it."""
    return {column.name: column.info["before"] for column in table.columns if "before" in column.info}


def _flag(name: str, *, default: bool = False) -> sa.Column[bool]:
    return sa.Column(name, sa.Boolean, nullable=False, server_default=sa.true() if default else sa.false())


setting = sa.Table("setting", metadata, _code("name", primary_key=True), _text("value"))

material = sa.Table(
    "material",
    metadata,
    _code("code", primary_key=True),
    _text("name"),
    _text("family"),
    _text("unit"),
    _text("purpose"),
    _text("group_code"),
    _text("size_from"),
    _text("size_to"),
    _text("colour"),
    _text("thickness"),
    _text("bridge"),
    sa.Column("sell_price", Whole),
    _text("tax_rate"),
    sa.Column("shelf_life_days", sa.Integer),
    _text("hazards"),
    _flag("flammable"),
    _text("place"),
    _text("note"),
    sa.Column("usual_cost", Whole),
    _later(sa.Column("usual_cost_for", sa.Integer, nullable=False, server_default="1"), before=1),
    _flag("active", default=True),
    sa.Column("extra", sa.JSON, nullable=False),
    _later(_text("other_words"), before=""),
    _later(_text("least_offcut"), before=""),
    _later(_text("alike"), before=""),
    _later(_text("replaces"), before=""),
    _later(_text("replaces_at"), before=""),
    _later(_text("weekly"), before=""),
)

supplier = sa.Table(
    "supplier",
    metadata,
    _code("code", primary_key=True),
    _text("name"),
    sa.Column("lead_days", sa.Integer, nullable=False),
    sa.Column("carriage", Whole, nullable=False),
    sa.Column("carriage_free_over", Whole),
    sa.Column("minimum_order", Whole, nullable=False),
    _text("order_weekdays"),
    _text("cut_off"),
    _text("tax_rate"),
    _text("email"),
    _text("note"),
    _later(_text("minimum_weight"), before=""),
)

offer = sa.Table(
    "offer",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    _code("supplier", sa.ForeignKey("supplier.code")),
    _code("material", sa.ForeignKey("material.code")),
    _text("supplier_code"),
    sa.Column("pack", Whole, nullable=False),
    _text("pack_name"),
    sa.Column("price", Whole, nullable=False),
    _text("priced_per"),
    _text("pack_in_priced"),
    _text("breaks"),
    sa.Column("minimum_packs", sa.Integer, nullable=False),
    _text("tax_rate"),
    _flag("measured"),
    _text("valid_from"),
    _later(sa.Column("multiple", sa.Integer, nullable=False, server_default="1"), before=1),
    _later(_text("pack_weight"), before=""),
    _later(sa.Column("return_weeks", sa.Integer, nullable=False, server_default="0"), before=0),
    _later(_text("return_until"), before=""),
    _later(sa.Column("return_cost", Whole, nullable=False, server_default="0"), before=0),
    _later(_flag("on_approval"), before=False),
    sa.UniqueConstraint("supplier", "material", "supplier_code", "pack", "valid_from"),
)

job = sa.Table(
    "job",
    metadata,
    _code("code", primary_key=True),
    _text("name"),
    _text("family"),
    sa.Column("price", Whole),
    _text("tax_rate"),
    sa.Column("bench_minutes", sa.Integer, nullable=False),
    _flag("sized"),
    _flag("active", default=True),
    _later(sa.Column("single_price", Whole), before=None),
    _later(_text("season"), before=""),
    _later(_text("alike"), before=""),
    _later(_text("weekly"), before=""),
)

recipe = sa.Table(
    "recipe",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    _code("job", sa.ForeignKey("job.code"), index=True),
    _text("valid_from"),
    _text("reference"),
    _text("source"),
)

recipe_line = sa.Table(
    "recipe_line",
    metadata,
    sa.Column("recipe", sa.Integer, sa.ForeignKey("recipe.id"), primary_key=True),
    sa.Column("position", sa.Integer, primary_key=True),
    _text("name"),
    _text("material"),
    sa.Column("nano", Whole, nullable=False),
    _text("dimension"),
    _text("per"),
    _text("sizing"),
    _text("choice"),
    _text("option"),
    _text("waste"),
    sa.Column("coats", sa.Integer, nullable=False),
    _text("chance"),
    _later(_text("machine"), before=""),
    _later(_text("minutes"), before=""),
    _later(_text("life_hours"), before=""),
    _later(_text("growth"), before=""),
)

ticket = sa.Table(
    "ticket",
    metadata,
    _code("number", primary_key=True),
    _code("job", sa.ForeignKey("job.code")),
    _text("taken_in"),
    sa.Column("shoes", sa.Integer, nullable=False),
    _text("size"),
    _text("chosen"),
    _text("promised"),
    sa.Column("price", Whole),
    _text("state"),
    _text("finished"),
    sa.Column("finish_document", sa.Integer),
    _text("redo_of"),
    _flag("by_post"),
    sa.Column("post_cost", Whole),
    _text("customer"),
    _text("note"),
    _text("site"),
    _later(_text("added"), before=""),
    _later(_text("left_out"), before=""),
    _later(_text("drawn"), before=""),
    sa.Index("ix_ticket_state", "state"),
    sa.Index("ix_ticket_finished", "finished"),
    sa.Index("ix_ticket_site_taken_in", "site", "taken_in"),
)

# What parcels cost, and what they are packed in.
postage = sa.Table(
    "postage",
    metadata,
    _code("code", primary_key=True),
    _text("name"),
    sa.Column("cost", Whole, nullable=False),
    _text("packaging"),
)

# What is to be done to machines now and then.
service = sa.Table(
    "service",
    metadata,
    _code("code", primary_key=True),
    _text("machine"),
    _text("name"),
    sa.Column("every_hours", sa.Integer),
    sa.Column("every_days", sa.Integer),
)

# What stands in for what, and what comes by itself.
substitute = sa.Table(
    "substitute",
    metadata,
    _code("material", sa.ForeignKey("material.code"), primary_key=True),
    _code("other", sa.ForeignKey("material.code"), primary_key=True),
    _text("does"),
    _later(_flag("one_way"), before=False),
)

standing = sa.Table(
    "standing",
    metadata,
    _code("supplier", sa.ForeignKey("supplier.code"), primary_key=True),
    _code("material", sa.ForeignKey("material.code"), primary_key=True),
    _code("supplier_code", primary_key=True),
    _code("first", primary_key=True),
    _text("last"),
    sa.Column("packs", sa.Integer, nullable=False),
    sa.Column("weeks", sa.Integer, nullable=False),
)

document = sa.Table(
    "document",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    _code("key", unique=True),
    _text("kind"),
    _text("subject"),
    _text("happened"),
    _text("booked_on"),
    _text("entered"),
    _text("site"),
    _text("who"),
    _text("note"),
    sa.Column("reverses", sa.Integer, sa.ForeignKey("document.id"), unique=True),
    _text("content"),
    _text("chain"),
    sa.Index("ix_document_kind_happened", "kind", "happened"),
    sa.Index("ix_document_subject", "subject"),
    sa.Index("ix_document_booked_on", "booked_on"),
)

move = sa.Table(
    "move",
    metadata,
    sa.Column("document", sa.Integer, sa.ForeignKey("document.id"), primary_key=True),
    sa.Column("line", sa.Integer, primary_key=True),
    _code("material", sa.ForeignKey("material.code")),
    sa.Column("nano", Whole, nullable=False),
    _text("kind"),
    _text("happened"),
    _text("site"),
    sa.Column("value", Whole),
    _text("recipe_line"),
    _text("ticket"),
    _text("lot"),
    _text("expiry"),
    sa.Index("ix_move_site_material_happened", "site", "material", "happened"),
    sa.Index("ix_move_happened", "happened"),
)

# Kept by a trigger on move, in the same transaction: the sum of a month's moves, so that a balance as of any day
# reads a few hundred rows however long the ledger grows (decision 4). `stockroom check` adds it all up again.
month_total = sa.Table(
    "month_total",
    metadata,
    _code("site", primary_key=True),
    _code("material", sa.ForeignKey("material.code"), primary_key=True),
    _code("month", primary_key=True),
    sa.Column("nano", Whole, nullable=False),
)

purchase_order = sa.Table(
    "purchase_order",
    metadata,
    _code("number", primary_key=True),
    _code("supplier", sa.ForeignKey("supplier.code")),
    _text("placed"),
    _text("expected"),
    sa.Column("carriage", Whole, nullable=False),
    _text("state"),
    _text("closed"),
    _text("site"),
    _text("note"),
)

order_line = sa.Table(
    "order_line",
    metadata,
    _code("number", sa.ForeignKey("purchase_order.number"), primary_key=True),
    sa.Column("line", sa.Integer, primary_key=True),
    _code("material", sa.ForeignKey("material.code")),
    _text("supplier_code"),
    sa.Column("packs", sa.Integer, nullable=False),
    sa.Column("pack", Whole, nullable=False),
    _text("pack_name"),
    sa.Column("cost", Whole, nullable=False),
    sa.Column("received", Whole, nullable=False, server_default="0"),
)

count_line = sa.Table(
    "count_line",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    _text("sheet"),
    _code("material", sa.ForeignKey("material.code")),
    _text("site"),
    _text("counted"),
    sa.Column("nano", Whole, nullable=False),
    sa.Column("error", Whole),
    _text("aid"),
    _text("who"),
    _text("reason"),
    _text("note"),
    _text("entered"),
    sa.Column("settled_by", sa.Integer, sa.ForeignKey("document.id")),
    _text("state"),  # open, settled, dropped
    sa.Index("ix_count_line_material", "material", "site", "counted"),
    sa.Index("ix_count_line_sheet", "sheet"),
)

closure = sa.Table(
    "closure",
    metadata,
    _text("who"),
    _text("first"),
    _text("last"),
    _text("reason"),
    _later(_flag("yearly"), before=False),
    sa.PrimaryKeyConstraint("who", "first", "last"),
)

event = sa.Table(
    "event",
    metadata,
    _text("name"),
    _text("day"),
    _later(_text("last"), before=""),
    _later(_text("job"), before=""),
    _later(sa.Column("jobs", sa.Integer), before=None),
    _later(_text("usual"), before=""),
    _later(_text("material"), before=""),
    _later(sa.Column("pieces", sa.Integer), before=None),
    sa.PrimaryKeyConstraint("name", "day"),
)

# Results that take long to work out, each with the mark of the book's state it was worked out from.
kept_result = sa.Table("kept_result", metadata, _code("name", primary_key=True), _text("mark"), _text("content"))

# What was done, by whom and from where, in a book on a server; a book in a file has a text beside it (decision 24).
deed = sa.Table(
    "deed",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
    _text("moment"),
    _text("door"),
    _text("who"),
    _text("device"),
    _text("what"),
    _text("outcome"),
)


# A document's moves share its moment, and many things happen on one day: each text is read once while it is met often.
_MET = 4096


def moment_text(moment: datetime) -> str:
    """Write a moment to the second; the diary is kept in the shop's own time, so zones are refused."""
    if moment.tzinfo is not None:
        raise ValueError(f"{moment} has a time zone; the book keeps the shop's own time")
    return moment.isoformat(timespec="seconds")


def day_text(day: date | None) -> str:
    """Write a day; nothing for none."""
    return "" if day is None else day.isoformat()


@lru_cache(_MET)
def read_moment(text: str) -> datetime:
    """Read a moment."""
    return datetime.fromisoformat(text)


def maybe_moment(text: str) -> datetime | None:
    """Read a moment that may be missing."""
    return read_moment(text) if text else None


@lru_cache(_MET)
def maybe_day(text: str) -> date | None:
    """Read a day that may be missing."""
    return date.fromisoformat(text[:10]) if text else None


def end_of(day: date) -> str:
    """Give a text that sorts after every moment of a day."""
    return f"{day.isoformat()}T23:59:59"


_SLICE = 500  # keys asked for at once: databases limit the number of parameters


def rows_among(
    session: sa.Connection, asked: sa.Select[Any], column: sa.Column[Any], keys: Sequence[Any]
) -> list[sa.Row[Any]]:
    """Read the rows whose column is one of some keys, however many; a slice of keys after the other."""
    slices = [keys[first : first + _SLICE] for first in range(0, len(keys), _SLICE)]
    return [row for some in slices for row in session.execute(asked.where(column.in_(some)))]


def upsert(session: sa.Connection, table: sa.Table, rows: Sequence[dict[str, Any]], *, by: Sequence[str] = ()) -> None:
    """Insert rows; where one with the same key exists, renew its other columns."""
    if not rows:
        return
    key = list(by) or [column.name for column in table.primary_key]
    statement = _insert(session, table)
    renewed = {name: statement.excluded[name] for name in rows[0] if name not in key}
    if renewed:
        session.execute(statement.on_conflict_do_update(index_elements=key, set_=renewed), list(rows))
    else:
        session.execute(statement.on_conflict_do_nothing(index_elements=key), list(rows))


def _insert(session: sa.Connection, table: sa.Table) -> Any:  # noqa: ANN401 -- two dialects' classes, alike in use
    if session.dialect.name == "postgresql":
        from sqlalchemy.dialects import postgresql  # noqa: PLC0415 -- slow to import, needed only with a server

        return postgresql.insert(table)
    return sqlite.insert(table)
