"""Tickets that change and are worked in stages, postage, a price for one shoe, a usual cost for many units together."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"

_TICKET = ("added", "left_out", "drawn")  # as JSON, or nothing


def upgrade() -> None:
    """Add the columns, each with what books had until now, and the price list of the post."""
    op.add_column("material", sa.Column("usual_cost_for", sa.Integer(), server_default="1", nullable=False))
    op.add_column("job", sa.Column("single_price", sa.BigInteger(), nullable=True))
    for name in _TICKET:
        op.add_column("ticket", sa.Column(name, sa.Text(), server_default="", nullable=False))
    op.create_table(
        "postage",
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("name", sa.Text(), server_default="", nullable=False),
        sa.Column("cost", sa.BigInteger(), nullable=False),
        sa.Column("packaging", sa.Text(), server_default="", nullable=False),
        sa.PrimaryKeyConstraint("code", name=op.f("pk_postage")),
    )
