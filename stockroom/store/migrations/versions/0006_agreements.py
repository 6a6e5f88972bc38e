"""What is agreed with suppliers: weights, multiples, closures of every year, substitutes and standing orders."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Add the columns, each with what books had until now, and two lists."""
    op.add_column("supplier", sa.Column("minimum_weight", sa.Text(), server_default="", nullable=False))
    op.add_column("offer", sa.Column("multiple", sa.Integer(), server_default="1", nullable=False))
    op.add_column("offer", sa.Column("pack_weight", sa.Text(), server_default="", nullable=False))
    op.add_column("closure", sa.Column("yearly", sa.Boolean(), server_default=sa.false(), nullable=False))
    op.create_table(
        "substitute",
        sa.Column("material", sa.String(), nullable=False),
        sa.Column("other", sa.String(), nullable=False),
        sa.Column("does", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["material"], ["material.code"], name=op.f("fk_substitute_material")),
        sa.ForeignKeyConstraint(["other"], ["material.code"], name=op.f("fk_substitute_other")),
        sa.PrimaryKeyConstraint("material", "other", name=op.f("pk_substitute")),
    )
    op.create_table(
        "standing",
        sa.Column("supplier", sa.String(), nullable=False),
        sa.Column("material", sa.String(), nullable=False),
        sa.Column("supplier_code", sa.String(), nullable=False),
        sa.Column("first", sa.String(), nullable=False),
        sa.Column("last", sa.Text(), server_default="", nullable=False),
        sa.Column("packs", sa.Integer(), nullable=False),
        sa.Column("weeks", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["supplier"], ["supplier.code"], name=op.f("fk_standing_supplier")),
        sa.ForeignKeyConstraint(["material"], ["material.code"], name=op.f("fk_standing_material")),
        sa.PrimaryKeyConstraint("supplier", "material", "supplier_code", "first", name=op.f("pk_standing")),
    )
