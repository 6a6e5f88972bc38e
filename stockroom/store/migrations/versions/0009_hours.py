"""Tools that wear as a machine runs, and what is to be done to machines now and then."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Add the columns, each empty, and the list of services."""
    for name in ("machine", "minutes", "life_hours"):
        op.add_column("recipe_line", sa.Column(name, sa.Text(), server_default="", nullable=False))
    op.create_table(
        "service",
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("machine", sa.Text(), server_default="", nullable=False),
        sa.Column("name", sa.Text(), server_default="", nullable=False),
        sa.Column("every_hours", sa.Integer(), nullable=True),
        sa.Column("every_days", sa.Integer(), nullable=True),
        sa.PrimaryKeyConstraint("code", name=op.f("pk_service")),
    )
