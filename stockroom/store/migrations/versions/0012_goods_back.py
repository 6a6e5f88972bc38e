"""Goods that may go back to their supplier, substitutes that work one way only, pieces that an event sells."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"


def upgrade() -> None:
    """Add the columns: nothing may go back, and every substitute works both ways."""
    op.add_column("offer", sa.Column("return_weeks", sa.Integer(), server_default="0", nullable=False))
    op.add_column("offer", sa.Column("return_until", sa.Text(), server_default="", nullable=False))
    op.add_column("offer", sa.Column("return_cost", sa.BigInteger(), server_default="0", nullable=False))
    op.add_column("offer", sa.Column("on_approval", sa.Boolean(), server_default=sa.false(), nullable=False))
    op.add_column("event", sa.Column("material", sa.Text(), server_default="", nullable=False))
    op.add_column("event", sa.Column("pieces", sa.Integer(), nullable=True))
    op.add_column("substitute", sa.Column("one_way", sa.Boolean(), server_default=sa.false(), nullable=False))
