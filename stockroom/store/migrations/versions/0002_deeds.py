"""What was done to the book, when, by whom and from where: the journal of a book on a server."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the table, then the triggers that keep a line as it was written."""
    op.create_table(
        "deed",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("moment", sa.Text(), server_default="", nullable=False),
        sa.Column("door", sa.Text(), server_default="", nullable=False),
        sa.Column("who", sa.Text(), server_default="", nullable=False),
        sa.Column("device", sa.Text(), server_default="", nullable=False),
        sa.Column("what", sa.Text(), server_default="", nullable=False),
        sa.Column("outcome", sa.Text(), server_default="", nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_deed")),
    )
    if op.get_bind().dialect.name == "postgresql":
        _postgresql_triggers()
        _count_on()
    else:
        _sqlite_triggers()


def _sqlite_triggers() -> None:
    for name, event in (
        ("update", "UPDATE ON deed"),
        ("delete", "DELETE ON deed"),
        ("replace", "INSERT ON deed WHEN EXISTS (SELECT 1 FROM deed WHERE id = NEW.id)"),
    ):
        op.execute(
            f"CREATE TRIGGER deed_no_{name} BEFORE {event} BEGIN "
            f"SELECT RAISE(ABORT, 'what was done stays written: no {name.upper()} on deed'); END"
        )


def _postgresql_triggers() -> None:
    op.execute(
        "CREATE FUNCTION deeds_stay_written() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        "RAISE EXCEPTION 'what was done stays written: no % on %', TG_OP, TG_TABLE_NAME; END $$"
    )
    op.execute(
        "CREATE TRIGGER deed_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON deed "
        "FOR EACH STATEMENT EXECUTE FUNCTION deeds_stay_written()"
    )


def _count_on() -> None:
    """Mend books that were moved to a server: it went on numbering offers from one."""
    for name in ("count_line", "document", "offer", "recipe"):
        last = f"(SELECT coalesce(max(id), 0) + 1 FROM {name})"
        op.execute(f"SELECT setval(pg_get_serial_sequence('{name}', 'id'), {last}, false)")
