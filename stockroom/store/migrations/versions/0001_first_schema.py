"""The first schema: catalogue, ledger, work, orders, counts."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

APPEND_ONLY = ("document", "move")


def upgrade() -> None:
    """Make the tables, then the triggers that keep the ledger append-only."""
    _tables()
    if op.get_bind().dialect.name == "postgresql":
        _postgresql_triggers()
    else:
        _sqlite_triggers()


def _sqlite_triggers() -> None:
    for table in APPEND_ONLY:
        for verb in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} BEGIN "
                f"SELECT RAISE(ABORT, 'the ledger is append-only: no {verb} on {table}'); END"
            )
    _refuse_replacing()
    op.execute(
        "CREATE TRIGGER move_month_total AFTER INSERT ON move BEGIN "
        "INSERT INTO month_total (site, material, month, nano) "
        "VALUES (NEW.site, NEW.material, substr(NEW.happened, 1, 7), NEW.nano) "
        "ON CONFLICT (site, material, month) DO UPDATE SET nano = nano + excluded.nano; END"
    )


def _refuse_replacing() -> None:
    """REPLACE deletes without asking the triggers above, unless a connection turns recursive triggers on."""
    same = {
        "document": "id = NEW.id OR key = NEW.key OR reverses = NEW.reverses",
        "move": "document = NEW.document AND line = NEW.line",
    }
    for table, there in same.items():
        op.execute(
            f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {there}) BEGIN "
            f"SELECT RAISE(ABORT, 'the ledger is append-only: no REPLACE on {table}'); END"
        )


def _postgresql_triggers() -> None:
    op.execute(
        "CREATE FUNCTION ledger_is_append_only() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        "RAISE EXCEPTION 'the ledger is append-only: no % on %', TG_OP, TG_TABLE_NAME; END $$"
    )
    for table in APPEND_ONLY:
        op.execute(
            f"CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION ledger_is_append_only()"
        )
    op.execute(
        "CREATE FUNCTION add_to_month_total() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        "INSERT INTO month_total AS kept (site, material, month, nano) "
        "SELECT site, material, substr(happened, 1, 7), sum(nano) FROM added GROUP BY 1, 2, 3 "
        "ON CONFLICT (site, material, month) DO UPDATE SET nano = kept.nano + excluded.nano; RETURN NULL; END $$"
    )
    op.execute(
        "CREATE TRIGGER move_month_total AFTER INSERT ON move REFERENCING NEW TABLE AS added "
        "FOR EACH STATEMENT EXECUTE FUNCTION add_to_month_total()"
    )


def _tables() -> None:
    op.create_table(
        "closure",
        sa.Column("who", sa.Text(), server_default="", nullable=False),
        sa.Column("first", sa.Text(), server_default="", nullable=False),
        sa.Column("last", sa.Text(), server_default="", nullable=False),
        sa.Column("reason", sa.Text(), server_default="", nullable=False),
        sa.PrimaryKeyConstraint("who", "first", "last", name=op.f("pk_closure")),
    )
    op.create_table(
        "document",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("kind", sa.Text(), server_default="", nullable=False),
        sa.Column("subject", sa.Text(), server_default="", nullable=False),
        sa.Column("happened", sa.Text(), server_default="", nullable=False),
        sa.Column("booked_on", sa.Text(), server_default="", nullable=False),
        sa.Column("entered", sa.Text(), server_default="", nullable=False),
        sa.Column("site", sa.Text(), server_default="", nullable=False),
        sa.Column("who", sa.Text(), server_default="", nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("reverses", sa.Integer(), nullable=True),
        sa.Column("content", sa.Text(), server_default="", nullable=False),
        sa.Column("chain", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["reverses"], ["document.id"], name=op.f("fk_document_reverses")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_document")),
        sa.UniqueConstraint("key", name=op.f("uq_document_key")),
        sa.UniqueConstraint("reverses", name=op.f("uq_document_reverses")),
    )
    op.create_index("ix_document_booked_on", "document", ["booked_on"], unique=False)
    op.create_index("ix_document_kind_subject", "document", ["kind", "subject"], unique=False)
    op.create_index("ix_document_subject", "document", ["subject"], unique=False)
    op.create_table(
        "event",
        sa.Column("name", sa.Text(), server_default="", nullable=False),
        sa.Column("day", sa.Text(), server_default="", nullable=False),
        sa.PrimaryKeyConstraint("name", "day", name=op.f("pk_event")),
    )
    op.create_table(
        "kept_result",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("mark", sa.Text(), server_default="", nullable=False),
        sa.Column("content", sa.Text(), server_default="", nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_kept_result")),
    )
    op.create_table(
        "job",
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("name", sa.Text(), server_default="", nullable=False),
        sa.Column("family", sa.Text(), server_default="", nullable=False),
        sa.Column("price", sa.BigInteger(), nullable=True),
        sa.Column("tax_rate", sa.Text(), server_default="", nullable=False),
        sa.Column("bench_minutes", sa.Integer(), nullable=False),
        sa.Column("sized", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.Column("active", sa.Boolean(), server_default=sa.true(), nullable=False),
        sa.PrimaryKeyConstraint("code", name=op.f("pk_job")),
    )
    op.create_table(
        "material",
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("name", sa.Text(), server_default="", nullable=False),
        sa.Column("family", sa.Text(), server_default="", nullable=False),
        sa.Column("unit", sa.Text(), server_default="", nullable=False),
        sa.Column("purpose", sa.Text(), server_default="", nullable=False),
        sa.Column("group_code", sa.Text(), server_default="", nullable=False),
        sa.Column("size_from", sa.Text(), server_default="", nullable=False),
        sa.Column("size_to", sa.Text(), server_default="", nullable=False),
        sa.Column("colour", sa.Text(), server_default="", nullable=False),
        sa.Column("thickness", sa.Text(), server_default="", nullable=False),
        sa.Column("bridge", sa.Text(), server_default="", nullable=False),
        sa.Column("sell_price", sa.BigInteger(), nullable=True),
        sa.Column("tax_rate", sa.Text(), server_default="", nullable=False),
        sa.Column("shelf_life_days", sa.Integer(), nullable=True),
        sa.Column("hazards", sa.Text(), server_default="", nullable=False),
        sa.Column("flammable", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.Column("place", sa.Text(), server_default="", nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("usual_cost", sa.BigInteger(), nullable=True),
        sa.Column("active", sa.Boolean(), server_default=sa.true(), nullable=False),
        sa.Column("extra", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("code", name=op.f("pk_material")),
    )
    op.create_table(
        "setting",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("value", sa.Text(), server_default="", nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_setting")),
    )
    op.create_table(
        "supplier",
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("name", sa.Text(), server_default="", nullable=False),
        sa.Column("lead_days", sa.Integer(), nullable=False),
        sa.Column("carriage", sa.BigInteger(), nullable=False),
        sa.Column("carriage_free_over", sa.BigInteger(), nullable=True),
        sa.Column("minimum_order", sa.BigInteger(), nullable=False),
        sa.Column("order_weekdays", sa.Text(), server_default="", nullable=False),
        sa.Column("cut_off", sa.Text(), server_default="", nullable=False),
        sa.Column("tax_rate", sa.Text(), server_default="", nullable=False),
        sa.Column("email", sa.Text(), server_default="", nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.PrimaryKeyConstraint("code", name=op.f("pk_supplier")),
    )
    op.create_table(
        "count_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sheet", sa.Text(), server_default="", nullable=False),
        sa.Column("material", sa.String(), nullable=False),
        sa.Column("site", sa.Text(), server_default="", nullable=False),
        sa.Column("counted", sa.Text(), server_default="", nullable=False),
        sa.Column("nano", sa.BigInteger(), nullable=False),
        sa.Column("error", sa.BigInteger(), nullable=True),
        sa.Column("aid", sa.Text(), server_default="", nullable=False),
        sa.Column("who", sa.Text(), server_default="", nullable=False),
        sa.Column("reason", sa.Text(), server_default="", nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("entered", sa.Text(), server_default="", nullable=False),
        sa.Column("settled_by", sa.Integer(), nullable=True),
        sa.Column("state", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["material"], ["material.code"], name=op.f("fk_count_line_material")),
        sa.ForeignKeyConstraint(["settled_by"], ["document.id"], name=op.f("fk_count_line_settled_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_count_line")),
    )
    op.create_index("ix_count_line_material", "count_line", ["material", "site", "counted"], unique=False)
    op.create_index("ix_count_line_sheet", "count_line", ["sheet"], unique=False)
    op.create_table(
        "month_total",
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("material", sa.String(), nullable=False),
        sa.Column("month", sa.String(), nullable=False),
        sa.Column("nano", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["material"], ["material.code"], name=op.f("fk_month_total_material")),
        sa.PrimaryKeyConstraint("site", "material", "month", name=op.f("pk_month_total")),
    )
    op.create_table(
        "move",
        sa.Column("document", sa.Integer(), nullable=False),
        sa.Column("line", sa.Integer(), nullable=False),
        sa.Column("material", sa.String(), nullable=False),
        sa.Column("nano", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.Text(), server_default="", nullable=False),
        sa.Column("happened", sa.Text(), server_default="", nullable=False),
        sa.Column("site", sa.Text(), server_default="", nullable=False),
        sa.Column("value", sa.BigInteger(), nullable=True),
        sa.Column("recipe_line", sa.Text(), server_default="", nullable=False),
        sa.Column("ticket", sa.Text(), server_default="", nullable=False),
        sa.Column("lot", sa.Text(), server_default="", nullable=False),
        sa.Column("expiry", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["document"], ["document.id"], name=op.f("fk_move_document")),
        sa.ForeignKeyConstraint(["material"], ["material.code"], name=op.f("fk_move_material")),
        sa.PrimaryKeyConstraint("document", "line", name=op.f("pk_move")),
    )
    op.create_index("ix_move_happened", "move", ["happened"], unique=False)
    op.create_index("ix_move_material_happened", "move", ["material", "site", "happened"], unique=False)
    op.create_table(
        "offer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("supplier", sa.String(), nullable=False),
        sa.Column("material", sa.String(), nullable=False),
        sa.Column("supplier_code", sa.Text(), server_default="", nullable=False),
        sa.Column("pack", sa.BigInteger(), nullable=False),
        sa.Column("pack_name", sa.Text(), server_default="", nullable=False),
        sa.Column("price", sa.BigInteger(), nullable=False),
        sa.Column("priced_per", sa.Text(), server_default="", nullable=False),
        sa.Column("pack_in_priced", sa.Text(), server_default="", nullable=False),
        sa.Column("breaks", sa.Text(), server_default="", nullable=False),
        sa.Column("minimum_packs", sa.Integer(), nullable=False),
        sa.Column("tax_rate", sa.Text(), server_default="", nullable=False),
        sa.Column("measured", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.Column("valid_from", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["material"], ["material.code"], name=op.f("fk_offer_material")),
        sa.ForeignKeyConstraint(["supplier"], ["supplier.code"], name=op.f("fk_offer_supplier")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_offer")),
        sa.UniqueConstraint(
            "supplier",
            "material",
            "supplier_code",
            "pack",
            "valid_from",
            name=op.f("uq_offer_supplier_material_supplier_code_pack_valid_from"),
        ),
    )
    op.create_table(
        "purchase_order",
        sa.Column("number", sa.String(), nullable=False),
        sa.Column("supplier", sa.String(), nullable=False),
        sa.Column("placed", sa.Text(), server_default="", nullable=False),
        sa.Column("expected", sa.Text(), server_default="", nullable=False),
        sa.Column("carriage", sa.BigInteger(), nullable=False),
        sa.Column("state", sa.Text(), server_default="", nullable=False),
        sa.Column("closed", sa.Text(), server_default="", nullable=False),
        sa.Column("site", sa.Text(), server_default="", nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["supplier"], ["supplier.code"], name=op.f("fk_purchase_order_supplier")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_purchase_order")),
    )
    op.create_table(
        "recipe",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job", sa.String(), nullable=False),
        sa.Column("valid_from", sa.Text(), server_default="", nullable=False),
        sa.Column("reference", sa.Text(), server_default="", nullable=False),
        sa.Column("source", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["job"], ["job.code"], name=op.f("fk_recipe_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipe")),
    )
    op.create_index(op.f("ix_recipe_job"), "recipe", ["job"], unique=False)
    op.create_table(
        "ticket",
        sa.Column("number", sa.String(), nullable=False),
        sa.Column("job", sa.String(), nullable=False),
        sa.Column("taken_in", sa.Text(), server_default="", nullable=False),
        sa.Column("shoes", sa.Integer(), nullable=False),
        sa.Column("size", sa.Text(), server_default="", nullable=False),
        sa.Column("chosen", sa.Text(), server_default="", nullable=False),
        sa.Column("promised", sa.Text(), server_default="", nullable=False),
        sa.Column("price", sa.BigInteger(), nullable=True),
        sa.Column("state", sa.Text(), server_default="", nullable=False),
        sa.Column("finished", sa.Text(), server_default="", nullable=False),
        sa.Column("finish_document", sa.Integer(), nullable=True),
        sa.Column("redo_of", sa.Text(), server_default="", nullable=False),
        sa.Column("by_post", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.Column("post_cost", sa.BigInteger(), nullable=True),
        sa.Column("customer", sa.Text(), server_default="", nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("site", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["job"], ["job.code"], name=op.f("fk_ticket_job")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_ticket")),
    )
    op.create_index("ix_ticket_finished", "ticket", ["finished"], unique=False)
    op.create_index("ix_ticket_state", "ticket", ["state"], unique=False)
    op.create_table(
        "order_line",
        sa.Column("number", sa.String(), nullable=False),
        sa.Column("line", sa.Integer(), nullable=False),
        sa.Column("material", sa.String(), nullable=False),
        sa.Column("supplier_code", sa.Text(), server_default="", nullable=False),
        sa.Column("packs", sa.Integer(), nullable=False),
        sa.Column("pack", sa.BigInteger(), nullable=False),
        sa.Column("pack_name", sa.Text(), server_default="", nullable=False),
        sa.Column("cost", sa.BigInteger(), nullable=False),
        sa.Column("received", sa.BigInteger(), server_default="0", nullable=False),
        sa.ForeignKeyConstraint(["material"], ["material.code"], name=op.f("fk_order_line_material")),
        sa.ForeignKeyConstraint(["number"], ["purchase_order.number"], name=op.f("fk_order_line_number")),
        sa.PrimaryKeyConstraint("number", "line", name=op.f("pk_order_line")),
    )
    op.create_table(
        "recipe_line",
        sa.Column("recipe", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), server_default="", nullable=False),
        sa.Column("material", sa.Text(), server_default="", nullable=False),
        sa.Column("nano", sa.BigInteger(), nullable=False),
        sa.Column("dimension", sa.Text(), server_default="", nullable=False),
        sa.Column("per", sa.Text(), server_default="", nullable=False),
        sa.Column("sizing", sa.Text(), server_default="", nullable=False),
        sa.Column("choice", sa.Text(), server_default="", nullable=False),
        sa.Column("option", sa.Text(), server_default="", nullable=False),
        sa.Column("waste", sa.Text(), server_default="", nullable=False),
        sa.Column("coats", sa.Integer(), nullable=False),
        sa.Column("chance", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["recipe"], ["recipe.id"], name=op.f("fk_recipe_line_recipe")),
        sa.PrimaryKeyConstraint("recipe", "position", name=op.f("pk_recipe_line")),
    )
